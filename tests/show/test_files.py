"""Outputs never destroy: no input, no device, no two under one name; whole or not at all."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from headlife.commands.evidence import file_names
from headlife.errors import HeadlifeError
from headlife.show.files import Outputs, is_device_of_windows, write_whole


def claim(name, *inputs, **options):
    return Outputs(inputs).claim(name, "--out", **options)


def test_an_input_is_never_an_output_by_whatever_name(tmp_path):
    log = tmp_path / "log.csv"
    log.write_text("head\n")
    (tmp_path / "link.csv").symlink_to(log)
    os.link(log, tmp_path / "hard.csv")
    (tmp_path / "folder").symlink_to(tmp_path)
    for name in ("log.csv", "link.csv", "hard.csv", "folder/log.csv", "./log.csv"):
        with pytest.raises(HeadlifeError, match="would overwrite the input"):
            claim(tmp_path / name, log)
    assert log.read_text() == "head\n"


@pytest.mark.parametrize("name", ["pipe", "socket-like", "/dev/null", "/dev/full"])
def test_a_device_or_a_pipe_is_never_replaced(tmp_path, name):
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "socket-like").symlink_to("/dev/null")
    with pytest.raises(HeadlifeError, match="is a device or a pipe, no file"):
        claim(tmp_path / name)
    assert not os.path.isfile("/dev/null")


def test_an_open_stream_is_a_device_whatever_its_name():
    reading, writing = os.pipe()
    try:
        with pytest.raises(HeadlifeError, match="is a device or a pipe, no file"):
            claim(f"/dev/fd/{writing}")
    finally:
        os.close(reading)
        os.close(writing)


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("page.html/", "is a folder"),
        ("\x1b[31m.html", "a sign that is not shown"),
        ("a\nb.html", "a sign that is not shown"),
        ("a\0b.html", "a sign that is not shown"),
    ],
)
def test_a_name_that_nobody_could_find_again_is_refused(name, says, tmp_path):
    with pytest.raises(HeadlifeError, match=says):
        claim(f"{tmp_path}/{name}")
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize(
    ("name", "says"),
    [
        # Microsoft, "Naming Files, Paths, and Namespaces": devices, signs and ends of names.
        ("CON", "CON is a device there"),
        ("nul.html", "nul is a device there"),
        ("Aux.report.html", "Aux is a device there"),
        ("com1.html", "com1 is a device there"),
        ("LPT\u00b9.html", "is a device there"),
        ("page.html.", "no name there ends in a point or a space"),
        ("page.html ", "no name there ends in a point or a space"),
        ("page.html::$DATA", "no name there holds :"),
        ("C:page.html", "no name there holds :"),
        ("C:\\out\\page.html", "no name there holds"),
        ("\\\\server\\share\\page.html", "no name there holds"),
        ("what?.html", r"no name there holds \?"),
        ("-", "is no name of a file; give one"),
        (".html", "is an ending and no name"),  # as "$NAME.html" of a shell without NAME
    ],
)
def test_a_name_that_some_system_could_not_keep_is_refused_on_all(name, says, tmp_path):
    with pytest.raises(HeadlifeError, match=says):
        claim(f"{tmp_path}/{name}")
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("name", ["console.html", "com.html", "nullary.html", ".hidden.html"])
def test_names_that_only_look_like_those_are_taken(name, tmp_path):
    assert claim(tmp_path / name).name == name


def test_an_accent_written_in_two_ways_is_one_name(tmp_path):
    outputs = Outputs()
    outputs.claim(tmp_path / "K\u00f6pfe.html", "--out")
    with pytest.raises(HeadlifeError, match="is written already, by --out"):
        outputs.claim(tmp_path / "Ko\u0308pfe.html", "--xlsx")


def test_a_folder_under_two_names_is_one_folder(tmp_path):
    outputs = Outputs()
    (tmp_path / "out").mkdir()
    # As "OUT" is on a disk where capitals do not count; a link stands for it here.
    outputs.claim(tmp_path / "out" / "page.html", "--out")
    (tmp_path / "OUT").symlink_to(tmp_path / "out")
    with pytest.raises(HeadlifeError, match="is written already, by --out"):
        outputs.claim(tmp_path / "OUT" / "page.html", "--xlsx")


def test_a_write_protected_file_is_kept(tmp_path):
    page = tmp_path / "page.html"
    page.write_text("signed")
    page.chmod(0o444)
    with pytest.raises(HeadlifeError, match="is write-protected, so somebody wants it kept"):
        claim(page)
    assert page.read_text() == "signed"


def test_a_file_closed_to_others_stays_closed_when_it_is_written_again(tmp_path):
    page = tmp_path / "page.html"
    page.write_text("old")
    page.chmod(0o600)
    write_whole(claim(page), b"new")
    assert page.read_bytes() == b"new" and page.stat().st_mode & 0o777 == 0o600


@pytest.mark.parametrize("mask", [0o077, 0o000])
def test_a_new_file_has_the_rights_that_the_person_asks_for(tmp_path, mask):
    before = os.umask(mask)
    try:
        write_whole(tmp_path / "page.html", b"x")
    finally:
        os.umask(before)
    assert (tmp_path / "page.html").stat().st_mode & 0o777 == 0o666 & ~mask


def test_a_folder_that_vanishes_before_the_page_is_ready_is_a_sentence(tmp_path):
    (tmp_path / "out").mkdir()
    place = claim(tmp_path / "out" / "page.html")
    (tmp_path / "out").rmdir()
    with pytest.raises(HeadlifeError, match="cannot be written: No such file or directory"):
        write_whole(place, b"x")


def test_a_folder_a_missing_folder_and_a_file_as_folder_are_named(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(HeadlifeError, match="is a folder; give the name of a file"):
        claim(tmp_path)
    for name in ("nowhere/page.html", "file/page.html"):
        with pytest.raises(HeadlifeError, match="does not exist; make it"):
            claim(tmp_path / name)


def test_a_looping_link_and_a_name_too_long_are_sentences(tmp_path):
    (tmp_path / "loop").symlink_to(tmp_path / "loop")
    for name in ("loop", "x" * 300 + ".html"):
        with pytest.raises(HeadlifeError, match="cannot be written: .*choose another name"):
            claim(tmp_path / name)


def test_no_two_answers_under_one_name_on_any_disk(tmp_path):
    outputs = Outputs()
    outputs.claim(tmp_path / "page.html", "--out")
    for name in ("page.html", "PAGE.html", "./page.html"):
        with pytest.raises(HeadlifeError, match="is written already, by --out"):
            outputs.claim(tmp_path / name, "--xlsx")
    assert outputs.claim(tmp_path / "budget.xlsx", "--xlsx").name == "budget.xlsx"


def test_what_is_there_may_be_kept(tmp_path):
    draft = tmp_path / "shop.toml"
    write_whole(claim(draft, replace=False), b"one", replace=False)
    with pytest.raises(HeadlifeError, match="exists already; choose another name"):
        claim(draft, replace=False)
    # Somebody wrote it after the place was claimed.
    with pytest.raises(HeadlifeError, match="exists already; choose another name"):
        write_whole(draft, b"two", replace=False)
    assert draft.read_bytes() == b"one" and os.listdir(tmp_path) == ["shop.toml"]


def test_a_link_is_followed_and_stays_a_link(tmp_path):
    (tmp_path / "real.html").write_text("old")
    (tmp_path / "link.html").symlink_to(tmp_path / "real.html")
    write_whole(claim(tmp_path / "link.html"), b"new")
    assert (tmp_path / "link.html").is_symlink()
    assert (tmp_path / "real.html").read_text() == "new"


def test_a_new_file_may_be_read_as_any_file_of_this_person(tmp_path):
    before = os.umask(0o022)
    try:
        write_whole(tmp_path / "page.html", b"x")
    finally:
        os.umask(before)
    assert (tmp_path / "page.html").stat().st_mode & 0o777 == 0o644


WRITE = """
import resource, sys
from pathlib import Path
from headlife.errors import HeadlifeError
from headlife.show.files import write_whole
resource.setrlimit(resource.RLIMIT_FSIZE, (1000, resource.RLIM_INFINITY))
try:
    write_whole(Path(sys.argv[1]), b"x" * 5000, replace=sys.argv[2] == "replace")
except HeadlifeError as said:
    print(said)
"""


@pytest.mark.parametrize("how", ["replace", "keep"])
def test_a_disk_that_is_full_leaves_what_was_there_and_nothing_else(tmp_path, how):
    page = tmp_path / "page.html"
    if how == "replace":
        page.write_text("last quarter")
    run = [sys.executable, "-c", WRITE, str(page), how]
    done = subprocess.run(run, capture_output=True, text=True, check=True)
    assert "cannot be written: File too large; nothing was changed there." in done.stdout
    if how == "replace":
        assert page.read_text() == "last quarter" and os.listdir(tmp_path) == ["page.html"]
    else:
        assert os.listdir(tmp_path) == []


def test_what_a_killed_run_left_is_removed_once_it_is_old(tmp_path):
    fresh, old = tmp_path / ".headlife-fresh.part", tmp_path / ".headlife-old.part"
    for left in (fresh, old):
        left.write_text("half")
    os.utime(old, (0, 0))
    write_whole(tmp_path / "page.html", b"x")
    assert sorted(os.listdir(tmp_path)) == [".headlife-fresh.part", "page.html"]


def test_sites_whose_names_differ_only_in_signs_have_files_of_their_own():
    sites = ["Hall", "Hall 3", "Hall.", "Hall_3", "hall", "Mill Yard", "...", "Zoë", "x" * 400]
    sites += ["\u6f22" * 400, "\U0001d4d0" * 99, "Aux", "NUL", "com1"]
    names = file_names(sites)
    assert len({name.casefold() for name in names}) == len(sites)
    assert "Mill_Yard.evidence.json" in names and "Zoë.evidence.json" in names
    assert max(len(name.encode()) for name in names) < 255
    # A device of Windows, whatever its ending: what is written there is gone.
    assert not any(is_device_of_windows(name) for name in names)
    # A site's name does not depend on the order of the others, nor on how many there are.
    assert dict(zip(sites, names, strict=True)) == dict(
        zip(sites[::-1], file_names(sites[::-1]), strict=True)
    )


@pytest.mark.parametrize("name", ["page.pdf", "page.XLSX", "page.csv", "page.png"])
def test_a_name_that_another_program_would_open_is_refused(tmp_path, name):
    """An SVG was written as x.png, a page as page.pdf: no program opens them."""
    kept = f"{tmp_path / name}"
    with pytest.raises(HeadlifeError, match=r"whatever its name; name it page\.html"):
        claim(kept, ending=".html")
    for fine in ("page.html", "page.HTML", "page", "page.v2", "page.htm"):
        assert claim(f"{tmp_path / fine}", ending=".html").name == fine
    assert claim(kept).name == name
