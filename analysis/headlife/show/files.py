"""What may a command write, and how does a file appear whole or not at all?

From the names a person gave: a place is claimed before any work is done, and refused where it
would destroy something: an input, a device, a folder, another answer of the same run. The bytes
are written beside their place and then renamed into it, so that a half-written file is never seen,
a full disk leaves nothing, and what was there stays until the new file is complete.
"""

from __future__ import annotations

import os
import stat
import tempfile
import time
import unicodedata
from collections.abc import Iterable
from pathlib import Path
from typing import Final

from headlife.errors import HeadlifeError

_BESIDE: Final = ".headlife-"  # begins the name of a file that is not complete yet
_PART: Final = ".part"
_MAY_WRITE: Final = stat.S_IWUSR | stat.S_IWGRP | stat.S_IWOTH
_LEFT_OVER: Final = 3600.0  # seconds after which such a file is one that a killed run left

# What files of a kind that programs know by their names end in.
_ENDINGS: Final = frozenset(
    {".html", ".pdf", ".svg", ".png", ".jpg", ".jpeg", ".gif", ".csv", ".tsv", ".xlsx", ".xls"}
    | {".xlsm", ".ods", ".doc", ".docx", ".ics", ".json", ".toml", ".parquet", ".zip"}
)
# What no file of Windows can be called ("Naming Files, Paths, and Namespaces", Microsoft): a device
# is written to and nothing kept, behind a colon is a part of a file that no program shows.
_DEVICES: Final = frozenset(
    {"con", "prn", "aux", "nul"}
    | {port + number for port in ("com", "lpt") for number in "0123456789¹²³"}
)
_NO_SIGNS: Final = '<>:"/\\|?*'


def is_device_of_windows(name: str) -> bool:
    """Tell whether a name, whatever its ending, is one of the devices of Windows.

    Parameters
    ----------
    name : str
        Name of a file.

    Returns
    -------
    bool
        True where it is.
    """
    return name.split(".")[0].rstrip().casefold() in _DEVICES


def refuse_name(name: str, where: str) -> None:
    """Refuse a name that some system could not keep, on all of them: files are handed on.

    Parameters
    ----------
    name : str
        Name of a file or folder, without the folders before it.
    where : str
        Option and name as the person wrote them, for the sentence.

    Raises
    ------
    HeadlifeError
        Nothing of that name could be found again.
    """
    held = [sign for sign in _NO_SIGNS if sign in name]
    if name == "-":
        raise HeadlifeError(f"{where} is no name of a file; give one, or leave the option out.")
    if name.startswith(".") and name.lower() in _ENDINGS:
        raise HeadlifeError(
            f"{where} is an ending and no name, and would be hidden; write a name before it."
        )
    if held:
        why = f"no name there holds {held[0]}"
    elif is_device_of_windows(name):
        why = f"{name.split('.')[0]} is a device there"
    elif name.endswith((".", " ")):
        why = "no name there ends in a point or a space"
    else:
        return
    raise HeadlifeError(
        f"{where}: Windows could not keep that file ({why}); choose another name, on every "
        "computer, so that it can be handed on."
    )


class Outputs:
    """The files that one run may write: none of them an input, no two of them the same."""

    def __init__(self, inputs: Iterable[str | Path] = ()) -> None:
        self._inputs = [Path(one) for one in inputs]
        self._claimed: dict[tuple[int, int, str], str] = {}

    def claim(
        self, name: str | Path, option: str, *, ending: str = "", replace: bool = True
    ) -> Path:
        """Say where a file will be written, or why it may not be.

        Parameters
        ----------
        name : str or Path
            As the person wrote it.
        option : str
            What asked for it, such as --out; for the sentence.
        ending : str
            What names of such files end in, such as ".html"; empty: anything.
        replace : bool
            Whether a file that is there already may be replaced.

        Returns
        -------
        Path
            Whole path; a link is followed to the file it names.

        Raises
        ------
        HeadlifeError
            Nothing may be written there.
        """
        where = f"{option} {name}"
        path = _resolved(name, where)
        for source in self._inputs:
            if _same(path, source):
                raise HeadlifeError(f"{where} would overwrite the input; choose another name.")
        if not replace and os.path.lexists(path):
            raise HeadlifeError(
                f"{where} exists already; choose another name, so that nothing is lost."
            )
        other = path.suffix.lower()
        if ending and other != ending and other in _ENDINGS:
            raise HeadlifeError(
                f"{where} would be no {other} file, whatever its name; name it "
                f"{path.with_suffix(ending).name}."
            )
        # Small and capital letters, and two ways to write an accent, are one name on some disks.
        folder = path.parent.stat()
        name_there = unicodedata.normalize("NFC", path.name.casefold())
        key = folder.st_dev, folder.st_ino, name_there
        if key in self._claimed:
            raise HeadlifeError(
                f"{where} is written already, by {self._claimed[key]}; choose another name."
            )
        self._claimed[key] = where
        return path


def write_whole(path: Path, data: bytes, *, replace: bool = True) -> None:
    """Write a file so that it appears whole or not at all.

    Parameters
    ----------
    path : Path
        From `Outputs.claim`.
    data : bytes
        All of it.
    replace : bool
        Whether a file that is there already may be replaced.

    Raises
    ------
    HeadlifeError
        The file cannot be written there; nothing is left behind.
    """
    try:
        _put_in_place(path, data, replace)
    except FileExistsError:
        raise HeadlifeError(
            f"{path} exists already; choose another name, so that nothing is lost."
        ) from None
    except OSError as problem:
        raise HeadlifeError(
            f"{path} cannot be written: {problem.strerror}; nothing was changed there."
        ) from problem


def _resolved(name: str | Path, where: str) -> Path:
    path = Path(name)
    _refuse_unreadable(name, where)
    try:
        # Asked before links are followed: those of open streams lead to no name.
        if path.exists() and not (path.is_file() or path.is_dir()):
            raise HeadlifeError(f"{where} is a device or a pipe, no file; give the name of a file.")
        refuse_name(path.name, where)
        whole = path.resolve()
        if whole.is_dir():
            raise HeadlifeError(f"{where} is a folder; give the name of a file in it.")
        if not whole.parent.is_dir():
            raise HeadlifeError(
                f"{where}: the folder {whole.parent} does not exist; make it, or choose another."
            )
        if not os.access(whole.parent, os.W_OK):
            raise HeadlifeError(
                f"{where}: the folder {whole.parent} cannot be written to; choose another."
            )
        _refuse_protected(whole, where)
    except FileNotFoundError:
        pass
    except (OSError, RuntimeError, ValueError) as problem:  # a looping link, a name too long
        if isinstance(problem, HeadlifeError):
            raise
        said = getattr(problem, "strerror", None) or "a link that leads nowhere"
        raise HeadlifeError(f"{where} cannot be written: {said}; choose another name.") from None
    return whole


def _refuse_unreadable(name: str | Path, where: str) -> None:
    if any(ord(sign) < 32 or ord(sign) == 127 for sign in str(name)):
        raise HeadlifeError(
            f"{where}: the name holds a sign that is not shown, such as a line end; choose another."
        )
    if str(name).endswith(("/", os.sep)):
        raise HeadlifeError(f"{where} is a folder; give the name of a file in it.")


def _refuse_protected(whole: Path, where: str) -> None:
    """Refuse a file that may not be written to: renaming another into its place would not ask."""
    if not (os.lstat(whole).st_mode & _MAY_WRITE and os.access(whole, os.W_OK)):
        raise HeadlifeError(
            f"{where} is write-protected, so somebody wants it kept; choose another name, or take "
            "the protection away."
        )


def _same(path: Path, source: Path) -> bool:
    try:
        return path == source.resolve() or os.path.samefile(path, source)
    except (OSError, RuntimeError):
        return False


def _put_in_place(path: Path, data: bytes, replace: bool) -> None:
    _remove_left_overs(path.parent)
    handle, beside = tempfile.mkstemp(prefix=_BESIDE, suffix=_PART, dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        # A temporary file is private; a finished one is as the one it replaces, which may have been
        # closed to others, or else as any file this person makes.
        os.chmod(beside, _mode_of(path))
        if replace:
            os.replace(beside, path)
        else:
            _link(beside, path)
    finally:
        Path(beside).unlink(missing_ok=True)


def _link(beside: str, path: Path) -> None:
    """Give the file its name only where nothing has it."""
    try:
        os.link(beside, path)
    except FileExistsError:
        raise
    except OSError:  # a disk without hard links
        if os.path.lexists(path):
            raise FileExistsError(path) from None
        os.replace(beside, path)


def _remove_left_overs(folder: Path) -> None:
    """Remove what runs that were killed left half-written here."""
    for old in folder.glob(f"{_BESIDE}*{_PART}"):
        try:
            if time.time() - old.stat().st_mtime > _LEFT_OVER:
                old.unlink()
        except OSError:  # another run was quicker, or it is not ours to remove
            continue


def _mode_of(path: Path) -> int:
    try:
        return stat.S_IMODE(path.stat().st_mode)
    except OSError:
        return 0o666 & ~_umask()


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
