"""When does this shop swap a head that still works? The policy that its settings state.

From the settings to ages in hours. Prices nothing and picks none.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from headlife.errors import DecisionError
from headlife.numbers import positive
from headlife.shop.settings import Shop
from headlife.shop.work import HeadType


@dataclass(frozen=True)
class Policy:
    """When a head is swapped although it has not failed."""

    swap_at_hours: float | None = None
    """Age at which a head is swapped [h]; None runs every head to failure."""

    def __post_init__(self) -> None:
        if self.swap_at_hours is not None:
            positive("The age at which heads are swapped", self.swap_at_hours, "[h]")


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
    return Policy(_age(shop.policy.swap_at, settings))


def shop_join_age(shop: Shop, head_type: str) -> float:
    """Return the age from which a head is swapped along at a visit for another one.

    Parameters
    ----------
    shop : Shop
        Its `policy.join_from`; infinite when it states none.
    head_type : str
        A head type named in the settings.

    Returns
    -------
    float
        [h]
    """
    joined = shop.policy.join_from
    age = None if joined is None else _age(joined, shop.head_types[head_type])
    return np.inf if age is None else age


def _age(stated: str | float, settings: HeadType) -> float | None:
    """Turn what the settings call an age into hours; None for failure."""
    if stated == "failure":
        return None
    if stated == "notice":
        return settings.notice_hours
    if stated == "rating":
        return settings.rated_hours
    return float(stated)
