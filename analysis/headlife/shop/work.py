"""What does this shop own, order, pay and plan, and what does its review ask?

The tables of the settings that decisions rest on, each with its units and the common practice
that stands in for what is not stated. Decides nothing.
"""

from __future__ import annotations

import calendar
import datetime
from typing import Annotated, Final, Literal

from pydantic import Field, model_validator

from headlife.shop.values import (
    Amount,
    Date,
    Duration,
    Heads,
    Hours,
    Name,
    Part,
    Price,
    Share,
    SomeHeads,
    WeeklyHours,
    Weeks,
    WeeksOrNone,
    YearDay,
    Yes,
)
from headlife.units import DAYS_PER_WEEK

# Common practice, no source: the machine gives notice at nine tenths of the rating.
NOTICE_FRACTION: Final = 0.9
# Common practice, no source: about 33 minutes, warm-up included, and one check by hand after it.
CALIBRATION_HOURS: Final = 0.55
MANUAL_CHECKS: Final = 1
_MOST_DRAWS: Final = 10_000_000


class Claim(Part):
    """The claim that the rating verdict judges."""

    share: Share = 0.90
    """Share of heads claimed to reach the rated hours [-]."""
    confidence: Share = 0.95
    """One-sided confidence asked of the verdict [-]."""


class Order(Part):
    """Heads that are ordered and not yet delivered."""

    heads: SomeHeads
    """How many [heads]."""
    site: Name | None = None
    """The site they will be delivered to; needed where sites keep separate stocks."""
    due: Date | None = None
    """Day on which they are due; one lead time from now when not stated."""


class EarlierRating(Part):
    """A rating that held for heads bought before a day."""

    bought_before: Date
    """The first day of purchase that it is not about any more."""
    rated_hours: Hours
    """The vendor's rated life of heads bought before [h]."""


class HeadType(Part):
    """What the shop knows about one type of head."""

    rated_hours: Hours
    """The vendor's rated life; of heads bought today, where it changed [h]."""
    earlier_ratings: list[EarlierRating] = Field(default_factory=list)
    """Ratings of heads bought before a day; the earliest day that fits a head counts."""
    notice_fraction: Annotated[
        float,
        Field(gt=0, le=1, description="write a fraction of the rating, for example 0.9"),
    ] = NOTICE_FRACTION
    """Fraction of the rating at which the machine gives notice [-]."""
    quality_critical: Yes = False
    """True when no head of this type may be advised past its rating."""
    warranty_hours: Hours | None = None
    """Hours within which the vendor warrants a head [h]."""
    warranty_months: (
        Annotated[int, Field(ge=1, description="write a whole number of months, 1 or more")] | None
    ) = None
    """Months within which the vendor warrants a head, from the day it was bought [months]."""
    price: Price | None = None
    """Price of a new head [currency]."""
    on_hand: Heads = 0
    """New heads on the shelf, all sites together [heads]."""
    on_order: Heads = 0
    """New heads ordered and not yet delivered, where nothing more is to be said [heads]."""
    on_order_due: Date | None = None
    """Day on which the heads on order are due; one lead time from now when not stated."""
    orders: dict[str, Order] = Field(default_factory=dict)
    """Instead of `on_order`: every order with its heads, site and day, by a name of its own."""
    on_hand_by_site: Annotated[
        dict[str, Heads], Field(description='write lines of the form "site" = heads')
    ] = Field(default_factory=dict)
    """New heads on each site's shelf, needed where sites keep separate stocks [heads]."""

    @property
    def ratings(self) -> dict[str, float]:
        """Every rating that heads of this type had, in words, today's first [h]."""
        hours = [self.rated_hours, *(one.rated_hours for one in self.earlier_ratings)]
        return {f"{one:,.10g} h": one for one in hours}

    @property
    def notice_hours(self) -> float:
        """Hours at which the machine gives notice [h]."""
        return self.rated_hours * self.notice_fraction

    @property
    def heads_on_hand(self) -> int:
        """New heads on all shelves together [heads]."""
        return self.on_hand or sum(self.on_hand_by_site.values())

    @property
    def open_orders(self) -> dict[str, Order]:
        """Every order by name; `on_order` is one without a site, by the name of that key."""
        if not self.on_order:
            return dict(self.orders)
        return {"on_order": Order(heads=self.on_order, due=self.on_order_due)}

    @property
    def heads_on_order(self) -> int:
        """New heads ordered and not yet delivered, all orders together [heads]."""
        return sum(order.heads for order in self.open_orders.values())


# Own choices, no source: how far late deliveries are followed [standard deviations], and how far
# lead times spread where only past deliveries are stated, as a share of their mean.
_LONGEST_LEAD_SD: Final = 4.0
_LEAD_SPREAD: Final = 0.3


class Spares(Part):
    """How spare heads are ordered."""

    lead_time_weeks: Weeks
    """From order to delivery [weeks]."""
    review_weeks: Weeks = 13.0
    """From one order day to the next [weeks]."""
    order_days: list[YearDay] = Field(default_factory=list)
    """Days of the year on which heads are ordered, where it is not every `review_weeks`: month and
    day, such as "12-15"."""
    service_level: Share = 0.95
    """Probability of no shortage over lead time and review period [-]."""
    lead_time_sd_weeks: WeeksOrNone = 0.0
    """Standard deviation of the lead time [weeks]."""
    past_lead_times_weeks: Annotated[
        list[Weeks], Field(description="write weeks above zero, such as [5, 7, 6, 16]")
    ] = Field(default_factory=list)
    """Lead times of past deliveries, which the coming ones are taken from [weeks]."""
    order_multiple: SomeHeads = 1
    """Heads are ordered in multiples of this [heads]."""
    sites: Annotated[
        Literal["pooled", "separate"], Field(description='write "pooled" or "separate"')
    ] = "pooled"
    """Whether all sites share one stock or each keeps its own."""
    use_shelf: Yes = True
    """Whether part-used heads on the shelf go back in before new ones, where that is sensible."""

    def next_order_day(self, day: datetime.date) -> datetime.date | None:
        """Give the first stated order day after a day.

        Parameters
        ----------
        day : date
            The day.

        Returns
        -------
        date or None
            The order day; None where none is stated.
        """
        dates = []
        for year in (day.year, day.year + 1):
            for month, number in (map(int, one.split("-")) for one in self.order_days):
                # 29 February is the 28th in most years.
                last = calendar.monthrange(year, month)[1]
                dates.append(datetime.date(year, month, min(number, last)))
        return min((one for one in dates if one > day), default=None)

    def weeks_to_next_order(self, day: datetime.date) -> float:
        """Give the weeks from an order to the next one [weeks].

        Parameters
        ----------
        day : date
            The day of the order.

        Returns
        -------
        float
            Weeks.
        """
        after = self.next_order_day(day)
        return self.review_weeks if after is None else (after - day).days / DAYS_PER_WEEK

    @property
    def lead_time_spread(self) -> float:
        """Standard deviation of lead times that no past delivery tells [weeks]."""
        if self.lead_time_sd_weeks or not self.past_lead_times_weeks:
            return self.lead_time_sd_weeks
        return _LEAD_SPREAD * self.lead_time_weeks

    @property
    def longest_lead_weeks(self) -> float:
        """Lead time up to which late deliveries are followed [weeks]."""
        late = self.lead_time_weeks + _LONGEST_LEAD_SD * self.lead_time_spread
        return max(late, *self.past_lead_times_weeks, 0.0)


class ReviewSettings(Part):
    """Choices of the quarterly review."""

    build_hours: Hours = 96.0
    """Length of the next long build, for the watch list [h]."""
    draws: Annotated[
        int,
        Field(ge=100, le=_MOST_DRAWS, description="write a whole number of draws, 100 or more"),
    ] = 20_000
    """Simulated futures behind the spares answer [-]."""
    seed: Annotated[int, Field(ge=0, description="write a whole number, 0 or more")] = 1
    """Seed of the random numbers: the same seed gives the same page."""
    primary_mode: Name = "wear"
    """The failure mode that the rating claim is about."""
    groups: Annotated[
        list[Name | list[Name]],
        Field(description='write names of columns in brackets, for example ["lot", "vendor"]'),
    ] = Field(default=[])
    """Columns that heads are rated by beside their type and role, each for itself; names in
    brackets of their own are taken together."""
    set_aside: Annotated[
        Literal["stop", "continue"], Field(description='write "stop" or "continue"')
    ] = "stop"
    """What a review does when rows cannot be read: stop and name them, or go on without them."""

    @property
    def divisions(self) -> tuple[tuple[str, ...], ...]:
        """The columns of every division of heads that `groups` asks for."""
        return tuple((one,) if isinstance(one, str) else tuple(one) for one in self.groups)


# [costs] keys without which no swap and no failure has a cost.
COSTS_OF_A_SWAP: Final = (
    "labour_per_hour",
    "machine_hour_rate",
    "swap_labour_hours",
    "manual_check_hours",
    "scrapped_build_cost",
)


class Costs(Part):
    """What swaps, failures and waiting cost; what is not stated is named when it is needed."""

    currency: Name = "currency units"
    """How amounts are labelled."""
    fiscal_year_begins: Annotated[
        Literal["January", "April", "July", "October"] | None,
        Field(description='write "January", "April", "July" or "October"'),
    ] = None
    """Month in which the fiscal year begins, where budgets are asked for by it."""
    labour_per_hour: Amount | None = None
    """An hour of a person's work [currency/h]."""
    machine_hour_rate: Amount | None = None
    """An hour a printer stands still instead of printing [currency/h]."""
    swap_labour_hours: Duration | None = None
    """Work to take one head out and put another in; the printer stands for it [h]."""
    calibration_hours: Duration = CALIBRATION_HOURS
    """The automatic calibration after a visit, warm-up included [h]."""
    manual_checks: Annotated[
        int, Field(ge=0, description="write a whole number of checks, 0 or more")
    ] = MANUAL_CHECKS
    """Manual calibration checks after a visit [-]."""
    manual_check_hours: Duration | None = None
    """Work for one manual check; the printer stands for it [h]."""
    scrapped_build_cost: Amount | None = None
    """What is lost with the build in which a head fails [currency]."""
    late_day_cost: Amount | None = None
    """What a day costs by which a build is late, in a plan; a day of a printer standing still when
    not stated [currency/day]."""
    waiting_hours_per_stockout: Duration | None = None
    """How long a printer stands when a head fails and no spare is on the shelf [h]."""
    carrying_cost_per_head_year: Amount | None = None
    """Money, space and ageing of one head on the shelf for a year [currency/year]."""


class PrinterSettings(Part):
    """What the shop knows about one printer."""

    quality_critical: Yes = False
    """True when no head may be advised past its rating on this printer."""


class NewPrinter(Part):
    """A printer that will come: new heads in both roles, which are not taken from the stock."""

    begins: Date
    """Its first day of printing."""
    weekly_hours: WeeklyHours
    """Its print hours a week [h/week]."""
    model: Name
    """Head type in its model role."""
    support: Name
    """Head type in its support role."""
    site: Name | None = None
    """Where it will stand; needed where sites keep separate stocks."""


class Booking(Part):
    """Print hours of builds on order, between two days: what is to be printed then."""

    hours: Annotated[float, Field(ge=0, description="write the print hours booked, 0 or more")]
    """Print hours of all builds booked from its first to its last day [h]."""
    begins: Date
    """First day."""
    ends: Date
    """Last day; from the next one on print hours are as the records show them."""
    printer: Name | None = None
    """The printer it is about; all of them when not stated."""
    site: Name | None = None
    """The site it is about; all of them when not stated."""
    head_type: Name | None = None
    """Only printers with a head of this type in service; all of them when not stated."""

    @model_validator(mode="after")
    def _in_order(self) -> Booking:
        if self.ends < self.begins:
            raise ValueError(
                f"an order book ends on {self.ends}, before it begins on {self.begins}; correct a "
                "date"
            )
        return self


class Plan(Part):
    """A planned change of printing, for example a shutdown or growth."""

    factor: Annotated[
        float,
        Field(
            ge=0, le=10, description="write a factor from 0 to 10: 0 is a stop, 1.2 a fifth more"
        ),
    ]
    """Print hours a week are multiplied by this [-]."""
    begins: Date
    """First day of the change."""
    ends: Date | None = None
    """Last day of the change; it stays when not stated."""
    printer: Name | None = None
    """The printer it is about; all of them when not stated."""
    site: Name | None = None
    """The site it is about; all of them when not stated."""

    @model_validator(mode="after")
    def _in_order(self) -> Plan:
        if self.ends is not None and self.ends < self.begins:
            raise ValueError(
                f"a plan ends on {self.ends}, before it begins on {self.begins}; correct a date"
            )
        return self
