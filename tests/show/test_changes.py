"""What changed where people read it: terminal, page, and the command's refusals."""

from __future__ import annotations

from tests.show.conftest import DEMO

from headlife.cli import main

COMMAND = ["changes", str(DEMO / "removals.csv"), "--shop", str(DEMO / "shop.toml")]


def test_the_screen_says_why_a_stock_level_fell_and_the_page_shows_it(tmp_path, capsys):
    earlier = tmp_path / "earlier.toml"
    text = (DEMO / "shop.toml").read_text(encoding="utf-8")
    earlier.write_text(text.replace("service_level = 0.95", "service_level = 0.90"))
    page = tmp_path / "changes.html"
    assert main([*COMMAND, "--earlier-shop", str(earlier), "--out", str(page)]) == 0
    said = capsys.readouterr().out
    first = " ".join(said.split("\n\n")[0].split()[:60])
    assert "verdict changed; hold" in first and "Standard heads, not" in first
    assert "22 heads were taken out" in " ".join(said.split())
    assert "[spares] service_level: 0.9 then, 0.95 now" in said
    html = page.read_text(encoding="utf-8")
    assert "What was decided differently?" in html and "present ages" in html
    assert 'class="missing"' not in html


def test_a_day_that_is_none_is_refused_before_anything_is_read(capsys):
    assert main([*COMMAND, "--since", "yesterday"]) == 2
    assert "--since 'yesterday' is not a date" in capsys.readouterr().err
