"""The tables of the validation notebook: what a sceptical reader wants to see first.

Every published case beside our answer, the same data through other libraries, coverage and
forecasts in simulation, and time beside other libraries. Tables come as DataFrames from one
function and as HTML from another; the notebook only calls them.
"""

from __future__ import annotations

import warnings
from collections.abc import Sequence
from typing import Any, Final

import numpy as np
import pandas as pd
from scipy.special import bdtrik

from headlife.show import markup
from studies import calibration, coverage
from studies.bench.life import posterior_with_bounds, simulated_lives
from studies.changing_shops.measured import measured
from studies.timing import medians
from validation import answers, cases
from validation.answers import fits

LIBRARY_CASES: Final = ("nist_weibull", "shock_absorbers", "bearing_cages", "circuit_breakers")
BENCHMARK_HEADS: Final = (30, 300)
_BAND: Final = 0.95  # of the binomial error of a simulated share


def published() -> pd.DataFrame:
    """Compare every published value with ours; columns as `answers.compare` gives them."""
    return pd.concat([answers.compare(name) for name in cases.names()], ignore_index=True)


def published_summary(table: pd.DataFrame) -> pd.DataFrame:
    """Count values and agreements by origin."""
    grouped = table.groupby("origin")["agrees"].agg(values="size", agree="sum")
    order = [origin for origin in cases.ORIGINS if origin in grouped.index]
    return grouped.loc[order].reset_index()


def published_html(table: pd.DataFrame) -> markup.Html:
    """Show every case with its source, printed values, ours and the difference."""
    page = markup.Html("", "published cases")
    for name, rows in table.groupby("case", sort=True):
        case = cases.load(str(name))
        lines = [
            (
                row["value"].replace("_", " "),
                row["origin"],
                digits(row["expected"]),
                digits(row["ours"]),
                f"{row['difference']:.1e}",
                "yes" if row["agrees"] else "NO",
            )
            for _, row in rows.iterrows()
        ]
        source = case.citation or "common practice, no source"
        status = f" ({case.source['status']})" if case.source else ""
        page = page + markup.table(
            ["value", "origin", "expected", "headlife", "difference", "to its digits"],
            lines,
            caption=f"{case.title} [{case.units}]. {source}{status}",
            numbers=(2, 3, 4),
        )
    return page


def not_answered_html() -> markup.Html:
    """Show the expected values that headlife gives no answer to."""
    rows = [
        (name, value.replace("_", " "), why) for (name, value), why in answers.NOT_ANSWERED.items()
    ]
    return markup.table(["case", "value", "why not"], rows, caption="Not answered")


def library_fits() -> pd.DataFrame:
    """Fit the same lives with lifelines, reliability and SurPyval; shape [-] and scale."""
    rows = []
    for name in LIBRARY_CASES:
        lives = _lives(name)
        for library, fit in _FITTERS.items():
            found = fit(**lives)
            if found is not None:
                rows.append({"case": name, "by": library, "shape": found[0], "scale": found[1]})
    return pd.DataFrame(rows).pivot_table(index="case", columns="by", values=["shape", "scale"])


def coverage_table(records: int, seed: int = 1) -> pd.DataFrame:
    """Simulate coverage of the bounds; columns as `studies.coverage.study` gives them."""
    return coverage.study(coverage.DESIGNS + coverage.WORN, records, seed)


def coverage_html(table: pd.DataFrame, records: int) -> markup.Html:
    """Show coverage by design with the band that chance leaves around 95 %."""
    columns = list(coverage.COVERAGE_COLUMNS)
    wrong = ["holds wrong", "falls short wrong"]
    low, high = binomial_band(coverage.CONFIDENCE, records)
    lines = [
        (
            str(design),
            f"{row['failures']:.1f}",
            *(f"{100 * row[name]:.1f}" for name in (*columns, *wrong)),
        )
        for design, row in table.iterrows()
    ]
    return markup.table(
        ["design", "failures", *(f"{name} [%]" for name in (*columns, *wrong))],
        lines,
        caption=(
            f"Share of {records:,} simulated records whose one-sided 95 % bound holds the truth; "
            f"chance alone leaves {100 * low:.1f} to {100 * high:.1f} %. At the edge of the claim "
            "each verdict should be wrong 5 % of the time."
        ),
        numbers=tuple(range(1, 2 + len(columns) + len(wrong))),
    )


def binomial_band(share: float, records: int) -> tuple[float, float]:
    """Shares between which a simulated share lies 95 % of the time when ``share`` is true."""
    tail = (1.0 - _BAND) / 2.0
    low, high = (float(np.ceil(bdtrik(p, records, share))) for p in (tail, 1.0 - tail))
    return low / records, high / records


def forecasts(shops: int, seed: int = 1) -> pd.DataFrame:
    """Simulate shops whose true life is known: what do stock levels and intervals really do?"""
    rows = []
    for case in calibration.CASES + calibration.WEAK_CASES:
        found = calibration.calibrate(case, shops, seed=seed)
        row: dict[str, Any] = {"shops": case.record, "failures": found.failures}
        row |= {"service": found.service, "error": found.service_error}
        for level, claimed, covered in zip(
            calibration.INTERVALS, found.claimed, found.covered, strict=True
        ):
            row |= {f"said {level:.0%}": claimed, f"true {level:.0%}": covered}
        rows.append(row)
    return pd.DataFrame(rows)


def forecasts_html(table: pd.DataFrame, shops: int) -> markup.Html:
    """Show the service that stock levels at 95 % really give, and the intervals."""
    shares = [name for name in table.columns if name.startswith(("said", "true"))]
    lines = [
        (
            row["shops"],
            f"{row['failures']:.1f}",
            f"{100 * row['service']:.1f} ± {100 * row['error']:.1f}",
            *(f"{100 * row[name]:.1f}" for name in shares),
        )
        for _, row in table.iterrows()
    ]
    return markup.table(
        ["shops", "failures", "service [%]", *(f"{name} interval [%]" for name in shares)],
        lines,
        caption=(
            f"{shops} simulated shops of each kind: the chance that a stock planned at 95 % "
            "really suffices, and what the forecast intervals say and hold"
        ),
        numbers=tuple(range(1, 3 + len(shares))),
    )


def changing_shops_html() -> markup.Html:
    """Show what the studies of changing shops found when they were last run in full."""
    table = measured()
    names = ["shops", "measure", "asked", "before", "now", "over", "seed"]
    lines = [[str(value) for value in row] for row in table[names].itertuples(index=False)]
    days = sorted({day.isoformat() for day in table["day"]})
    commands = ", ".join(dict.fromkeys(table["command"]))
    return markup.table(
        ["shops that", "measure", "asked", "before", "now", "shops simulated", "seed"],
        lines,
        caption=(
            f"Per cent unless said. As counted on {' and '.join(days)}, with random numbers not "
            f"looked at before; this notebook does not count again. The commands: {commands}"
        ),
        numbers=(5, 6),
    )


def past_forecasts_html(running: pd.DataFrame) -> markup.Html:
    """Show the running coverage of a back-test, columns as `Backtest.coverage` has them."""
    lines = [
        (
            f"{row['interval']:.0%}",
            row["quarter"],
            f"{row['inside']} of {row['forecasts']}",
            *(f"{100 * row[name]:.0f}" for name in ("share", "said")),
            f"{100 * row['low']:.0f} to {100 * row['high']:.0f}",
        )
        for _, row in running.iterrows()
    ]
    return markup.table(
        ["interval", "up to", "inside", "inside [%]", "said [%]", "chance leaves [%]"],
        lines,
        caption="Past forecasts of the demo shop, counted from the first quarter on",
        numbers=(0, 2, 3, 4, 5),
    )


def benchmarks(rounds: int = 5) -> pd.DataFrame:
    """Time the whole posterior beside one maximum-likelihood fit of other libraries, in turns.

    Returns
    -------
    DataFrame
        `heads`, `library`, `ratio`: how many of our posteriors with bounds on the reliability
        and on B10 fit into one of its fits [-].
    """
    rows = []
    for heads in BENCHMARK_HEADS:
        lives = dict(zip(("exit_", "failed"), simulated_lives(heads), strict=True))

        def ours(lives: dict[str, Any] = lives) -> object:
            return posterior_with_bounds(**lives)

        others = {name: fit for name, fit in _FITTERS.items() if name != "headlife"}
        calls = [lambda fit=fit, lives=lives: fit(**lives) for fit in others.values()]
        own, *taken = medians(ours, *calls, rounds=rounds)
        rows += [
            {"heads": heads, "library": name, "ratio": seconds / own}
            for name, seconds in zip(others, taken, strict=True)
        ]
    return pd.DataFrame(rows)


def frame_html(table: pd.DataFrame, caption: str, form: str = "{:.6g}") -> markup.Html:
    """Show any small table of numbers."""
    flat = table.reset_index() if table.index.name else table
    names = [" ".join(map(str, n)).strip() if isinstance(n, tuple) else str(n) for n in flat]
    lines = [
        ["" if pd.isna(v) else _form(v, form) if isinstance(v, float) else v for v in row]
        for row in flat.itertuples(index=False, name=None)
    ]
    numbers = [at for at, kind in enumerate(flat.dtypes) if kind.kind in "if"]
    return markup.table(names, lines, caption=caption, numbers=numbers)


def _form(value: float, form: str) -> str:
    """Write a number in a form, a large one as whole: no powers of ten where people count."""
    return f"{value:,.0f}" if abs(value) >= 1e5 else form.format(value)


def digits(value: Any) -> str:
    """Write one number or several, short enough for a table."""
    numbers = np.atleast_1d(np.asarray(value, float))
    shown = [f"{number:.7g}" for number in numbers[:4]]
    return ", ".join(shown) + (f", … ({numbers.size})" if numbers.size > 4 else "")


def _lives(name: str) -> dict[str, Any]:
    case = cases.load(name)
    if "csv" in case.data:
        table = case.table
        return {
            "exit_": table["exit"].to_numpy(float),
            "failed": table["failed"].to_numpy() == 1,
            "entry": table["entry"].to_numpy(float),
        }
    lives = {"exit_": case.array("exit").astype(float), "failed": case.array("failed")}
    return lives | ({"count": case.array("count")} if "count" in case.data else {})


def _headlife(exit_: Any, failed: Any, entry: Any = 0.0, count: Any = None) -> Sequence[float]:
    life = fits.fit(exit_, failed, entry=entry, weights=count, reference=float(exit_.max()))
    return life.shape, life.scale


def _lifelines(exit_: Any, failed: Any, entry: Any = None, count: Any = None) -> Sequence[float]:
    from lifelines import WeibullFitter

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        found = WeibullFitter().fit(exit_, failed, entry=entry, weights=count)
    return found.rho_, found.lambda_


def _reliability(
    exit_: Any, failed: Any, entry: Any = None, count: Any = None
) -> Sequence[float] | None:
    from reliability.Fitters import Fit_Weibull_2P

    if entry is not None:
        return None  # it knows no late entry
    exit_, failed = (np.repeat(each, 1 if count is None else count) for each in (exit_, failed))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        found = Fit_Weibull_2P(
            failures=exit_[failed],
            right_censored=exit_[~failed],
            show_probability_plot=False,
            print_results=False,
        )
    return found.beta, found.alpha


def _surpyval(exit_: Any, failed: Any, entry: Any = None, count: Any = None) -> Sequence[float]:
    import surpyval

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        found = surpyval.Weibull.fit(x=exit_, c=(~failed).astype(int), n=count, tl=entry)
    scale, shape = found.params
    return shape, scale


_FITTERS: Final = {
    "headlife": _headlife,
    "lifelines": _lifelines,
    "reliability": _reliability,
    "SurPyval": _surpyval,
}
