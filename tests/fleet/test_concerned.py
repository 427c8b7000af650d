"""What a plan or an order book names is found among the positions, or asked about."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
import pytest

from headlife.errors import DecisionError
from headlife.fleet.concerned import concerned


@dataclass(frozen=True)
class Stated:
    """A plan or an order book, as far as it says what it is about."""

    printer: str | None = None
    site: str | None = None
    head_type: str | None = None


def positions(seed: int, count: int = 40) -> pd.DataFrame:
    rng = np.random.default_rng(seed)
    names = {
        "printer": ["P1", "P2", "P3", "P4"],
        "site": ["Hall A", None],
        "head_type": ["Amber", "Slate"],
    }
    return pd.DataFrame({column: rng.choice(of, count) for column, of in names.items()})


@pytest.mark.parametrize("seed", range(5))
def test_each_name_narrows_and_all_of_them_apply_together(seed):
    fleet = positions(seed)
    assert concerned(fleet, "the plan", Stated()).all()
    by_type = concerned(fleet, "the plan", Stated(head_type="Amber"))
    by_site = concerned(fleet, "the plan", Stated(site="Hall A"))
    assert by_type.tolist() == [one == "Amber" for one in fleet["head_type"]]
    both = concerned(fleet, "the plan", Stated(site="Hall A", head_type="Amber"))
    assert (both == (by_type & by_site)).all()


def test_what_is_not_in_service_is_named_with_what_is():
    with pytest.raises(
        DecisionError, match=r"order book 'Autumn'.*head type 'Slade'.*Amber, Slate"
    ):
        concerned(positions(1), "the order book 'Autumn'", Stated(head_type="Slade"))
    nowhere = positions(1).assign(site=None)
    with pytest.raises(DecisionError, match=r"site 'Hall A'.*in service: none"):
        concerned(nowhere, "the plan", Stated(site="Hall A"))
