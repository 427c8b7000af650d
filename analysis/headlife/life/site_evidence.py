"""What may one site tell others about its heads? Its evidence file: written, read, checked.

A few lines of JSON: for every head type and role the rating and the number of heads, for every
failure mode the failures; no serial, no printer, no date of a single head, and no further column
such as the lot. What the lives say is told as a made-up record that gives the same answers, rounded
(`headlife.life.rounded`), because the exact sums of an `Evidence` can be turned back into the lives
of the heads; who wants them written all the same asks for them. Strata of a handful of heads are
withheld, and a stratum that was withheld is named without its numbers. The last line is a checksum
of all others, so that a digit lost on the way is noticed; a checksum is no signature, and anybody
can write one. Numbers that no heads could give are refused (`headlife.life.possible`). Never pools
and never judges.
"""

from __future__ import annotations

import codecs
import datetime
import hashlib
import json
import os
import re
import stat
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from headlife import __version__
from headlife.errors import EvidenceError
from headlife.life.evidence import Evidence, loads
from headlife.life.groups import Group, GroupEvidence
from headlife.life.possible import impossible, refusals
from headlife.life.rounded import Ages, log_sum_of, mean_hours_of, rounded
from headlife.memory import nothing_to_collect

if TYPE_CHECKING:
    from headlife.shop import Shop

EXACT_FORMAT: Final = "headlife site evidence 1"
SITE_FORMAT: Final = "headlife site evidence 2"
TELLS: Final = (
    "Heads and failures are counts. Of the lives only answers went in, rounded: how ages spread "
    "(one picture of four, of 280 from 30 heads on), how old failed heads became on average (a "
    "single one among few heads: to an eighth of its age), and the chance that 90 % of heads reach "
    "the rating, to a quarter of a point. The hours are made up to give these answers; no head ran "
    "them."
)
EXACT_TELLS: Final = (
    "These are the exact sums of the lives. Whoever has this file can work out how long single "
    "heads ran."
)
# Fewer heads than this in a stratum are not written unless asked (own choice, no source).
FEWEST_HEADS: Final = 10
_CHECKSUM: Final = '"sha256": "'
_KEY: Final = re.compile(rb'(?<!\\)"\s*:')  # the end of a key; quotes inside a text are escaped
_SAME_CURVE: Final = 1e-6  # of curves, which rounding and more nodes move by less
_AHEAD: Final = datetime.timedelta(days=1)  # it may be tomorrow there
_LARGEST_FILE: Final = 64_000_000  # bytes; ten thousand strata and more

FEW_HEADS: Final = "too few heads"
INTERVAL_ROWS: Final = "failures known only to lie between two readings would travel one by one"


@dataclass(frozen=True)
class SiteEvidence:
    """What one site tells others."""

    site: str
    """Name of the site."""
    as_of: datetime.date
    """Day on which the records were looked at."""
    settings_sha256: str
    """SHA-256 of the site's settings file."""
    primary_mode: str
    """Failure mode that the site's rating claim is about."""
    version: str
    """Version of headlife that wrote it."""
    strata: tuple[GroupEvidence, ...]
    """Strata, withheld ones included by name."""
    ages: tuple[Ages | None, ...] = ()
    """Where the numbers are made up, the picture of the ages behind each stratum, None where it
    shows no numbers; empty where they are the exact sums."""

    @property
    def exact(self) -> bool:
        """Whether the numbers are the exact sums of the lives."""
        return not self.ages

    def shareable(
        self, fewest_heads: int = FEWEST_HEADS, exact: bool = False, interval_rows: bool = False
    ) -> SiteEvidence:
        """Withhold what would show single lives.

        Parameters
        ----------
        fewest_heads : int
            Strata with fewer heads are withheld [heads].
        exact : bool
            Tell the exact sums, from which the lives of single heads can be worked out, instead
            of a made-up record with the same rounded answers.
        interval_rows : bool
            With exact sums, whether failures known only to lie between two readings may go along
            as they must, one row of hours each. Strata that have them are withheld otherwise.

        Returns
        -------
        SiteEvidence
            What may be told.

        Raises
        ------
        EvidenceError
            The number of heads is negative.
        """
        if fewest_heads < 0:
            raise EvidenceError(
                f"The fewest heads of a stratum that is written cannot be negative; got "
                f"{fewest_heads}."
            )
        shown = [_shown(one, fewest_heads, interval_rows or not exact) for one in self.strata]
        if exact:
            return replace(self, strata=tuple(shown), ages=())
        made_up = [rounded(stratum, self.primary_mode) for stratum in shown]
        return replace(
            self,
            strata=tuple(stratum for stratum, _ in made_up),
            ages=tuple(ages for _, ages in made_up),
        )

    def to_json(self) -> str:
        """Write the evidence file: one line for every stratum and mode, checksum last."""
        head = {
            "format": EXACT_FORMAT if self.exact else SITE_FORMAT,
            "tells": EXACT_TELLS if self.exact else TELLS,
            "headlife": self.version,
            "unit": "h",
            "site": self.site,
            "as_of": self.as_of.isoformat(),
            "settings_sha256": self.settings_sha256,
            "primary_mode": self.primary_mode,
        }
        lines = [f"{_text(name)}: {_text(value)}" for name, value in head.items()]
        ages = self.ages or (None,) * len(self.strata)
        strata = ",\n".join(
            _stratum_json(stratum, own, self.exact)
            for stratum, own in zip(self.strata, ages, strict=True)
        )
        body = "{" + ",\n".join(lines) + ',\n"strata": [\n' + strata + "\n],\n"
        return body + _CHECKSUM + _digest(body.encode("utf-8", "surrogatepass")) + '"}\n'

    @classmethod
    def from_json(cls, text: str, file: str = "the evidence") -> SiteEvidence:
        """Read what `to_json` wrote.

        Parameters
        ----------
        text : str
            Contents of an evidence file.
        file : str
            Its name, for messages.

        Returns
        -------
        SiteEvidence

        Raises
        ------
        EvidenceError
            Not an evidence file, of another version or unit, changed or damaged since it was
            written, or with a stratum twice; the file is named.
        """
        return _possible([_read(text.encode("utf-8", "surrogatepass"), file)], [file])[0]


def site_evidence(
    evidence: Iterable[GroupEvidence], shop: Shop, site: str, as_of: Any
) -> SiteEvidence:
    """Collect what a site could tell others; `SiteEvidence.shareable` withholds what it should.

    Parameters
    ----------
    evidence : iterable of GroupEvidence
        Of the site's heads; divisions by further columns stay at home.
    shop : Shop
        The site's settings.
    site : str
        Name of the site.
    as_of : date
        Day on which the records are looked at.

    Returns
    -------
    SiteEvidence
        The evidence, nothing withheld yet.
    """
    return SiteEvidence(
        site=site,
        as_of=datetime.date.fromisoformat(str(as_of)[:10]),
        settings_sha256=shop.sha256,
        primary_mode=shop.review.primary_mode,
        version=__version__,
        strata=tuple(one for one in evidence if not one.group.further),
    )


def _read(data: bytes, file: str) -> SiteEvidence:
    try:
        return _site(_once_each(_sound(data)))
    except EvidenceError as mistake:
        raise EvidenceError(f"{file}: {mistake}") from None
    except (KeyError, TypeError, ValueError, AttributeError, OverflowError) as fault:
        raise EvidenceError(
            f"{file}: This evidence is damaged ({fault!r} does not fit). "
            "Ask the site for the file again."
        ) from fault


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
    return _possible([_from_file(path)], [os.path.basename(path)])[0]


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
            f"There is no evidence file '{path}'; check the name and the folder."
        ) from None
    except OSError as problem:
        raise EvidenceError(f"The evidence file '{path}' cannot be opened: {problem}.") from None
    try:
        return _read(data, name)
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
    return _possible([_from_file(path) for path in paths], [os.path.basename(p) for p in paths])


def _possible(sites: list[SiteEvidence], files: Sequence[str]) -> list[SiteEvidence]:
    """Refuse sites whose numbers no heads could give; all at once, which takes a tenth."""
    parts = [
        (file, stratum, mode, evidence)
        for site, file in zip(sites, files, strict=True)
        for stratum in site.strata
        for mode, evidence in stratum.modes.items()
    ]
    found = refusals([evidence for *_, evidence in parts])
    for (file, stratum, mode, _), why in zip(parts, found, strict=True):
        if why is not None:
            raise EvidenceError(f"{file}: {stratum.group.name}, {mode}: {impossible(why)}")
    return sites


def _shown(stratum: GroupEvidence, fewest: int, interval_rows: bool) -> GroupEvidence:
    why = stratum.withheld
    if stratum.heads < fewest:
        why = FEW_HEADS
    elif not interval_rows and any(len(e.intervals) for e in stratum.modes.values()):
        why = INTERVAL_ROWS
    if not why:
        return stratum
    return GroupEvidence(stratum.group, stratum.rated_hours, 0, {}, why)


def _text(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False)


def _stratum_json(stratum: GroupEvidence, ages: Ages | None, exact: bool) -> str:
    head = {
        "head_type": stratum.group.head_type,
        "role": stratum.group.role,
        "rated_hours": stratum.rated_hours,
        "heads": stratum.heads,
        "withheld": stratum.withheld,
    }
    if ages is not None:
        head["ages"] = asdict(ages)
    modes = ",\n".join(
        f" {_text(mode)}: {evidence.to_json().rstrip() if exact else _text(_made_up(evidence))}"
        for mode, evidence in stratum.modes.items()
    )
    return _text(head)[:-1] + ', "modes": {' + (f"\n{modes}" if modes else "") + "}}"


def _made_up(evidence: Evidence) -> dict[str, float | int]:
    if not evidence.failures:
        return {"failures": 0}
    return {"failures": round(evidence.failures), "mean_hours": mean_hours_of(evidence)}


def _digest(body: bytes) -> str:
    return hashlib.sha256(body).hexdigest()


def _sound(data: bytes) -> bytes:
    """Return the text when its checksum is right; line ends may have changed on the way."""
    data = data.removeprefix(codecs.BOM_UTF8).replace(b"\r\n", b"\n").strip()
    body, found, end = data.rpartition(_CHECKSUM.encode())
    if not found:
        loads(data)  # no JSON at all is the clearer message
        raise EvidenceError(
            f'This is not a site\'s evidence: it has no checksum. It needs format "{SITE_FORMAT}", '
            "as `headlife evidence` writes it."
        )
    if end != f'{_digest(body)}"}}'.encode():
        raise EvidenceError(
            "This evidence was changed or damaged since it was written: its checksum does not "
            "fit. Ask the site for the file again."
        )
    return data


def _once_each(data: bytes) -> Any:
    """Read the JSON; a key that stands twice in one place is refused, since one would be lost."""
    read = loads(data)
    if len(_KEY.findall(data)) != _keys(read):
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


def _site(data: Any) -> SiteEvidence:
    if data["format"] not in (SITE_FORMAT, EXACT_FORMAT):
        raise EvidenceError(
            f'This evidence is of the format "{data["format"]}" and this version reads '
            f'"{SITE_FORMAT}" and "{EXACT_FORMAT}". Ask the site to write it again with this '
            "version of headlife."
        )
    if data["unit"] != "h":
        raise EvidenceError(
            f"This evidence counts in '{data['unit']}'; only hours ('h') are pooled. "
            "Ask the site to write it again in hours."
        )
    exact = data["format"] == EXACT_FORMAT
    ages = () if exact else tuple(_ages(each) for each in data["strata"])
    strata = tuple(
        _stratum(each, own)
        for each, own in zip(data["strata"], ages or (None,) * len(data["strata"]), strict=True)
    )
    groups = [stratum.group for stratum in strata]
    for group in groups:
        if groups.count(group) > 1:
            raise EvidenceError(f"This evidence has the stratum {group.name} twice.")
    as_of = datetime.date.fromisoformat(data["as_of"])
    if as_of > datetime.date.today() + _AHEAD:
        raise EvidenceError(
            f"This evidence looks at records as of {as_of.isoformat()}, a day that has not come; "
            "ask the site to write it again with the right day."
        )
    return SiteEvidence(
        site=_name(data["site"], "site"),
        as_of=as_of,
        settings_sha256=str(data["settings_sha256"]),
        primary_mode=_name(data["primary_mode"], "primary mode"),
        version=str(data["headlife"]),
        strata=strata,
        ages=ages,
    )


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
    group = Group(_name(data["head_type"], "head type"), _name(data["role"], "role"))
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


def _name(value: Any, what: str) -> str:
    if not isinstance(value, str) or not value.strip():
        raise EvidenceError(f"This evidence is damaged: it has no {what}.")
    return value
