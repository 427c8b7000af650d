"""`headlife pool`: the rating at each site and at all of them, from their evidence files.

Reads the files, refuses what must not be added, says how different the sites are and prints the
verdicts. It sees no serial and no date of a head, because the files hold none.
"""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from headlife.commands.on_records import input_file, tell
from headlife.errors import HeadlifeError
from headlife.show.files import Outputs, write_whole

if TYPE_CHECKING:
    from headlife.scale.pooling import Pooling


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """As in `Command`."""
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
    """As in `Command`: pool the evidence."""
    if args.seed < 0:
        raise HeadlifeError(f"--seed is a whole number, 0 or more; got {args.seed}.")
    if args.picture and args.all_only:
        raise HeadlifeError("--picture shows each site; leave out --all-only.")
    ratings = dict(_rating(text) for text in args.rated_hours)
    files = _evidence_files(args.evidence)
    picture = (
        Outputs(files).claim(args.picture, "--picture", ending=".svg") if args.picture else None
    )
    from headlife.life.site_files import read_sites
    from headlife.scale.pooling import pool_sites
    from headlife.show.terminal import progress_bar

    with progress_bar("reading evidence") as report:
        found = pool_sites(
            read_sites(files),
            share=args.share,
            confidence=args.confidence,
            rated_hours=ratings,
            shared_shape=args.shared_shape,
            each_site=not args.all_only,
            seed=args.seed,
            progress=report,
        )
    from headlife.show.sites.screen import print_pooling
    from headlife.show.sites.values import pooling_values

    tell(args, lambda: pooling_values(found), lambda on: print_pooling(on, found))
    if picture is not None:
        write_whole(picture, _drawn(found))
    return 0


def _evidence_files(named: list[str]) -> list[Path]:
    """List the evidence files: those named, and for a folder those in it, sorted by name."""
    from headlife.commands.evidence import ENDING
    from headlife.records.folders import in_folder

    files: list[Path] = []
    for path in (input_file(name, "evidence", folder=True) for name in named):
        inside = (
            [one for one in in_folder(path) if one.name.endswith(ENDING)]
            if path.is_dir()
            else [path]
        )
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


def _drawn(found: Pooling) -> bytes:
    """Draw the sites side by side, as SVG."""
    from functools import partial

    from headlife.show.figures.sites import draw_sites, site_shares
    from headlife.show.figures.style import as_svg

    drawings = [partial(draw_sites, site_shares(s), title=s.name) for s in found.strata]
    rows = [len(s.sites) + 1 for s in found.strata]
    return as_svg(
        *(lambda ax, draw=draw: draw(ax=ax) for draw in drawings),
        size=(7.0, sum(rows) * 0.24 + 1.1 * len(rows)),
        heights=tuple(float(n + 2) for n in rows),
    )
