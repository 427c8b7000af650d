"""What a user installs with headlife: licences that can be passed on, nothing fetched at work."""

from __future__ import annotations

import re
import subprocess
import sys
import textwrap
from importlib.metadata import Distribution, PackageNotFoundError, distribution
from pathlib import Path

import pytest
from packaging.requirements import Requirement

ROOT = Path(__file__).parents[1]
# Licences by their names in package metadata: permissive, or copyleft that ends at the library.
COMPATIBLE = re.compile(
    r"BSD|MIT|Apache|ISC|Python Software|PSF|MPL|Mozilla|Lesser General|LGPL|0BSD|Zlib|CC0"
)
# Packages whose metadata name no licence, and what the licence file in them says.
SAID_IN_THEIR_FILES = {"mplcursors": "Permission is granted to anyone to use this software"}


def run_with(name: str, extras: tuple[str, ...] = ()) -> dict[str, Distribution]:
    """Find everything that is installed with a package, by name."""
    found: dict[str, Distribution] = {}
    todo, seen = [(name, extras)], set()
    while todo:
        asked = todo.pop()
        if asked in seen:
            continue
        seen.add(asked)
        try:
            found[asked[0].lower()] = distribution(asked[0])
        except PackageNotFoundError:
            continue  # for another platform, or an extra that nobody asked for
        for line in found[asked[0].lower()].requires or []:
            need = Requirement(line)
            wanted = need.marker is None or any(
                need.marker.evaluate({"extra": extra}) for extra in (*asked[1], "")
            )
            if wanted:
                todo.append((need.name, tuple(sorted(need.extras))))
    return found


def licence(package: Distribution) -> str:
    """Licence that a package's metadata name; empty where they name none."""
    meta = package.metadata
    classed = [one for one in meta.get_all("Classifier") or [] if one.startswith("License ::")]
    return " ".join([meta.get("License-Expression") or "", *classed, meta.get("License") or ""])


def test_everything_a_user_installs_has_a_compatible_licence():
    installed = run_with("headlife", ("scale",))
    assert len(installed) > 50
    unclear = {}
    for name, package in installed.items():
        if COMPATIBLE.search(licence(package)):
            continue
        files = [one for one in package.files or [] if "LICENSE" in str(one).upper()]
        said = " ".join(one.read_text() for one in files)
        if SAID_IN_THEIR_FILES.get(name, "\0") not in " ".join(said.split()):
            unclear[name] = licence(package)
    assert unclear == {}


def test_the_lock_file_pins_everything_by_its_content():
    text = (ROOT / "requirements.lock").read_text(encoding="utf-8")
    pinned = re.findall(r"(?m)^([a-z0-9._-]+)==\S+(.*(?:\n    .*)*)", text)
    assert len(pinned) > 100
    assert [name for name, rest in pinned if "--hash=sha256:" not in rest] == []
    names = {name.replace("_", "-") for name, _ in pinned}
    needed = {name.replace("_", "-").replace(".", "-") for name in run_with("headlife", ("scale",))}
    assert needed - {"headlife"} <= {name.replace(".", "-") for name in names}


CLOSED = """
    import socket, sys

    def refuse(self, address, *rest):
        raise AssertionError(f"asked the network for {address}")

    def look_up(host, *rest, **more):
        raise AssertionError(f"looked up {host}")

    socket.socket.connect = socket.socket.connect_ex = refuse
    socket.getaddrinfo = socket.gethostbyname = look_up
    from headlife.cli import main
    sys.exit(main(sys.argv[1:]))
"""


@pytest.mark.parametrize("command", ["review", "spares", "replace", "due", "backtest", "check"])
def test_with_the_network_closed_every_answer_is_there(command, tmp_path):
    asked = [command, str(ROOT / "data_demo/removals.csv"), "--shop", ROOT / "data_demo/shop.toml"]
    if command != "backtest":
        asked += ["--out", tmp_path / "page.html"]
    if command == "check":
        asked += ["--no-files"]
    done = subprocess.run(
        [sys.executable, "-c", textwrap.dedent(CLOSED), *map(str, asked)],
        capture_output=True,
        text=True,
        cwd=tmp_path,
    )
    assert (done.returncode, done.stderr) == (0, "")
    assert len(done.stdout) > 300
