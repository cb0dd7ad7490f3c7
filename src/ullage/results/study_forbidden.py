"""What a builder would not accept of a race, member by member, with the number that sets it."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from ullage.results.display import System, shown_text
from ullage.results.study_axes import done, hottest_oil
from ullage.results.verdict import FULL_TANK, SPILT_OIL, STOPPING_OIL

Flags = NDArray[np.bool_]


class Forbidden(NamedTuple):
    """One thing that is forbidden: its name, with what number, and which members have it."""

    name: str
    number: str
    members: Flags


def forbidden(data: xr.Dataset, units: System) -> list[Forbidden]:
    """Judge every member of a study.

    Parameters
    ----------
    data : xarray.Dataset
        Results of a study in SI units.
    units : str
        "metric" or "us".

    Returns
    -------
    list of Forbidden
        Too hot, cap lifts, tank full, below rating, starves, over a rating, not finished, in this order; also those
        that no member has. A member that was not finished has nothing but that.
    """

    def lowest(*names: str) -> NDArray[np.float64]:
        found: NDArray[np.float64] = np.fmin.reduce([data[name].values for name in names])
        return found

    starving = data.time_starved.values + data.time_chambers_unfilled.values
    full = (data.highest_oil_level.values >= FULL_TANK) | (data.oil_lost.values > SPILT_OIL)
    hot_text = shown_text(STOPPING_OIL, "K", units)
    ratings = ", ".join(
        f"{part} {shown_text(data.attrs[f'{part}_rating'], 'Pa', units)}"
        for part in ("tank", "seal")
        if f"{part}_rating" in data.attrs
    )
    finished = done(data)
    found = [
        Forbidden("too hot", f"oil at {hot_text} or more somewhere", hottest_oil(data) >= STOPPING_OIL),
        Forbidden("cap lifts", "one lift or more", data.relief_openings.values > 0.0),
        Forbidden("tank full", f"{100.0 * FULL_TANK:.0f} % full or more, or oil lost", full),
        Forbidden("below rating", "feed under what the pump needs", data.lowest_rating_margin.values < 0.0),
        Forbidden("pump starves", "line or port cannot fill the pump", starving > 0.0),
        Forbidden(
            "over a rating", ratings or "tank or shaft seal", lowest("lowest_tank_margin", "lowest_seal_margin") < 0.0
        ),
    ]
    kept = [each._replace(members=each.members & finished) for each in found]
    return [*kept, Forbidden("not finished", "race refused or broken off", ~finished)]


def free(data: xr.Dataset, units: System) -> Flags:
    """Return which members have none of the forbidden things."""
    taken: Flags = np.logical_or.reduce([each.members for each in forbidden(data, units)])
    return ~taken
