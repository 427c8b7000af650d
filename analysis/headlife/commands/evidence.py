"""`headlife evidence`: what this site may tell others about its heads, as a few lines of JSON.

Reads the site's records, joins lives, reduces them to evidence and writes one file for the site,
or one for each site named in the records; a folder too large for one table is read in parts. What
the lives say is told in rounded answers, so that no single life can be read back from the file.
Strata of a handful of heads are withheld.
"""

from __future__ import annotations

import argparse
import hashlib
import re
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from headlife.commands.on_records import complain_of_gaps, day_of, input_file, record_files
from headlife.errors import HeadlifeError
from headlife.show.files import Outputs, is_device_of_windows, write_whole

if TYPE_CHECKING:
    from headlife.case import Case
    from headlife.decisions.actions import Actions
    from headlife.decisions.review_answers import Review
    from headlife.decisions.two_ways import TwoWays
    from headlife.life.site_evidence import SiteEvidence

ENDING: Final = ".evidence.json"
_LONGEST: Final = 100  # bytes of a site's name in the name of its file; a sign may take four


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """As in `Command`."""
    parser.add_argument(
        "records",
        metavar="RECORDS",
        help="table of head removals, or a folder of Parquet or CSV files",
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
        help="Dask cluster that works on a folder (default: this process)",
    )
    parser.add_argument(
        "--workers",
        type=int,
        metavar="N",
        help="work on a folder with so many processes of this computer",
    )
    parser.add_argument(
        "--answers",
        action="store_true",
        help="print the answers of the quarter from a folder too (needs --out)",
    )
    parser.add_argument(
        "--fewest-heads",
        type=int,
        metavar="N",
        help="withhold strata of fewer heads than this (default 10; 0 withholds none)",
    )
    parser.add_argument(
        "--exact",
        action="store_true",
        help="write the exact sums: single heads' hours can be worked out from them",
    )
    parser.add_argument(
        "--interval-rows",
        action="store_true",
        help="with --exact: failures known only to lie between two readings go along, one row each",
    )


def run(args: argparse.Namespace) -> int:
    """As in `Command`: write the evidence."""
    from headlife.life.site_evidence import FEWEST_HEADS

    if args.by_site and (args.site or not args.out):
        raise HeadlifeError("--by-site takes the names from the records and needs --out FOLDER.")
    if args.answers and not args.out:
        raise HeadlifeError("--answers needs --out FILE, since the evidence takes the terminal.")
    if args.interval_rows and not args.exact:
        raise HeadlifeError(
            "--interval-rows belongs to --exact; without it such failures are told like others."
        )
    if args.as_of is not None:
        day_of("--as-of", args.as_of)
    fewest = FEWEST_HEADS if args.fewest_heads is None else args.fewest_heads
    outputs = Outputs([*record_files(args.records), input_file(args.shop, "settings")])
    folder = Path(args.records).is_dir()
    if not folder and (args.scheduler or args.workers is not None or args.answers):
        raise HeadlifeError(
            "--scheduler, --workers and --answers are for a folder of files; a single table "
            "needs none (headlife review answers)."
        )
    place = (
        outputs.claim(args.out, "--out", ending=".json") if args.out and not args.by_site else None
    )
    with _cluster(args) as client:
        if folder and not _fits_one_table(args):
            found, answers = _in_parts(args, client)
        else:
            found, answers = _as_one_table(args, client)
    written = [one.shareable(fewest, args.exact, args.interval_rows) for one in found]
    if args.by_site:
        _write_each(written, Path(args.out), outputs)
    else:
        _write(written[0], place)
    if answers is not None:
        from headlife.show.review.screen import print_review
        from headlife.show.terminal import Screen

        print_review(Screen(), *answers)
    return 0


def _write(one: SiteEvidence, place: Path | None) -> None:
    """Write the evidence of one site to a file, or to the terminal."""
    from headlife.show.terminal import Screen, print_file

    if place is None:
        print_file(one.to_json())
        return
    write_whole(place, one.to_json().encode())
    from headlife.show.sites.screen import print_written

    print_written(Screen(), one, str(place))


def _fits_one_table(args: argparse.Namespace) -> bool:
    from headlife.scale.pieces import fits_one_table

    return fits_one_table([args.records])


_Answers = tuple["Review", "TwoWays | None", "Actions"]


def _as_one_table(
    args: argparse.Namespace, client: Any
) -> tuple[list[SiteEvidence], _Answers | None]:
    """Reduce the lives of a table, or of a folder read as one; answer from them if asked."""
    from headlife.case import read_case

    case = read_case(args.records, shop=args.shop, as_of=args.as_of)
    complain_of_gaps(case)
    found = _of_case(case, args)
    if not args.answers:
        return found, None
    from headlife.decisions.actions import actions_of
    from headlife.decisions.review import quarterly_review
    from headlife.decisions.two_ways import read_both_ways

    executor = None if client is None else client.get_executor()
    review = quarterly_review(case, executor=executor)
    both = read_both_ways(review, case)
    return found, (review, both, actions_of(review, case.shop, both))


def _of_case(case: Case, args: argparse.Namespace) -> list[SiteEvidence]:
    from headlife.case import shop_evidence
    from headlife.life.site_evidence import site_evidence

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


def _in_parts(args: argparse.Namespace, client: Any) -> tuple[list[SiteEvidence], _Answers | None]:
    """Reduce a folder of files in parts, on a Dask cluster when one is named."""
    from headlife.decisions.actions import actions_of
    from headlife.life.site_evidence import site_evidence
    from headlife.scale.cluster import review_files
    from headlife.shop import read_shop

    if args.by_site:
        raise HeadlifeError(
            "--by-site needs a single table; a folder of so many rows gives one file."
        )
    shop = read_shop(args.shop)
    review = review_files(
        [args.records],
        shop,
        as_of=args.as_of,
        client=client,
        show_progress=sys.stderr.isatty(),
    )
    strata = (stratum.evidence for stratum in review.strata)
    found = [site_evidence(strata, shop, args.site or shop.name, review.as_of)]
    return found, (review, None, actions_of(review, shop)) if args.answers else None


@contextmanager
def _cluster(args: argparse.Namespace) -> Iterator[Any]:
    """Give what works on a folder; None where this process is to work alone."""
    from headlife.commands.workers import client_of, unlogged
    from headlife.scale.workers import local_workers

    if args.scheduler and args.workers is not None:
        raise HeadlifeError("Name a cluster (--scheduler) or workers of this computer (--workers).")
    if args.workers is None and not args.scheduler:
        yield None
        return
    named = client_of(args.scheduler) if args.scheduler else local_workers(args.workers)
    with unlogged(), named as client:
        yield client


def _write_each(written: list[SiteEvidence], folder: Path, outputs: Outputs) -> None:
    from headlife.show.sites.screen import print_written
    from headlife.show.terminal import Screen

    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as problem:
        raise HeadlifeError(
            f"--out {folder} cannot be made a folder ({problem.strerror}); choose another name."
        ) from None
    names = file_names([one.site for one in written])
    places = [outputs.claim(folder / name, "--out") for name in names]
    screen = Screen()
    for one, place in zip(written, places, strict=True):
        write_whole(place, one.to_json().encode())
        print_written(screen, one, str(place))


def file_names(sites: list[str]) -> list[str]:
    """Name the evidence file of each site, no two alike on any disk.

    Where two sites would share a name, as "Hall 3" and "Hall.3" would, a few signs that belong to
    the site's own name are added; they do not depend on which sites there are beside it. So are
    they where the name is one of a device, as "Aux" is.

    Parameters
    ----------
    sites : list of str
        Names of the sites.

    Returns
    -------
    list of str
        The names, in the order of the sites.
    """
    named = [re.sub(r"[^\w-]+", "_", site).strip("_").encode()[:_LONGEST] for site in sites]
    plain = [name.decode(errors="ignore") or "site" for name in named]
    counts: dict[str, int] = {}
    for name in plain:
        counts[name.casefold()] = counts.get(name.casefold(), 0) + 1
    return [
        f"{name}{ENDING}"
        if counts[name.casefold()] == 1 and not is_device_of_windows(name)
        else f"{name}-{hashlib.sha256(site.encode()).hexdigest()[:8]}{ENDING}"
        for name, site in zip(plain, sites, strict=True)
    ]
