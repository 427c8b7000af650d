"""A run that is stopped, or whose reader or disk is gone, ends with one sentence and a code."""

from __future__ import annotations

import os
import shlex
import signal
import subprocess
import sys
import time
from functools import partial

import pytest
from tests.show.conftest import DEMO

FILES = ["data_demo/removals.csv", "--shop", "data_demo/shop.toml"]
RATING = ["rating", "data_demo/lifetimes.csv", "--rated-hours", "800"]


def started(*arguments, **options):
    command = [sys.executable, "-m", "headlife", *arguments]
    pipes = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE} | options
    # Tests that run in the background of a shell inherit that Ctrl-C is ignored.
    heard = partial(signal.signal, signal.SIGINT, signal.SIG_DFL)
    return subprocess.Popen(command, cwd=DEMO.parent, text=True, preexec_fn=heard, **pipes)


def loaded(process, module):
    """Wait until a process has mapped a compiled module: it is in the midst of its work."""
    until = time.monotonic() + 300  # patience only: all cores may be busy
    while time.monotonic() < until:
        with open(f"/proc/{process.pid}/maps") as maps:
            if module in maps.read():
                return
        time.sleep(0.01)
    pytest.fail(f"{module} was never loaded")


@pytest.mark.skipif(not os.path.exists("/proc/self/maps"), reason="needs /proc")
@pytest.mark.parametrize(
    "asked",
    [
        ["review", *FILES],
        ["spares", *FILES, "--json"],
        ["replace", *FILES],
        ["backtest", *FILES, "--workers", "2"],
    ],
    ids=lambda asked: asked[0],
)
def test_ctrl_c_ends_with_one_sentence_and_130(asked, tmp_path):
    process = started(*asked, start_new_session=True)
    loaded(process, "pandas")
    time.sleep(0.5)
    os.killpg(process.pid, signal.SIGINT)
    out, err = process.communicate(timeout=300)
    # Stopped while it runs code made from text (a dataclass), `python -m` also gives the signal to
    # itself at its end; shells report both as 130.
    assert process.returncode in (130, -signal.SIGINT)
    assert out == ""
    assert err == "headlife: stopped; nothing was left half-written.\n"


SCRIPT = (
    "import sys\nfrom headlife.cli import main\nif __name__ == '__main__':\n    sys.exit(main())\n"
)


@pytest.mark.parametrize("way", ["-m headlife", "the script"])
def test_ctrl_c_while_the_command_is_imported_ends_with_the_sentence_too(way, tmp_path):
    script = tmp_path / "headlife"
    script.write_text(SCRIPT)
    run = ["-m", "headlife"] if way.startswith("-m") else [str(script)]
    command = [sys.executable, "-X", "importtime", *run, *RATING]
    heard = partial(signal.signal, signal.SIGINT, signal.SIG_DFL)
    with subprocess.Popen(
        command, cwd=DEMO.parent, stderr=subprocess.PIPE, text=True, preexec_fn=heard
    ) as process:
        # Python says of each module that it was loaded; argparse is an early one of ours.
        for line in process.stderr:
            if line.endswith("argparse\n"):
                process.send_signal(signal.SIGINT)
                break
        said = [line for line in process.stderr if not line.startswith("import time:")]
    assert process.returncode == 130
    assert said == ["headlife: stopped; nothing was left half-written.\n"]


TURNED = """
import os, signal, sys
from headlife import errors
from headlife.cli import main
from headlife.commands import rating

class Member:
    def __set_name__(self, owner, name):
        os.kill(os.getpid(), signal.SIGINT)

def run(args):
    try:
        type("Enumeration", (), {"member": Member()})
    except Exception as error:  # of Python 3.11: RuntimeError, Error calling __set_name__
        if KIND is None:
            raise
        raise KIND("Package not installed.")

KIND = %s
rating.run = run
sys.exit(main())
"""


@pytest.mark.parametrize("kind", ["None", "errors.HeadlifeError", "SystemExit"])
def test_ctrl_c_that_a_library_turned_into_another_error_is_still_ctrl_c(kind, tmp_path):
    # Python did so in one run of some hundreds, and a traceback came out.
    script = tmp_path / "headlife"
    script.write_text(TURNED % kind)
    heard = partial(signal.signal, signal.SIGINT, signal.SIG_DFL)
    command = [sys.executable, str(script), *RATING]
    run = subprocess.run(command, cwd=DEMO.parent, capture_output=True, text=True, preexec_fn=heard)
    assert run.stderr == "headlife: stopped; nothing was left half-written.\n"
    assert run.returncode == 130


NOT_RAISED = """
import os, signal, sys, time, weakref
from headlife.cli import main
from headlife.commands import rating

def given(*_):
    os.kill(os.getpid(), signal.SIGINT)
    time.sleep(0.01)  # Python answers here

class PutAway:
    pass

def run(args):
    one, place = PutAway(), %r
    if place == "a callback":
        seen = weakref.ref(one, given)
    elif place == "a destructor":
        PutAway.__del__ = given
    else:
        try:
            given()
        except BaseException:
            pass
    del one
    until = time.monotonic() + 60
    while time.monotonic() < until:
        time.sleep(0.01)
    return 0

rating.run = run
sys.exit(main())
"""


@pytest.mark.parametrize("place", ["a callback", "a destructor", "a library"])
def test_ctrl_c_that_is_dropped_ends_the_run_all_the_same(place, tmp_path):
    # "Exception ignored in", said Python, or nothing, and the run went on.
    script = tmp_path / "headlife"
    script.write_text(NOT_RAISED % place)
    heard = partial(signal.signal, signal.SIGINT, signal.SIG_DFL)
    command = [sys.executable, str(script), *RATING]
    run = subprocess.run(command, cwd=DEMO.parent, capture_output=True, text=True, preexec_fn=heard)
    assert run.stderr == "headlife: stopped; nothing was left half-written.\n"
    assert run.returncode == 130


PUT_AWAY = """
import os, signal, sys, time
from headlife.cli import main
from headlife.commands import rating

def run(args):
    try:
        os.kill(os.getpid(), signal.SIGINT)
        time.sleep(60)
    finally:
        time.sleep(1.5)  # longer than it takes until dropped ones are raised once more
        open(PLACE, "w").write("put away")

PLACE = %r
rating.run = run
sys.exit(main())
"""


def test_what_is_put_away_because_of_ctrl_c_is_put_away_in_peace(tmp_path):
    script, place = tmp_path / "headlife", tmp_path / "place"
    script.write_text(PUT_AWAY % str(place))
    heard = partial(signal.signal, signal.SIGINT, signal.SIG_DFL)
    command = [sys.executable, str(script), *RATING]
    run = subprocess.run(command, cwd=DEMO.parent, capture_output=True, text=True, preexec_fn=heard)
    assert (run.returncode, run.stderr) == (
        130,
        "headlife: stopped; nothing was left half-written.\n",
    )
    assert place.read_text() == "put away"


def test_importing_the_package_leaves_ctrl_c_to_who_imports_it():
    code = "import signal, headlife; print(signal.getsignal(signal.SIGINT).__name__)"
    # A shell starts what runs in the background with Ctrl-C ignored.
    heard = partial(signal.signal, signal.SIGINT, signal.SIG_DFL)
    command = [sys.executable, "-c", code]
    run = subprocess.run(command, capture_output=True, text=True, preexec_fn=heard)
    assert run.stdout == "default_int_handler\n"


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="needs /dev/full")
@pytest.mark.parametrize("asked", [RATING, [*RATING, "--json"], ["settings", FILES[0]]])
def test_an_output_that_is_full_ends_with_one_sentence(asked):
    with open("/dev/full", "w") as full, started(*asked, stdout=full) as process:
        _, err = process.communicate(timeout=300)
    assert process.returncode == 2
    assert err == (
        "headlife: the answers cannot be written to the output (No space left on device).\n"
    )


@pytest.mark.parametrize("asked", [RATING, [*RATING, "--json"]])
def test_a_reader_that_left_before_the_first_word_is_no_error(asked):
    with started(*asked) as process:
        process.stdout.close()
        err = process.stderr.read()
    assert (process.returncode, err) == (0, "")


def test_a_page_is_written_even_where_the_reader_of_the_answers_left(tmp_path):
    page = tmp_path / "page.xlsx"
    with started("spares", *FILES, "--xlsx", str(page)) as process:
        process.stdout.close()
        err = process.stderr.read()
    assert (process.returncode, err) == (0, "")
    assert page.stat().st_size > 1000


@pytest.mark.parametrize("closed", [">&-", "2>&-", ">&- 2>&-"])
def test_a_run_without_streams_writes_its_file_and_ends_well(closed, tmp_path):
    # It ended in a traceback, about a stream that is none.
    out = tmp_path / "hall.evidence.json"
    command = [sys.executable, "-m", "headlife", "evidence", *FILES, "--out", str(out)]
    run = subprocess.run(
        f"{shlex.join(command)} {closed}", shell=True, capture_output=True, cwd=DEMO.parent
    )
    assert (run.returncode, run.stderr) == (0, b"")
    assert out.stat().st_size


def test_a_mistake_has_its_exit_code_where_nobody_can_be_told():
    command = [sys.executable, "-m", "headlife", "due", "nothing.csv", "--shop", "nothing.toml"]
    for stream in ("2>/dev/full", "2>&-"):
        run = subprocess.run(
            f"{shlex.join(command)} {stream}", shell=True, capture_output=True, cwd=DEMO.parent
        )
        assert run.returncode == 2
