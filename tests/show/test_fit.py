"""The checks of the fit on the page: each told once, drawn where there is enough to draw."""

from __future__ import annotations

import dataclasses
import typing

from headlife.life.diagnostics.stratum import Diagnosis
from headlife.show.review import fit
from headlife.show.words.fit import finding
from headlife.show.words.pictures import drawn


def test_every_kind_of_check_has_words_and_its_figure_too():
    hints = typing.get_type_hints(Diagnosis)
    for field in dataclasses.fields(Diagnosis):
        kind = typing.get_origin(hints[field.name]) or hints[field.name]
        single = typing.get_args(hints[field.name])[0] if kind is tuple else kind
        # Several of one kind are one figure.
        assert drawn.dispatch(kind) is not drawn.dispatch(object), kind
        assert finding.dispatch(single) is not finding.dispatch(object), single


def test_every_check_is_told_once_and_drawn_where_it_can_be(demo):
    records, review = demo
    checks = fit.check_strata(review, records)
    assert list(checks) == [stratum.name for stratum in review.strata if stratum.verdict]
    told = str(fit.findings(checks)).replace("&nbsp;", " ")
    drawn = str(fit.finding_figures(review, checks))
    enough = 0
    for name, diagnosis in checks.items():
        assert name in told
        for part in (diagnosis.check, diagnosis.rivals, diagnosis.drift, diagnosis.trend):
            assert (finding(part) in told) == part.enough
            enough += part.enough
    assert drawn.count("<figure") >= enough > 0
    assert "Too few failures to tell" in told


def test_small_records_are_checked_too(small):
    records, review = small(
        [f"H{n},A,model,P{n},left,2026-01-05,0,2026-03-02,{300 + n},worn" for n in range(8)]
    )
    (diagnosis,) = fit.check_strata(review, records).values()
    assert diagnosis.check.failures == 8
