"""Is this text the evidence of a site, whole and unchanged, and what does it say of each stratum?

Its checksum, every key once, every stratum one of heads that can be. `site_evidence` beside it says
whose evidence it is. Never pools and never judges.
"""

from __future__ import annotations

import codecs
import hashlib
import re
from collections.abc import Sequence
from typing import Any, Final

import numpy as np

from headlife.errors import EvidenceError
from headlife.life.evidence import Evidence, loads
from headlife.life.groups import Group, GroupEvidence
from headlife.life.rounded import Ages, log_sum_of

EXACT_FORMAT: Final = "headlife site evidence 1"
SITE_FORMAT: Final = "headlife site evidence 2"
CHECKSUM: Final = '"sha256": "'
_KEY: Final = re.compile(rb'(?<!\\)"\s*:')  # the end of a key; quotes inside a text are escaped
_SAME_CURVE: Final = 1e-6  # of curves, which rounding and more nodes move by less


def digest(body: bytes) -> str:
    """Work out the checksum of all lines but the last.

    Parameters
    ----------
    body : bytes
        Those lines.

    Returns
    -------
    str
        SHA-256, in hexadecimal digits.
    """
    return hashlib.sha256(body).hexdigest()


def _unchanged(data: bytes) -> bytes:
    """Return the text when its checksum is right; line ends may have changed on the way."""
    data = data.removeprefix(codecs.BOM_UTF8).replace(b"\r\n", b"\n").strip()
    body, found, end = data.rpartition(CHECKSUM.encode())
    if not found:
        loads(data)  # no JSON at all is the clearer message
        raise EvidenceError(
            f'This is not a site\'s evidence: it has no checksum. It needs format "{SITE_FORMAT}", '
            "as `headlife evidence` writes it."
        )
    if end != f'{digest(body)}"}}'.encode():
        raise EvidenceError(
            "This evidence was changed or damaged since it was written: its checksum does not "
            "fit. Ask the site for the file again."
        )
    return data


def parsed(data: bytes) -> Any:
    """Read the JSON of an evidence file.

    Parameters
    ----------
    data : bytes
        All of the file; line ends may have changed on the way.

    Returns
    -------
    object
        What it holds.

    Raises
    ------
    EvidenceError
        No JSON, no checksum or one that does not fit, or a key that stands twice in one place,
        since one of its values would be lost.
    """
    whole = _unchanged(data)
    read = loads(whole)
    if len(_KEY.findall(whole)) != _keys(read):
        raise EvidenceError(
            "This evidence has a key twice in one place, so one of its values would be lost. Ask "
            "the site for the file again."
        )
    return read


def _keys(data: Any) -> int:
    """Count the keys of all objects in what was read."""
    if isinstance(data, dict):
        return len(data) + sum(map(_keys, data.values()))
    # Lists of numbers hold none, and are long.
    return sum(map(_keys, data)) if isinstance(data, list) and data and _holds(data[0]) else 0


def _holds(first: Any) -> bool:
    return isinstance(first, (dict, list))


def strata_in(data: Any, exact: bool) -> tuple[tuple[GroupEvidence, ...], tuple[Ages | None, ...]]:
    """Read the strata, and the pictures of the ages behind made-up numbers.

    Parameters
    ----------
    data : object
        The list of strata, as JSON holds it.
    exact : bool
        Whether the numbers are the exact sums of the lives.

    Returns
    -------
    strata : tuple of GroupEvidence
        The strata.
    ages : tuple of Ages or None
        A picture for each, None where it shows no numbers; empty where they are exact.

    Raises
    ------
    EvidenceError
        A stratum stands twice, or is one that no heads can be.
    """
    ages = () if exact else tuple(_ages(each) for each in data)
    strata = tuple(
        _stratum(each, own) for each, own in zip(data, ages or (None,) * len(data), strict=True)
    )
    groups = [stratum.group for stratum in strata]
    for group in groups:
        if groups.count(group) > 1:
            raise EvidenceError(f"This evidence has the stratum {group.name} twice.")
    return strata, ages


def _ages(data: Any) -> Ages | None:
    if not data["modes"]:
        return None
    return Ages(**{name: float(value) for name, value in data["ages"].items()})


def _mode(data: Any, ages: Ages | None, heads: int, rated_hours: float) -> Evidence:
    if ages is None:
        return Evidence.from_data(data, possible=False)
    failures = data["failures"]
    if not isinstance(failures, int) or not 0 <= failures <= heads:
        raise EvidenceError("This evidence is damaged: failures are a count up to the heads.")
    mean = float(data["mean_hours"]) if failures else rated_hours
    return ages.evidence(
        float(heads), float(failures), log_sum_of(failures, mean, rated_hours), rated_hours
    )


def _stratum(data: Any, ages: Ages | None) -> GroupEvidence:
    rated, heads = float(data["rated_hours"]), int(data["heads"])
    if not 0.0 < rated < float("inf") or heads < 0:
        raise EvidenceError("This evidence is damaged: a rating or a number of heads is wrong.")
    modes = {mode: _mode(each, ages, heads, rated) for mode, each in data["modes"].items()}
    withheld = str(data["withheld"])
    group = Group(name_in(data["head_type"], "head type"), name_in(data["role"], "role"))
    if withheld and (modes or heads):
        raise EvidenceError(f"{group.name} is withheld and has numbers all the same.")
    _refuse_other_heads(group, heads, list(modes.values()))
    return GroupEvidence(
        group=group, rated_hours=rated, heads=heads, modes=modes, withheld=withheld
    )


def _refuse_other_heads(group: Group, heads: int, modes: Sequence[Evidence]) -> None:
    """Refuse modes that cannot be of the same heads: each ran as long, and failed at most once."""
    if not modes:
        return
    first = modes[0]
    alike = all(
        one.heads == first.heads
        and (
            # Rows between two readings take some exposure of their own mode away.
            len(one.intervals)
            or len(first.intervals)
            or one.log_curve.shape != first.log_curve.shape
            or np.array_equal(one.log_curve, first.log_curve)  # quick, and nearly always so
            or np.allclose(one.log_curve, first.log_curve, rtol=0.0, atol=_SAME_CURVE)
        )
        for one in modes
    )
    if not alike or first.heads > heads * (1 + 1e-9):
        raise EvidenceError(
            f"{group.name}: its modes are not of the same heads, or of more than the {heads} it "
            "names; they run the same hours, whatever ends them."
        )
    if sum(one.all_failures for one in modes) > first.heads * (1 + 1e-9):
        raise EvidenceError(f"{group.name}: more failures than heads; each fails at most once.")


def name_in(value: Any, what: str) -> str:
    """Take a name that must be there.

    Parameters
    ----------
    value : object
        As JSON holds it.
    what : str
        Whose name it is, for the message.

    Returns
    -------
    str
        The name.

    Raises
    ------
    EvidenceError
        It is no text, or blank.
    """
    if not isinstance(value, str) or not value.strip():
        raise EvidenceError(f"This evidence is damaged: it has no {what}.")
    return value
