"""What happens in one position of many paths: when does its head come out, and what goes in?

From the ages of the heads in place, where lives come from, and a policy for every kind of head.
The engine asks each position for its next event, lets the first of a printer happen, and tells
the others. Knows nothing of other positions but that their visit may take its head along.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any, Final, Protocol

import numpy as np
import numpy.typing as npt

from headlife.futures.draws import Hours, Index
from headlife.shop.policy import Policy

Flags = npt.NDArray[np.bool_]
# Head type, role and site.
Group = tuple[str, str, str]

_EVEN: Final = 1e-5  # of a build: slack for an age that is its end but for single precision


class Lives(Protocol):
    """Where lives come from: drawn, or given."""

    def remaining(self, ages: Hours, who: Any, rng: np.random.Generator) -> Hours:
        """Print hours that heads of these ages still run [h]."""

    def new(self, paths: Index, who: Any, rng: np.random.Generator) -> Hours:
        """Print hours that new heads last [h]; infinite where it does not matter how long."""

    def within(self, hours: float) -> Lives:
        """Return the same lives where only those that end within some hours matter [h]."""


@dataclass(frozen=True)
class Kind:
    """A kind of head as a position may hold it."""

    lives: Lives
    """Where its lives come from."""
    policy: Policy = field(default_factory=Policy)
    """When it is swapped."""
    lag: float = 0.0
    """Mean print hours from when it is due until it is swapped, exponentially spread [h]."""
    in_circulation: tuple[float, ...] = (0.0,)
    """Ages of the heads of this kind in use or waiting; one of them comes in when material is
    changed to this kind [h]."""


@dataclass(frozen=True)
class Position:
    """One position of many paths."""

    ages: Hours
    """Present age of the head in it [h], printers x 1 or printers x draws; its precision is that
    of the whole path."""
    kinds: Sequence[Kind]
    """The kind in place, first, and those that a change of material may put in."""
    in_place: Index | None = None
    """Number of the kind in place, one per path; the first everywhere when left out."""
    changes_per_hour: float = 0.0
    """Changes of material for each print hour [1/h]."""
    change_to: Sequence[Sequence[float]] = ()
    """Probability that a change from one of `kinds` (row) is to another or the same [-]."""
    groups: Sequence[Group] = ()
    """What swaps of each kind are counted under."""


@dataclass(frozen=True)
class Out:
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
class Ahead:
    """What the positions of a printer share."""

    shape: tuple[int, int]
    """Printers and draws."""
    longest: float
    """Longest horizon [h]."""
    aged: bool
    """Whether ages are needed on the way."""
    begun: Hours | None
    """Age of the youngest head, where builds are counted [h]."""


class Place:
    """One position through the paths that are still going; hours are those from the start."""

    def __init__(self, position: Position, ahead: Ahead, rng: np.random.Generator) -> None:
        self._rng, self._kinds = rng, position.kinds
        self._rules = _Rules([kind.policy for kind in position.kinds], position.ages.dtype)
        self._lives = [_as_long_as_matters(kind, ahead.longest) for kind in position.kinds]
        ages = np.broadcast_to(position.ages, ahead.shape).ravel()
        self._kind = position.in_place
        if self._kind is None and len(self._kinds) > 1:
            self._kind = np.zeros(ages.size, dtype=np.intp)
        # Kinds that differ in their policy alone are put in together.
        alike = all(one.lives is self._kinds[0].lives and not one.lag for one in self._kinds)
        self._numbers = [0] if alike else list(range(len(self._kinds)))
        self._born = -ages if ahead.aged else None
        self._fails = self._lives[0].remaining(position.ages, ..., rng).ravel()
        self._due = self._late = self._changes = None
        if self._rules.swap:
            self._due = self._rules.wait(self._kind, ages)
            if ahead.begun is not None:
                begun = np.broadcast_to(ahead.begun, ahead.shape).ravel()
                since = self._rules.wait(self._kind, ages - begun)
                self._due = np.maximum(since - begun, np.zeros_like(begun))
                self._late = np.zeros_like(begun)
            self._be_late(0, slice(None), ages.size)
        self.changes_material = position.changes_per_hour > 0
        self._changes_per_hour = position.changes_per_hour
        if self.changes_material:
            self._change_to = np.cumsum(np.array(position.change_to), axis=1)
            self._changes = self._until_change(ages.size)

    def next_event(self) -> Hours:
        """Print hours at which something happens next here [h]."""
        out = self._fails if self._due is None else np.minimum(self._fails, self._due)
        return out if self._changes is None else np.minimum(out, self._changes)

    def is_change(self) -> Flags:
        """Whether that is a change of material."""
        out = self._fails if self._due is None else np.minimum(self._fails, self._due)
        return np.asarray(self._changes < out)

    def keep(self, inside: Index, before: Hours, now: Hours) -> None:
        """Forget the paths that have reached the end; `now` is what is left of `before`."""
        self._fails = now if self._fails is before else self._fails[inside]
        for name in ("_kind", "_born", "_due", "_late", "_changes"):
            values = getattr(self, name)
            if values is not None:
                setattr(self, name, values[inside])

    def swap_all(self, now: Hours, paths: Index, who: Any) -> Out:
        """Take out the head of every path, which is due or failed, and put in new ones.

        Parameters
        ----------
        now : array of float
            Print hours of the step [h].
        paths, who : array of int
            The paths and their draws.
        """
        none = np.zeros(now.size, dtype=bool)
        failed = ~none if self._due is None else self._fails <= self._due
        planned = none if self._due is None else ~failed
        kind, ages = self._kind, None if self._born is None else now - self._born
        for number, at in self._by_lives(None):
            self._swap(number, at, now, paths, who)
        return Out(kind, kind, ages, failed, planned, none, none)

    def come_out(self, mine: Flags, changing: Flags, now: Hours, paths: Index, who: Any) -> Out:
        """Take out what comes out at this step and put in what follows.

        Parameters
        ----------
        mine : array of bool
            Whether the step is this position's event; else another position's.
        changing : array of bool
            Whether it is a change of material.
        now : array of float
            Print hours of the step [h].
        paths, who : array of int
            The paths and their draws.
        """
        due = mine & ~changing
        failed = due if self._due is None else due & (self._fails <= self._due)
        ages = None if self._born is None else now - self._born
        if ages is None:
            joined, used = np.zeros_like(mine), due
        else:
            joined = ~(mine | changing) & (ages >= self._rules.along(self._kind))
            used = due | joined
        kind, changed = self._kind, mine & changing
        for number, at in self._by_lives(used):
            self._swap(number, at, now, paths, who)
        if self._changes is not None:
            self._change(self._changes, np.flatnonzero(changed), now, who)
        if self._late is not None and self._due is not None and self._born is not None:
            # A visit ends one build and starts the next.
            wait = self._rules.wait(self._kind, now - self._born)
            self._due = now + wait + self._late
        return Out(kind, self._kind, ages, failed, due & ~failed, joined, changed)

    def _by_lives(self, used: Flags | None) -> Iterator[tuple[int, Any]]:
        """Heads that are used up, or all, by the kinds whose lives differ: number and places."""
        if len(self._numbers) == 1:
            yield 0, slice(None) if used is None else np.flatnonzero(used)
            return
        for number in self._numbers:
            own = self._kind == number
            yield number, np.flatnonzero(own if used is None else own & used)

    def _swap(self, number: int, at: Any, now: Hours, paths: Index, who: Any) -> None:
        """Put new heads in for those that are used up; they are of the same kind."""
        paths = paths[at]
        if paths.size:
            lasts = self._lives[number].new(paths, who if who is ... else who[at], self._rng)
            self._put_in(number, at, 0.0, lasts, now)

    def _change(self, changes: Hours, at: Index, now: Hours, who: Index) -> None:
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
                lasts = self._lives[number].remaining(ages, who[new], self._rng)
                self._put_in(number, new, ages, lasts, now)
        changes[at] = now[at] + self._until_change(at.size)

    def _put_in(self, number: int, at: Any, ages: Any, lasts: Hours, now: Hours) -> None:
        """Note when heads that go in now will come out; `number` stands for their kind."""
        then = now[at]
        self._fails = _with(self._fails, at, then + lasts)
        if self._born is not None:
            self._born = _with(self._born, at, then - ages)
        if self._due is not None:
            kind = None if self._kind is None else self._kind[at]
            self._due = _with(self._due, at, then + self._rules.wait(kind, ages))
            self._be_late(number, at, then.size)

    def _be_late(self, number: int, at: Any, size: int) -> None:
        """Let due heads run on for as long as the shop does."""
        kind = self._kinds[number]
        if self._due is None or not kind.lag or kind.policy.due_at == np.inf:
            return
        # A head past its swap age is as likely to be swapped in the next hours as before.
        late = np.float32(kind.lag) * self._rng.standard_exponential(size, dtype=np.float32)
        self._due[at] += late
        if self._late is not None:
            self._late[at] = late

    def _until_change(self, size: int) -> Hours:
        waits = self._rng.standard_exponential(size, dtype=np.float32)
        return np.asarray(waits / np.float32(self._changes_per_hour))


class _Rules:
    """The policies of the kinds of head in one position, as arrays by kind."""

    def __init__(self, policies: Sequence[Policy], precision: Any) -> None:
        def each(values: list[float]) -> Hours:
            return np.array(values, dtype=precision)

        self._due_at = each([one.due_at for one in policies])
        self._build = each([one.build_hours for one in policies])
        self._early = np.array([one.never_past for one in policies])
        last = np.where(self._early, self._due_at - self._build * (1 - _EVEN), self._due_at)
        last = np.where(self._build > 0, last, np.inf)
        self._along = np.minimum(each([one.join_from for one in policies]), last)
        self._along *= 1.0 - np.finfo(precision).eps * 8.0
        self.swap = bool(np.isfinite(self._due_at).any())
        self._builds = bool(self._build.any())

    def wait(self, kind: Index | None, ages: Any) -> Hours:
        """Print hours until heads of these ages are due, and a build ends, from a visit on [h]."""
        which = 0 if kind is None else kind
        wait = np.maximum(self._due_at[which] - ages, self._due_at.dtype.type(0))
        if not self._builds:
            return np.asarray(wait)
        build, early = self._build[which], self._early[which]
        builds = wait / build
        ends = np.where(early, np.floor(builds + _EVEN), np.ceil(builds - _EVEN)) * build
        return np.asarray(np.where(build > 0, ends, wait))

    def along(self, kind: Index | None) -> Any:
        """Age from which heads go along at a visit [h]."""
        return self._along[0 if kind is None else kind]


def _as_long_as_matters(kind: Kind, longest: float) -> Lives:
    """Give lives of which only those matter that end before the horizon and before the swap."""
    at_most = kind.policy.due_at + kind.policy.build_hours
    return kind.lives.within(longest if kind.lag else min(longest, at_most))


def _with(values: Hours, at: Any, new: Any) -> Hours:
    """Put new values in; a new array where all of them are new, since others may hold the old."""
    if isinstance(at, slice):
        return np.asarray(new) if np.ndim(new) else np.full_like(values, new)
    values[at] = new
    return values
