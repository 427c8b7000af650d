"""The commands as a person runs them: answers on stdout, one sentence on stderr, exit codes."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from tests.show.conftest import DEMO, SETTINGS
from tests.written_case import HEADER

from validation import cases

ROOT = DEMO.parent


def headlife(*arguments, cwd=ROOT):
    command = [sys.executable, "-m", "headlife.cli", *map(str, arguments)]
    return subprocess.run(command, cwd=cwd, capture_output=True, text=True, check=False)


@pytest.fixture(scope="module")
def cages(tmp_path_factory):
    """The bearing cages of the USAF Weibull handbook: 6 failures in 1,703."""
    case = cases.load("bearing_cages")
    path = tmp_path_factory.mktemp("cages") / "cages.csv"
    columns = (case.array("exit"), case.array("failed").astype(int), case.array("count"))
    rows = [",".join(map(str, row)) for row in zip(*columns, strict=True)]
    path.write_text("hours,failed,count\n" + "\n".join(rows) + "\n")
    return case, path


def test_rating_of_the_bearing_cages_is_the_published_one(cages):
    case, path = cages
    # Each bound 97.5 % sure: the published limits hold 95 % as a whole.
    done = headlife("rating", path, "--rated-hours", 8000, "--confidence", 0.975, "--json")
    assert (done.returncode, done.stderr) == (0, "")
    (answer,) = json.loads(done.stdout)["groups"]
    assert case.expected["shape"].agrees(answer["shape"])
    assert case.expected["scale"].agrees(answer["scale"])
    assert case.expected["b10"].agrees(answer["b_life"])
    assert case.expected["b10_likelihood_ratio_95"].agrees(answer["b_life_likelihood_ratio"])
    assert answer["range_confidence"] == pytest.approx(0.95)
    assert case.expected["reliability_8000"].agrees(answer["reliability"])
    assert answer["verdict"] == "not settled" and 0 < answer["probability"] < 0.5


def test_rating_prints_the_same_for_a_person(cages):
    _, path = cages
    told = headlife("rating", path, "--rated-hours", 8000, "--confidence", 0.975).stdout
    for part in ("2.0353", "11,792", "3,903", "2,094 to 22,144", "0.6351", "not settled"):
        assert part in told


@pytest.mark.parametrize("rated", [300, 800, 1200])
@pytest.mark.parametrize(
    ("hours", "failed"),
    [
        ([800] * 23, [0] * 23),
        ([100] * 5 + [250] * 4, [0] * 9),
        ([100, 250, 300, 320], [0, 1, 0, 0]),
        ([10, 900, 1000, 1100, 5000], [1, 0, 1, 0, 1]),
    ],
)
def test_lives_far_beyond_rating_and_oldest_head_are_only_called_longer(
    tmp_path, hours, failed, rated
):
    """A bound of 2,731,072 h was printed where the oldest head had run 1,322 h."""
    rows = "\n".join(f"{h},{f}" for h, f in zip(hours, failed, strict=True))
    (tmp_path / "lives.csv").write_text(f"hours,failed\n{rows}\n")
    far = 5 * max(rated, *hours)
    command = ("rating", tmp_path / "lives.csv", "--rated-hours", rated)
    told = headlife(*command).stdout
    (answer,) = json.loads(headlife(*command, "--json").stdout)["groups"]
    upper = answer["b_life_posterior"][1]
    assert (f"over {far:,}" in told) == (upper > far)
    assert ("these records say nothing" in told) == (upper > far)
    lives = [line for line in told.splitlines() if "[h]" in line]
    said = [re.sub(r"B10: hours that 90 %", "", line) for line in lives]
    assert said
    for number in re.findall(r"[\d,.]*\d", " ".join(said)):
        assert float(number.replace(",", "")) <= far
    (shares,) = [line for line in told.splitlines() if line.startswith("Share reaching")]
    assert "1.0000" not in shares
    assert "0.0000" not in shares


def test_rating_judges_every_group_and_all_together():
    done = headlife("rating", DEMO / "lifetimes.csv", "--rated-hours", 800, "--json")
    groups = json.loads(done.stdout)["groups"]
    assert [one["group"] for one in groups][-1] == "all groups together"
    assert groups[-1]["heads"] == sum(one["heads"] for one in groups[:-1])
    assert groups[-1]["failures"] == sum(one["failures"] for one in groups[:-1])


@pytest.fixture(scope="module")
def reviewed(written):
    return written("review")


def test_review_prints_the_answers_and_writes_the_page(reviewed, demo):
    done, page = reviewed
    _, review = demo
    assert (done.returncode, done.stderr) == (0, ""), "the bar is only for people watching"
    for question in ("Does the rating hold?", "How many spares?", "Which heads to watch?"):
        assert question in done.stdout
    for stratum in review.strata:
        assert f"{stratum.head_type}, {stratum.role}" in done.stdout
        assert stratum.verdict.verdict in done.stdout
    assert "\N{REPLACEMENT CHARACTER}" not in done.stdout
    text = page.read_text()
    assert text.rstrip().endswith("</html>") and review.records_sha256 in text
    assert text.count("<script") == 1 and "Traceback" not in text


def test_review_for_a_program_agrees_and_writes_the_same_page(reviewed, tmp_path, demo):
    (_, page), (_, review) = reviewed, demo
    files = (DEMO / "removals.csv", "--shop", DEMO / "shop.toml", "--out", tmp_path / "p.html")
    done = headlife("review", *files, "--json", cwd=tmp_path)
    answers = json.loads(done.stdout)
    assert done.stderr == ""
    assert (tmp_path / "p.html").read_bytes() == page.read_bytes(), "same input, same bytes"
    for said, stratum in zip(answers["ratings"], review.strata, strict=True):
        assert said["verdict_of_this_look"] == stratum.verdict.verdict
        assert said["probability"] == pytest.approx(stratum.verdict.probability, rel=1e-12)
    for said, answer in zip(answers["stock"], review.stock, strict=True):
        assert (said["stock_level"], said["order_now"]) == (
            answer.plan.stock_level,
            answer.plan.order_now,
        )
    assert (
        answers["records"]["rows_accepted"] + answers["records"]["rows_set_aside"]
        == (answers["records"]["rows_read"])
    )


def shop_files(tmp_path, row="H1,A,model,P1,left,2026-01-05,0,2026-03-02,300,", settings=SETTINGS):
    (tmp_path / "shop.toml").write_text(settings)
    (tmp_path / "log.csv").write_text(f"{HEADER}\n{row}\n")
    return ("log.csv", "--shop", "shop.toml", "--out", "page.html")


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("nowhere.csv", "--shop", "shop.toml"), r"nowhere.csv does not exist"),
        (("log.csv", "--shop", "nowhere.toml"), r"nowhere.toml does not exist"),
        (("log.csv", "--shop", "shop.toml", "--out", "log.csv"), "would overwrite the input"),
        (("log.csv", "--shop", "shop.toml", "--out", "no/page.html"), "does not exist"),
        (("log.csv", "--shop", "shop.toml", "--as-of", "June"), "year-month-day"),
        (("log.csv", "--shop", "shop.toml", "--seed", "-1"), "0 or more"),
    ],
)
def test_mistakes_on_the_command_line_are_one_sentence(tmp_path, arguments, says):
    shop_files(tmp_path)
    before = {path: path.read_bytes() for path in tmp_path.iterdir()}
    done = headlife("review", *arguments, cwd=tmp_path)
    assert done.returncode == 2 and done.stdout == ""
    assert says in done.stderr and "Traceback" not in done.stderr
    assert {path: path.read_bytes() for path in tmp_path.iterdir()} == before


@pytest.mark.parametrize(
    ("row", "settings", "says"),
    [
        ("H1,A,model,P1,left,2026-01-05,0,2026-03-02,minus,", SETTINGS, ("row 2", "hours_out")),
        (
            "H1,A,model,P1,left,2026-01-05,0,2026-03-02,300,",
            SETTINGS.replace("rated_hours = 500", "rated_hours = 0"),
            ("shop.toml", "rated_hours"),
        ),
    ],
    ids=["hours", "rating of zero"],
)
def test_mistakes_in_the_files_leave_no_page(tmp_path, row, settings, says):
    done = headlife("review", *shop_files(tmp_path, row, settings), cwd=tmp_path)
    assert done.returncode == 2 and done.stdout == ""
    assert all(part in done.stderr for part in says) and "Traceback" not in done.stderr
    assert sorted(path.name for path in tmp_path.iterdir()) == ["log.csv", "shop.toml"]


def test_rating_mistakes_are_one_sentence(tmp_path, cages):
    _, path = cages
    for arguments, says in (
        (("nowhere.csv", "--rated-hours", 5), "nowhere.csv"),
        ((path, "--rated-hours", 0), "above 0 and at most 10,000,000; got 0"),
        ((path, "--rated-hours", "nan"), "above 0 and at most 10,000,000; got nan"),
        ((path, "--rated-hours", 8000, "--share", 90), "write 0.9"),
    ):
        done = headlife("rating", *arguments, cwd=tmp_path)
        assert done.returncode == 2 and says in done.stderr and "Traceback" not in done.stderr


def test_help_loads_no_room():
    code = (
        "import sys\nfrom headlife.cli import main\n"
        "try:\n    main(['--help'])\nexcept SystemExit:\n    pass\n"
        "heavy = {'numpy', 'pandas', 'scipy', 'matplotlib', 'IPython', 'rich', 'nbformat'}\n"
        "sys.exit(sorted(heavy & set(sys.modules)) or None)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")
    assert "review" in done.stdout and "rating" in done.stdout


def test_terminal_shows_hostile_names_as_text(tmp_path):
    row = 'H1,A,model,"[red]\x1b[2JP1",left,2026-01-05,0,2026-03-02,300,worn\n'
    row += 'H2,A,model,"[red]P1",left,2026-03-02,0,2026-06-01,480,'
    done = headlife("review", *shop_files(tmp_path, row), cwd=tmp_path)
    assert "\x1b" not in done.stdout + done.stderr
    assert done.returncode in (0, 2)


def test_reader_that_leaves_early_is_no_error():
    command = f"{sys.executable} -m headlife.cli rating {DEMO / 'lifetimes.csv'} --rated-hours 800"
    done = subprocess.run(
        ["bash", "-c", f"{command} | head -1; exit ${{PIPESTATUS[0]}}"],
        capture_output=True,
        text=True,
        check=False,
        env=os.environ,
        cwd=Path(ROOT),
    )
    assert (done.returncode, done.stderr) == (0, "")
