"""Every value in shared/published has an origin, a source and a check."""

from __future__ import annotations

import pytest

from validation import answers, cases

# Cases whose answers come from a solver of our own that is independent of the simulation; the
# simulation itself is held against the same values in tests/decisions.
ALSO_IN_DECISIONS = (
    "renewal_circuit_breaker",
    "renewal_closed_forms",
    "renewal_weibull",
    "spares_backorders",
    "spares_base_stock",
    "spares_lamps",
)


@pytest.mark.parametrize("name", cases.names())
def test_a_case_says_where_its_values_come_from(name):
    case = cases.load(name)
    assert case.title
    assert case.units
    origins = {item.origin for item in case.expected.values()}
    assert origins <= set(cases.ORIGINS)
    if origins == {"common practice"}:
        assert not case.source
    else:
        assert set(case.source) == {"author", "year", "title", "where", "status"}
    if "memory" in origins:
        assert "memory" in case.source["status"]


def test_no_case_is_unused():
    assert set(answers.ANSWERS) == set(cases.names())


def test_the_decisions_tests_read_the_cases_they_share():
    from pathlib import Path

    text = "".join(p.read_text() for p in Path(__file__).parents[1].glob("[df]*/*.py"))
    for name in ALSO_IN_DECISIONS:
        assert f'"{name}"' in text


def test_a_long_table_is_whole():
    breakers = cases.load("circuit_breakers")
    table = breakers.table
    assert len(table) == breakers.data["n"]
    assert table["failed"].sum() == breakers.data["events"]
    assert (table["entry"] > 0).sum() == breakers.data["truncated"]
    assert len(cases.load("mgus_first_event").table) == 241
    assert cases.load("rocket_motors").table["count"].sum() == 1940
    intervals = cases.load("diabetes_intervals")
    exact = intervals.table["last_good"] == intervals.table["found_failed"]
    assert exact.sum() == intervals.data["exact"]


def test_agreement_is_to_the_printed_digits():
    value = cases.Expected("x", [10.0, 20.0], "published", tol_abs=0.5)
    assert value.agrees([10.4, 19.6])
    assert not value.agrees([10.4, 19.4])
    assert not value.agrees([10.0])
    assert not value.agrees([float("nan"), 20.0])
    assert value.difference([10.4, 19.7]) == pytest.approx(0.4)
    assert not cases.Expected("n", 59, "published").agrees(59.0001)
