"""What belongs to a head and not to one of its stays: lot, vendor, purchase, rating, own columns?

Answers from the rows of each head in their order: what was stated last counts, since a later row
need not repeat it. It never guesses what no row states.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from headlife.records.frames import OF_THE_HEAD, blank_cells
from headlife.shop import Shop


def last_rows(
    rows: pd.DataFrame, order: np.ndarray, first: np.ndarray, last: np.ndarray, shop: Shop
) -> pd.DataFrame:
    """Give every head's last row; what belongs to the head is its last statement of it.

    Parameters
    ----------
    rows : DataFrame
        Accepted rows.
    order : array
        Which order of day and month.
    first : array
        First day, or the places of the first rows.
    last : array
        Last day, or the places of the last rows.
    shop : Shop
        The settings.

    Returns
    -------
    DataFrame
        One row per head.
    """
    began = rows["date_in"].to_numpy()[order[first]]
    had = rows["hours_in"].to_numpy()[order[first]]
    end: pd.DataFrame = rows.iloc[order[last]].assign(date_first=began, hours_first=had)
    if "refurbished" in rows:
        end = end.assign(refurbished=rows["refurbished"].to_numpy()[order[first]])
    stated = [name for name in (*OF_THE_HEAD, *shop.own_columns) if name in rows]
    for name in stated:
        column = rows[name].to_numpy()[order]
        there = ~pd.isna(column)
        place = np.maximum.accumulate(np.where(there, np.arange(len(column)), -1))[last]
        end = end.assign(**{name: np.where(place >= first, column[place], column[last])})
    return end


def of_the_head(end: pd.DataFrame, shop: Shop) -> dict[str, np.ndarray]:
    """Give what belongs to each head, blank where the table has no such column.

    Parameters
    ----------
    end : DataFrame
        Last days, or one day.
    shop : Shop
        The settings.

    Returns
    -------
    dict of str to array
        One value per head, by column.
    """
    stated = {
        name: end[name].to_numpy() if name in end else blank_cells(name, len(end))
        for name in (*OF_THE_HEAD, *shop.own_columns)
    }
    anew = end["refurbished"].to_numpy() if "refurbished" in end else np.zeros(len(end), dtype=bool)
    words = np.array(["yes" if one else None for one in anew.tolist()], dtype=object)
    bought = stated["date_bought"]
    return {
        **stated,
        "refurbished": words,
        **_rated(end, bought, shop),
        "purchase_year": _year(end, bought),
    }


def bought_on(lives: pd.DataFrame) -> pd.Series:
    """Give the day on which each head was bought or, where no row says, first went in.

    Parameters
    ----------
    lives : pandas.DataFrame
        One row per head life.

    Returns
    -------
    pandas.Series
        Days, (n,).
    """
    return lives["date_bought"].fillna(lives["date_first"])


def _rated(end: pd.DataFrame, bought: np.ndarray, shop: Shop) -> dict[str, np.ndarray]:
    """Give the rating of each head [h], by its day of purchase where ratings changed.

    A head whose day of purchase is not known was bought by the day on which it first went in.
    """
    types = end["head_type"].astype(object)
    hours = types.map(shop.rated_hours).to_numpy(dtype=np.float64)
    rating = np.full(len(end), None, dtype=object)
    for name, kind in shop.head_types.items():
        if not kind.earlier_ratings:
            continue
        own = (types == name).to_numpy()
        day = np.where(np.isnat(bought), end["date_first"].to_numpy(), bought)
        for one in sorted(kind.earlier_ratings, key=lambda one: one.bought_before, reverse=True):
            hours[own & (day < np.datetime64(one.bought_before))] = one.rated_hours
        words = {value: text for text, value in kind.ratings.items()}
        rating[own] = [words[value] for value in hours[own].tolist()]
    return {"rated_hours": hours, "rating": rating}


def _year(end: pd.DataFrame, bought: np.ndarray) -> np.ndarray:
    """Give the year in which each head was bought, in words.

    Where no row says, the day on which it first went in stands in; a head that had run by then
    was bought before, nobody knows when, and has none.
    """
    new = end["hours_first"].to_numpy() == 0
    day = np.where(np.isnat(bought) & new, end["date_first"].to_numpy(), bought)
    years = day.astype("datetime64[Y]").astype(np.int64) + 1970
    there = ~np.isnat(day)
    words = {year: str(year) for year in np.unique(years[there]).tolist()}
    found = np.full(len(end), None, dtype=object)
    found[there] = [words[year] for year in years[there].tolist()]
    return found
