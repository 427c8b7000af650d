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
        (in_mode("damage", intervals=[[900.0, 100.0, 1.0]]), "reversed"),
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
