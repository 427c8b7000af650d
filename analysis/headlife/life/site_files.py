"""What do the evidence files of other sites say? Opened, read, and refused by name where damaged.

Never follows a pipe or a device, never reads what is too large, never pools.
"""

from __future__ import annotations

import os
import stat
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from headlife.alike import missing_file
from headlife.errors import EvidenceError
from headlife.life.site_evidence import SiteEvidence, possible, read
from headlife.memory import nothing_to_collect

_LARGEST_FILE: Final = 64_000_000  # bytes; ten thousand strata and more


def read_site(path: str | Path) -> SiteEvidence:
    """Read one site's evidence file.

    Parameters
    ----------
    path : str or Path
        The file.

    Returns
    -------
    SiteEvidence
        The site's evidence.

    Raises
    ------
    EvidenceError
        The file is missing, too large, not text or not evidence as `SiteEvidence.from_json`
        reads it.

    Examples
    --------
    >>> from pathlib import Path
    >>> from tempfile import TemporaryDirectory
    >>> from headlife.life.site_evidence import site_evidence
    >>> import headlife as hl
    >>> case = hl.read_case("data_demo/removals.csv", shop="data_demo/shop.toml")
    >>> told = site_evidence(case.evidence, case.shop, "Harbour Hall", case.day)
    >>> with TemporaryDirectory() as folder:
    ...     path = Path(folder) / "harbour.evidence.json"
    ...     _ = path.write_text(told.to_json())
    ...     hl.read_site(path).site
    'Harbour Hall'
    """
    return possible([_from_file(path)], [os.path.basename(path)])[0]


def _from_file(path: str | Path) -> SiteEvidence:
    name = os.path.basename(path)
    try:
        # Opened, a pipe would wait for ever.
        if not stat.S_ISREG(os.stat(path).st_mode):
            raise EvidenceError(
                f"The evidence file '{path}' cannot be opened: it is a device, a pipe or a folder; "
                "save it as a file first."
            )
        with open(path, "rb", buffering=0) as stream:
            if os.fstat(stream.fileno()).st_size > _LARGEST_FILE:
                raise EvidenceError(
                    f"{name}: the file is larger than any evidence ({_LARGEST_FILE:,} "
                    "bytes); it must be something else."
                )
            data = stream.read()
    except FileNotFoundError:
        raise EvidenceError(
            f"The evidence file '{path}' does not exist{missing_file(Path(path))}."
        ) from None
    except OSError as problem:
        raise EvidenceError(
            f"The evidence file '{path}' cannot be opened: {problem.strerror}."
        ) from None
    try:
        return read(data, name)
    except EvidenceError:
        if not _is_text(data):
            raise EvidenceError(
                f"{name}: This is not evidence: it is not text. Ask the site for the file again."
            ) from None
        raise


def _is_text(data: bytes) -> bool:
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        return False
    return True


@nothing_to_collect()
def read_sites(paths: Sequence[str | Path]) -> list[SiteEvidence]:
    """Read the evidence files of many sites, in the order given; errors as for `read_site`.

    Parameters
    ----------
    paths : sequence of str or Path
        The files.

    Returns
    -------
    list of SiteEvidence
        Their evidence.

    Examples
    --------
    >>> from pathlib import Path
    >>> from tempfile import TemporaryDirectory
    >>> from headlife.life.site_evidence import site_evidence
    >>> import headlife as hl
    >>> case = hl.read_case("data_demo/removals.csv", shop="data_demo/shop.toml")
    >>> told = site_evidence(case.evidence, case.shop, "Harbour Hall", case.day)
    >>> with TemporaryDirectory() as folder:
    ...     path = Path(folder) / "harbour.evidence.json"
    ...     _ = path.write_text(told.to_json())
    ...     [one.site for one in hl.read_sites([path])]
    ['Harbour Hall']
    """
    return possible([_from_file(path) for path in paths], [os.path.basename(p) for p in paths])
