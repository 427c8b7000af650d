"""What does a record of a given size cost, and what would a far larger one cost?

Measures the way from installation rows in Parquet to verdicts and stock levels on local workers,
each measurement in a fresh process on an invented fleet, beside a fit of the same lives by other
libraries; keeps what was measured in `scale_measured.json`, with the machine and how busy it was.
From the measured rates a plan on paper for sizes that were not run.

``python -m studies.scale --rows 1e3 1e4 1e5 --workers 1 2`` measures and adds to the file.
"""

from __future__ import annotations

import argparse
import itertools
import json
import os
import subprocess
import sys
import tempfile
import time
import warnings
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pandas as pd

MEASURED = Path(__file__).with_name("scale_measured.json")
OURS = "headlife"
_AXES = {"seconds": "Wall-clock time [s]", "peak_gb": "Peak memory of a worker [GB]"}
_MEMORY = "2GB"  # for each worker


def benchmark_table() -> pd.DataFrame:
    """Tabulate what was measured.

    Returns
    -------
    pandas.DataFrame
        `what` (library and workers), `rows`, `lives`, `seconds` (wall), `cpu_seconds` (of the
        workers), `peak_gb` (the largest worker; missing
        where it was not measured), `load` (of the machine when it began; above
        the number of cores, others were at work and the seconds are too many).
    """
    return pd.DataFrame(json.loads(MEASURED.read_text())["measured"]).sort_values(
        ["what", "rows"], ignore_index=True
    )


def draw_benchmark(table: pd.DataFrame, ax: Any, value: str = "seconds") -> Any:
    """Draw one column of the table against rows, a line for each contender."""
    from headlife.show.figures.style import BLUE, GREY, ORANGE, VERMILLION

    colours = [BLUE, VERMILLION, ORANGE, GREY]
    for number, (what, own) in enumerate(table.groupby("what", sort=True)):
        if own[value].isna().all():
            continue
        ax.plot(
            own["rows"],
            own[value],
            marker="osD^"[number % 4],
            color=colours[number % 4],
            label=what,
        )
    ax.set_xscale("log")
    ax.set_yscale("log" if value == "seconds" else "linear")
    for axis in (ax.xaxis, ax.yaxis):
        axis.set_major_formatter("{x:,.12g}")
        axis.set_minor_formatter("")
    ax.set_xlabel("Installation rows [rows]")
    ax.set_ylabel(_AXES[value])
    ax.legend()
    return ax


def benchmark_html() -> Any:
    """Show time and memory against rows, drawn and tabulated."""
    from headlife.show import markup
    from headlife.show.figures import style, svg
    from headlife.show.plain import lines

    table = benchmark_table()
    picture = style.as_svg(
        lambda ax: draw_benchmark(table, ax),
        lambda ax: draw_benchmark(table, ax, "peak_gb"),
        size=(7.0, 6.4),
    )
    caption = (
        "From files to verdicts and stock levels on local workers, beside the fit alone of the "
        "same lives by other libraries. Each point a fresh process."
    )
    rows = [
        [
            line.what,
            f"{line.rows:,}",
            f"{line.lives:,}",
            f"{line.seconds:.3g}",
            f"{line.cpu_seconds:.3g}",
            "" if pd.isna(line.peak_gb) else f"{line.peak_gb:.2f}",
            f"{line.load:.1f}",
        ]
        for line in lines(table)
    ]
    heads = ["", "Rows", "Lives", "Seconds", "Processor seconds", "Peak memory [GB]", "Load before"]
    shown = svg.figure_html(picture, f"Seconds and memory against rows. {caption}", caption)
    return shown + markup.table(heads, rows, caption="As measured", numbers=list(range(1, 7)))


def plan_on_paper(rows: float, sites: int, workers: int) -> pd.DataFrame:
    """Work out what a size that was not run would cost, from the largest one measured.

    Parameters
    ----------
    rows : float
        Installation rows, all sites [rows].
    sites : int
        Sites that send evidence [-].
    workers : int
        Workers of one core each [-].

    Returns
    -------
    pandas.DataFrame
        `quantity`, `value`, `unit`, `from` (how it follows from what was measured).
    """
    from headlife.scale.pieces import ROWS_OF_A_TABLE

    kept = json.loads(MEASURED.read_text())
    ours = benchmark_table()
    ours = ours[ours["what"].str.startswith(OURS)]
    largest = ours[ours["rows"] == ours["rows"].max()].iloc[0]
    per_row = largest["cpu_seconds"] / largest["rows"]
    stored = largest["stored_bytes"] / largest["rows"]
    partitions = rows / ROWS_OF_A_TABLE
    tasks = partitions**2
    pooled = kept["pooling"]
    lines = [
        ("processor time", rows * per_row, "s", f"{1e6 * per_row:.1f} s for a million rows"),
        (
            "time on the workers",
            rows * per_row / workers,
            "s",
            f"{workers} workers at work all along",
        ),
        ("read from disk", rows * stored / 1e9, "GB", f"{stored:.0f} bytes a row in Parquet"),
        (
            "moved between workers",
            rows * _MOVED_BYTES * (1 - 1 / workers) / 1e9,
            "GB",
            f"{_MOVED_BYTES} bytes a row; all but one in {workers} rows change worker",
        ),
        ("partitions", partitions, "-", f"{ROWS_OF_A_TABLE:,} rows each"),
        ("tasks", tasks, "-", "every piece hands rows to every partition"),
        (
            "time of the scheduler",
            tasks * _TASK_SECONDS,
            "s",
            "about 0.2 ms a task (Dask's own figure); where this exceeds the workers' time it "
            "breaks: deal the files out by head once, in runs of fewer files, or reduce each site "
            "where it is and pool",
        ),
        (
            "each site for itself",
            rows / sites * per_row,
            "s",
            f"{rows / sites:,.0f} rows a site, reduced where they are",
        ),
        (
            "sent by the sites",
            sites * pooled["bytes_a_site"] / 1e6,
            "MB",
            f"{pooled['bytes_a_site']:.0f} bytes a site (two strata, two modes each)",
        ),
        (
            "pooling",
            sites * pooled["seconds_a_site"],
            "s",
            f"measured over {pooled['sites']:,} sites",
        ),
    ]
    return pd.DataFrame(lines, columns=["quantity", "value", "unit", "from"])


_MOVED_BYTES = 90  # head, printer and six further cells, as Arrow keeps them
_TASK_SECONDS = 2e-4


def measure_ours(rows: int, workers: int) -> dict[str, Any]:
    """Measure one size on a local cluster; to be run in a fresh process."""
    from headlife.scale.cluster import review_files
    from headlife.scale.pieces import ROWS_OF_A_TABLE
    from headlife.scale.workers import local_workers
    from headlife.shop import read_shop
    from studies.large_fleet import SETTINGS, large_fleet, write_fleet

    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "shop.toml").write_text(SETTINGS)
        shop = read_shop(folder / "shop.toml")
        table = large_fleet(rows)
        made, lives = len(table), int(table["head"].nunique())
        (folder / "log").mkdir()
        paths = write_fleet(folder / "log", table, max(1, round(made / 500_000)))
        stored = sum(path.stat().st_size for path in paths)
        del table
        with local_workers(workers, _MEMORY) as client:
            client.run(_warm)
            before = sum(client.run(time.process_time).values())
            load, start = os.getloadavg()[0], time.perf_counter()
            review = review_files(
                paths, shop, partitions=max(1, round(made / ROWS_OF_A_TABLE)), client=client
            )
            seconds = time.perf_counter() - start
            cpu = sum(client.run(time.process_time).values()) - before
            peak = max(client.run(_peak).values())
        if review.rows_accepted != made:
            raise SystemExit(f"{made - review.rows_accepted} rows were lost")
    return {
        "what": f"{OURS}, {workers} worker{'s' if workers > 1 else ''}",
        "rows": made,
        "lives": lives,
        "seconds": seconds,
        "cpu_seconds": cpu,
        "peak_gb": peak,
        "stored_bytes": stored,
        "load": load,
        "stock_level": review.stock[0].plan.stock_level,
    }


def _warm() -> None:
    """Load libraries before the clock starts, as on a cluster that is already at work."""
    import pandera.pandas  # noqa: F401
    import pyarrow.parquet  # noqa: F401

    import headlife.scale.cluster
    import headlife.scale.partitions  # noqa: F401


def _peak() -> float:
    """Most memory this process has held [GB]; its parent's, which `getrusage` counts, left out."""
    lines = Path("/proc/self/status").read_text().splitlines()
    return next(int(line.split()[1]) for line in lines if line.startswith("VmHWM")) / 1e6


def measure_other(library: str, rows: int) -> dict[str, Any]:
    """Measure one fit of the same lives by another library: the fit alone, lives already made."""
    import numpy as np

    from studies.large_fleet import large_fleet

    table = large_fleet(rows)
    last = table.sort_values("hours_out").groupby("head", sort=False).tail(1)
    hours = np.maximum(last["hours_out"].to_numpy(), 0.1)
    failed = last["reason"].isin(["worn out"]).to_numpy()
    made = len(table)
    del table
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        fit = _fitter(library)
        few = np.linspace(100.0, 900.0, 50)
        fit(few, few > 200.0)  # libraries loaded before the clock starts, as on the workers
        load, start, cpu = os.getloadavg()[0], time.perf_counter(), time.process_time()
        fit(hours, failed)
        seconds, cpu_seconds = time.perf_counter() - start, time.process_time() - cpu
    return {
        "what": f"{library}, one fit",
        "rows": made,
        "lives": len(hours),
        "seconds": seconds,
        "cpu_seconds": cpu_seconds,
        "peak_gb": None,  # the fleet was made in this process and would count
        "stored_bytes": 0,
        "load": load,
        "stock_level": None,
    }


def _fitter(library: str) -> Callable[[Any, Any], Any]:
    """One maximum-likelihood fit of hours and failures by another library."""
    if library == "lifelines":
        import lifelines

        return lambda hours, failed: lifelines.WeibullFitter().fit(hours, failed)
    import surpyval

    return lambda hours, failed: surpyval.Weibull.fit(hours, c=(~failed).astype(int))


def measure_pooling(sites: int = 10_000) -> dict[str, Any]:
    """Measure reading and pooling the evidence of so many sites, two strata of two modes each."""
    import datetime

    import numpy as np

    from headlife.life.evidence import Evidence
    from headlife.life.groups import Group, GroupEvidence
    from headlife.life.site_evidence import SiteEvidence
    from headlife.life.site_files import read_sites
    from headlife.scale.pooling import pool_sites

    rng = np.random.default_rng(1)

    def modes() -> dict[str, Evidence]:
        """Twenty heads that wear or damage may end, whichever comes first."""
        ends = 1500.0 * rng.weibull(2.0, (2, 20))
        ran = np.minimum(ends.min(axis=0), 1200.0)
        return {
            mode: Evidence.from_lives(0.0, ran, own <= ran, reference_hours=1200.0)
            for mode, own in zip(("wear", "damage"), ends, strict=True)
        }

    with tempfile.TemporaryDirectory() as name:
        paths = []
        for i in range(sites):
            strata = tuple(
                GroupEvidence(Group("A", role), 1200.0, 20, modes())
                for role in ("model", "support")
            )
            day = datetime.date(2026, 9, 30)
            site = SiteEvidence(f"Site {i}", day, "", "wear", "0.1.0", strata)
            paths.append(Path(name) / f"{i}.json")
            paths[-1].write_text(site.to_json())
        size = sum(path.stat().st_size for path in paths)
        load, start, cpu = os.getloadavg()[0], time.perf_counter(), time.process_time()
        pool_sites(read_sites(paths), each_site=False)
        taken, used = time.perf_counter() - start, time.process_time() - cpu
    return {
        "sites": sites,
        "seconds": taken,
        "cpu_seconds": used,
        "seconds_a_site": used / sites,
        "bytes_a_site": size / sites,
        "load": load,
    }


def _in_fresh_process(*arguments: str) -> dict[str, Any]:
    done = subprocess.run(
        [sys.executable, "-m", "studies.scale", "--one", *arguments],
        capture_output=True,
        text=True,
        check=True,
    )
    return dict(json.loads(done.stdout.splitlines()[-1]))


def _in_turns(contenders: list[str], rows: float, turns: int) -> list[dict[str, Any]]:
    """Measure contenders in turns, since a machine has its good and bad minutes; the medians."""
    found: dict[str, list[dict[str, Any]]] = {what: [] for what in contenders}
    for _ in range(turns):
        for what in list(found):
            try:
                found[what].append(_in_fresh_process(what, str(rows)))
            except subprocess.CalledProcessError as stopped:
                if what.isdigit():
                    raise
                del found[what]
                print(f"{what} stops at {rows:g} rows: {stopped.stderr.splitlines()[-1]}")
                continue
            print(found[what][-1], flush=True)
    medians = [sorted(runs, key=lambda run: run["seconds"])[turns // 2] for runs in found.values()]
    for first, other in itertools.pairwise(medians):
        print(f"{other['what']}: {first['seconds'] / other['seconds']:.2f} times {first['what']}")
    return medians


def _keep(measured: list[dict[str, Any]], pooling: dict[str, Any] | None) -> None:
    kept = json.loads(MEASURED.read_text()) if MEASURED.exists() else {"measured": []}
    fresh = {(one["what"], one["rows"]) for one in measured}
    rest = [one for one in kept["measured"] if (one["what"], one["rows"]) not in fresh]
    kept["measured"] = sorted(rest + measured, key=lambda one: (one["what"], one["rows"]))
    kept["cores"] = os.cpu_count()
    if pooling is not None:
        kept["pooling"] = pooling
    MEASURED.write_text(json.dumps(kept, indent=1) + "\n")


def main() -> None:
    """Measure what is asked for and keep it."""
    parser = argparse.ArgumentParser(
        prog="python -m studies.scale", description=(__doc__ or "").splitlines()[0]
    )
    parser.add_argument("--rows", type=float, nargs="*", default=[])
    parser.add_argument("--workers", type=int, nargs="*", default=[1, 2])
    parser.add_argument("--others", nargs="*", default=[], help="lifelines, surpyval")
    parser.add_argument("--turns", type=int, default=1, help="measure so often; keep the median")
    parser.add_argument("--pooling", action="store_true")
    parser.add_argument("--one", nargs=2, metavar=("WHAT", "ROWS"), help=argparse.SUPPRESS)
    given = parser.parse_args()
    if given.one:
        what, rows = given.one[0], int(float(given.one[1]))
        one = measure_ours(rows, int(what)) if what.isdigit() else measure_other(what, rows)
        print(json.dumps(one))
        return
    _keep([], measure_pooling() if given.pooling else None)
    for rows in given.rows:
        _keep(_in_turns([*map(str, given.workers), *given.others], rows, given.turns), None)


if __name__ == "__main__":
    main()
