"""The lights: each figure that a crew asks for, judged, with the number that sets its light."""

from __future__ import annotations

from typing import Any, NamedTuple

import xarray as xr

from ullage.kernel.extremes import FULL_EXPOSURE, MUCH_GAS
from ullage.results.display import System, gauge_text, shown_text
from ullage.results.summary import summarise
from ullage.units import clock, digits, factor

GREEN, AMBER, RED = "green", "amber", "red"
GAS = "gas at the pump"
LEAKY = ("seal leak", "relief stuck open", "vacuum valve stuck open")
CAP_FAULTS = (*LEAKY, "relief stuck shut", "vacuum valve stuck shut")
MILKY = "milky"
OVER_RATING = "Over a rating: figures after that mean nothing"

# common practice: 93 degC is good, 120 worries, 135 stops; a cold suction of 5 inHg is the most a pump should see
WORRYING_OIL, STOPPING_OIL = 393.15, 408.15
HOT_TO_OPEN = 323.15
COLD_SUCTION = 5.0  # [inHg vac]
# own choice: a feed this close to full vacuum, or to boiling, is near starving [Pa]
NEAR_VACUUM = 2.5e4
WORTH_VAPOUR = 2e3
# own choice: what share of the running time, gas, level and number of lifts is worth a second look
SHORT_SHARE = 0.01
GAS_SHARE, MUCH_GAS_SHARE = 0.05, 0.25
LEAST_SAID = 0.005
FULL_TANK, NO_ROOM = 0.95, 0.9999
SPILT_OIL = 0.001
LEAKED_AIR = 1e-5
MANY_LIFTS = 20
MOST_COUNTED = 1000
CLOSE_TO_CAP = 0.9
# own choice: transmittance of the sight glass from which oil is called clear, and below which milky
CLEAR_GLASS, MILKY_GLASS = 0.9, 0.5


class Verdict(NamedTuple):
    """One line of the screen: its light, what it is about, what was found, and the number that sets the light."""

    light: str
    about: str
    found: str
    limit: str


def verdicts(data: xr.Dataset, units: System) -> list[Verdict]:
    """Judge a race by its summary figures.

    Parameters
    ----------
    data : xarray.Dataset
        Results in SI units.
    units : str
        "metric" or "us".

    Returns
    -------
    list of Verdict
        Oil, feed, what the pump needs, tank, gas at the pump, cap, pressure; the inlet's are left out if the pump never
        turns.
    """
    figures = summarise(data)
    lines = [_oil(figures, units)]
    turns = figures["lowest_feed_gauge_pressure"] is not None
    if turns:
        lines += [_feed(figures, units), _need(figures, units)]
    lines.append(_tank(figures, units))
    if turns:
        lines.append(_gas(figures))
    return [*lines, _lifts(figures, units), _pressure(data, figures, units)]


def _light(amber: bool, red: bool) -> str:
    return RED if red else AMBER if amber else GREEN


def _oil(figures: dict[str, Any], units: System) -> Verdict:
    peaks = figures["peak_oil_temperature"]
    node = max(peaks, key=lambda name: peaks[name])
    light = _light(peaks[node] >= WORRYING_OIL, peaks[node] >= STOPPING_OIL)
    when = _lap_or_time(figures, figures["peak_oil_lap"], figures["peak_oil_time"])
    shown, limit = shown_text(peaks[node], "K", units), STOPPING_OIL if light == AMBER else WORRYING_OIL
    under = "just under " if peaks[node] < limit and shown == shown_text(limit, "K", units) else ""
    found = f"{under}{shown} in the {node.replace('_', ' ')}, {when}"
    limits = f"amber from {shown_text(WORRYING_OIL, 'K', units)}, red from {shown_text(STOPPING_OIL, 'K', units)}"
    return Verdict(light, "hottest oil", found, limits)


def _feed(figures: dict[str, Any], units: System) -> Verdict:
    worrying = -COLD_SUCTION * factor("inHg", "Pa")
    limit = f"amber from {gauge_text(worrying, units)}, red near full vacuum or boiling, or starving"
    when = _lap_or_time(figures, figures["lowest_feed_lap"], figures["lowest_feed_time"])
    if figures["time_starved"] > 0.0:
        return Verdict(RED, "lowest feed", f"the line starves, {when}", limit)
    lowest = figures["lowest_feed_gauge_pressure"]
    left = figures["lowest_vapour_margin"]
    light = _light(lowest < worrying, left < NEAR_VACUUM)
    end = "boiling" if figures["highest_vapour_pressure"] > WORTH_VAPOUR else "full vacuum"
    near = f"; {shown_text(left, 'Pa', units)} from {end}" if light == RED else ""
    return Verdict(light, "lowest feed", f"{gauge_text(lowest, units)}, {when}{near}", limit)


def _need(figures: dict[str, Any], units: System) -> Verdict:
    margin, below, turning = figures["lowest_rating_margin"], figures["time_below_rating"], figures["time_turning"]
    light = _light(below > 0.0, below > SHORT_SHARE * turning)
    limit = f"amber from the first second, red from {100.0 * SHORT_SHARE:.0f} % of the time"
    if below == 0.0:
        found = f"{shown_text(margin, 'Pa', units)} left at {clock(figures['lowest_rating_time'])}"
    else:
        short, when = shown_text(-margin, "Pa", units), clock(figures["lowest_rating_time"])
        found = f"short for {duration_text(below)} of {duration_text(turning)}, by {short} at {when}"
    return Verdict(light, "what the pump needs", found, limit)


def moment(figures: dict[str, Any], time: float, lap: int) -> str:
    """Write when something was: the race time, and the lap where there are several."""
    return f"at {clock(time)} (lap {lap})" if figures["laps"] > 1 else f"at {clock(time)}"


def _lap_or_time(figures: dict[str, Any], lap: int, time: float) -> str:
    return f"lap {lap}" if figures["laps"] > 1 else f"at {clock(time)}"


def _gas(figures: dict[str, Any]) -> Verdict:
    exposure, turning = figures["cavitation_exposure"], figures["time_turning"]
    starved = figures["time_starved"] + figures["time_chambers_unfilled"]
    glass = glass_word(figures["lowest_sight_glass_transmittance"])
    most = figures["highest_pump_void_fraction"]
    amber = exposure > GAS_SHARE * turning or most >= FULL_EXPOSURE or glass == MILKY
    light = _light(amber, exposure > MUCH_GAS_SHARE * turning or most >= MUCH_GAS or starved > 0.0)
    when = _lap_or_time(figures, figures["highest_pump_void_lap"], figures["highest_pump_void_time"]) if most else ""
    worst = f"most {100.0 * most:.0f} % {when}, " if most >= LEAST_SAID else ""
    found = f"{duration_text(exposure)} of {duration_text(turning)}, {worst}glass {glass}"
    amber_from = f"{100.0 * GAS_SHARE:.0f} % of the time, {100.0 * FULL_EXPOSURE:.0f} % gas or milky"
    limit = f"amber: {amber_from}, red: {100.0 * MUCH_GAS_SHARE:.0f} %, {100.0 * MUCH_GAS:.0f} % or starving"
    return Verdict(light, GAS, found, limit)


def glass_word(transmittance: float) -> str:
    """Return what oil in a sight glass is called: clear, hazy or milky."""
    if transmittance >= CLEAR_GLASS:
        return "clear"
    return "hazy" if transmittance >= MILKY_GLASS else MILKY


def _tank(figures: dict[str, Any], units: System) -> Verdict:
    low, high, lost = figures["lowest_oil_level"], figures["highest_oil_level"], figures["oil_lost"]
    drawn = figures["oil_drawn_off"]
    fullest = "over 99" if 0.995 <= high < NO_ROOM else f"{100.0 * high:.0f}"
    found = f"{100.0 * low:.0f} to {fullest} % full, {mass_text(lost, units)} of oil lost"
    if drawn > SPILT_OIL:
        found += f", {mass_text(drawn, units)} drawn off"
    limit = f"amber from {100.0 * FULL_TANK:.0f} % or outlet uncovered, red if oil is lost or no air left"
    amber = high >= FULL_TANK or figures["time_outlet_uncovered"] > 0.0
    return Verdict(_light(amber, lost > SPILT_OIL or liquid_full(figures)), "oil in the tank", found, limit)


def liquid_full(figures: dict[str, Any]) -> bool:
    """Return whether oil filled the tank to the last drop."""
    return bool(figures["highest_oil_level"] >= NO_ROOM)


def over_rating(figures: dict[str, Any]) -> bool:
    """Return whether tank or shaft seal saw more than their ratings; figures after that mean nothing."""
    return bool(min(figures["lowest_tank_margin"], figures["lowest_seal_margin"]) < 0.0)


def leaks(data: xr.Dataset, figures: dict[str, Any]) -> bool:
    """Return whether air could pass a cap that was on and shut: a fault, or air gone without lift or opening."""
    if any(fault["name"] in LEAKY for fault in figures["faults"]):
        return True
    opened = figures["relief_openings"] > 0 or len(figures["cap_openings"]) > 0
    return "cap_relief_pressure" in data.attrs and not opened and figures["air_vented"] > LEAKED_AIR


def _pressure(data: xr.Dataset, figures: dict[str, Any], units: System) -> Verdict:
    highest = figures["highest_headspace_gauge_pressure"]
    over = over_rating(figures)
    setting = data.attrs.get("cap_relief_pressure")
    found = f"{gauge_text(highest, units)} at most"
    if setting is None:
        return Verdict(_light(False, over), "air space", found, "vented cap")
    close, leaking = highest >= CLOSE_TO_CAP * setting, leaks(data, figures)
    if leaking:
        found += ", does not hold"
    limit = f"amber from {100.0 * CLOSE_TO_CAP:.0f} % of the {shown_text(setting, 'Pa', units)} cap, red over a rating"
    return Verdict(_light(close or leaking, over), "air space", found, limit)


def _lifts(figures: dict[str, Any], units: System) -> Verdict:
    lifts, opened = figures["relief_openings"], len(figures["cap_openings"])
    hot = any(opening["hottest_oil"] > HOT_TO_OPEN for opening in figures["cap_openings"])
    faulty = [fault["name"] for fault in figures["faults"] if fault["name"] in CAP_FAULTS]
    light = _light(lifts > 0 or opened > 0 or len(faulty) > 0, lifts > MANY_LIFTS or hot)
    counted = f"over {MOST_COUNTED}" if lifts > MOST_COUNTED else f"{lifts}"
    hot_text = shown_text(HOT_TO_OPEN, "K", units)
    limit = f"amber from the first, red over {MANY_LIFTS} lifts or off with oil over {hot_text}"
    return Verdict(light, "cap", ", ".join([f"lifts {counted}", f"taken off {opened}", *dict.fromkeys(faulty)]), limit)


def mass_text(kilograms: float, units: System) -> str:
    """Write a mass of oil."""
    if units == "us":
        return f"{digits(kilograms / factor('lb', 'kg'), 2)} lb"
    return f"{digits(1000.0 * kilograms, 2)} g" if kilograms < 1.0 else f"{digits(kilograms, 3)} kg"


def duration_text(seconds: float) -> str:
    """Write how long something lasted, in the unit that suits it; less than half a second is none."""
    if seconds < 0.5:
        return "0 s"
    if seconds < 120.0:
        return f"{digits(seconds, 3)} s"
    return f"{digits(seconds / 60.0, 3)} min" if seconds < 7200.0 else f"{digits(seconds / 3600.0, 3)} h"
