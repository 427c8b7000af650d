"""Write what a person has to state: reasons with a proposed meaning, types of head, stock, costs.

From what was found. Every proposed meaning is marked to be confirmed; what nobody can know from a
log (ratings, lead time, prices) is left open with its unit.
"""

from __future__ import annotations

from typing import Final

from headlife.records.draft.found import Found
from headlife.records.draft.toml import MOST_LISTED, TO_DO, at_most, quote
from headlife.records.draft.vocabulary import REASONS, first_that_fits

_TABLES: Final = {
    "failures": "reason = failure mode, such as wear or damage",
    "suspensions": "taken out working: reason = kind, such as planned swap",
    "looked_bad": "pulled on looks, read both ways: reason = the mode it may have been",
    "may_have_failed": "nobody knows, read both ways: reason = the mode it may have been",
}
_AGAIN: Final = ("material change", "moved")
COSTS: Final = (
    "# [costs]  # all amounts in one currency; needed only where a cost is asked for",
    '# currency = "EUR"',
    "# labour_per_hour = 40.0  # an hour of a person's work [currency/h]",
    "# machine_hour_rate = 10.0  # an hour a printer stands still [currency/h]",
    "# swap_labour_hours = 0.3  # work to take one head out and put another in [h]",
    "# manual_check_hours = 0.4  # work for one manual check after it [h]",
    "# scrapped_build_cost = 200.0  # the build that a failing head spoils [currency]",
    "# waiting_hours_per_stockout = 60.0  # how long a printer waits for a missing head [h]",
    "# carrying_cost_per_head_year = 40.0  # one head on the shelf for a year [currency/year]",
)
NEW_PRINTER: Final = (
    '# [new_printers."NAME"]  # one that will come and is not in the table yet',
    "# begins = 2030-01-31",
    "# weekly_hours = 40.0",
    '# model = "HEAD TYPE"',
    '# support = "HEAD TYPE"',
    '# site = "SITE"',
)
_ORDER: Final = '# orders."NUMBER" = { heads = 2, site = "SITE", due = 2030-01-31 }  # on order'


def proposed_meanings(found: Found) -> dict[str, tuple[str, str] | None]:
    """Propose a table of [reasons] and a meaning for each reason; None where no word fits.

    Parameters
    ----------
    found : Found
        What was found in the log.

    Returns
    -------
    dict of str to tuple of str or None
        Table and meaning of each reason.
    """
    still_in = set(found.in_service_words())
    return {
        text: first_that_fits(text, REASONS)
        for text, _ in found.texts("reason").most_common()
        if text not in still_in
    }


def reason_lines(found: Found) -> list[str]:
    """Write [reasons]: each proposed meaning in its table, the others for a person to place.

    Parameters
    ----------
    found : Found
        What was found in the log.

    Returns
    -------
    list of str
        The lines.
    """
    counts = found.texts("reason")
    meanings = proposed_meanings(found)
    lines: list[str] = []
    unplaced = [text for text, meaning in meanings.items() if meaning is None]
    if unplaced:
        lines.append("# Reasons without a proposal: move each line, without its #, to its table.")
        lines += at_most(
            [f'# {quote(text)} = "..."  {TO_DO}: {counts[text]:,} rows' for text in unplaced]
        )
        lines.append("")
    kinds = {what for table, what in filter(None, meanings.values()) if table == "suspensions"}
    if kinds & set(_AGAIN[1:]):
        again = ", ".join(quote(kind) for kind in _AGAIN if kind in kinds)
        lines += [
            "[reasons]",
            f"reusable = [{again}]  {TO_DO}: kinds after which a head goes in again",
            "",
        ]
    for table, what in _TABLES.items():
        lines.append(f"[reasons.{table}]  # {what}")
        lines += at_most(
            [
                f"{quote(text)} = {quote(meaning[1])}  {TO_DO}: is it so? {counts[text]:,} rows"
                for text, meaning in meanings.items()
                if meaning is not None and meaning[0] == table
            ]
        )
        lines.append("")
    return lines


def type_lines(found: Found) -> list[str]:
    """Write [head_types] with rated hours to fill in.

    Parameters
    ----------
    found : Found
        What was found in the log.

    Returns
    -------
    list of str
        The lines.
    """
    lines: list[str] = []
    types = found.texts("head_type").most_common(MOST_LISTED)
    named = [(text, f"# {count:,} rows") for text, count in types]
    for text, how_many in named or [("Standard", f"{TO_DO}: no column names types; name yours")]:
        lines += [
            f"[head_types.{quote(text)}]  {how_many}",
            f"# rated_hours = 1000  {TO_DO}: the vendor's rating in print hours [h]",
            f"on_hand = 0  {TO_DO}: new heads on the shelf",
            "# price = 300.0  # of a new head [currency]",
            _ORDER,
            "",
        ]
    return lines


def primary_mode(found: Found) -> str:
    """Give the failure mode that the rating is most likely about.

    Parameters
    ----------
    found : Found
        What was found in the log.

    Returns
    -------
    str
        Its name.
    """
    counts = found.texts("reason")
    modes: dict[str, int] = {}
    for text, meaning in proposed_meanings(found).items():
        if meaning is not None and meaning[0] != "suspensions":
            modes[meaning[1]] = modes.get(meaning[1], 0) + counts[text]
    return "wear" if "wear" in modes or not modes else max(modes, key=lambda mode: modes[mode])


def rest_lines(found: Found) -> list[str]:
    """Write stock, policy, review and what else can be said.

    Parameters
    ----------
    found : Found
        What was found in the log.

    Returns
    -------
    list of str
        The lines.
    """
    return [
        "[spares]",
        f"# lead_time_weeks = 6  {TO_DO}: weeks from order to delivery",
        "review_weeks = 13  # weeks from one order day to the next",
        '# sites = "separate"  # each its own stock: state on_hand_by_site, the site of orders',
        "",
        "[policy]",
        f'swap_at = "rating"  {TO_DO}: "rating", "notice", "failure" or hours',
        "",
        "[review]",
        "build_hours = 96  # hours of your next long build",
        f"primary_mode = {quote(primary_mode(found))}  # the mode that the rating is about",
        "",
        *COSTS,
        "",
        *NEW_PRINTER,
    ]
