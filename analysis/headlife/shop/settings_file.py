"""What does a settings file say? Bytes in, checked settings out, or a sentence on what to mend.

From one TOML file that a person in the shop wrote. It never guesses at what cannot be read.
"""

from __future__ import annotations

import hashlib
import re
import tomllib
from pathlib import Path
from typing import Any, Final

from headlife.alike import missing_file
from headlife.errors import SettingsError
from headlife.shop.settings import Shop, checked_settings

_MOST_BYTES: Final = 4_000_000  # of a settings file


_MOST_DOTS: Final = 200  # in the name before an equals sign


_LINE_OF: Final = re.compile(r"\(at line (\d+), ")  # where reading stopped, as tomllib says it


_UNCONFIRMED: Final = "# TO DO"  # ends a line that a draft proposed


def read_shop(path: str | Path) -> Shop:
    """Read a shop's settings file.

    Parameters
    ----------
    path : str or Path
        A TOML file; every table and key is described in `shared/settings.md`.

    Returns
    -------
    Shop
        Frozen settings, with the file's path and SHA-256.

    Raises
    ------
    SettingsError
        One sentence per problem, each naming the file, the table and key, the value and what
        to write instead.

    Examples
    --------
    >>> import headlife as hl
    >>> shop = hl.read_shop("data_demo/shop.toml")
    >>> shop.name
    'Tidewater Exhibit Workshop'
    >>> shop.head_types["Fibre"].rated_hours
    800.0
    """
    path = Path(path)
    data = _bytes(path)
    if len(data) > _MOST_BYTES:
        raise SettingsError(
            f"{path.name}: the file is larger than any settings ({_MOST_BYTES:,} bytes); it must "
            "be something else."
        )
    shop = checked_settings(_toml(data, path.name), path.name)
    shop._path = str(path)
    shop._to_do = tuple(
        line for line in data.decode("utf-8-sig").splitlines() if _UNCONFIRMED in line
    )
    shop._sha256 = hashlib.sha256(data).hexdigest()
    return shop


def _bytes(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except FileNotFoundError:
        raise SettingsError(
            f"The settings file '{path}' does not exist{missing_file(path)}."
        ) from None
    except IsADirectoryError:
        raise SettingsError(
            f"'{path}' is a folder; name the settings file in it, for example '{path}/shop.toml'."
        ) from None
    except (OSError, ValueError) as problem:
        said = getattr(problem, "strerror", None) or problem
        raise SettingsError(f"The settings file '{path}' cannot be opened: {said}.") from None


def _toml(data: bytes, file: str) -> dict[str, Any]:
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        line = data[: problem.start].count(b"\n") + 1
        raise SettingsError(
            f"{file}, line {line}: the settings are not written in UTF-8; save the file as UTF-8."
        ) from None
    return toml_of(text, file)


def _what_to_look_for(text: str, problem: tomllib.TOMLDecodeError) -> str:
    """Say what to look for in the line where reading stopped, where signs in it tell."""
    found = _LINE_OF.search(str(problem))
    line = text.split("\n")[int(found[1]) - 1] if found else ""
    if any(mark in line for mark in "\u201c\u201d\u201e\u2018\u2019\u00ab\u00bb"):
        return "Quotation marks there must be straight: \" or ', not those of a letter."
    if "\u00a0" in line:
        return "A space there is a no-break space, which looks the same; type it again."
    if "\\" in line:
        return "A text with \\, such as a path of Windows, needs single quotes: 'logs\\more.csv'."
    return (
        "Check quotes, brackets and equals signs there; a name or a text needs quotes, a number "
        "has none."
    )


def toml_of(text: str, file: str) -> dict[str, Any]:
    """Read the tables of a settings file.

    Parameters
    ----------
    text : str
        What it holds.
    file : str
        Its name, for messages.

    Returns
    -------
    dict
        The tables.

    Raises
    ------
    SettingsError
        It is no TOML, or no settings of a shop: nested too deeply, a number of thousands of digits.
    """
    text = text.replace("\r\n", "\n").replace("\r", "\n")  # line ends of Windows, of old Macs
    # Names of names of names take time by their square, and are no shop's.
    if any(line.partition("=")[0].count(".") > _MOST_DOTS for line in text.split("\n")):
        raise SettingsError(f"{file}: the settings are nested too deeply to be a shop.")
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as problem:
        raise SettingsError(
            f"{file}: the settings cannot be read: {problem}. {_what_to_look_for(text, problem)}"
        ) from None
    except RecursionError:
        raise SettingsError(f"{file}: the settings are nested too deeply to be a shop.") from None
    except ValueError:
        raise SettingsError(
            f"{file}: the settings hold a number of thousands of digits; shorten it."
        ) from None
