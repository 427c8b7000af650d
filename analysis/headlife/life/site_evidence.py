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

import datetime
import json
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass, replace
from typing import TYPE_CHECKING, Any, Final

from headlife import __version__
from headlife.display import shows_itself
from headlife.errors import EvidenceError
from headlife.life.evidence import Evidence
from headlife.life.groups import GroupEvidence
from headlife.life.possible import impossible, refusals
from headlife.life.rounded import AgePicture, mean_hours_of, rounded
from headlife.life.site_text import (
    CHECKSUM,
    EXACT_FORMAT,
    SITE_FORMAT,
    brief,
    digest,
    name_in,
    no_name,
    only,
    parsed,
    strata_in,
)
from headlife.records.dates import EARLIEST_YEAR

if TYPE_CHECKING:
    from headlife.shop import Shop

TELLS: Final = (
    "Heads and failures are counts. Of the lives only answers went in, rounded: how ages spread "
    "(one picture of three, of 280 from 30 heads on), how old failed heads became on average (a "
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
_KEYS: Final = (
    *("format", "tells", "headlife", "unit", "site", "as_of", "settings_sha256", "primary_mode"),
    *("strata", "sha256"),
)
_AHEAD: Final = datetime.timedelta(days=1)  # it may be tomorrow there

FEW_HEADS: Final = "too few heads"
INTERVAL_ROWS: Final = "failures known only to lie between two readings would travel one by one"


@shows_itself
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
    ages: tuple[AgePicture | None, ...] = ()
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
        return body + CHECKSUM + digest(body.encode("utf-8", "surrogatepass")) + '"}\n'

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
        return possible([read(text.encode("utf-8", "surrogatepass"), file)], [file])[0]


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

    Raises
    ------
    EvidenceError
        The name of the site cannot be read, or is endless.
    """
    if why := no_name(site):
        raise EvidenceError(f"The name of the site {why}; give another one.")
    return SiteEvidence(
        site=site,
        as_of=datetime.date.fromisoformat(str(as_of)[:10]),
        settings_sha256=shop.sha256,
        primary_mode=shop.review.primary_mode,
        version=__version__,
        strata=tuple(one for one in evidence if not one.group.further),
    )


def read(data: bytes, file: str) -> SiteEvidence:
    """Read an evidence file, but for whether its numbers are `possible`.

    Parameters
    ----------
    data : bytes
        All of it.
    file : str
        Its name, for messages.

    Returns
    -------
    SiteEvidence
        The site's evidence.

    Raises
    ------
    EvidenceError
        As for `SiteEvidence.from_json`.
    """
    try:
        return _site(parsed(data))
    except EvidenceError as mistake:
        raise EvidenceError(f"{file}: {mistake}") from None
    except KeyError as missing:
        raise EvidenceError(
            f"{file}: This evidence is damaged: {brief(missing.args[0])} is missing in it. "
            "Ask the site for the file again."
        ) from missing
    except (TypeError, ValueError, AttributeError, OverflowError, IndexError) as fault:
        raise EvidenceError(
            f"{file}: This evidence is damaged: a value in it is of another kind than it should "
            "be. Ask the site for the file again."
        ) from fault


def possible(sites: list[SiteEvidence], files: Sequence[str]) -> list[SiteEvidence]:
    """Refuse sites whose numbers no heads could give; all at once, which takes a tenth.

    Parameters
    ----------
    sites : list of SiteEvidence
        What was read.
    files : sequence of str
        The file of each, for messages.

    Returns
    -------
    list of SiteEvidence
        The same.

    Raises
    ------
    EvidenceError
        The numbers of a stratum cannot be.
    """
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


def _stratum_json(stratum: GroupEvidence, ages: AgePicture | None, exact: bool) -> str:
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


def _site(data: Any) -> SiteEvidence:
    if data["format"] not in (SITE_FORMAT, EXACT_FORMAT):
        raise EvidenceError(
            f"This evidence is of the format {brief(data['format'])} and this version reads "
            f'"{SITE_FORMAT}" and "{EXACT_FORMAT}". Ask the site to write it again with this '
            "version of headlife."
        )
    if data["unit"] != "h":
        raise EvidenceError(
            f"This evidence counts in {brief(data['unit'])}; only hours ('h') are pooled. "
            "Ask the site to write it again in hours."
        )
    only(data, _KEYS, "the file")
    exact = data["format"] == EXACT_FORMAT
    strata, ages = strata_in(data["strata"], exact)
    as_of = _day(data["as_of"])
    if as_of > datetime.date.today() + _AHEAD:
        raise EvidenceError(
            f"This evidence looks at records as of {as_of.isoformat()}, a day that has not come; "
            "ask the site to write it again with the right day."
        )
    if as_of.year < EARLIEST_YEAR:
        raise EvidenceError(
            f"This evidence looks at records as of {as_of.isoformat()}, before there were heads to "
            f"record (days before {EARLIEST_YEAR} are refused); ask the site to write it again "
            "with the right day."
        )
    return SiteEvidence(
        site=name_in(data["site"], "site"),
        as_of=as_of,
        settings_sha256=str(data["settings_sha256"]),
        primary_mode=name_in(data["primary_mode"], "primary mode"),
        version=str(data["headlife"]),
        strata=strata,
        ages=ages,
    )


def _day(value: Any) -> datetime.date:
    try:
        day = datetime.date.fromisoformat(value)
    except (TypeError, ValueError):
        day = None
    # Weeks and days without dashes are read by some versions of Python only.
    if day is None or day.isoformat() != value:
        raise EvidenceError(f"This evidence is damaged: as_of is no day, it is {brief(value)}.")
    return day
