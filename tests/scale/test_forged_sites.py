"""Evidence files that are forged or damaged, and a site that decides a pooled verdict alone."""

from __future__ import annotations

import datetime
import hashlib
import json
from dataclasses import replace

import numpy as np
import pytest

from headlife.errors import EvidenceError
from headlife.life.evidence import Evidence
from headlife.life.groups import Group, GroupEvidence
from headlife.life.site_evidence import SiteEvidence
from headlife.scale.pooling import pool_sites
from headlife.show.words.sites import stratum_notes


def site(name, exits, failed, damaged=()):
    modes = {"wear": Evidence.from_lives(0, exits, failed, reference_hours=1200.0)}
    if len(damaged):
        modes["damage"] = Evidence.from_lives(0, exits, damaged, reference_hours=1200.0)
    stratum = GroupEvidence(Group("A", "model"), 1200.0, len(exits), modes)
    return SiteEvidence(name, datetime.date(2026, 3, 31), "0" * 64, "wear", "0.1.0", (stratum,))


@pytest.fixture
def honest():
    exits = np.linspace(300, 1500, 20)
    failed = np.arange(20) % 4 == 0
    return site("Yard", exits, failed, np.arange(20) % 7 == 3)


def forged(one, change):
    """Write a file with something changed and a checksum that fits, as anybody can."""
    data = json.loads(one.to_json())
    del data["sha256"]
    change(data)
    return sealed(json.dumps(data)[:-1] + ", ")


def sealed(body):
    """End a file with the checksum that fits it."""
    return f'{body}"sha256": "{hashlib.sha256(body.encode()).hexdigest()}"}}'


def in_mode(mode, **values):
    def change(data):
        data["strata"][0]["modes"][mode].update(values)

    return change


def in_stratum(**values):
    return lambda data: data["strata"][0].update(values)


def no_heads(data):
    data["strata"][0]["heads"] = 1
    for mode in data["strata"][0]["modes"].values():
        mode.update(heads=0.0, failures=0.0, log_sum=0.0)


def named_again(mode, name):
    def change(data):
        modes = data["strata"][0]["modes"]
        modes[name] = modes.pop(mode)

    return change


@pytest.mark.filterwarnings("error::RuntimeWarning")
@pytest.mark.parametrize(
    ("change", "why"),
    [
        (in_mode("wear", log_sum=500.0), "older than its exposure shows"),
        (in_mode("wear", heads=25.0), "not of the same heads"),
        (in_stratum(heads=5), "not of the same heads"),
        (in_mode("wear", failures=19.0), "more failures than heads"),
        (in_mode("wear", log_curve=[3.0 + 0.1 * k for k in range(32)]), "not of the same heads"),
        (in_stratum(withheld="too few heads"), "withheld and has numbers"),
        (lambda data: data.update(as_of="2999-01-01"), "a day that has not come"),
        (lambda data: data.update(as_of="0001-01-01"), "before there were heads"),
        (lambda data: data.update(as_of="1979-12-31"), "before there were heads"),
        (in_mode("damage", intervals=[[900.0, 100.0, 1.0]]), "reversed"),
        (no_heads, "running hours of no head"),
        (named_again("damage", ""), "its mode is no name"),
        (named_again("damage", "\u200b"), "its mode is no name"),
        (named_again("damage", "x" * 5_000), "its mode has 5,000 signs"),
        (named_again("damage", "wear "), "two of its modes have one name"),
    ],
)
def test_a_forged_file_is_refused_by_name_though_its_checksum_fits(honest, change, why):
    assert SiteEvidence.from_json(forged(honest, lambda data: None)).site == "Yard"
    with pytest.raises(EvidenceError, match=why):
        SiteEvidence.from_json(forged(honest, change), "yard.evidence.json")


def test_a_key_that_stands_twice_is_refused(honest):
    text = honest.to_json()
    body = text[: text.index('"sha256"')].replace('"site": ', '"site": "Mill", "site": ', 1)
    with pytest.raises(EvidenceError, match="a key twice"):
        SiteEvidence.from_json(sealed(body))


def test_names_with_quotes_and_colons_are_no_keys(honest):
    odd = replace(honest, site='The "old": hall\\" : x')
    assert SiteEvidence.from_json(odd.to_json()).site == odd.site


def test_a_site_that_decides_alone_is_named_with_its_pull():
    rng = np.random.default_rng(3)
    poor = [site(f"S{k}", 1500 * rng.random(15) + 100, np.arange(15) < 5) for k in range(3)]
    large = site("Depot", np.full(400, 1500.0), np.arange(400) < 1)
    (stratum,) = pool_sites([*poor, large]).strata
    assert [one.site for one in stratum.decided_by][0] == "Depot"
    (alone,) = pool_sites(poor).strata
    assert stratum.decided_by[0].verdict == alone.verdict.verdict
    assert stratum.decided_by[0].probability == pytest.approx(alone.verdict.probability, abs=1e-9)
    assert "without Depot it is" in stratum_notes(stratum)[0]


def test_sites_that_agree_need_no_such_word():
    sites = [site(f"S{k}", np.full(60, 1500.0 + k), np.zeros(60, bool)) for k in range(4)]
    (stratum,) = pool_sites(sites).strata
    assert stratum.verdict.verdict == "holds" and stratum.decided_by == ()


@pytest.fixture
def rounded_one(honest):
    return honest.shareable()


def in_ages(**values):
    return lambda data: data["strata"][0]["ages"].update(values)


def in_file(**values):
    return lambda data: data.update(values)


@pytest.mark.parametrize(
    ("change", "why"),
    [
        # Of the right value and another kind: a guess would be made, or a digit dropped.
        (in_stratum(heads=20.5), "heads are a whole number"),
        (in_stratum(heads="20"), "heads are a whole number"),
        (in_stratum(heads=10**18), "heads are a whole number up to 100,000,000"),
        (in_stratum(rated_hours="1200"), "rated_hours is no number, it is '1200'"),
        (in_stratum(rated_hours=True), "rated_hours is no number"),
        (in_stratum(rated_hours=5e-324), "no head is rated"),
        (in_stratum(withheld=False), "a reason to withhold"),
        (in_ages(together="0.5"), "together is no number"),
        (in_ages(up_to_hours=5e-324), "damaged: a value in it"),
        (in_mode("wear", failures=True), "failures are a count"),
        (in_mode("wear", mean_hours="500"), "mean_hours is no number"),
        (in_mode("wear", mean_hours=-500.0), "failures of no age"),
        # Beside what is known: it would be passed over.
        (in_ages(oldest=5000.0), "'oldest' in the ages, which this version does not know"),
        (in_mode("wear", log_sum=3.0), "'log_sum' in a mode"),
        (in_stratum(lives=[1, 2]), "'lives' in a stratum"),
        (in_file(serials=["S1"]), "'serials' in the file"),
        # Long, or of lists: a sentence stays one.
        (in_file(format=[{"a": "b" * 5000}]), "of the format a list and"),
        (in_file(format="\x1b[2J" * 50), r"of the format '\?\[2J"),
        (in_file(site="x" * 100_000), "its site has 100,000 signs"),
        (in_file(site="\u200b"), "its site is no name that can be read"),
        (in_file(as_of="2026-W13"), "as_of is no day, it is '2026-W13'"),
        (in_file(strata={}), "its strata are no list"),
        (lambda data: data["strata"][0].pop("modes"), "'modes' is missing"),
    ],
)
def test_what_is_of_another_kind_is_refused_in_a_technician_s_words(rounded_one, change, why):
    assert SiteEvidence.from_json(forged(rounded_one, lambda data: None)).site == "Yard"
    with pytest.raises(EvidenceError, match=why) as refused:
        SiteEvidence.from_json(forged(rounded_one, change), "yard.evidence.json")
    said = str(refused.value)
    assert len(said) < 300 and "Error(" not in said and said.isprintable()


@pytest.mark.parametrize(
    "change",
    [
        in_mode("wear", failures="5"),
        in_mode("wear", reference_hours=1e-300),
        in_mode("wear", log_curve=["1"] * 32),
        in_mode("wear", log_curve=[True] * 32),
        in_mode("wear", intervals=[["0", 500.0, 1.0]]),
        in_mode("wear", seen_by="nobody"),
    ],
)
def test_exact_sums_are_numbers(honest, change):
    with pytest.raises(EvidenceError, match="damaged|does not know"):
        SiteEvidence.from_json(forged(honest, change))


def test_a_space_more_makes_no_other_group(rounded_one):
    def twice(data):
        data["strata"].append(data["strata"][0] | {"role": " model  "})

    with pytest.raises(EvidenceError, match="the stratum A, model twice"):
        SiteEvidence.from_json(forged(rounded_one, twice))


def test_a_file_of_endless_strata_is_refused_at_once(rounded_one):
    def many(data):
        data["strata"] = [data["strata"][0] | {"head_type": f"T{k}"} for k in range(5_000)]

    with pytest.raises(EvidenceError, match="5,000 strata"):
        SiteEvidence.from_json(forged(rounded_one, many))


@pytest.mark.filterwarnings("error::RuntimeWarning")
def test_a_site_that_hardly_ran_is_compared_without_a_warning():
    # At a shape of 20 its exposure is smaller than any number a computer has.
    hardly = site("Closet", np.full(12, 1e-15), np.zeros(12, bool))
    steep = site("Yard", np.linspace(1190.0, 1200.0, 20), np.arange(20) % 4 == 0)
    (stratum,) = pool_sites([hardly, steep]).strata
    assert 0.0 < stratum.difference.risk_probability <= 1.0
