"""The one place that prints: nothing that other people wrote moves a cursor or turns text round."""

from __future__ import annotations

import json

import pytest
from tests.show.conftest import HEADER, SETTINGS

from headlife import cli
from headlife.show.terminal import Screen, Verdict, cleaned, complain, print_file, print_json

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
    (tmp_path / "log.csv").write_text(HEADER + row, encoding="utf-8")
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
