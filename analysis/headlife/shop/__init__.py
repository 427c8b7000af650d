"""The shop's settings: which heads, reasons, lead times and claims this shop works with.

`settings` reads the one file a person in the shop wrote, `columns` is the one table of columns,
`writing` says how its records are written, `work` what it owns, orders, pays and plans, `values`
which values are allowed. Others import from here. Never looks at records.
"""

from headlife.shop.columns import COLUMNS, REQUIRED_COLUMNS, STANDARD_COLUMNS, Column
from headlife.shop.policy_book import PolicySettings
from headlife.shop.settings import Shop
from headlife.shop.settings_file import read_shop
from headlife.shop.work import (
    CALIBRATION_HOURS,
    MANUAL_CHECKS,
    Booking,
    Claim,
    Costs,
    HeadType,
    NewPrinter,
    Order,
    Plan,
    PrinterSettings,
    ReviewSettings,
    Spares,
)
from headlife.shop.writing import Intake, Reasons, reason_key

__all__ = [
    "CALIBRATION_HOURS",
    "COLUMNS",
    "MANUAL_CHECKS",
    "REQUIRED_COLUMNS",
    "STANDARD_COLUMNS",
    "Booking",
    "Claim",
    "Column",
    "Costs",
    "HeadType",
    "Intake",
    "NewPrinter",
    "Order",
    "Plan",
    "PolicySettings",
    "PrinterSettings",
    "Reasons",
    "ReviewSettings",
    "Shop",
    "Spares",
    "read_shop",
    "reason_key",
]
