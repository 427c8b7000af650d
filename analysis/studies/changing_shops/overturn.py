"""Heads pulled because they look worn, and other kinds of life: what does the verdict say then?

Pulled heads: life and time of the pull correlated (a Gaussian copula), so that heads about to
fail leave the records as changes of material. Kinds: all heads run to failure, lives log-normal,
log-logistic or Weibull, the truth exactly at the edge of the claim. One look each; how often is a
decisive verdict wrong, and how often where something that is shown would overturn it?
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd
from scipy.special import ndtr, ndtri

from headlife.decisions.overturn import Overturn, what_would_overturn
from headlife.decisions.rating import FALLS_SHORT, HOLDS
from headlife.numbers import Floats
from headlife.seeds import generator

RATED_HOURS: Final = 1500.0
CLAIM: Final = 0.90
SHAPE: Final = 2.2


@dataclass(frozen=True)
class PulledDesign:
    """A kind of shop that changes material."""

    heads: int
    """Heads on record [heads]."""
    half_pulled_by: float
    """Age, in ratings, by which half of the heads would have been pulled [-]."""

    def __str__(self) -> str:
        return f"{self.heads} heads, half pulled by {self.half_pulled_by:g} ratings"


# Looked at when `overturn.FEW` was chosen; the first is the design of the table.
PULLED: Final = (PulledDesign(80, 1.0), PulledDesign(120, 1.0), PulledDesign(187, 2.0))
PULLED_HELD_OUT: Final = (PulledDesign(60, 1.5), PulledDesign(250, 1.0), PulledDesign(40, 0.7))


@dataclass(frozen=True)
class Said:
    """How often a kind of shop said what [-]."""

    holds: float
    """"Holds" by a look alone."""
    falls_short: float
    """"Falls short" by a look alone."""
    stands: float
    """"Holds", and nothing shown would overturn it."""
    short_stands: float
    """"Falls short", and nothing shown would overturn it."""


def pulled_shops(
    correlation: float, share: float, shops: int, seed: int, design: PulledDesign = PULLED[0]
) -> Said:
    """Judge shops whose pulls and lives are correlated; a share [-] of heads reach the rating."""
    found = []
    for number in range(shops):
        rng = generator(seed, "pulled", str(design), str(correlation), str(share), str(number))
        exits, failed, pulled = _pulled_lives(design, correlation, share, rng)
        found.append(what_would_overturn(0.0, exits, failed, pulled, RATED_HOURS, CLAIM))
    return _said(found)


def _pulled_lives(
    design: PulledDesign, correlation: float, share: float, rng: np.random.Generator
) -> tuple[Floats, np.ndarray, np.ndarray]:
    scale = (-np.log(share)) ** (-1.0 / SHAPE)
    first, second = rng.normal(size=(2, design.heads))
    also = correlation * first + np.sqrt(1.0 - correlation**2) * second
    life = scale * (-np.log(ndtr(-first))) ** (1.0 / SHAPE)
    pull = -np.log(ndtr(-also)) * design.half_pulled_by / np.log(2.0)
    ends = np.minimum(np.minimum(life, pull), 1.0)
    return RATED_HOURS * ends, life <= ends, (pull <= ends) & (pull < life)


@dataclass(frozen=True)
class KindDesign:
    """Heads that all run to failure, with a kind of life."""

    kind: str
    """Weibull, log-normal or log-logistic."""
    failures: int
    """Heads, all failed [heads]."""
    spread: float
    """Spread of the log life: sigma, or one over the Weibull shape [-]."""
    share: float = CLAIM
    """Share of heads that reach the rating [-]."""

    def __str__(self) -> str:
        where = "at the edge" if self.share == CLAIM else f"true share {self.share:g}"
        return f"{self.kind}, {self.failures} failed, spread {self.spread:g}, {where}"


# Looked at when the weights before the records speak were chosen (`life.kinds.BEFORE`).
KINDS: Final = (
    KindDesign("log-normal", 15, 0.5),
    KindDesign("log-normal", 40, 0.5),
    KindDesign("log-logistic", 40, 0.3),
    KindDesign("Weibull", 15, 1 / 2.2),
    KindDesign("Weibull", 40, 1 / 2.2),
    KindDesign("Weibull", 15, 1 / 2.2, 0.97),
    KindDesign("Weibull", 40, 1 / 2.2, 0.95),
    KindDesign("Weibull", 40, 1 / 2.2, 0.83),
)
KINDS_HELD_OUT: Final = (
    KindDesign("log-normal", 25, 0.8),
    KindDesign("log-normal", 60, 0.35),
    KindDesign("log-logistic", 20, 0.45),
    KindDesign("Weibull", 25, 1 / 3.0),
    KindDesign("Weibull", 25, 1 / 1.3, 0.96),
    KindDesign("Weibull", 60, 1 / 1.7, 0.84),
)


def kind_shops(design: KindDesign, shops: int, seed: int) -> Said:
    """Judge shops all of whose heads ran to failure."""
    found = []
    for number in range(shops):
        rng = generator(seed, "kinds", str(design), str(number))
        ages = RATED_HOURS * np.exp(design.spread * (_deviates(design, rng) - _edge(design)))
        failed = np.ones(design.failures, bool)
        found.append(what_would_overturn(0.0, ages, failed, False, RATED_HOURS, CLAIM))
    return _said(found)


def _deviates(design: KindDesign, rng: np.random.Generator) -> Floats:
    return _quantile(design.kind, rng.random(design.failures))


def _edge(design: KindDesign) -> float:
    return float(_quantile(design.kind, np.array(1.0 - design.share)))


def _quantile(kind: str, failing: Floats) -> Floats:
    if kind == "log-normal":
        return np.asarray(ndtri(failing), float)
    if kind == "log-logistic":
        return np.asarray(np.log(failing / (1.0 - failing)), float)
    return np.asarray(np.log(-np.log1p(-failing)), float)


def _said(found: list[Overturn]) -> Said:
    holds = np.array([one.verdict == HOLDS for one in found])
    short = np.array([one.verdict == FALLS_SHORT for one in found])
    stands = np.array([one.stands for one in found])
    return Said(
        holds=float(holds.mean()),
        falls_short=float(short.mean()),
        stands=float((holds & stands).mean()),
        short_stands=float((short & stands).mean()),
    )


def report(shops: int, seed: int, held_out: bool) -> str:
    """Write both rows of the table."""
    rows: dict[str, Said] = {}
    for pulled in PULLED_HELD_OUT if held_out else PULLED:
        for correlation, share in ((0.3, CLAIM), (0.0, CLAIM), (0.0, 0.95), (0.0, 0.98)):
            name = f"{pulled}, correlation {correlation:g}, true share {share:g}"
            rows[name] = pulled_shops(correlation, share, shops, seed, pulled)
    for kind in KINDS_HELD_OUT if held_out else KINDS:
        rows[str(kind)] = kind_shops(kind, shops, seed)
    table = pd.DataFrame({name: vars(said) for name, said in rows.items()}).T
    return f"Per cent of {shops} shops\n{(100.0 * table).round(1).to_string()}"
