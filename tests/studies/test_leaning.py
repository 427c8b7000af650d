"""Leaning on other groups' shapes: it foretells them where they agree, and is unsafe where not."""

from __future__ import annotations

import numpy as np
import pytest

from headlife.life.evidence import Evidence
from studies import leaning


def group(shape, heads, seed):
    hours = 1000.0 * np.random.default_rng(seed).weibull(shape, heads)
    return Evidence.from_lives(0.0, hours, True, reference_hours=1000.0)


def test_groups_that_agree_foretell_a_further_one_and_groups_that_differ_do_not():
    alike = leaning.leant([group(2.5, 400, seed) for seed in range(6)], 0.5)
    assert alike.median == pytest.approx(2.5, rel=0.1)
    apart = leaning.leant([group(shape, 400, 1) for shape in (1.2, 2.5, 5.0)], 0.5)
    assert apart.spread > 1.5 * alike.spread
    # Nothing on record: the centre that is assumed, 2.5, about as wide as its 0.8.
    nothing = leaning.leant([], 0.5)
    assert nothing.median == pytest.approx(2.5, rel=0.2) and nothing.spread > 2.5


def test_leaning_narrows_and_is_not_safe_where_shapes_differ():
    """The reason why nothing in the package leans."""
    found = leaning.coverage(leaning.YOUNG[0], (1.2, 1.2, 1.2), 150, 4, 0.5)
    assert found["width leaning"] < 0.6 * found["width alone"]
    assert found["lower leaning"] < 0.95 - 4 * np.sqrt(0.05 * 0.95 / 150)
    assert found["lower alone"] > 0.95 - 4 * np.sqrt(0.05 * 0.95 / 150)


def test_the_command_prints_every_kind_of_shop(capsys, monkeypatch):
    monkeypatch.setattr(leaning, "OTHER_SHAPES", leaning.OTHER_SHAPES[:1])
    leaning.main(["--records", "2"])
    assert capsys.readouterr().out.count("others 2.2, 2.2, 2.2") == len(leaning.YOUNG)
