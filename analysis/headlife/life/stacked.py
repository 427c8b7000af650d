"""The evidence of many strata at once, as arrays: for questions asked of each of a thousand.

From lives and the group each belongs to, or from evidences that are at hand. Holds what `Evidence`
holds, one row a group, but no failures known only to an interval. Never pools.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from headlife.errors import EvidenceError
from headlife.life.checked_lives import checked
from headlife.life.evidence import Evidence
from headlife.life.exposure import log_exposure_of_groups
from headlife.life.exposure_curve import (
    NODE_COUNTS,
    at_common_nodes,
    at_nodes,
    resolved,
    shape_nodes,
)

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class StackedEvidence:
    """The evidence of n strata at one reference age.

    Attributes
    ----------
    reference_hours
        Age [h] at which the cumulative hazards are stated.
    failures
        Failures with a known age [heads], (n,).
    log_sum
        Sums over those failures of ``ln(age / reference_hours)`` [-], (n,).
    log_curve
        ``ln S`` at the shapes of `exposure_curve.shape_nodes` [-], (n, nodes).
    heads
        Lives [heads], (n,).
    """

    reference_hours: float
    failures: FloatArray
    log_sum: FloatArray
    log_curve: FloatArray
    heads: FloatArray

    def __post_init__(self) -> None:
        _some(len(self.failures))

    def __len__(self) -> int:
        return len(self.failures)

    @classmethod
    def of(cls, parts: Sequence[Evidence]) -> StackedEvidence:
        """Stack evidences, at the reference of the first.

        Parameters
        ----------
        parts : sequence of Evidence
            One or more, none with failures known only to an interval.

        Returns
        -------
        StackedEvidence
            In their order.
        """
        reference = parts[0].reference_hours
        moved = [part.rereference(reference) for part in parts]
        return cls(
            reference,
            np.array([part.failures for part in moved]),
            np.array([part.log_sum for part in moved]),
            at_common_nodes([part.log_curve for part in moved]),
            np.array([part.heads for part in moved]),
        )

    @classmethod
    def from_lives(
        cls,
        groups: ArrayLike,
        entry_hours: ArrayLike,
        exit_hours: ArrayLike,
        failed: ArrayLike,
        *,
        reference_hours: float,
        weights: ArrayLike | None = None,
    ) -> tuple[list[Any], StackedEvidence]:
        """Reduce the lives of many groups, each by itself.

        Parameters
        ----------
        groups : array of str or int
            Group that each life belongs to, (n,).
        entry_hours, exit_hours, failed, reference_hours, weights
            As for `Evidence.from_lives`.

        Returns
        -------
        groups : list
            The groups, in order.
        evidence : StackedEvidence
            Theirs.

        Raises
        ------
        EvidenceError
            As for `Evidence.from_lives`, or no life at all.
        """
        lives = checked(entry_hours, exit_hours, failed, weights)
        names, group = np.unique(np.asarray(groups), return_inverse=True)
        if group.shape != lives.exit.shape:
            raise EvidenceError(
                f"There are {lives.exit.size} lives but {group.size} groups; give one for each."
            )
        _some(len(names))
        order = np.argsort(group, kind="stable")
        entry, exit_, weight = (
            None if values is None else values[order]
            for values in (lives.entry, lives.exit, lives.weight)
        )
        ends = np.cumsum(np.bincount(group, minlength=len(names)))
        starts = np.append(0, ends[:-1])
        assert exit_ is not None
        ended = (
            lives.failed[order].astype(float) if weight is None else weight * lives.failed[order]
        )
        log_curve = _resolved_curves(entry, exit_, weight, starts, reference_hours)
        heads = np.diff(ends, prepend=0) if weight is None else np.add.reduceat(weight, starts)
        return names.tolist(), cls(
            reference_hours,
            np.add.reduceat(ended, starts),
            np.add.reduceat(ended * np.log(exit_ / reference_hours), starts),
            log_curve,
            heads.astype(float),
        )

    def rereference(self, reference_hours: float) -> StackedEvidence:
        """Give the same evidence stated at another reference age; the likelihoods are equal.

        Parameters
        ----------
        reference_hours : float
            Reference age [h], above 0.

        Returns
        -------
        StackedEvidence
            The evidence at that age.
        """
        shift = float(np.log(self.reference_hours / reference_hours))
        return StackedEvidence(
            reference_hours,
            self.failures,
            self.log_sum + self.failures * shift,
            self.log_curve + shape_nodes(self.log_curve.shape[1]) * shift,
            self.heads,
        )

    def part(self, which: NDArray[Any]) -> StackedEvidence:
        """Take some of the strata.

        Parameters
        ----------
        which : array of int or bool
            Which.

        Returns
        -------
        StackedEvidence
            Theirs.
        """
        return StackedEvidence(
            self.reference_hours,
            self.failures[which],
            self.log_sum[which],
            self.log_curve[which],
            self.heads[which],
        )


def _some(groups: int) -> None:
    if not groups:
        raise EvidenceError("There is no evidence at all: give at least one group of lives.")


def _resolved_curves(
    entry: FloatArray | None,
    exit_: FloatArray,
    weight: FloatArray | None,
    starts: NDArray[np.intp],
    reference: float,
) -> FloatArray:
    """Curves of every group, at as many nodes as the one that needs most."""
    lengths = np.diff(np.append(starts, exit_.size))
    curve = log_exposure_of_groups(entry, exit_, weight, starts, reference, shape_nodes())
    for nodes in NODE_COUNTS[1:]:
        bent = ~resolved(curve)
        if not bent.any():
            break
        rows = np.repeat(bent, lengths)
        some = (None if values is None else values[rows] for values in (entry, weight))
        own_entry, own_weight = some
        own_starts = np.append(0, np.cumsum(lengths[bent])[:-1])
        curve = at_nodes(curve, nodes)
        curve[bent] = log_exposure_of_groups(
            own_entry, exit_[rows], own_weight, own_starts, reference, shape_nodes(nodes)
        )
    return curve
