"""headlife: reliability review for a fleet of extrusion printers.

The names below are the front door. Each is imported from its room when first used, so that
`import headlife` stays quick and no room is loaded that the caller does not enter.
"""

# Nothing may be imported before the next lines but what every Python has loaded by itself.
import os
import sys

_HOME = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))
if sys.argv[:1] == ["-m"] and not sys.flags.safe_path and sys.path[0] != _HOME:
    # Started as `python -m headlife`, Python looks for modules first in the folder it is called
    # from: a file pandas.py beside somebody's records would be run.
    del sys.path[0]
# Before anything that takes long to import: Ctrl-C ends with its sentence from here on.
from headlife.stopped import hear_ctrl_c  # noqa: E402

hear_ctrl_c()

from importlib import import_module  # noqa: E402
from typing import Any  # noqa: E402

__version__ = "0.1.0"

_ROOMS = {
    "Case": "case",
    "read_case": "case",
    "read_shop": "shop",
    "read_records": "records.table",
    "lives": "records.lives",
    "in_service": "records.lives",
    "two_readings": "records.lives",
    "audit": "records.audit",
    "read_lifetimes": "records.lifetimes",
    "draft_settings": "records.draft",
    "Evidence": "life.evidence",
    "fit_life": "life.posterior",
    "CompetingLife": "life.competing",
    "compare_strata": "life.strata",
    "fit_strata": "life.strata",
    "judge_rating": "decisions.rating",
    "heads_needed": "life.demonstration",
    "forecast_demand": "futures.demand",
    "plan_stock": "decisions.spares.stock",
    "quarterly_review": "decisions.review",
    "actions_of": "decisions.actions",
    "changes_since": "decisions.changes",
    "due_list": "decisions.due",
    "vendor_statement": "decisions.vendor",
    "read_builds": "records.builds",
    "build_plan": "decisions.plan.build_plan",
    "review_files": "scale.cluster",
    "read_site": "life.site_files",
    "read_sites": "life.site_files",
    "pool_sites": "scale.pooling",
    "replacement_curve": "decisions.policy.replacement",
    "spares_study": "decisions.spares.study",
    "backtest": "decisions.backtest",
    "what_would_settle": "decisions.settle",
}

__all__ = ["__version__", *_ROOMS]  # noqa: PLE0604


def __getattr__(name: str) -> Any:
    if name not in _ROOMS:
        raise AttributeError(f"module 'headlife' has no attribute {name!r}")
    value = getattr(import_module(f"headlife.{_ROOMS[name]}"), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted(__all__)
