"""`headlife demo`: the demo's records and settings in a folder, to play with.

An invented workshop that builds museum exhibits; its files come with headlife. Never overwrites a
file; what a stopped run wrote of them is completed.
"""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Final

from headlife.errors import HeadlifeError

_FILES: Final = (
    "removals.csv",
    "shop.toml",
    "lifetimes.csv",
    "builds.csv",
    "removals_messy.xlsx",
    "shop_messy.toml",
)
_NEXT: Final = (
    "headlife review removals.csv --shop shop.toml --out review.html",
    "headlife check removals_messy.xlsx --shop shop_messy.toml --out check.html",
    "headlife settings removals_messy.xlsx",
    "headlife plan removals.csv --shop shop.toml --builds builds.csv --out plan.html",
    "headlife rating lifetimes.csv --rated-hours 1200",
)


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """As in `Command`."""
    parser.add_argument("folder", metavar="FOLDER", help="where to write them; made if need be")


def run(args: argparse.Namespace) -> int:
    """As in `Command`: write the demo's files."""
    from headlife.show.files import Outputs, write_whole
    from headlife.show.terminal import Screen

    folder = _made(Path(args.folder))
    source = demo_folder()
    files = {name: (source / name).read_bytes() for name in _FILES}
    outputs = Outputs()
    places = {
        name: outputs.claim(folder / name, "the demo's", replace=False)
        for name in _FILES
        if not _holds(folder / name, files[name])
    }
    for name, place in places.items():
        write_whole(place, files[name], replace=False)
    screen = Screen()
    screen.say(f"Written to {args.folder}: {', '.join(_FILES)}. Try, in that folder:")
    for line in _NEXT:
        screen.say(f"  {line}")
    screen.say('Where "headlife" is not found, write "python -m headlife" instead.')
    return 0


def demo_folder() -> Path:
    """Find the demo's files: beside the package where it is installed, else in the repository.

    Returns
    -------
    Path
        The folder.
    """
    package = Path(__file__).parents[1]
    installed = package / "demo"
    return installed if installed.is_dir() else package.parents[1] / "data_demo"


def _holds(place: Path, data: bytes) -> bool:
    try:
        return place.is_file() and place.read_bytes() == data
    except (OSError, ValueError):  # `Outputs` says why
        return False


def _made(folder: Path) -> Path:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except FileExistsError:
        raise HeadlifeError(f"{folder} is a file; name a folder, or a new one.") from None
    except OSError as problem:
        raise HeadlifeError(
            f"The folder {folder} cannot be made ({problem.strerror}); choose another."
        ) from None
    return folder
