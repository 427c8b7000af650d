"""The review of a record too large for one machine.

From Parquet or CSV files and the settings, by a task graph: pieces are read, every row goes to
the partition of its head, partitions become lives, evidence and parts of the fleet, and these
add. The graph runs on whatever Dask is given: this process, a local cluster, a cluster of
machines. Each step is the function that serves one table, and so are the answers; a step that is
run again, because a worker died, gives the same digits. The only module that imports Dask, and
only when it is used (`headlife[scale]`).
"""

from __future__ import annotations

import asyncio
import hashlib
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from headlife import __version__
from headlife.case import Case
from headlife.decisions.review import answers_from, quarterly_review
from headlife.decisions.review_answers import (
    CIRCULATION,
    OTHER_HEADS,
    SINGLE_LIVES,
    LeftOut,
    Review,
)
from headlife.errors import HeadlifeError, RecordsError
from headlife.records.audit import said_with_answers
from headlife.records.table import read_records
from headlife.records.unread import said_of_nameless
from headlife.scale.parts import (
    MOST_ROWS_COMPARED,
    MOST_ROWS_FOLLOWED,
    Part,
    Whole,
    add_habits,
    make_part,
    put_together,
)
from headlife.scale.pieces import ROWS_OF_A_TABLE, fits_one_table, list_pieces

if TYPE_CHECKING:
    import pandas as pd

    from headlife.fleet.reduction import Stints
    from headlife.scale.partitions import PieceFacts
    from headlife.scale.pieces import Piece
    from headlife.shop import Shop

_SENTENCES_SHOWN: Final = 20
_LEFT_OUT: Final = (LeftOut(SINGLE_LIVES),)
_LEFT_OUT_ABOVE: Final = {
    MOST_ROWS_COMPARED: OTHER_HEADS,
    MOST_ROWS_FOLLOWED: CIRCULATION,
}


def review_files(
    paths: Sequence[str | Path],
    shop: Shop,
    as_of: Any = None,
    partitions: int | None = None,
    client: Any = None,
    show_progress: bool = False,
) -> Review:
    """Answer the questions of a quarter from many files.

    A folder of up to 400,000 rows is read as one table, and answered in full. Of more, or where
    partitions are stated, every row goes to a partition of its head and partitions are reduced:
    every answer given equals that of `quarterly_review` of one table, whatever the partitions,
    evidence to about 1e-15, the fleet to the last digit. What cannot be told so is left out and
    named in the review's `left_out`: single lives and the forecast of a quarter ago; from a
    million rows on, what rows of different heads say together, and from two how heads circulate.

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
        Number of partitions; default one table where one folder of at most 400,000 rows is named,
        else so that each holds about so many.
    client : distributed.Client, optional
        The cluster to use; default this process's threads.
    show_progress : bool
        Show Dask's own progress bar.

    Returns
    -------
    Review
        Its rows set aside are numbered through all files; in parts each with a header of its own.

    Raises
    ------
    HeadlifeError
        As for `read_records`; rows were set aside and the settings say to stop then; Dask is
        needed and not installed.

    Examples
    --------
    >>> import headlife as hl
    >>> shop = hl.read_shop("data_demo/shop.toml")
    >>> found = hl.review_files(["data_demo/removals.csv"], shop)
    >>> for one in found.strata:
    ...     print(one.name, one.verdict.verdict)
    Standard, model not settled
    Standard, support holds
    Fibre, model falls short
    """
    from headlife.scale.partitions import number_rows

    if partitions is None and fits_one_table(paths):
        case = Case(read_records(paths[0], shop), shop, as_of)
        return quarterly_review(case, executor=None if client is None else client.get_executor())
    dask = _dask()
    pieces = list_pieces(paths)
    names = list(dict.fromkeys(piece.path for piece in pieces))
    source = Path(names[0]).name if len(names) == 1 else f"{len(names)} files"
    count = _partitions(partitions, pieces)
    rows = sum(piece.rows for piece in pieces)
    tasks = _graph(dask, pieces, shop, count, source, as_of, rows)
    facts, whole = _run(dask, tasks, client, show_progress)
    _refuse_other_columns(names, facts)
    if whole.newest is not None:
        # A slip of the year shows only beside all other dates; without those rows once more.
        tasks = _graph(dask, pieces, shop, count, source, as_of, rows, whole.newest)
        facts, whole = _run(dask, tasks, client, show_progress)
    if shop.review.set_aside == "stop":
        _stop_if_set_aside(whole.set_aside, names, number_rows(facts))
    executor = None if client is None else client.get_executor()
    made = _review(whole, shop, source, _digest(names, facts), rows, executor)
    nameless = said_of_nameless((Path(names[one.file]).name, one.nameless) for one in facts)
    told = said_with_answers(made.findings)
    return replace(made, notes=(*nameless, *whole.notes, *told))


def _refuse_other_columns(names: Sequence[str], facts: Sequence[PieceFacts]) -> None:
    """Refuse files that tell hours in different ways: a head may have rows in both."""
    first = facts[0]
    for other in facts:
        if other.hours != first.hours:
            raise RecordsError(
                f"{Path(names[first.file]).name} tells hours by {' and '.join(first.hours)}, "
                f"{Path(names[other.file]).name} by {' and '.join(other.hours)}: many files are "
                "read where all have the same of these columns; give each file the columns that "
                "the others have, or put all rows into one table and review that."
            )


def _review(whole: Whole, shop: Shop, source: str, sha256: str, rows: int, executor: Any) -> Review:
    """Answer from what all parts gave, and name what they could not give."""
    import pandas as pd

    answers = answers_from(whole.evidence, whole.fleet, shop, whole.day, lambda *_: None, executor)
    above = [LeftOut(what, rows=most) for most, what in _LEFT_OUT_ABOVE.items() if rows > most]
    missing = (*_LEFT_OUT, *above)
    return Review(
        **(vars(answers) | {"left_out": (*answers.left_out, *missing)}),
        shop_name=shop.name,
        as_of=whole.day,
        source=source,
        records_sha256=sha256,
        shop_sha256=shop.sha256,
        seed=shop.review.seed,
        version=__version__,
        rows_read=whole.rows_read,
        rows_accepted=whole.accepted,
        rows_no_record=whole.rows_read - whole.accepted - len(whole.set_aside),
        not_read=(),
        notes=(),
        changed=shop.changed,
        set_aside=whole.set_aside,
        findings=whole.findings,
        lives=pd.DataFrame(),
        in_service=whole.fleet.positions,
        fleet=whole.fleet,
        build_hours=shop.review.build_hours,
        last_quarter=pd.DataFrame(),
        practised=whole.fleet.practised,
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
    return max(1, round(rows / ROWS_OF_A_TABLE))


def _graph(
    dask: Any,
    pieces: Sequence[Piece],
    shop: Shop,
    partitions: int,
    source: str,
    as_of: Any,
    rows: int,
    newest: np.datetime64 | None = None,
) -> tuple[Any, Any]:
    """Lay out every step as a task; nothing runs yet."""
    from headlife.scale.partitions import number_rows, read_piece

    def task(step: Callable[..., Any], outputs: int | None = None) -> Any:
        return dask.delayed(step, nout=outputs, pure=False)

    settings = dask.delayed(shop, traverse=False)
    read = [task(read_piece, 2)(piece, settings, partitions) for piece in pieces]
    facts = [each[1] for each in read]
    before = task(number_rows)(facts)
    made = [
        task(_partition, 3)(
            [each[0][place] for each in read], before, settings, source, as_of, rows, newest
        )
        for place in range(partitions)
    ]
    latest = task(max)([last for _, _, last in made])
    habits = [task(add_habits)(stints, latest, settings, as_of) for _, stints, _ in made]
    parts = [part for part, _, _ in made]
    return facts, task(put_together)(parts, habits, latest, settings, source, as_of)


def _partition(
    tables: Sequence[Any],
    before: Any,
    shop: Shop,
    source: str,
    as_of: Any,
    rows: int,
    newest: np.datetime64 | None,
) -> tuple[Part | None, Stints | None, int]:
    """Read, check and reduce the rows of one partition."""
    from headlife.scale.partitions import partition_records

    records = partition_records(tables, before, shop, source, newest=newest)
    return make_part(records, as_of, rows)


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
    from concurrent.futures import CancelledError
    from importlib import import_module

    distributed = import_module("distributed")
    lost = (CancelledError, asyncio.CancelledError, distributed.KilledWorker, OSError)
    try:
        futures = client.compute(tasks)
        if show_progress:
            distributed.progress(futures)
        facts, whole = client.gather(futures)
    except lost as problem:
        raise HeadlifeError(
            f"The cluster was lost before it had answered ({problem}); nothing was written. Start "
            "it and this command again."
        ) from problem
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
