"""What the tank does, in a builder's words: what sets its pressure, what opening costs, what oil and air did in it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import xarray as xr

from ullage.physics.air import GAS_CONSTANT
from ullage.results.display import System, gauge_text, shown_text
from ullage.results.verdict import HOT_TO_OPEN, WORTH_VAPOUR, leaks, liquid_full, over_rating
from ullage.units import clock

LITTLE_TAKEN_UP, TAKEN_UP = 0.35, 0.75
NOTHING_TO_SPEND = 500.0
# own choice: what share of the air that is gone, come in or out of the oil changes what sets the pressure; air in the
# oil further over the tank's pressure than bubbles always make it [Pa]; air worth a line [kg]
MUCH_AIR = 0.1
MUCH_EXCESS = 1e4
WORTH_AIR = 1e-5


def tank_sentences(data: xr.Dataset, figures: dict[str, Any], units: System) -> Iterator[str]:
    """Go through the sentences about the tank.

    Parameters
    ----------
    data : xarray.Dataset
        Results in SI units, for their attributes.
    figures : dict
        Their summary figures.
    units : str
        "metric" or "us".
    """
    yield from _regime(data, figures)
    if figures["highest_vapour_pressure"] > WORTH_VAPOUR:
        vapour = shown_text(figures["highest_vapour_pressure"], "Pa", units)
        yield f"Part of the pressure is water vapour, up to {vapour}; oil that stays milky has water in it."
    if figures["trapped_air_freed"] > WORTH_AIR or figures["trapped_air_left"] > WORTH_AIR:
        freed, left = (_air_volume(figures[f"trapped_air_{name}"], units) for name in ("freed", "left"))
        yield f"Trapped air: {freed} came out of gear and hoses, {left} is still in; top up after bleeding."
    if figures["lowest_oil_level"] < data.attrs["return_port_level"]:
        yield "The oil fell under the return port: the return whips air into it."
    if over_rating(figures):
        yield "Leave it shut: past a rating anything can let go, and hot oil with it."
    elif not figures["cap_off_at_end"]:
        yield from _price_of_opening(figures, units)
    yield from _after_refit(figures, units)


def _air_volume(mass: float, units: System) -> str:
    """Write a mass of air as its volume at 20 degC and sea level."""
    return shown_text(mass * GAS_CONSTANT * 293.15 / 101325.0, "m3", units)


def _regime(data: xr.Dataset, figures: dict[str, Any]) -> Iterator[str]:
    """Say what sets the pressure of the air space; nothing of a tank that has no air left."""
    if "cap_relief_pressure" not in data.attrs:
        yield "The tank breathes: its air space stays at ambient, whatever the fill."
    elif figures["cap_off_at_end"]:
        yield "The cap is off at the end: the air space is at ambient and the pump has only the height of the tank."
    elif leaks(data, figures):
        yield "The tank does not hold: hot it loses air, cold it may draw air back in, and the pressure fades."
    elif not liquid_full(figures):
        yield _shut_in(figures)


def _shut_in(figures: dict[str, Any]) -> str:
    gone, taken = 100.0 * figures["air_missing_share"], 100.0 * figures["air_taken_up"]
    if figures["air_missing_share"] > MUCH_AIR:
        return (
            f"Air space short of air: {gone:.0f} % of all air in tank and oil went out at the cap, so cold oil ends in "
            "a vacuum."
        )
    if figures["air_excess_pressure"] > MUCH_EXCESS:
        return "The oil is more than saturated with air: at rest it gives some back, and the tank's pressure rises."
    if figures["air_missing_share"] < -MUCH_AIR:
        return f"Air drawn in or put in: {-gone:.0f} % more than tank and oil had; it adds to the pressure."
    if figures["air_dissolved_share"] is not None and figures["air_dissolved_share"] < 1.0 - MUCH_AIR:
        lost = 100.0 * (1.0 - figures["air_dissolved_share"])
        return f"Air out of the oil: {lost:.0f} % of what it held came out on its way to the pump and swells the tank."
    if figures["air_taken_up"] < LITTLE_TAKEN_UP:
        return f"Air space hardly taken up ({taken:.0f} %): fill and cap set the pressure."
    if figures["air_taken_up"] > TAKEN_UP:
        since = "when the cap went on again" if figures["cap_openings"] else "at the start"
        return (
            f"Air space taken up ({taken:.0f} %): heat and the air shut in {since} set the pressure, not fill or cap."
        )
    return f"Air space half taken up ({taken:.0f} %): the pressure from the fill is fading."


def _price_of_opening(figures: dict[str, Any], units: System) -> Iterator[str]:
    places = [{**stop, "name": f"the stop '{stop['name']}'"} for stop in figures["stops"]]
    places.append({**figures["finish"], "name": "the finish"})
    worst = max(places, key=lambda place: float(place["gauge_pressure"]))
    if worst["gauge_pressure"] > NOTHING_TO_SPEND:
        oil, pressure = shown_text(worst["hottest_oil"], "K", units), shown_text(worst["gauge_pressure"], "Pa", units)
        yield (
            f"Leave it shut: at {worst['name']} the oil is at {oil} under {pressure}; opening the cap spends all of it "
            "at once."
        )
        return
    hottest = max(places, key=lambda place: float(place["hottest_oil"]))
    oil, gauge = shown_text(hottest["hottest_oil"], "K", units), gauge_text(hottest["gauge_pressure"], units)
    if hottest["hottest_oil"] > HOT_TO_OPEN:
        yield (
            f"Leave it shut: at {hottest['name']} the oil is at {oil} with {gauge}; a gauge at zero does not mean "
            "cold oil."
        )


def _after_refit(figures: dict[str, Any], units: System) -> Iterator[str]:
    """Say what the tank held soon after the refit, and what its oil can give: the opening that spent the most."""
    refits = [opening for opening in figures["cap_openings"] if opening["refitted"] is not None]
    spent = max(refits, key=lambda opening: float(opening["gauge_pressure"]), default=None)
    if spent is None or spent["gauge_pressure"] <= NOTHING_TO_SPEND:
        return
    had, holds = shown_text(spent["gauge_pressure"], "Pa", units), spent["regained_gauge_pressure"]
    back = shown_text(holds, "Pa", units) if holds > NOTHING_TO_SPEND else "no pressure"
    yield (
        f"Opening spent {had}; refitted at {clock(spent['refitted'])}, the tank had {back} by "
        f"{clock(spent['regained_by'])}. {_from_oil(spent, units)} What it holds later is heat, or air that came in."
    )


def _from_oil(spent: dict[str, Any], units: System) -> str:
    share, held = spent["gauge_pressure_from_oil"], spent["gauge_pressure_in_oil"]
    if share is None or share <= NOTHING_TO_SPEND:
        return "Its own oil has nothing to give back."
    gives, drunk = shown_text(share, "Pa", units), shown_text(held, "Pa", units)
    return f"Its own oil gives back up to {gives} in time, of the {drunk} that it had drunk."
