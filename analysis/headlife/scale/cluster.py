"""Rating verdicts and stock levels from a record too large for one machine.

From Parquet or CSV files and the settings, by a task graph: pieces are read, every row goes to
the partition of its head, partitions become lives and evidence, and evidence adds. The graph
runs on whatever Dask is given: this process, a local cluster, a cluster of machines. Each step is
the function that serves one table; a step that is run again, because a worker died, gives the
same digits. The only module that imports Dask, and only when it is used (`headlife[scale]`).
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from headlife import __version__
from headlife.decisions.rating import RatingVerdict, judge_rating
from headlife.decisions.spares.stock import StockPlan, plan_stock
from headlife.errors import HeadlifeError, RecordsError
from headlife.futures.demand import forecast_demand
from headlife.futures.distribution import Demand
from headlife.scale.parts import Part, Whole, make_part, put_together
from headlife.seeds import generator
from headlife.shop.policy_book import policies_after

if TYPE_CHECKING:
    from concurrent.futures import Executor

    import pandas as pd

    from headlife.life.posterior import Life
    from headlife.life.site_evidence import SiteEvidence, StratumEvidence
    from headlife.scale.partitions import Piece, PieceFacts
    from headlife.shop import Shop

# Positions times draws that are simulated position by position; a larger fleet is simulated all
# positions at once, in as many futures as this allows, since time is what runs out. With 1,000 of
# them a service level of 95 % is met to about 0.7 points.
MOST_PATHS: Final = 40_000_000
FEWEST_DRAWS: Final = 500
ROWS_PER_PARTITION: Final = 400_000
_SENTENCES_SHOWN: Final = 20


@dataclass(frozen=True)
class LargeStratum:
    """One head type in one role: evidence, posterior and verdict."""

    evidence: StratumEvidence
    """Evidence by mode, and the number of heads."""
    modes: dict[str, Life]
    """Posterior of every mode: the primary one, and others that have occurred."""
    verdict: RatingVerdict | None
    """Verdict on the rating by the primary mode; None when no head has run."""
    in_service: int
    """Heads in service [heads]."""


@dataclass(frozen=True)
class LargeStock:
    """How many new heads of one type to hold, all sites together."""

    head_type: str
    """Head type."""
    demand: Demand
    """Heads needed over the horizon, both roles."""
    plan: StockPlan
    """Stock level, order and risk."""
    draws: int
    """Futures simulated [-]."""


@dataclass(frozen=True)
class LargeReview:
    """The answers from a large record."""

    source: str
    """What was read."""
    sha256: str
    """SHA-256 over the files' names and SHA-256s."""
    shop_sha256: str
    """SHA-256 of the settings file."""
    version: str
    """Version of headlife."""
    files: tuple[str, ...]
    """Files read, in their order."""
    rows_before: tuple[int, ...]
    """Rows numbered before each file; a row number less this is the row in its file."""
    whole: Whole
    """Counts, rows set aside, doubts, evidence and heads in service."""
    strata: tuple[LargeStratum, ...]
    """Answers on the rating."""
    stock: tuple[LargeStock, ...]
    """Answers on spares."""

    def site_evidence(self, site: str, primary_mode: str) -> SiteEvidence:
        """Give the evidence as a site's, ready for `headlife pool`."""
        import pandas as pd

        from headlife.life.site_evidence import SiteEvidence

        return SiteEvidence(
            site=site,
            as_of=pd.Timestamp(self.whole.day).date(),
            settings_sha256=self.shop_sha256,
            primary_mode=primary_mode,
            version=self.version,
            strata=self.whole.strata,
        )


def review_files(
    paths: Sequence[str | Path],
    shop: Shop,
    as_of: Any = None,
    partitions: int | None = None,
    client: Any = None,
    show_progress: bool = False,
) -> LargeReview:
    """Judge ratings and plan stock from many files.

    Every answer equals that of one table in one process, whatever the partitions: evidence to
    about 1e-15, counts and present ages to the last digit. Positions are simulated one by one at
    their usual hours; joint visits, planned changes, new printers and the shelf, which the
    review of one shop takes in, are not. Checks that compare different heads (two heads in one
    position, two spellings) are left out.

    Parameters
    ----------
    paths : sequence of str or Path
        Parquet and CSV files, and folders of them. The files must be reachable from every
        worker under these names.
    shop : Shop
        The settings.
    as_of : date, optional
        Look at the records as they were known on this day.
    partitions : int, optional
        Number of partitions; default so that each holds about 400,000 rows.
    client : distributed.Client, optional
        The cluster to use; default this process's threads.
    show_progress : bool
        Show Dask's own progress bar.

    Returns
    -------
    LargeReview

    Raises
    ------
    HeadlifeError
        As for `read_records`; rows were set aside and the settings say to stop then; Dask is
        not installed.
    """
    from headlife.scale.partitions import list_pieces, number_rows

    dask = _dask()
    pieces = list_pieces(paths)
    names = list(dict.fromkeys(piece.path for piece in pieces))
    source = Path(names[0]).name if len(names) == 1 else f"{len(names)} files"
    count = _partitions(partitions, pieces)
    tasks = _graph(dask, pieces, shop, count, source, as_of)
    facts, whole = _run(dask, tasks, client, show_progress)
    before = number_rows(facts)
    if shop.review.set_aside == "stop":
        _stop_if_set_aside(whole.set_aside, names, before)
    strata = tuple(_judged(stratum, whole, shop) for stratum in whole.strata)
    executor = None if client is None else client.get_executor()
    return LargeReview(
        source=source,
        sha256=_digest(names, facts),
        shop_sha256=shop.sha256,
        version=__version__,
        files=tuple(names),
        rows_before=tuple(int(rows) for rows in before[:-1]),
        whole=whole,
        strata=strata,
        stock=tuple(_stocked(strata, whole, shop, executor)),
    )


def _dask() -> Any:
    try:
        import dask
    except ModuleNotFoundError as missing:
        raise HeadlifeError(
            "Records in many partitions need Dask, which is not installed; install headlife[scale]."
        ) from missing
    return dask


def _partitions(stated: int | None, pieces: Sequence[Piece]) -> int:
    if stated is not None:
        if stated < 1:
            raise HeadlifeError(f"The number of partitions is 1 or more; got {stated}.")
        return stated
    rows = sum(piece.rows for piece in pieces)
    return max(1, round(rows / ROWS_PER_PARTITION))


def _graph(
    dask: Any, pieces: Sequence[Piece], shop: Shop, partitions: int, source: str, as_of: Any
) -> tuple[Any, Any]:
    """Lay out every step as a task; nothing runs yet."""
    from headlife.records.usage import usage_sums
    from headlife.scale.partitions import number_rows, read_piece

    def task(step: Callable[..., Any], outputs: int | None = None) -> Any:
        return dask.delayed(step, nout=outputs, pure=False)

    settings = dask.delayed(shop, traverse=False)
    read = [task(read_piece, 2)(piece, settings, partitions) for piece in pieces]
    facts = [each[1] for each in read]
    before = task(number_rows)(facts)
    made = [
        task(_partition, 3)([each[0][place] for each in read], before, settings, source, as_of)
        for place in range(partitions)
    ]
    latest = task(max)([last for _, _, last in made])
    sums = [task(usage_sums)(used, latest) for _, used, _ in made]
    parts = [part for part, _, _ in made]
    return facts, task(put_together)(parts, sums, settings, source, as_of)


def _partition(
    tables: Sequence[Any], before: Any, shop: Shop, source: str, as_of: Any
) -> tuple[Part | None, pd.DataFrame, int]:
    """Read, check and reduce the rows of one partition."""
    from headlife.scale.partitions import partition_records

    return make_part(partition_records(tables, before, shop, source), as_of)


def _run(
    dask: Any, tasks: tuple[Any, Any], client: Any, show_progress: bool
) -> tuple[list[PieceFacts], Whole]:
    if client is None:
        from contextlib import nullcontext
        from importlib import import_module

        bar = import_module("dask.diagnostics").ProgressBar() if show_progress else nullcontext()
        with bar:
            facts, whole = dask.compute(*tasks, scheduler="threads")
        return facts, whole
    futures = client.compute(tasks)
    if show_progress:
        from importlib import import_module

        import_module("distributed").progress(futures)
    facts, whole = client.gather(futures)
    return facts, whole


def _stop_if_set_aside(set_aside: pd.DataFrame, names: Sequence[str], before: Any) -> None:
    """Name rows set aside by file and row in it, the first ones."""
    from headlife.records.cells import quoted

    if set_aside.empty:
        return
    lines = []
    shown = set_aside.head(_SENTENCES_SHOWN)
    columns = (shown[name].tolist() for name in ("row", "column", "value", "problem"))
    for place, column, value, problem in zip(*columns, strict=True):
        file = int(np.searchsorted(before, place, side="left")) - 1
        name, row = Path(names[file]).name, place - before[file]
        lines.append(f"{name}, row {row}, {column} {quoted(str(value))} {problem}.")
    more = len(set_aside) - len(lines)
    if more:
        lines.append(f"{more:,} more rows cannot be used either.")
    raise RecordsError("\n".join(lines))


def _digest(names: Sequence[str], facts: Sequence[PieceFacts]) -> str:
    digest = hashlib.sha256()
    for fact in facts:
        if fact.sha256:
            digest.update(f"{Path(names[fact.file]).name} {fact.sha256}\n".encode())
    return digest.hexdigest()


def _judged(stratum: StratumEvidence, whole: Whole, shop: Shop) -> LargeStratum:
    from headlife.life.posterior import fit_life

    primary = shop.review.primary_mode
    modes = {
        mode: fit_life(evidence)
        for mode, evidence in stratum.modes.items()
        if mode == primary or evidence.all_failures > 0
    }
    here = whole.positions
    mine = (here["head_type"] == stratum.head_type) & (here["role"] == stratum.role)
    return LargeStratum(
        evidence=stratum,
        modes=modes,
        verdict=judge_rating(
            modes[primary], stratum.rated_hours, shop.claim.share, shop.claim.confidence
        )
        if modes
        else None,
        in_service=int(mine.sum()),
    )


def _stocked(
    strata: Sequence[LargeStratum], whole: Whole, shop: Shop, executor: Executor | None
) -> Iterator[LargeStock]:
    weeks = shop.spares.lead_time_weeks + shop.spares.review_weeks
    policies = policies_after(shop, whole.day)
    here = whole.positions
    for head_type, settings in shop.head_types.items():
        own = [each for each in strata if each.evidence.head_type == head_type and each.modes]
        if not own:
            continue
        positions = sum(each.in_service for each in own)
        many = positions * shop.review.draws > MOST_PATHS
        draws = max(min(shop.review.draws, MOST_PATHS // max(positions, 1)), FEWEST_DRAWS)
        demand = Demand.none(weeks)
        for each in own:
            role = each.evidence.role
            mine = here[(here["head_type"] == head_type) & (here["role"] == role)]
            demand = demand + forecast_demand(
                list(each.modes.values()),
                mine["age_hours"].to_numpy(),
                mine["weekly_hours"].to_numpy(),
                weeks,
                policies.of(head_type, role),
                draws=draws if many else shop.review.draws,
                seed=generator(shop.review.seed, "demand", head_type, role),
                executor=executor,
            )
        plan = plan_stock(
            demand,
            shop.spares.service_level,
            on_hand=settings.heads_on_hand,
            on_order=settings.heads_on_order,
        )
        yield LargeStock(head_type, demand, plan, draws if many else shop.review.draws)
