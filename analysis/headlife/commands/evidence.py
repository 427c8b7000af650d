"""`headlife evidence`: what this site may tell others about its heads, as a few lines of JSON.

Reads the site's records, joins lives, reduces them to evidence and writes one file for the site,
or one for each site named in the records. Strata of a handful of heads are withheld.
"""

from __future__ import annotations

import argparse
import re
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from headlife.errors import HeadlifeError

if TYPE_CHECKING:
    from headlife.life.site_evidence import SiteEvidence

ENDING: Final = ".evidence.json"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of this command."""
    parser.add_argument(
        "records",
        metavar="RECORDS",
        help="table of head removals, or a folder of Parquet or CSV files read in parts",
    )
    parser.add_argument("--shop", required=True, help="the shop's settings file (TOML)")
    parser.add_argument("--site", metavar="NAME", help="name of the site (default: settings)")
    parser.add_argument(
        "--by-site",
        action="store_true",
        help="write one file for each site named in the records, into the folder --out",
    )
    parser.add_argument(
        "--out", metavar="FILE", help="where to write (default: the terminal); a folder: --by-site"
    )
    parser.add_argument("--as-of", metavar="DATE", help="look at the records as on this day")
    parser.add_argument(
        "--scheduler",
        metavar="ADDRESS",
        help="Dask cluster that reads a folder (default: this process)",
    )
    parser.add_argument(
        "--workers",
        type=int,
        metavar="N",
        help="read a folder with so many processes of this machine",
    )
    parser.add_argument(
        "--answers",
        action="store_true",
        help="print verdicts and stock levels from a folder too (needs --out)",
    )
    parser.add_argument(
        "--fewest-heads",
        type=int,
        metavar="N",
        help="withhold strata of fewer heads than this (default 10; 0 withholds none)",
    )
    parser.add_argument(
        "--interval-rows",
        action="store_true",
        help="let failures known only to lie between two readings go along, one row of hours each",
    )


def run(args: argparse.Namespace) -> int:
    """Write the evidence."""
    from headlife.life.site_evidence import FEWEST_HEADS

    if args.by_site and (args.site or not args.out):
        raise HeadlifeError("--by-site takes the names from the records and needs --out FOLDER.")
    if args.answers and not args.out:
        raise HeadlifeError("--answers needs --out FILE, since the evidence takes the terminal.")
    fewest = FEWEST_HEADS if args.fewest_heads is None else args.fewest_heads
    if Path(args.records).is_dir():
        return _of_folder(args, fewest)
    if args.scheduler or args.workers is not None or args.answers:
        raise HeadlifeError(
            "--scheduler, --workers and --answers are for a folder of files; a single table "
            "needs none (headlife review answers)."
        )
    written = [one.shareable(fewest, args.interval_rows) for one in _collect(args)]
    if args.by_site:
        _write_each(written, Path(args.out))
    else:
        _write(written[0], args.out)
    return 0


def _write(one: SiteEvidence, out: str | None) -> None:
    """Write the evidence of one site to a file, or to the terminal."""
    from headlife.show.report import check_writable, write_whole

    if not out:
        print(one.to_json(), end="")
        return
    check_writable(Path(out).absolute())
    write_whole(Path(out).absolute(), one.to_json())
    _tell(one, out)


def _collect(args: argparse.Namespace) -> list[SiteEvidence]:
    from headlife.case import read_case, shop_evidence
    from headlife.life.site_evidence import site_evidence

    case = read_case(args.records, args.shop, as_of=args.as_of)
    known, shop, day = case.lives, case.shop, case.day
    if not args.by_site:
        return [site_evidence(case.evidence, shop, args.site or shop.name, day)]
    if known["site"].isna().any():
        head = known.loc[known["site"].isna(), "head"].iloc[0]
        raise HeadlifeError(
            f"{case.records.source}: the head '{head}' has no site; fill in the column site, or "
            "leave out --by-site."
        )
    return [
        site_evidence(shop_evidence(own, shop), shop, str(site), day)
        for site, own in known.groupby("site")
    ]


def _of_folder(args: argparse.Namespace, fewest_heads: int) -> int:
    """Reduce a folder of files in parts, on a Dask cluster when one is named."""
    from headlife.life.site_evidence import site_evidence
    from headlife.scale.cluster import review_files
    from headlife.shop import read_shop

    if args.by_site:
        raise HeadlifeError("--by-site needs a single table; a folder gives one file.")
    shop = read_shop(args.shop)
    with _cluster(args) as client:
        found = review_files(
            [args.records],
            shop,
            as_of=args.as_of,
            client=client,
            show_progress=sys.stderr.isatty(),
        )
    one = site_evidence(
        (stratum.evidence for stratum in found.strata), shop, args.site or shop.name, found.as_of
    )
    _write(one.shareable(fewest_heads, args.interval_rows), args.out)
    if args.answers:
        from headlife.show.many_files import print_answers

        print_answers(found)
    return 0


def _cluster(args: argparse.Namespace) -> Any:
    """Give what works on a folder, to be used in a `with` block."""
    from contextlib import nullcontext
    from importlib import import_module

    from headlife.scale.workers import local_workers

    if args.scheduler and args.workers is not None:
        raise HeadlifeError("Name a cluster (--scheduler) or workers of this machine (--workers).")
    if args.workers is not None:
        return local_workers(args.workers)
    if not args.scheduler:
        return nullcontext()
    try:
        return import_module("distributed").Client(args.scheduler, timeout=10)
    except (OSError, ValueError, ModuleNotFoundError) as problem:
        raise HeadlifeError(
            f"There is no Dask cluster at '{args.scheduler}' ({problem}); start one or correct "
            "the address."
        ) from None


def _write_each(written: list[SiteEvidence], folder: Path) -> None:
    from headlife.show.report import check_writable, write_whole

    names = [re.sub(r"[^\w-]+", "_", one.site).strip("_") or "site" for one in written]
    for place, name in enumerate(names):
        if name in names[:place]:
            names[place] = f"{name}_{place + 1}"
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as problem:
        raise HeadlifeError(f"The folder {folder} cannot be made: {problem}.") from None
    for one, name in zip(written, names, strict=True):
        path = (folder / f"{name}{ENDING}").absolute()
        check_writable(path)
        write_whole(path, one.to_json())
        _tell(one, str(folder / path.name))


def _tell(one: SiteEvidence, where: str) -> None:
    from headlife.show.sentences import counted
    from headlife.show.terminal import console, safe

    shown = [stratum for stratum in one.strata if not stratum.withheld]
    screen = console()
    screen.print(
        safe(
            f"{one.site}, as of {one.as_of}: {counted(len(shown), 'stratum', 'strata')} in {where}"
        )
    )
    for stratum in one.strata:
        if stratum.withheld:
            screen.print(safe(f"  withheld: {stratum.group.name} ({stratum.withheld})"))
