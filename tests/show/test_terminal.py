"""The one place that prints: nothing that other people wrote moves a cursor or turns text round."""

from __future__ import annotations

import io
import json
import sys
from collections import Counter

import pytest
from rich.console import Console
from rich.text import Text
from tests.show.conftest import SETTINGS
from tests.written_case import HEADER

from headlife import cli
from headlife.show.terminal import Screen, Verdict, cleaned, complain, print_file, print_json
from headlife.show.terminal_table import laid_out, too_narrow

# Clear the screen; set its title; an 8-bit escape; turn text round; a backspace; half a pair.
HOSTILE = "\x1b[2J\x1b]0;owned\x07\x9b31m\u202etxet\x08\ud800"


def harmless(text):
    return all(sign.isprintable() or sign == "\n" for sign in text)


def test_text_is_cleaned_and_the_rest_stays():
    assert cleaned("Zoë 12 ←\tx\ny") == "Zoë 12 ←\N{REPLACEMENT CHARACTER}x" + (
        "\N{REPLACEMENT CHARACTER}y"
    )
    assert harmless(cleaned(HOSTILE)) and "owned" in cleaned(HOSTILE)


def test_lines_tables_headings_and_mistakes_are_cleaned(capsys):
    screen = Screen()
    screen.head(HOSTILE)
    screen.say(Verdict(HOSTILE), HOSTILE)
    screen.table(HOSTILE, [HOSTILE], [[HOSTILE], [Verdict(HOSTILE)]])
    complain(f"first {HOSTILE}\nsecond {HOSTILE}")
    print_file(f"a = 1\nb = '{HOSTILE}'\n")
    said = capsys.readouterr()
    assert harmless(said.out) and said.out.count("owned") == 8
    assert harmless(said.err) and said.err.count("\n") == 2


def test_json_says_the_same_in_characters_that_do_nothing(capsys):
    answers = {"name": HOSTILE.replace("\ud800", ""), "beyond": "\U000e0001", "plain": "Zoë"}
    print_json(answers)
    text = capsys.readouterr().out
    assert harmless(text) and "Zoë" in text
    assert json.loads(text) == answers


@pytest.mark.parametrize("command", ["review", "check", "spares", "backtest"])
def test_escapes_in_records_and_settings_reach_no_terminal(command, tmp_path, capsys):
    escaped = HOSTILE.replace("\ud800", "")
    quoted = "".join(f"\\u{ord(sign):04x}" if not sign.isprintable() else sign for sign in escaped)
    settings = SETTINGS.replace("Small shop", f"{quoted}shop").replace('"A"', f'"A{quoted}"')
    (tmp_path / "shop.toml").write_text(settings, encoding="utf-8")
    row = f"H1,A{escaped},model,P1,left,2026-01-05,0,2026-03-02,300,{escaped}\n"
    (tmp_path / "log.csv").write_text(f"{HEADER}\n{row}", encoding="utf-8")
    files = [str(tmp_path / "log.csv"), "--shop", str(tmp_path / "shop.toml")]
    cli.main([command, *files])
    cli.main([command, *files, "--json"])
    said = capsys.readouterr()
    assert harmless(said.out) and harmless(said.err) and said.out + said.err


def test_escapes_in_another_sites_evidence_reach_no_terminal(tmp_path, capsys):
    from tests.show.conftest import DEMO

    name = "Mill\x1b[2J"
    place = tmp_path / "one.evidence.json"
    records = [str(DEMO / "removals.csv"), "--shop", str(DEMO / "shop.toml")]
    assert cli.main(["evidence", *records, "--site", name, "--out", str(place)]) == 0
    text = json.loads(place.read_text())
    place.write_text(json.dumps(text | {"site": name}))
    for more in ([], ["--json"]):
        cli.main(["pool", str(place), *more])
    said = capsys.readouterr()
    assert harmless(said.out) and harmless(said.err) and "Mill" in said.out + said.err


DUE = (
    [
        "What to do",
        "Head",
        "Place",
        "Hours now [h]",
        "To notice [h]",
        "Rated [h]",
        "Build",
        "Spare",
    ],
    [
        ["swap now", "S014", "Marten right", "1,538", "458", "1,200", "92 %", "one of 5 part-used"],
        ["can stay", "S027", "Wren left", "11,374", "", "1,200", "96 %", "none (190 to 643 h)"],
    ],
)


@pytest.mark.parametrize("width", [1, 3, 10, 20, 24, 40, 60, 80, 110])
def test_a_terminal_however_narrow_shows_every_cell(width):
    """At 24 signs the columns were there and nothing stood in them."""
    headings, rows = [Text(heading) for heading in DUE[0]], DUE[1]
    cells = [[Text(cell) for cell in row] for row in rows]
    shown = io.StringIO()
    console = Console(width=width, file=shown)
    console.print(laid_out(Text("Heads"), headings, cells, (3, 4), width))
    lines = shown.getvalue().splitlines()
    assert max(map(len, lines)) <= width
    signs = Counter("".join("".join(lines).split()))
    wanted = Counter("".join("".join(map("".join, rows)).split()))
    assert not wanted - signs
    if width >= 20:
        for number in ("1,538", "11,374", "458", "1,200"):
            assert number in shown.getvalue()
    for name in ("S014", "S027") if width >= 20 else ():
        assert name in shown.getvalue()


def test_a_table_with_room_stands_side_by_side():
    headings, cells = [Text("Mark [h]"), Text("There")], [[Text("1,080"), Text("3")]]
    for width, narrow in ((9, True), (14, False), (110, False)):
        assert too_narrow(headings, cells, width) == narrow


@pytest.mark.parametrize("columns", ["0", "-1", "wide", "20", "100000"])
def test_a_terminal_that_tells_its_width_wrongly_shows_the_answers(columns, monkeypatch):
    """With COLUMNS=0 the answers were empty, and the code was 0."""
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setenv("COLUMNS", columns)
    shown = io.StringIO()
    shown.isatty = lambda: True
    monkeypatch.setattr(sys, "stdout", shown)
    screen = Screen()
    screen.say("Swap S014 now")
    screen.table("Heads", ["Head", "Hours [h]"], [["S027", "1,374"]], (1,))
    text = shown.getvalue()
    assert "Swap S014 now" in text and "S027" in text and "1,374" in text
