"""How long the oil takes to cool at a stop, and what the next morning finds, in a crew's words."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
import xarray as xr

from ullage.results.display import System, gauge_text, shown_text
from ullage.results.pit_table import choice_name, finished_choice
from ullage.results.verdict import duration_text

WAYS = ("idling", "engine off")
NO_PRESSURE = 500.0  # too small to speak of [Pa]; own choice


def cooling_sentences(data: xr.Dataset, units: System) -> Iterator[str]:
    """Go through the sentences on how long the oil takes to cool, and what the gauge shows then."""
    below, longest = shown_text(data.attrs["open_below"], "K", units), duration_text(data.attrs["longest_wait"])
    if data.cooling_time.sel(way="idling") == 0.0:
        yield f"The tank's oil is below {below} as the stop begins."
        return
    ways = [
        f"{'longer than ' + longest if math.isnan(time) else duration_text(time)} {way_name(data, way)}"
        for way in WAYS
        for time in (float(data.cooling_time.sel(way=way)),)
    ]
    yield f"Cooling the tank's oil below {below} takes {' or '.join(ways)}."
    half = [f"{duration_text(float(data.half_cooled_time.sel(way=way)))} {way_name(data, way)}" for way in WAYS]
    if np.isfinite(data.half_cooled_time.sel(way=list(WAYS))).all():
        yield f"Half-way there it is after {' or '.join(half)}."
    idling = data.sel(way="idling")
    if math.isnan(float(idling.cooling_time)):
        coolest, settled = shown_text(float(idling.coolest_oil), "K", units), duration_text(float(idling.settled_time))
        yield (
            f"Idling it gets no cooler than {coolest} here, nearly that after {settled}; "
            f"'{choice_name('cool_then_open')}' goes on with the engine off from there."
        )
    cooled = finished_choice(data, "cool_then_open")
    if cooled is not None and (left := float(cooled.gauge_pressure_opened)) > NO_PRESSURE:
        yield (
            f"By then the gauge still shows {shown_text(left, 'Pa', units)}: opening spends it, and the cap stays shut "
            "until the gauge is at zero."
        )


def way_name(data: xr.Dataset, way: str) -> str:
    """Return how a truck stands while its oil cools, in words."""
    return "idling with the fan on" if way == "idling" and data.attrs["fan"] else way


def overnight_sentences(data: xr.Dataset, units: System) -> Iterator[str]:
    """Say what pressure and level the next morning finds."""
    day = shown_text(data.attrs["overnight_temperature"], "K", units)
    told = []
    for label in ("shut", "refit", "top_up", "recharge"):
        if (one := finished_choice(data, label)) is not None and math.isfinite(float(one.overnight_oil_level)):
            gauge = gauge_text(float(one.overnight_gauge_pressure), units)
            told.append(f"{choice_name(label)} {gauge}, {100.0 * float(one.overnight_oil_level):.0f} % full")
    if told:
        yield f"Cold next morning at {day}: {'; '.join(told)}. Check the level then, against the mark for the day."
