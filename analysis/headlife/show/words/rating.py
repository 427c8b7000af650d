"""Does the rating hold, in words: the verdict, how sure, what it rests on, what is in doubt.

From verdicts and strata; never says more than they do: what is not settled is called so, and a
shape that was assumed is not called learned.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from headlife.decisions.rating import FALLS_SHORT, HOLDS
from headlife.show.words.numbers import (
    about,
    chance,
    chance_beside,
    counted,
    hours,
    hours_span,
    most_known,
    percent,
    ranges,
    span,
)

if TYPE_CHECKING:
    from headlife.decisions.rating import RatingVerdict
    from headlife.decisions.review_answers import Stratum

NO_VERDICT: Final = "no hours yet"


def rating_sentence(verdict: RatingVerdict | None) -> str:
    """Say whether the rating holds, how sure that is, and what the records allow.

    Parameters
    ----------
    verdict : RatingVerdict or None
        The verdict on the rating.

    Returns
    -------
    str
        The sentence.
    """
    if verdict is None:
        return "No print hours on record yet, so nothing can be said about the rating."
    share = about(percent(verdict.share_reaching))
    reach = f"{share} of heads reach {hours(verdict.rated_hours)}"
    begun = f"{reach[0].upper()}{reach[1:]}"
    bounds = span(*verdict.bounds)
    claim = f"that at least {percent(verdict.share)} do"
    likely = chance(verdict.probability)
    if verdict.verdict == HOLDS:
        return f"{begun} ({bounds}). The chance {claim} is {likely}."
    if verdict.verdict == FALLS_SHORT:
        least = begun if share.startswith("under") else f"Only {reach}"
        return (
            f"{least} ({bounds}); the chance {claim} is {likely}. "
            f"{percent(verdict.share)} of heads reach {about(hours_at_share(verdict))}."
        )
    likely = chance_beside(verdict.probability, verdict.confidence)
    return (
        f"{begun}, but anything from {bounds} fits these records; the chance {claim} is {likely}."
    )


def hours_at_share(verdict: RatingVerdict) -> str:
    """Write the hours that the claimed share of heads reaches, with their range.

    Far past the rating no head was ever seen, so large values are only called large.

    Parameters
    ----------
    verdict : RatingVerdict
        The verdict on the rating.

    Returns
    -------
    str
        The words.
    """
    most = most_known(verdict.rated_hours)
    spread = hours_span(*verdict.life_at_share_bounds, most)
    return f"{hours(verdict.life_at_share, most)} ({spread})"


def evidence_sentence(stratum: Stratum) -> str:
    """Say what an answer rests on, and whether the shape of the life was learned or assumed.

    Parameters
    ----------
    stratum : Stratum
        The answers about one head type and role.

    Returns
    -------
    str
        The sentence.
    """
    mode = primary_mode(stratum)
    failures = stratum.failures.get(mode, 0)
    rests = (
        f"Rests on {counted(stratum.heads, 'head', 'heads')}, "
        f"{hours(stratum.evidence.print_hours)} of printing and "
        f"{counted(failures, 'failure', 'failures')} by {mode}."
    )
    return f"{rests} {stratum_note(stratum)}".strip()


def assumed_sentence(stratum: Stratum) -> str:
    """Say that the rating, or other parts, stand in for what no head has shown yet; empty if not.

    While no head has reached the rating it stands in for one, in forecasts or in everything.

    Parameters
    ----------
    stratum : Stratum
        A group of heads.

    Returns
    -------
    str
        The sentence.
    """
    if stratum.too_young:
        return "Too young to judge: this is what the others say."
    if stratum.leans_on is not None or not stratum.evidence.untried:
        return ""
    if not stratum.evidence.rests_on_rating:
        return (
            f"No head has reached {hours(stratum.evidence.rated_hours)} yet: what is needed is "
            "forecast with some weight on the vendor's rating, half as much with every failure."
        )
    return (
        f"No head has failed yet, and the oldest has run {hours(stratum.evidence.oldest_hours)}: "
        "beyond that the vendor's rating is assumed, as if one head had reached it. The first "
        "failures, or the first heads that reach it, will tell."
    )


def stratum_note(stratum: Stratum) -> str:
    """Say what a reader must know about a rating from few failures; empty with enough of them.

    Parameters
    ----------
    stratum : Stratum
        A group of heads.

    Returns
    -------
    str
        The sentence.
    """
    mode = primary_mode(stratum)
    failures = stratum.failures.get(mode, 0)
    if stratum.life is None:
        return "These heads have not run yet; there is nothing to judge."
    assumed = assumed_sentence(stratum)
    if assumed and (stratum.too_young or stratum.evidence.rests_on_rating):
        return assumed
    return f"{_few_failures(stratum, mode, failures)} {assumed}".strip()


def _few_failures(stratum: Stratum, mode: str, failures: int) -> str:
    """Say what few failures leave open."""
    assert stratum.life is not None
    if failures == 0:
        return f"No head has failed by {mode} yet: the bounds rest on the hours run alone."
    if stratum.life.shape_learned:
        return ""
    count = "One head has" if failures == 1 else f"{failures} heads have"
    return (
        f"{count} failed by {mode}: how the risk grows with age is assumed, not learned, so the "
        "bounds are wide."
    )


def basis(stratum: Stratum) -> str:
    """Say in a few words what an answer rests on: heads, failures, and an assumed shape.

    Parameters
    ----------
    stratum : Stratum
        The answers about one head type and role.

    Returns
    -------
    str
        The words.
    """
    mode = primary_mode(stratum)
    failures = counted(stratum.failures.get(mode, 0), "failure", "failures")
    learned = stratum.life is None or stratum.life.shape_learned
    assumed = "" if learned else ", so how risk grows with age is assumed"
    return f"From {counted(stratum.heads, 'head', 'heads')}, {failures} by {mode}{assumed}."


def doubt_sentence(stratum: Stratum, other: Stratum | None) -> str:
    """Say how a rating would be judged if the removals in doubt were no failures.

    Parameters
    ----------
    stratum : Stratum
        As the review has it, with them as failures.
    other : Stratum or None
        The same with them as no failures; None where none is in doubt.

    Returns
    -------
    str
        The sentence.
    """
    if other is None or other.verdict is None:
        return ""
    mode = primary_mode(stratum)
    heads = stratum.failures[mode] - other.failures.get(mode, 0)
    return (
        f"{counted(heads, 'of these is', 'of these are')} in doubt (see below); as no "
        f"failures: {other.verdict.verdict}, {percent(other.verdict.share_reaching)} "
        f"({span(*other.verdict.bounds)}), chance {chance(other.verdict.probability)}."
    )


def claim_sentence(verdict: RatingVerdict) -> str:
    """Say what claim is judged, when it is settled, and what the ranges hold.

    Parameters
    ----------
    verdict : RatingVerdict
        The verdict on the rating.

    Returns
    -------
    str
        The sentence.
    """
    sure, share = percent(verdict.confidence), percent(verdict.share)
    return (
        f"The claim judged: at least {share} of heads reach their rated hours. It holds, or falls "
        f"short, once that is at least {sure} sure; otherwise it is not settled. "
        f"{ranges(verdict.confidence)}"
    )


def primary_mode(stratum: Stratum) -> str:
    """Name the failure mode that a stratum's rating is about.

    Parameters
    ----------
    stratum : Stratum
        The answers about one head type and role.

    Returns
    -------
    str
        Its name.
    """
    return next(iter(stratum.failures), "wear")
