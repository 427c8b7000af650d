"""Sites side by side: what share of heads reaches the rating at each, and at all of them.

From pooled answers to a table of shares and bounds, and from that to a picture. Computes no
statistics of its own.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from headlife.show.figures.names import as_label
from headlife.show.figures.style import BLUE, GREY, INK, VERMILLION, legend_below, percent_axis

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes

    from headlife.scale.pooling import PooledStratum

ALL_SITES = "all sites"
_COLOURS = {"holds": (BLUE, "o"), "falls short": (VERMILLION, "s"), "not settled": (GREY, "D")}


def site_shares(stratum: PooledStratum) -> pd.DataFrame:
    """Tabulate the share of heads that reach the rating, site by site and for all.

    Parameters
    ----------
    stratum : PooledStratum
        From `pool_sites`.

    Returns
    -------
    pandas.DataFrame
        `site`, `share`, `low`, `high` [-], `verdict`, `claimed` [-]; sites by share, all sites
        last.
    """
    import pandas as pd

    answers = sorted(stratum.sites, key=lambda one: -one.verdict.share_reaching)
    named = [(one.site, one.verdict) for one in answers] + [(ALL_SITES, stratum.verdict)]
    return pd.DataFrame(
        [(site, v.share_reaching, *v.bounds, v.verdict, v.share) for site, v in named],
        columns=["site", "share", "low", "high", "verdict", "claimed"],
    )


def draw_sites(shares: pd.DataFrame, ax: Axes, title: str = "") -> Axes:
    """Draw shares with their bounds, one line per site, the claim marked.

    Parameters
    ----------
    shares : pandas.DataFrame
        From `site_shares`.
    ax : Axes
        Where to draw.
    title : str
        Head type and role.

    Returns
    -------
    Axes
        `ax`, drawn on.
    """
    places = range(len(shares) - 1, -1, -1)
    columns = (shares[name].tolist() for name in ("share", "low", "high", "verdict"))
    for place, share, low, high, verdict in zip(places, *columns, strict=True):
        colour, marker = _COLOURS[verdict]
        last = place == 0
        ax.plot([low, high], [place, place], color=colour, linewidth=3 if last else 1.6)
        size = 8 if last else 5.5
        ax.plot(share, place, marker, color=colour, markersize=size, label=verdict)
    ax.axvline(shares["claimed"].iloc[0], color=INK, linewidth=1.1, linestyle=(0, (4, 3)))
    ax.set_yticks(list(places), [as_label(site) for site in shares["site"]])
    ax.set_ylim(-0.7, len(shares) - 0.3)
    percent_axis(ax.xaxis)
    ax.set_xlabel("share of heads that reach the rating (dashed: claimed)")
    ax.set_title(title)
    handles, labels = ax.get_legend_handles_labels()
    unique = dict(zip(labels, handles, strict=True))
    legend_below(ax, columns=3, handles=list(unique.values()), labels=list(unique))
    return ax
