"""Evidence files: what they hold, what they must not hold, and how a damaged one is met."""

from __future__ import annotations

import dataclasses
import datetime
import gc
import json
import os

import numpy as np
import pytest

from headlife.errors import EvidenceError
from headlife.life.evidence import Evidence
from headlife.life.groups import Group, GroupEvidence
from headlife.life.site_evidence import FEW_HEADS, INTERVAL_ROWS, SiteEvidence
from headlife.life.site_files import read_site, read_sites
from headlife.life.site_text import CHECKSUM, digest


def evidence(heads=30, seed=1, reference=1200.0, good=None):
    age = 1500.0 * np.random.default_rng(seed).weibull(2.0, heads)
    return Evidence.from_lives(
        0.0, np.minimum(age, 1200.0), age <= 1200.0, reference_hours=reference, last_good_hours=good
    )


def site(name="Harbour", seed=1, heads=30, rated=1200.0, **changes):
    given = evidence(heads, seed)
    stratum = GroupEvidence(Group("A", "model"), rated, heads, {"wear": given})
    made = SiteEvidence(name, datetime.date(2026, 9, 30), "ab" * 32, "wear", "0.1.0", (stratum,))
    return dataclasses.replace(made, **changes)


def test_written_and_read_again_every_bit_is_there():
    there = site()
    back = SiteEvidence.from_json(there.to_json())
    assert (back.site, back.as_of, back.primary_mode) == ("Harbour", there.as_of, "wear")
    one, other = back.strata[0].modes["wear"], there.strata[0].modes["wear"]
    assert one.log_curve.tobytes() == other.log_curve.tobytes()
    assert (one.log_sum, one.failures, one.heads) == (other.log_sum, other.failures, other.heads)


def test_line_ends_changed_by_mail_do_no_harm():
    assert SiteEvidence.from_json("\ufeff".strip("\ufeff") + site().to_json().replace("\n", "\r\n"))


def test_it_is_a_few_lines_of_34_numbers_a_mode():
    text = site().to_json()
    assert len(text.splitlines()) < 20
    numbers = json.loads(text)["strata"][0]["modes"]["wear"]
    assert len(numbers["log_curve"]) == 32
    assert numbers["intervals"] == []


def test_a_handful_of_heads_is_withheld_unless_asked():
    few = site(heads=9)
    shown = few.shareable().strata[0]
    assert (shown.withheld, shown.heads, shown.modes) == (FEW_HEADS, 0, {})
    assert "log_curve" not in few.shareable().to_json()
    assert few.shareable(fewest_heads=9).strata[0].modes
    assert site(heads=10).shareable().strata[0].modes
    with pytest.raises(EvidenceError, match="cannot be negative"):
        few.shareable(-1)


def test_rows_of_single_heads_are_withheld_unless_asked():
    age = np.linspace(100.0, 900.0, 20)
    rows = Evidence.from_lives(
        0.0, age, np.ones(20, bool), reference_hours=1200.0, last_good_hours=age - 50.0
    )
    stratum = GroupEvidence(Group("A", "model"), 1200.0, 20, {"wear": rows})
    there = site(strata=(stratum,))
    assert there.shareable(exact=True).strata[0].withheld == INTERVAL_ROWS
    along = there.shareable(exact=True, interval_rows=True).strata[0].modes["wear"]
    assert len(along.intervals) == 20
    # In rounded answers they are failures like others.
    told = there.shareable().strata[0].modes["wear"]
    assert (told.failures, len(told.intervals)) == (20, 0)


@pytest.mark.parametrize("place", [0.2, 0.5, 0.9])
def test_one_changed_digit_is_noticed(tmp_path, place):
    text = site().to_json()
    at = next(i for i in range(int(place * len(text)), len(text)) if text[i].isdigit())
    other = "7" if text[at] != "7" else "3"
    path = tmp_path / "harbour.evidence.json"
    path.write_text(text[:at] + other + text[at + 1 :])
    with pytest.raises(EvidenceError, match=r"harbour\.evidence\.json: .*changed or damaged"):
        read_site(path)


def signed(**changes):
    """Change a file as someone would who also knows the checksum."""
    data = json.loads(site().to_json())
    data.pop("sha256")
    data |= changes
    body = json.dumps(data)[:-1] + ", "
    return body + CHECKSUM + digest(body.encode()) + '"}'


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"format": "headlife site evidence 9"}, "format 'headlife site evidence 9'"),
        ({"unit": "min"}, "counts in 'min'; only hours"),
        ({"site": " "}, "site is no name"),
        ({"as_of": "soon"}, "damaged"),
        ({"strata": [{"head_type": "A"}]}, "damaged"),
        ({"strata": 7}, "damaged"),
        ({"strata": json.loads(site().to_json())["strata"] * 2}, "A, model twice"),
    ],
)
def test_what_does_not_fit_is_refused_by_name(changes, message):
    with pytest.raises(EvidenceError, match=f"a.json: .*{message}"):
        SiteEvidence.from_json(signed(**changes), "a.json")


def test_evidence_inside_of_another_version_unit_or_size_is_refused():
    for key, value in (
        ("format", "headlife evidence 0"),
        ("unit", "min"),
        ("reference_hours", -3),
        ("log_curve", [0.0] * 31),
        ("failures", 1e9),
        ("log_sum", None),
    ):
        strata = json.loads(site().to_json())["strata"]
        strata[0]["modes"]["wear"][key] = value
        with pytest.raises(EvidenceError, match="a.json: .*[Ee]vidence"):
            SiteEvidence.from_json(signed(strata=strata), "a.json")


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"", "not JSON"),
        (b"{}", "no checksum"),
        (b"\x00\xff\xfe", "not text"),
        (b"[" * 100_000, "not JSON"),
        (b'{"format": NaN}', "not JSON"),
        (evidence().to_json().encode(), "no checksum"),
    ],
)
def test_other_files_are_refused_by_name(tmp_path, content, message):
    path = tmp_path / "other.json"
    path.write_bytes(content)
    with pytest.raises(EvidenceError, match=f"other.json: .*{message}"):
        read_site(path)


def test_a_missing_file_is_named(tmp_path):
    with pytest.raises(EvidenceError, match="evidence file .* does not exist"):
        read_site(tmp_path / "none.json")
    with pytest.raises(EvidenceError, match="cannot be opened"):
        read_site(tmp_path)


def test_many_files_are_read_in_their_order_and_a_bad_one_stops(tmp_path):
    names = ["Quay", "Harbour", "Mill"]
    for name in names:
        (tmp_path / name).write_text(dataclasses.replace(site(), site=name).to_json())
    assert [one.site for one in read_sites([tmp_path / name for name in names])] == names
    (tmp_path / "Harbour").write_text("{}")
    with pytest.raises(EvidenceError, match="Harbour: .*no checksum"):
        read_sites([tmp_path / name for name in names])
    assert gc.isenabled()


def rounded_and_changed(**changes):
    """Change the one stratum of a file of rounded answers, with the right checksum."""
    strata = json.loads(site().shareable().to_json())["strata"]
    mode = changes.pop("wear", {})
    strata[0] |= changes
    strata[0]["modes"]["wear"] |= mode
    return signed(format="headlife site evidence 2", strata=strata)


@pytest.mark.parametrize(
    "changes",
    [
        {"ages": {"up_to_hours": -5.0, "spread": 1.0, "together": 0.0}},
        {"ages": {"up_to_hours": 900.0, "spread": 1.0, "together": 1.0}},
        {"ages": {"up_to_hours": 900.0}},
        {"ages": None},
        {"ages": {"up_to_hours": 1e308, "spread": 1.0, "together": 0.0}},
        {"heads": 0},
        {"wear": {"failures": 31}},
        {"wear": {"failures": 2.5}},
        {"wear": {"failures": -1}},
        {"wear": {"mean_hours": 0.0}},
        {"wear": {"mean_hours": "x"}},
        {"wear": {"mean_hours": 1e308}},
    ],
)
def test_rounded_answers_that_do_not_fit_are_refused_by_name(changes):
    with pytest.raises(EvidenceError, match=r"a\.json: "):
        SiteEvidence.from_json(rounded_and_changed(**changes), "a.json")


def test_exact_files_of_before_are_read_as_ever():
    before = site(strata=site().strata)
    text = before.to_json().replace('"tells": ', '"other": ')  # the first files had no such line
    body = text.rpartition('"sha256": "')[0]
    lines = [line for line in body.splitlines() if not line.startswith('"other": ')]
    body = "\n".join(lines) + "\n"
    read = SiteEvidence.from_json(body + CHECKSUM + digest(body.encode()) + '"}')
    assert read.exact
    assert read.strata[0].modes["wear"].log_sum == before.strata[0].modes["wear"].log_sum


def test_a_pipe_is_no_evidence_and_nobody_waits_for_it(tmp_path):
    os.mkfifo(tmp_path / "hall.evidence.json")
    with pytest.raises(EvidenceError, match="cannot be opened: it is a device, a pipe"):
        read_site(tmp_path / "hall.evidence.json")
