"""What happens in one position of many paths: when does its head come out, and what goes in?

The engine asks each position for its next event, lets the first of a printer happen, and tells
the others. Knows nothing of other positions but that their visit may take its head along.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final, NamedTuple

import numpy as np
import numpy.typing as npt

from headlife.futures.draws import Hours, Index
from headlife.futures.position import Position
from headlife.futures.rules import Rules

Flags = npt.NDArray[np.bool_]

_HELD: Final = ("_kind", "_born", "_due", "_late", "_changes", "_rate")


class Out(NamedTuple):
    """What happened in one position, one value per path of the step."""

    kind: Index | None
    """Number of the kind that was in place; None: the first everywhere."""
    kind_in: Index | None
    """Number of the kind that is in place now."""
    ages: Hours | None
    """Age of the head that was in place [h]; None where nobody asked for it."""
    failed: Flags
    """Whether it failed."""
    planned: Flags
    """Whether it was swapped because it was due."""
    joined: Flags
    """Whether it was swapped along."""
    changed: Flags
    """Whether it went back to the shelf for a change of material."""


@dataclass(frozen=True)
class PathsAhead:
    """What the positions of a printer share."""

    shape: tuple[int, int]
    """Printers and draws."""
    longest: float
    """Longest horizon [h]."""
    aged: bool
    """Whether ages are needed on the way."""
    begun: Hours | None
    """Age of the youngest head, where builds are counted [h]."""


class PositionState:
    """One position through the paths that are still going; hours are those from the start."""

    def __init__(
        self, position: Position, rules: Rules, ahead: PathsAhead, rng: np.random.Generator
    ) -> None:
        self._rng, self._kinds, self._rules = rng, position.kinds, rules
        self._lives = [
            kind.lives.within(ahead.longest if kind.lag else min(ahead.longest, at_most))
            for kind, at_most in zip(self._kinds, rules.at_most, strict=True)
        ]
        size = ahead.shape[0] * ahead.shape[1]
        self._kind = position.in_place
        if self._kind is None and len(self._kinds) > 1:
            self._kind = np.zeros(size, dtype=np.intp)
        # Kinds that differ in their policy alone are put in together.
        alike = all(one.lives is self._kinds[0].lives and not one.lag for one in self._kinds)
        self._numbers = [0] if alike else list(range(len(self._kinds)))
        self._fails = self._lives[0].remaining(position.ages, ..., rng).ravel()
        self._born: Hours | None = None
        self._due: Hours | None = None
        self._late: Hours | None = None
        self._changes: Hours | None = None
        if ahead.aged:
            self._born = -np.broadcast_to(position.ages, ahead.shape).ravel()
        if rules.swap:
            ages = np.broadcast_to(position.ages, ahead.shape).ravel()
            if ahead.begun is None:
                self._due = rules.wait(self._kind, ages)
                self._be_late(0, slice(None), size)
            else:
                begun = np.broadcast_to(ahead.begun, ahead.shape).ravel()
                self._late = np.zeros_like(begun)
                self._be_late(0, slice(None), size)
                due = rules.wait(self._kind, ages - begun) - begun
                self._due = np.maximum(due, ages.dtype.type(0)) + self._late
        self._rate: Any = None
        if np.any(position.changes_per_hour):
            rate = np.asarray(position.changes_per_hour, dtype=np.float32)
            self._rate = np.broadcast_to(rate, ahead.shape).ravel() if rate.ndim else rate
            self._change_to = np.cumsum(np.array(position.change_to), axis=1)
            self._changes = self._until_change(slice(None), size)

    @property
    def changes_material(self) -> bool:
        """Whether material is changed here."""
        return self._changes is not None

    def next_event(self) -> Hours:
        """Print hours at which something happens next here [h]."""
        out = self._out()
        return out if self._changes is None else np.minimum(out, self._changes)

    def is_change(self) -> Flags:
        """Whether that is a change of material."""
        return np.asarray(self._changes < self._out())

    def keep(self, inside: Index, before: Hours, now: Hours, all_new: bool) -> None:
        """Forget the paths that have reached the end; `now` is what is left of `before`.

        Where every head is replaced next, it does not matter when it would have been due.

        Parameters
        ----------
        inside : Index
            Paths that go on.
        before : Hours
            Print hours before [h].
        now : Hours
            Print hours of those that go on [h].
        all_new : bool
            Whether every head is replaced next.
        """
        self._fails = now if self._fails is before else self._fails[inside]
        for name in ("_kind", "_born") if all_new else _HELD:
            values = getattr(self, name)
            if values is not None and values.ndim:
                setattr(self, name, values[inside])

    def swap_all(self, now: Hours, who: Any, paths: Any) -> Out:
        """Take out the head of every path, which is due or failed, and put in new ones.

        Parameters
        ----------
        now : array of float
            Print hours of the step [h].
        who, paths : array of int
            The draws of the paths, and the paths where they are asked for.

        Returns
        -------
        Out
            What came out.
        """
        none = np.zeros(now.size, dtype=bool)
        failed = ~none if self._due is None else self._fails <= now
        planned = none if self._due is None else ~failed
        kind, ages = self._kind, None if self._born is None else now - self._born
        if len(self._numbers) == 1:
            self._swap(0, slice(None), now, who, paths)
        else:
            self._swap_by_kind(~none, now, who, paths)
        self._start_builds(now)
        return Out(kind, kind, ages, failed, planned, none, none)

    def come_out(self, mine: Flags, changing: Flags, now: Hours, who: Any, paths: Any) -> Out:
        """Take out what comes out at this step and put in what follows.

        Parameters
        ----------
        mine : array of bool
            Whether the step is this position's event; else another position's.
        changing : array of bool
            Whether it is a change of material.
        now : array of float
            Print hours of the step [h].
        who, paths : array of int
            The draws of the paths, and the paths where they are asked for.

        Returns
        -------
        Out
            What came out.
        """
        used = due = mine & ~changing
        failed = due & (self._fails <= now)
        kind, changed, joined, ages = self._kind, mine & changing, np.zeros_like(mine), None
        if self._born is not None:
            ages = now - self._born
            joined = ~(mine | changing) & (ages >= self._rules.along(kind))
            used = due | joined
        self._swap_by_kind(used, now, who, paths)
        if self._changes is not None:
            self._change(self._changes, np.flatnonzero(changed), now, who)
        self._start_builds(now)
        return Out(kind, self._kind, ages, failed, due & ~failed, joined, changed)

    def _out(self) -> Hours:
        """Print hours at which the head in place fails or is swapped by plan [h]."""
        return self._fails if self._due is None else np.minimum(self._fails, self._due)

    def _start_builds(self, now: Hours) -> None:
        """Count builds anew: a visit ends one and starts the next."""
        if self._late is not None and self._born is not None:
            self._due = now + self._rules.wait(self._kind, now - self._born) + self._late

    def _swap_by_kind(self, used: Flags, now: Hours, who: Any, paths: Any) -> None:
        """Put new heads in for those that are used up, kind by kind where their lives differ."""
        for number in self._numbers:
            own = used if len(self._numbers) == 1 else used & (self._kind == number)
            at = np.flatnonzero(own)
            if at.size:
                self._swap(number, at, now, who, paths)

    def _swap(self, number: int, at: Any, now: Hours, who: Any, paths: Any) -> None:
        """Put new heads in; they are of the same kind."""
        then = now[at]
        whose = who if who is ... else who[at]
        lasts = self._lives[number].new(
            then.size, whose, None if paths is None else paths[at], self._rng
        )
        self._put_in(number, at, 0.0, lasts, then)

    def _change(self, changes: Hours, at: Index, now: Hours, who: Any) -> None:
        """Put in heads that are in circulation, of the kind that the next material needs."""
        if not at.size:
            return
        drawn = self._rng.random(at.size)
        before = 0 if self._kind is None else self._kind[at]
        to = (drawn[:, None] > self._change_to[before]).sum(axis=-1)
        to = np.minimum(to, len(self._kinds) - 1)
        if self._kind is not None:
            self._kind = self._kind.copy()
            self._kind[at] = to
        for number, kind in enumerate(self._kinds):
            new = at[to == number]
            pool = np.array(kind.in_circulation, dtype=now.dtype)
            ages = pool[self._rng.integers(0, pool.size, new.size)]
            if new.size:
                whose = who if who is ... else who[new]
                lasts = self._lives[number].remaining(ages, whose, self._rng)
                self._put_in(number, new, ages, lasts, now[new])
        changes[at] = now[at] + self._until_change(at, at.size)

    def _put_in(self, number: int, at: Any, ages: Any, lasts: Hours, then: Hours) -> None:
        """Note when heads that go in now will come out; `number` stands for their kind."""
        self._fails = _with(self._fails, at, then + lasts)
        if self._born is not None:
            self._born = _with(self._born, at, then - ages)
        if self._due is not None:
            kind = None if self._kind is None else self._kind[at]
            if self._late is None:  # else a visit will tell
                self._due = _with(self._due, at, then + self._rules.wait(kind, ages))
            self._be_late(number, at, then.size)

    def _be_late(self, number: int, at: Any, size: int) -> None:
        """Let due heads run on for as long as the shop does."""
        kind, late = self._kinds[number], None
        if kind.lag and kind.policy.due_at < np.inf:
            # A head past its swap age is as likely to be swapped in the next hours as before.
            late = np.float32(kind.lag) * self._rng.standard_exponential(size, dtype=np.float32)
        if self._late is not None:
            self._late[at] = 0.0 if late is None else late
        elif self._due is not None and late is not None:
            self._due[at] += late

    def _until_change(self, at: Any, size: int) -> Hours:
        waits = self._rng.standard_exponential(size, dtype=np.float32)
        return np.asarray(waits / (self._rate[at] if self._rate.ndim else self._rate))


def _with(values: Hours, at: Any, new: Any) -> Hours:
    """Put new values in; a new array where all of them are new, since others may hold the old."""
    if isinstance(at, slice):
        return np.asarray(new) if np.ndim(new) else np.full_like(values, new)
    values[at] = new
    return values
