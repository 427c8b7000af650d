"""`headlife pool`: the rating at each site and at all of them, from their evidence files.

Reads the files, refuses what must not be added, says how different the sites are and prints the
verdicts. It sees no serial and no date of a head, because the files hold none.
"""

from __future__ import annotations

import argparse
import math
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from headlife.errors import HeadlifeError

if TYPE_CHECKING:
    from headlife.scale.differences import Difference
    from headlife.scale.pooling import PooledStratum, Pooling, SiteAnswer

_SITES_SHOWN: Final = 30


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of this command."""
    parser.add_argument(
        "evidence",
        nargs="+",
        metavar="EVIDENCE",
        help="evidence files of the sites, or folders of them (written by headlife evidence)",
    )
    parser.add_argument(
        "--share", type=float, default=0.90, help="share that should reach it (default 0.90)"
    )
    parser.add_argument(
        "--confidence", type=float, default=0.95, help="how sure a verdict must be (default 0.95)"
    )
    parser.add_argument(
        "--rated-hours",
        action="append",
        default=[],
        metavar="TYPE=H",
        help="rating to judge for a head type, where the sites state different ones [h]",
    )
    parser.add_argument(
        "--shared-shape",
        action="store_true",
        help="let each site's verdict take the shape of the life from the other sites",
    )
    parser.add_argument(
        "--all-only", action="store_true", help="judge all sites as one and none on its own"
    )
    parser.add_argument("--picture", metavar="FILE.svg", help="draw the sites side by side")
    parser.add_argument("--seed", type=int, default=1, help="seed of the random numbers")
    parser.add_argument("--json", action="store_true", help="print the answers for a program")


def run(args: argparse.Namespace) -> int:
    """Pool the evidence."""
    from headlife.life.site_evidence import read_sites
    from headlife.scale.pooling import pool_sites
    from headlife.show.terminal import print_json, progress_bar

    if args.seed < 0:
        raise HeadlifeError(f"--seed is a whole number, 0 or more; got {args.seed}.")
    if args.picture and args.all_only:
        raise HeadlifeError("--picture shows each site; leave out --all-only.")
    ratings = dict(_rating(text) for text in args.rated_hours)
    with progress_bar("reading evidence") as report:
        found = pool_sites(
            read_sites(evidence_files(args.evidence)),
            share=args.share,
            confidence=args.confidence,
            rated_hours=ratings,
            shared_shape=args.shared_shape,
            each_site=not args.all_only,
            seed=args.seed,
            progress=report,
        )
    if args.picture:
        _draw(found, Path(args.picture))
    if args.json:
        print_json(pooling_answers(found))
    else:
        _print(found)
    return 0


def evidence_files(named: list[str]) -> list[Path]:
    """List the evidence files: those named, and for a folder those in it, sorted by name."""
    from headlife.commands.evidence import ENDING

    files: list[Path] = []
    for path in map(Path, named):
        inside = sorted(path.glob(f"*{ENDING}")) if path.is_dir() else [path]
        if not inside:
            raise HeadlifeError(f"The folder {path} holds no file whose name ends in {ENDING}.")
        files += inside
    return files


def _rating(text: str) -> tuple[str, float]:
    name, equals, hours = text.rpartition("=")
    try:
        if equals and name:
            return name, float(hours)
    except ValueError:
        pass
    raise HeadlifeError(f'--rated-hours is written "TYPE=HOURS", such as "A=1200"; got "{text}".')


def difference_sentence(difference: Difference) -> str:
    """Say how different the sites are, and how sure that is."""
    from headlife.scale.differences import LEVEL
    from headlife.show.sentences import chance

    if difference.sites < 2:
        return "One site only; there is nothing to compare."
    if difference.alike:
        return (
            f"Nothing says that the {difference.sites} sites differ: chance alone spreads "
            f"failures this unevenly in {chance(difference.risk_probability)} of cases."
        )
    said = []
    if difference.risk_probability < LEVEL / 2:
        said.append(
            f"the risk of their heads varies by about {100 * difference.risk_spread:.0f} % from "
            f"site to site (by chance alone in {chance(difference.risk_probability)} of cases)"
        )
    if difference.shape_probability < LEVEL / 2:
        said.append(
            "their heads wear out in different ways (by chance alone in "
            f"{chance(difference.shape_probability)} of cases)"
        )
    return (
        f"The {difference.sites} sites differ: {' and '.join(said)}. "
        "Read each site's own verdict; the one for all is that of their mixture."
    )


def pooling_answers(found: Pooling) -> dict[str, Any]:
    """Every answer as plain data for JSON."""
    return {
        "format": 1,
        "sites": list(found.sites),
        "first_as_of": found.first_as_of.isoformat(),
        "last_as_of": found.last_as_of.isoformat(),
        "shared_shape": found.shared_shape,
        "notes": list(found.notes),
        "strata": [_stratum_answer(stratum) for stratum in found.strata],
    }


def _stratum_answer(stratum: PooledStratum) -> dict[str, Any]:
    difference = stratum.difference
    return {
        "head_type": stratum.group.head_type,
        "role": stratum.group.role,
        "mode": stratum.mode,
        "rated_hours": stratum.rated_hours,
        "notes": list(stratum.notes),
        "all_sites": _verdict(stratum),
        "difference": {
            "alike": difference.alike,
            "sentence": difference_sentence(difference),
            "shape_probability": _number(difference.shape_probability),
            "risk_probability": difference.risk_probability,
            "risk_spread": difference.risk_spread,
        },
        "sites": [{"site": one.site, **_verdict(one)} for one in stratum.sites],
    }


def _verdict(answer: PooledStratum | SiteAnswer) -> dict[str, Any]:
    verdict = answer.verdict
    return {
        "heads": answer.heads,
        "failures": answer.failures,
        "verdict": verdict.verdict,
        "probability": verdict.probability,
        "share_reaching": verdict.share_reaching,
        "share_reaching_bounds": list(verdict.bounds),
        "shape": _number(answer.life.shape),
        "scale": _number(answer.life.scale),
    }


def _number(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _draw(found: Pooling, path: Path) -> None:
    from functools import partial

    from headlife.show.figures.sites import draw_sites, site_shares
    from headlife.show.figures.style import as_svg
    from headlife.show.report import check_writable, write_whole

    check_writable(path.absolute())
    drawings = [partial(draw_sites, site_shares(s), title=s.name) for s in found.strata]
    rows = [len(s.sites) + 1 for s in found.strata]
    picture = as_svg(
        *(lambda ax, draw=draw: draw(ax=ax) for draw in drawings),
        size=(7.0, sum(rows) * 0.24 + 1.1 * len(rows)),
        heights=tuple(float(n + 2) for n in rows),
    )
    write_whole(path.absolute(), picture.decode())


def _print(found: Pooling) -> None:
    from headlife.show.sentences import counted, rating_sentence
    from headlife.show.terminal import console, safe, verdict_text

    screen = console()
    screen.print(safe(f"Evidence of {counted(len(found.sites), 'site', 'sites')}"), style="bold")
    for note in found.notes:
        screen.print(safe(note))
    for stratum in found.strata:
        screen.print()
        screen.print(
            safe(
                f"{stratum.name}, rated {stratum.rated_hours:,.0f} h: "
                f"{counted(stratum.heads, 'head', 'heads')}, {stratum.failures:,} failed by "
                f"{stratum.mode}"
            ),
            style="bold",
        )
        screen.print(verdict_text(stratum.verdict.verdict), safe(rating_sentence(stratum.verdict)))
        screen.print(safe(difference_sentence(stratum.difference)))
        for note in stratum.notes:
            screen.print(safe(note))
        if stratum.sites:
            screen.print(_sites_table(stratum, found.shared_shape))


def _sites_table(stratum: PooledStratum, shared_shape: bool) -> Any:
    from headlife.show.sentences import chance, percent, span
    from headlife.show.terminal import grid, safe, verdict_text

    worst_first = sorted(stratum.sites, key=lambda one: one.verdict.probability)
    shown = worst_first[:_SITES_SHOWN]
    title = "Each site" + (", shape shared with the others" if shared_shape else "")
    if len(shown) < len(worst_first):
        title += f" (the {len(shown)} least likely to hold, of {len(worst_first)})"
    headings = ["Site", "Heads", "Failed", "Verdict", "Share reaching the rating", "Chance"]
    table = grid(title, headings, right=(1, 2, 5))
    for one in shown:
        table.add_row(
            safe(one.site),
            f"{one.heads:,}",
            f"{one.failures:,}",
            verdict_text(one.verdict.verdict),
            f"{percent(one.verdict.share_reaching)} ({span(*one.verdict.bounds)})",
            chance(one.verdict.probability),
        )
    return table
