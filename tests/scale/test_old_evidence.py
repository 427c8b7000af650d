"""Evidence files that earlier versions wrote, kept as they were: each gives the answer it gave."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from headlife.cli import main

# Written from the demo by this package on five days, and pooled by the version that wrote it:
# verdict and chance of Standard, model; Standard, support; and Fibre, model where it is told.
OLD = Path(__file__).parent / "old_evidence"
SUMS = [("not settled", 0.7952), ("holds", 0.9781)]
ROUNDED = [("not settled", 0.7939), ("holds", 0.9783), ("falls short", 0.0001)]
ANSWERS = {
    "sums_first": SUMS,  # before files said what they tell
    "sums_later": SUMS,
    "sums_with_rows": [*SUMS, ("falls short", 0.0001)],
    "rounded_first": ROUNDED,  # pictures of the ages chosen in another way
    "rounded_later": ROUNDED,
}


@pytest.mark.parametrize("name", ANSWERS)
def test_a_file_of_an_earlier_version_gives_the_answer_it_gave(name, capsys):
    assert main(["pool", str(OLD / f"{name}.json"), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)["strata"]
    answers = [stratum["all_sites"] for stratum in told]
    assert [one["verdict"] for one in answers] == [verdict for verdict, _ in ANSWERS[name]]
    for one, (_, chance) in zip(answers, ANSWERS[name], strict=True):
        assert one["probability"] == pytest.approx(chance, abs=5e-5)


def test_no_kept_file_is_forgotten():
    assert {path.stem for path in OLD.iterdir()} == set(ANSWERS)


def test_files_of_a_later_version_are_refused_by_a_sentence(tmp_path, capsys):
    """A format that is not known is named with those that are; what to do is said."""
    from headlife.life.site_text import digest

    text = (OLD / "rounded_later.json").read_text(encoding="utf-8")
    body, mark, _ = text.replace("site evidence 2", "site evidence 3").rpartition('"sha256": "')
    (tmp_path / "new.json").write_text(f'{body}{mark}{digest(body.encode())}"}}', encoding="utf-8")
    assert main(["pool", str(tmp_path / "new.json")]) == 2
    said = capsys.readouterr().err
    assert "site evidence 3" in said and "site evidence 2" in said and said.count("\n") == 1
