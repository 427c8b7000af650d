"""What if, on the page: any proposal for any kind of head, answered without Python.

From a study of one proposal: what `decisions.policy.tried` works out, as data for the page's own
script, and the sliders, sentences, curve and table that it fills in.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, Final

from headlife.decisions.policy.tried import HIGHEST_AGE, LONGEST_BUILD, services_to_try, tried
from headlife.decisions.spares.tried import lead_times_to_try
from headlife.show.markup import Html, escape, table
from headlife.show.past_rating.tables import POLICY_HEADINGS
from headlife.show.sliders import Slider, packed, panel, runs, steps_to
from headlife.show.words.policy import TEMPLATES

if TYPE_CHECKING:
    import numpy as np

    from headlife.decisions.policy.past_rating import Kind
    from headlife.decisions.policy.past_rating_answer import PastRating
    from headlife.decisions.policy.proposal import ProposalStudy

_SHOP: Final = (
    "labour_per_hour",
    "machine_hour_rate",
    "swap_labour_hours",
    "calibration_hours",
    "manual_check_hours",
    "waiting_hours_per_stockout",
    "carrying_cost_per_head_year",
    "currency",
)
_MOST_CHECKS: Final = 5
_SHOWN: Final = (
    '<div aria-live="polite"><p class="line"><span class="badge plain" id="what-if-verdict"></span>'
    ' <span id="what-if-proposal"></span></p><p id="what-if-advice"></p></div>'
    '<figure class="drawn"><svg id="what-if-picture" viewBox="0 0 640 330" role="img" '
    'aria-label="Cost per print hour against swap age"></svg><figcaption>'
    '<span class="key expected">expected</span> <span class="key band">its 90 % range</span> '
    '<span class="key planned">of this: planned swaps</span> '
    '<span class="key unplanned">of this: failures</span><br>Spares on the shelf are not in the '
    "curve; dotted: ages no head has reached here.</figcaption></figure>"
)


def what_if(made: ProposalStudy) -> Html:
    """Make the sliders of the page, opened at the proposal the page answers.

    Parameters
    ----------
    made : ProposalStudy
        All answers to the proposal.

    Returns
    -------
    Html
        A piece of the page.
    """
    first, asked = made.kinds[0], made.answers[0].choices
    services = services_to_try(asked.service_level)
    kinds = [_kind(made, kind, answer, services) for kind, answer in made.each()]
    names = "".join(f"<option>{escape(kind.name)}</option>" for kind in made.kinds)
    choose = (
        '<div class="slider"><label for="what-if-kind">Kind of head</label>'
        f'<select id="what-if-kind">{names}</select></div>'
    )
    most_scrapped, scrapped_step = steps_to(asked.scrapped_build_cost, 1000.0)
    price = _price(made, first)
    shown = Html(_SHOWN) + table(
        POLICY_HEADINGS,
        [],
        caption=f"The policies at these numbers, amounts in {made.currency}",
        numbers=tuple(range(1, len(POLICY_HEADINGS))),
    )
    low, high = kinds[0]["age_range"]
    leads = lead_times_to_try(asked.lead_time_weeks)
    moved = (
        Slider("age", "Swap age", "h", asked.age_hours, low, high, kinds[0]["age_step"]),
        Slider(
            "scrapped", "Cost of a spoiled build", made.currency, asked.scrapped_build_cost, 0.0,
            most_scrapped, scrapped_step,
        ),
        Slider(
            "checks", "Manual checks after a visit", "checks", asked.manual_checks, 0,
            max(_MOST_CHECKS, asked.manual_checks), 1,
        ),
        Slider(
            "build", "Length of builds", "h", asked.build_hours, 1, kinds[0]["longest_build"], 1
        ),
        Slider(
            "service", "Service level of the spares", "%", 100.0 * asked.service_level,
            100.0 * services[0], 100.0 * services[-1],
            round(100.0 * (services[1] - services[0]), 4) if services.size > 1 else 1.0,
        ),
        Slider(
            "lead", "Lead time", "weeks", asked.lead_time_weeks, leads[0], leads[-1],
            leads[1] - leads[0] if len(leads) > 1 else 1.0,
        ),
        Slider("price", "Price of a head", made.currency, price, 0.0, *steps_to(price, 100.0)),
    )  # fmt: skip
    data = {
        "shop": {name: getattr(made.shop.costs, name) for name in _SHOP},
        "services": [round(float(one), 4) for one in services],
        "leads": leads,
        "templates": TEMPLATES,
        "headings": POLICY_HEADINGS,
        "kinds": kinds,
    }
    return panel(choose, moved, shown, data)


def _price(made: ProposalStudy, kind: Kind) -> float:
    return float(made.shop.head_types[kind.goes_in].price or 0.0)


def _kind(
    made: ProposalStudy, kind: Kind, answer: PastRating, services: np.ndarray
) -> dict[str, Any]:
    """Everything the script needs about one kind of head."""
    known = tried(kind, services)
    step = known.age_step
    price = _price(made, kind)
    life = kind.desk.survival
    return {
        "name": kind.name,
        "rated": kind.rated_hours,
        "notice": kind.notice_hours,
        "quality_critical": kind.quality_critical,
        "oldest_seen": kind.oldest_seen,
        "never_past": list(answer.advice.never_past),
        "shape_learned": kind.shape_learned,
        "failures": kind.failures,
        "hours_per_quarter": answer.hours_per_quarter,
        "proposed": step * round(answer.choices.age_hours / step)
        if math.isfinite(answer.choices.age_hours)
        else kind.rated_hours,
        "age_range": [
            known.least_age,
            step * math.floor(HIGHEST_AGE * kind.rated_hours / step),
        ],
        "age_step": step,
        "longest_build": math.floor(LONGEST_BUILD * kind.rated_hours),
        "price": price,
        "most_price": steps_to(price, 100.0)[0],
        "shapes": [packed(one) for one in known.shapes],
        "scales": [packed(one) for one in known.scales],
        "weights": packed(known.weights),
        "mean_life": packed(known.mean_life),
        "first_age": float(known.ages[0]),
        "last_age": float(known.ages[-1]),
        "curve_ages": int(known.ages.size),
        "first_hours": packed(known.first_hours),
        "search_ages": _short(known.search_ages),
        "search_planned": _short(known.search_planned),
        "search_failures": _short(known.search_failures),
        "search_to_failure": float(life.weights @ (1.0 / life.mean_life)),
        "first_level_age": float(known.level_ages[0]),
        "level_age_step": float(known.level_ages[1] - known.level_ages[0]),
        "levels": [
            [runs(row) for row in at_lead.T.tolist()] for at_lead in known.levels.swapaxes(0, 1)
        ],
    }


def _short(values: np.ndarray) -> list[float]:
    return [float(f"{value:.7g}") for value in values]
