"""Every output of every command: it never destroys, and a mistake writes nothing."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys

import pytest
from tests.show.conftest import DEMO

from headlife.cli import main

FILES = ["removals.csv", "--shop", "shop.toml"]


@pytest.fixture
def here(tmp_path, monkeypatch):
    """A folder with the demo, an evidence file, a pipe and a folder; called from there."""
    for name in ("removals.csv", "shop.toml", "lifetimes.csv"):
        shutil.copy(DEMO / name, tmp_path)
    (tmp_path / "one.evidence.json").write_text("{}")
    (tmp_path / "parts").mkdir()
    shutil.copy(DEMO / "removals.csv", tmp_path / "parts")
    os.mkfifo(tmp_path / "pipe")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def content(folder):
    return {
        path: path.read_bytes() if path.is_file() else None for path in sorted(folder.rglob("*"))
    }


WRITES = [
    ["review", *FILES, "--out"],
    ["spares", *FILES, "--out"],
    ["spares", *FILES, "--xlsx"],
    ["replace", *FILES, "--out"],
    *(["due", *FILES, option] for option in ("--out", "--csv", "--xlsx", "--calendar")),
    *(["plan", *FILES, option] for option in ("--out", "--csv", "--xlsx", "--calendar")),
    ["evidence", *FILES, "--out"],
    ["settings", "removals.csv", "--out"],
    ["evidence", "parts", "--shop", "shop.toml", "--out"],
    ["pool", "one.evidence.json", "--picture"],
]
NAMES = [" ".join((one[0], one[-1])) for one in WRITES]


@pytest.mark.parametrize("asked", WRITES, ids=NAMES)
@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("INPUT", "would overwrite the input"),
        ("pipe", "is a device or a pipe"),
        ("/dev/null", "is a device or a pipe"),
        ("parts", "is a folder"),
        ("nowhere/page.html", "does not exist"),
    ],
)
def test_a_place_where_nothing_may_be_written_is_refused_first(here, capsys, asked, name, says):
    before = content(here)
    where = asked[1] if name == "INPUT" else name
    if where == "parts" and name == "INPUT":
        where = "parts/removals.csv"
    assert main([*asked, where]) == 2
    said = capsys.readouterr()
    assert said.out == "" and says in said.err and said.err.count("\n") == 1
    assert content(here) == before


@pytest.mark.parametrize("asked", [one for one in WRITES if "--shop" in one])
def test_the_settings_are_an_input_too(here, capsys, asked):
    before = content(here)
    assert main([*asked, "shop.toml"]) == 2
    assert "would overwrite the input" in capsys.readouterr().err
    assert content(here) == before


def test_page_and_workbook_under_one_name_are_refused(here, capsys):
    assert main(["spares", *FILES, "--out", "both", "--xlsx", "./both"]) == 2
    assert "--xlsx ./both is written already, by --out both" in capsys.readouterr().err
    assert not (here / "both").exists()


def test_the_files_of_a_check_never_replace_a_device(here, capsys):
    os.mkfifo(here / "removals.check.csv")
    before = content(here)
    assert main(["check", *FILES]) == 2
    assert "removals.check.csv is a device or a pipe" in capsys.readouterr().err
    assert content(here) == before


def test_the_files_of_a_check_have_the_same_bytes_twice(here, capsys):
    rows = (here / "removals.csv").read_text().replace("2023-", "20x3-", 1)
    (here / "removals.csv").write_text(rows)
    names = ("removals.check.csv", "removals.check.xlsx")
    made = []
    for _ in range(2):
        assert main(["check", *FILES, "--json"]) == 2
        made.append([(here / name).read_bytes() for name in names])
        for name in names:
            (here / name).unlink()
    capsys.readouterr()
    assert made[0] == made[1]


def test_sites_with_names_alike_get_a_file_each(here, capsys):
    rows = (here / "removals.csv").read_text()
    sites = ("Hall", "Hall 3", "Hall.")
    lines = rows.splitlines()
    column = lines[0].split(",").index("site")
    for number, line in enumerate(lines[1:], start=1):
        cells = line.split(",")
        cells[column] = sites[int(cells[0][-1]) % 3]
        lines[number] = ",".join(cells)
    (here / "removals.csv").write_text("\n".join(lines) + "\n")
    assert main(["evidence", *FILES, "--by-site", "--fewest-heads", "0", "--out", "sites"]) == 0
    written = sorted(path.name for path in (here / "sites").iterdir())
    assert len(written) == 3 and len({name.casefold() for name in written}) == 3
    capsys.readouterr()
    assert main(["pool", "sites", "--json"]) == 0


@pytest.mark.parametrize("option", ["--csv", "--calendar", "--out"])
def test_an_option_given_as_nothing_is_named(option, capsys):
    # `--csv "$FILE"` of a shell where FILE is not set wrote nothing and said nothing.
    log = [str(DEMO / "removals.csv"), "--shop", str(DEMO / "shop.toml")]
    assert main(["due", *log, option, ""]) == 2
    said = capsys.readouterr().err
    assert f"What stands for {option[2:]} is empty" in said


FILES_OF_DEMO = [str(DEMO / "removals.csv"), "--shop", str(DEMO / "shop.toml")]


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        (["review", "--figures", "a\0b"], "no name can have"),
        (["evidence", "--by-site", "--out", "a\0b"], "no name can have"),
        (["due", "--csv", "a\0b"], "no name can have"),
        (["due", "--csv", "  "], "is empty"),
        (["evidence", "--site", "\u200b"], "is no name that can be read"),
        (["evidence", "--site", "x" * 5000], "has 5,000 signs"),
    ],
)
def test_an_option_that_nobody_could_mean_is_named(asked, says, capsys, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert main([asked[0], *FILES_OF_DEMO, *asked[1:]]) == 2
    assert says in capsys.readouterr().err
    assert not list(tmp_path.iterdir())


def test_more_workers_than_a_computer_carries_are_refused_at_once(capsys, tmp_path):
    (tmp_path / "logs").mkdir()
    (tmp_path / "logs" / "a.csv").write_text("head\n")
    shop = ["--shop", str(DEMO / "shop.toml"), "--workers", "1000000000"]
    assert main(["evidence", str(tmp_path / "logs"), *shop]) == 2
    assert "more than this computer carries" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        (["--share", "1e-320"], "too near to 0 or 1"),
        (["--share", "0.9999999999999999"], "too near to 0 or 1"),
        (["--rated-hours", "Standard=1e308"], "none that a head can have"),
        (["--rated-hours", "Standard=1e-308"], "none that a head can have"),
    ],
)
def test_a_claim_beyond_any_number_is_a_sentence(asked, says, capsys, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert main(["evidence", *FILES_OF_DEMO, "--out", "hall.evidence.json"]) == 0
    assert main(["pool", "hall.evidence.json", *asked]) == 2
    assert says in capsys.readouterr().err


def printed(encoding, *asked):
    """What a command prints where the output has an encoding of its own, as bytes."""
    env = os.environ | {"PYTHONIOENCODING": encoding}
    if encoding == "C":  # a computer without any language, as in a bare service
        env = env | {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}
        del env["PYTHONIOENCODING"]
    run = subprocess.run([sys.executable, "-m", "headlife", *asked], capture_output=True, env=env)
    assert (run.returncode, run.stderr) == (0, b"")
    return run.stdout


@pytest.mark.parametrize("encoding", ["ascii", "cp1252", "C"])
def test_an_output_without_every_sign_takes_what_it_can(here, encoding):
    """A terminal of English letters alone; it ended in a traceback at the first other sign."""
    lives = (here / "lifetimes.csv").read_text(encoding="utf-8")
    (here / "lives.csv").write_text(lives.replace("Fibre", "Fibér Ω"), encoding="utf-8")
    asked = ["rating", "lives.csv", "--rated-hours", "800"]
    said = printed(encoding, *asked).decode("ascii" if encoding == "C" else encoding)
    usual = printed("utf-8", *asked).decode()
    assert [len(line) for line in said.split("\n")] == [len(line) for line in usual.split("\n")]
    # For a program the answers are the same whatever the encoding, and in UTF-8 as JSON is.
    texts = [printed(one, *asked, "--json").decode() for one in (encoding, "utf-8")]
    assert "Fibér Ω" in texts[1] and json.loads(texts[0]) == json.loads(texts[1])
    # What becomes a file has the bytes that files have.
    log = (here / "removals.csv").read_text(encoding="utf-8")
    (here / "log.csv").write_text(log.replace("Fibre", "Fibér Ω"), encoding="utf-8")
    drafts = [printed(one, "settings", "log.csv") for one in (encoding, "utf-8")]
    assert drafts[0] == drafts[1] and "Fibér Ω" in drafts[0].decode()


def test_a_folder_that_is_gone_is_a_sentence(here, capsys, monkeypatch):
    (here / "gone").mkdir()
    monkeypatch.chdir(here / "gone")
    (here / "gone").rmdir()
    assert main(["rating", str(here / "lifetimes.csv"), "--rated-hours", "800"]) == 2
    said = capsys.readouterr()
    assert said.out == "" and "folder that this was called from" in said.err


def test_too_little_memory_is_a_sentence(here, capsys, monkeypatch):
    def run(_):
        raise MemoryError

    monkeypatch.setattr("headlife.commands.rating.run", run)
    assert main(["rating", "lifetimes.csv", "--rated-hours", "800"]) == 2
    said = capsys.readouterr()
    assert said.out == "" and "too little free memory" in said.err and said.err.count("\n") == 1
