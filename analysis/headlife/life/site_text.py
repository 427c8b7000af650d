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
from headlife.life.rounded import AgePicture, log_sum_of

EXACT_FORMAT: Final = "headlife site evidence 1"
SITE_FORMAT: Final = "headlife site evidence 2"
_OF_STRATUM: Final = (*("head_type", "role", "rated_hours", "heads", "withheld", "ages", "modes"),)
_OF_AGES: Final = ("up_to_hours", "spread", "together")
_OF_MODE: Final = ("failures", "mean_hours")
_OF_SUMS: Final = (
    *("format", "unit", "reference_hours", "heads", "failures", "log_sum", "log_curve"),
    "intervals",
)
_LARGEST: Final = 1e300
CHECKSUM: Final = '"sha256": "'
_KEY: Final = re.compile(rb'(?<!\\)"\s*:')  # the end of a key; quotes inside a text are escaped
# Beyond what any site has (own choice): they bound what a forged file can cost.
MOST_HEADS: Final = 100_000_000
MOST_STRATA: Final = 1_000
RATINGS: Final = (1e-2, 1e7)  # [h]
_LONGEST_NAME: Final = 1_000  # signs
_SHOWN: Final = 40  # signs of a wrong value in a sentence
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


def strata_in(
    data: Any, exact: bool
) -> tuple[tuple[GroupEvidence, ...], tuple[AgePicture | None, ...]]:
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
    ages : tuple of AgePicture or None
        A picture for each, None where it shows no numbers; empty where they are exact.

    Raises
    ------
    EvidenceError
        A stratum stands twice, or is one that no heads can be.
    """
    if not isinstance(data, list):
        raise EvidenceError("This evidence is damaged: its strata are no list.")
    if len(data) > MOST_STRATA:
        raise EvidenceError(
            f"This evidence has {len(data):,} strata; no site has more than {MOST_STRATA:,}."
        )
    for each in data:
        only(each, _OF_STRATUM, "a stratum")
    ages = () if exact else tuple(_ages(each) for each in data)
    strata = tuple(
        _stratum(each, own) for each, own in zip(data, ages or (None,) * len(data), strict=True)
    )
    seen: set[Group] = set()
    for stratum in strata:
        if stratum.group in seen:
            raise EvidenceError(f"This evidence has the stratum {stratum.group.name} twice.")
        seen.add(stratum.group)
    return strata, ages


def _ages(data: Any) -> AgePicture | None:
    if not data["modes"]:
        return None
    told = only(data["ages"], _OF_AGES, "the ages")
    return AgePicture(*(number(told, name) for name in _OF_AGES))


def _mode(data: Any, ages: AgePicture | None, heads: int, rated_hours: float) -> Evidence:
    if ages is None:
        return _exact_sums(data)
    only(data, _OF_MODE, "a mode")
    failures = data["failures"]
    if type(failures) is not int or not 0 <= failures <= heads:
        raise EvidenceError("This evidence is damaged: failures are a count up to the heads.")
    mean = number(data, "mean_hours") if failures else rated_hours
    if not mean > 0:
        raise EvidenceError("This evidence is damaged: failures of no age.")
    return ages.evidence(
        float(heads), float(failures), log_sum_of(failures, mean, rated_hours), rated_hours
    )


def _exact_sums(data: Any) -> Evidence:
    only(data, _OF_SUMS, "a mode")
    for name in ("heads", "failures", "log_sum"):
        number(data, name)
    if not RATINGS[0] <= number(data, "reference_hours") <= RATINGS[1]:
        raise EvidenceError("This evidence is damaged: its hazard is stated at an absurd age.")
    values = [*data["log_curve"], *(value for row in data["intervals"] for value in row)]
    if not {type(value) for value in values} <= {int, float, type(None)}:
        raise EvidenceError("This evidence is damaged: a curve or row of readings has no numbers.")
    return Evidence.from_data(data, possible=False)


def _stratum(data: Any, ages: AgePicture | None) -> GroupEvidence:
    rated, heads = number(data, "rated_hours"), data["heads"]
    if not RATINGS[0] <= rated <= RATINGS[1]:
        raise EvidenceError(f"This evidence is damaged: no head is rated {rated:g} h.")
    if type(heads) is not int or not 0 <= heads <= MOST_HEADS:
        raise EvidenceError(
            f"This evidence is damaged: heads are a whole number up to {MOST_HEADS:,}."
        )
    if not isinstance(data["modes"], dict) or not isinstance(data["withheld"], str):
        raise EvidenceError("This evidence is damaged: modes or a reason to withhold are wrong.")
    if data["modes"] and not heads:
        raise EvidenceError("This evidence is damaged: it has modes of no heads.")
    modes = {
        name_in(mode, "mode"): _mode(each, ages, heads, rated)
        for mode, each in data["modes"].items()
    }
    if len(modes) < len(data["modes"]):
        raise EvidenceError("This evidence is damaged: two of its modes have one name.")
    withheld = data["withheld"]
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
    why = no_name(value)
    if why:
        raise EvidenceError(f"This evidence is damaged: its {what} {why}.")
    # Spaces that nobody sees would make two groups of one.
    return " ".join(value.split())


def no_name(value: Any) -> str:
    """Say why something is no name of a site or of a group.

    Parameters
    ----------
    value : object
        Meant as a name.

    Returns
    -------
    str
        The end of a sentence; empty where it is one.
    """
    if not isinstance(value, str) or not any(sign.isprintable() and sign != " " for sign in value):
        return "is no name that can be read"
    if len(value) > _LONGEST_NAME:
        return f"has {len(value):,} signs; {_LONGEST_NAME:,} at most"
    return ""


def number(data: Any, name: str) -> float:
    """Take a number that must be there.

    Parameters
    ----------
    data : object
        What holds it, as JSON does.
    name : str
        Its key.

    Returns
    -------
    float
        The number, finite.

    Raises
    ------
    EvidenceError
        It is none: a text, true or false, a list, or beyond what a number can be.
    """
    value = data[name]
    if type(value) not in (int, float) or not abs(value) <= _LARGEST:
        raise EvidenceError(f"This evidence is damaged: {name} is no number, it is {brief(value)}.")
    return float(value)


def only(data: Any, known: Sequence[str], what: str) -> Any:
    """Take an object of JSON that has no other keys than these, so that nothing is passed over.

    Parameters
    ----------
    data : object
        The object, as JSON holds it.
    known : sequence of str
        Keys that it may have.
    what : str
        What it is, for the message.

    Returns
    -------
    object
        The same.

    Raises
    ------
    EvidenceError
        It is none, or has another key.
    """
    if not isinstance(data, dict):
        raise EvidenceError(f"This evidence is damaged: {what} is {brief(data)}.")
    for name in data:
        if name not in known:
            raise EvidenceError(
                f"This evidence has {brief(name)} in {what}, which this version does not know. "
                "Ask the site to write it again with this version of headlife."
            )
    return data


def brief(value: Any) -> str:
    """Quote what stands in a file where something else should, in a few signs.

    Parameters
    ----------
    value : object
        As JSON holds it.

    Returns
    -------
    str
        The quotation; of a list or an object only what it is.
    """
    if isinstance(value, (list, dict)):
        return "a list" if isinstance(value, list) else "a group of values"
    text = "".join(sign if sign.isprintable() else "?" for sign in str(value)[: _SHOWN + 1])
    return f"'{text}'" if len(text) <= _SHOWN else f"'{text[:_SHOWN]}...'"
