"""What is in service and on the shelf on the day of a review? From lives and settings.

Positions with the present age of their head and its print hours a week, part-used heads that
can go back in, and the age at which this shop swaps. Never forecasts.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from headlife.decisions.paths import Policy
from headlife.errors import DecisionError

if TYPE_CHECKING:
    import pandas as pd

    from headlife.decisions.checks import Floats
    from headlife.shop import Shop


@dataclass(frozen=True)
class Fleet:
    """Heads in service and part-used heads on the shelf."""

    positions: pd.DataFrame
    """One row per occupied position: head, head_type, role, site, printer, position,
    age_hours [h], weekly_hours [h]."""
    shelf: pd.DataFrame
    """One row per part-used head that can go back in: head, head_type, role, site,
    age_hours [h]."""

    def of(self, head_type: str, role: str) -> pd.DataFrame:
        """Positions of one stratum."""
        mine = (self.positions["head_type"] == head_type) & (self.positions["role"] == role)
        return self.positions[mine]

    def ages(self, head_type: str, role: str) -> Floats:
        """Present ages of the heads of one stratum [h]."""
        return self.of(head_type, role)["age_hours"].to_numpy(dtype=np.float64)

    def weekly_hours(self, head_type: str, role: str) -> Floats:
        """Print hours a week of the positions of one stratum [h]."""
        return self.of(head_type, role)["weekly_hours"].to_numpy(dtype=np.float64)


def fleet_state(in_service: pd.DataFrame, lives: pd.DataFrame) -> Fleet:
    """Collect positions and the shelf.

    Parameters
    ----------
    in_service : pandas.DataFrame
        One row per occupied position, as `records.lives.in_service` gives it.
    lives : pandas.DataFrame
        One row per head life, as `records.lives.lives` gives it.

    Returns
    -------
    Fleet
    """
    shelf = lives.loc[
        lives["on_shelf"].astype(bool), ["head", "head_type", "role", "site", "exit_hours"]
    ].rename(columns={"exit_hours": "age_hours"})
    by_place = ["head_type", "role", "printer", "position"]
    return Fleet(
        positions=in_service.sort_values(by_place, kind="stable").reset_index(drop=True),
        shelf=shelf.sort_values(["head_type", "role", "head"], kind="stable").reset_index(
            drop=True
        ),
    )


def shop_policy(shop: Shop, head_type: str) -> Policy:
    """Return the policy that the shop's settings state for a head type.

    Parameters
    ----------
    shop : Shop
        Its `policy.swap_at` is "failure", "notice", "rating" or an age [h].
    head_type : str
        A head type named in the settings.

    Returns
    -------
    Policy

    Raises
    ------
    DecisionError
        The head type is not in the settings.
    """
    settings = shop.head_types.get(head_type)
    if settings is None:
        raise DecisionError(
            f"Head type '{head_type}' is not in the settings; "
            f'add a table [head_types."{head_type}"] with its rated_hours.'
        )
    swap_at = shop.policy.swap_at
    if swap_at == "failure":
        return Policy(None)
    if swap_at == "notice":
        return Policy(settings.notice_hours)
    if swap_at == "rating":
        return Policy(settings.rated_hours)
    return Policy(float(swap_at))
