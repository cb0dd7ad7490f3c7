"""What a builder would not accept of a race, member by member, with the number that sets it."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from ullage.kernel.extremes import MUCH_GAS
from ullage.results.display import System, shown_text
from ullage.results.study_axes import done, hottest_oil
from ullage.results.verdict import FULL_TANK, MUCH_GAS_SHARE, NEAR_VACUUM, SPILT_OIL, STOPPING_OIL

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
        Too hot, cap lifts, tank full, below rating, near vacuum, starves, much gas, over a rating, not finished, in
        this order; also those that no member has. A member that was not finished has nothing but that.

    Notes
    -----
    What is red in the summary of a race is forbidden here, and so are a cap that lifts and a tank that is full. What no
    figure of a member tells is not: an opened cap, faults.
    """

    def lowest(*names: str) -> NDArray[np.float64]:
        found: NDArray[np.float64] = np.fmin.reduce([data[name].values for name in names])
        return found

    starving = data.time_starved.values + data.time_chambers_unfilled.values
    full = (data.highest_oil_level.values >= FULL_TANK) | (data.oil_lost.values > SPILT_OIL)
    vacuum = data.lowest_vapour_margin.values < NEAR_VACUUM
    gas = data.cavitation_exposure.values > MUCH_GAS_SHARE * data.time_turning.values
    gas |= data.highest_pump_void_fraction.values >= MUCH_GAS
    share = 100.0 * MUCH_GAS_SHARE
    hot_text, vacuum_text = shown_text(STOPPING_OIL, "K", units), shown_text(NEAR_VACUUM, "Pa", units)
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
        Forbidden("near vacuum", f"feed within {vacuum_text} of full vacuum or boiling", vacuum),
        Forbidden("pump starves", "line or port cannot fill the pump", starving > 0.0),
        Forbidden("much gas", f"{share:.0f} % of the time, or {100.0 * MUCH_GAS:.0f} % gas in the pump", gas),
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
