"""What each choice at a stop costs, in a crew's words: one screen, numbers first, never a permission."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator

import numpy as np
import xarray as xr

from ullage.results.display import System, gauge_text, shown_text
from ullage.results.gauge_words import gauge_lines, symptom_lines, symptom_sentences
from ullage.results.pit_cold import NO_PRESSURE, cooling_sentences, overnight_sentences
from ullage.results.pit_gas import gas_sentences
from ullage.results.pit_json import PitStudy
from ullage.results.pit_table import choice_name, finished_choice, pit_table
from ullage.results.screen import wrapped
from ullage.results.verdict import FULL_TANK, HOT_TO_OPEN, MUCH_GAS_SHARE, duration_text, mass_text
from ullage.units import clock

SAME_PRESSURE = 3.5e3  # mean pressures this close are the same, half a psi [Pa]; own choice
WORTH_SAYING = 700.0  # part of a pressure, a tenth of a psi [Pa]
SPILT_OIL = 0.001  # [kg]
_OTHERWISE = ["top_up", "cool_then_open", "cool_then_open_engine_off", "left_off"]
_MOST_PARTS = 3.0  # parts this much larger than the whole explain nothing

_HARMLESS = "That is no permission: hot oil burns and injects, and dirt gets in."


def pit_text(study: PitStudy, units: System) -> str:
    """Write what the choices at a stop cost, and what gauges read there.

    Parameters
    ----------
    study : PitStudy
        The study of a stop.
    units : str
        "metric" or "us".

    Returns
    -------
    str
        Lines of at most 66 characters: the stop, a table of the choices, what they cost in sentences, the gauge table
        and the symptom table.
    """
    data = study.choices
    lines = [str(data.attrs["title"] or "untitled scenario"), *wrapped(_stop(data, units)), *pit_table(data, units)]
    for sentence in pit_sentences(data, units):
        lines += wrapped(sentence)
    lines += ["", *gauge_lines(study.gauges, units), "", *symptom_lines(study.symptoms, units)]
    for sentence in symptom_sentences(study.symptoms):
        lines += wrapped(sentence)
    return "\n".join(lines)


def _stop(data: xr.Dataset, units: System) -> str:
    tank = shown_text(float(data.oil_temperature_at_stop.sel(node="reservoir")), "K", units)
    level = 100.0 * float(data.oil_level_at_stop)
    gauge = gauge_text(float(data.gauge_pressure_at_stop), units)
    at, planned = clock(data.attrs["stop_time"]), duration_text(data.attrs["stop_planned"])
    return f"Stop '{data.attrs['stop']}' at {at}, {planned}: tank at {tank}, air space {gauge}, {level:.0f} % full."


def pit_sentences(data: xr.Dataset, units: System) -> Iterator[str]:
    """Go through the sentences on what the choices at a stop cost.

    Parameters
    ----------
    data : xarray.Dataset
        Result of `compare_cap_opening`.
    units : str
        "metric" or "us".
    """
    yield from _price(data, units)
    yield from _already(data)
    yield from _refit(data, units)
    yield from _top_up(data, units)
    yield from _recharge(data, units)
    yield from cooling_sentences(data, units)
    yield from _left_off(data, units)
    yield from gas_sentences(data)
    yield from _spills(data, units)
    yield from _failures(data)
    yield from overnight_sentences(data, units)
    for label, reason in json.loads(data.attrs["left_out"]).items():
        yield f"Not shown: {choice_name(label)}: {reason}."


def card_sentences(data: xr.Dataset, units: System) -> Iterator[str]:
    """Go through the sentences for a card, short ones: what comes back after a refit, or that nothing is spent.

    Parameters
    ----------
    data : xarray.Dataset
        Result of `compare_cap_opening`.
    units : str
        "metric" or "us".
    """
    one, shut = finished_choice(data, "refit"), finished_choice(data, "shut")
    if told := _no_stint(data):
        yield told
    elif not opening_matters(data):
        yield f"{_why_harmless(data, units)} {_HARMLESS}"
    elif one is not None and shut is not None:
        mean, most = (gauge_text(float(one[f"{name}_gauge_pressure"]), units) for name in ("stint", "regained"))
        kept = gauge_text(float(shut.stint_gauge_pressure), units)
        yield f"Refit: {mean} on average in the stint, {most} at most; shut {kept}."
        gas = (one.cavitation_exposure_by_air_model - shut.cavitation_exposure_by_air_model).values / 60.0
        if np.isfinite(gas).all():
            more = " / ".join(f"{minutes:+.0f}" for minutes in gas)
            yield f"Gas, refit against shut, if air never / in its time / at once goes in and out of oil: {more} min."


def opening_matters(data: xr.Dataset) -> bool:
    """Return whether a cap that is opened and fitted again leaves the pump another feed pressure than one left shut.

    Choices that pour oil in, wait for cool oil or stay open do not count; one that nothing is known of does.
    """
    counts = np.isfinite(data.refitted) & ~data.choice.isin(_OTHERWISE)
    unknown = data.stint_feed_gauge_pressure_by_air_model.isnull()
    return bool(((_differs(data) | unknown) & counts).any())


def _differs(data: xr.Dataset) -> xr.DataArray:
    """Return which choices leave the pump another feed pressure in the stint than the cap left shut."""
    feed = data.stint_feed_gauge_pressure_by_air_model
    different: xr.DataArray = abs(feed - feed.sel(choice="shut")) > SAME_PRESSURE
    return different


def _no_stint(data: xr.Dataset) -> str:
    """Say why nothing can be told of a stint after the stop; nothing if it can."""
    shut = data.sel(choice="shut")
    if str(shut.status.item()) != "done":
        return "The race cannot be finished with the cap left shut: nothing can be told of the choices."
    if math.isnan(float(shut.stint_gauge_pressure)):
        return "No drive follows this stop: nothing can be told of the pressure in a stint."
    if math.isnan(float(shut.stint_feed_gauge_pressure)):
        return "The pump does not turn after this stop: nothing can be told of its feed."
    return ""


def _price(data: xr.Dataset, units: System) -> Iterator[str]:
    gauge, tank = float(data.gauge_pressure_at_stop), float(data.oil_temperature_at_stop.sel(node="reservoir"))
    oil = shown_text(tank, "K", units)
    if gauge > NO_PRESSURE:
        spent = shown_text(gauge, "Pa", units)
        yield f"Opening as the stop begins spends {spent} at once, with the tank's oil at {oil}."
    elif tank > HOT_TO_OPEN:
        yield f"The tank shows {gauge_text(gauge, units)} with oil at {oil}: a gauge at zero does not mean cold oil."
    if told := _no_stint(data):
        yield told
    elif not opening_matters(data):
        yield f"{_why_harmless(data, units)} {_HARMLESS}"


def _why_harmless(data: xr.Dataset, units: System) -> str:
    if "cap_relief_pressure" not in data.attrs:
        return "The tank breathes: no choice changes the feed pressure, there is none to spend."
    little = shown_text(SAME_PRESSURE, "Pa", units)
    fitted = f"Opened and fitted again, the cap changes the feed pressure of the stint by less than {little}"
    if float(data.gauge_pressure_at_stop) <= NO_PRESSURE:
        return f"{fitted}: the tank has no pressure to spend as the stop begins."
    return f"{fitted}: what is spent was little, or comes back."


def _already(data: xr.Dataset) -> Iterator[str]:
    """Say that a pump is in trouble with the cap left shut."""
    shut = data.sel(choice="shut")
    gas, turning = float(shut.cavitation_exposure), float(shut.time_turning)
    starved = float(shut.time_starved + shut.time_chambers_unfilled)
    if starved > 0.0 or gas > MUCH_GAS_SHARE * turning > 0.0:
        yield (
            f"With the cap left shut the pump already has gas for {duration_text(gas)} of {duration_text(turning)} and "
            f"starves for {duration_text(starved)}: mend that first."
        )


def _refit(data: xr.Dataset, units: System) -> Iterator[str]:
    one, shut = finished_choice(data, "refit"), finished_choice(data, "shut")
    if one is None or shut is None or not opening_matters(data) or math.isnan(float(one.stint_gauge_pressure)):
        return
    mean, most = (gauge_text(float(one[f"{name}_gauge_pressure"]), units) for name in ("stint", "regained"))
    kept = shown_text(float(shut.stint_gauge_pressure), "Pa", units)
    after = duration_text(float(one.refitted - one.opened))
    yield (
        f"Refitted after {after} the tank has {mean} on average in the stint, {most} at most, "
        f"{duration_text(float(one.regained_time))} after the stop began; left shut {kept} on average."
    )
    yield from _why(one, units)
    shares = [float(value) for value in one.returned_share_by_air_model]
    if all(math.isfinite(share) for share in shares):
        never, in_time, at_once = (f"{100.0 * max(share, 0.0):.0f} %" for share in shares)
        yield (
            f"Of what a shut tank has, {never} returns if air never goes in or out of the oil, {in_time} in its time, "
            f"{at_once} at once."
        )


def _why(one: xr.Dataset, units: System) -> Iterator[str]:
    """Say where the pressure after a refit comes from."""
    heat, oil, cap = (float(one[f"returned_{name}"]) for name in ("by_heat", "from_oil", "through_cap"))
    if max(abs(heat), abs(oil), abs(cap)) > _MOST_PARTS * abs(float(one.regained_gauge_pressure)):
        return
    parts = [f"heat after the refit is worth {shown_text(heat, 'Pa', units)} (the growth before it is spent)"]
    if oil > WORTH_SAYING:
        parts.append(f"air that the oil gives back {shown_text(oil, 'Pa', units)}")
    elif oil < -WORTH_SAYING:
        parts.append(f"air that the oil drinks takes {shown_text(-oil, 'Pa', units)}")
    if cap > WORTH_SAYING:
        parts.append(f"air that came in through the cap {shown_text(cap, 'Pa', units)}")
    elif cap < -WORTH_SAYING:
        parts.append(f"air that the cap let out takes {shown_text(-cap, 'Pa', units)}")
    yield f"Of that highest pressure {', '.join(parts)}."


def _top_up(data: xr.Dataset, units: System) -> Iterator[str]:
    one, refit = finished_choice(data, "top_up"), finished_choice(data, "refit")
    if one is None or refit is None or not _differs(data).sel(choice="top_up").any():
        return
    volume = shown_text(data.attrs["top_up_volume"], "m3", units)
    mean, most = gauge_text(float(one.stint_gauge_pressure), units), float(one.highest_oil_level)
    full = "; overfull: hot it can go solid and spill" if most >= FULL_TANK else ""
    yield (
        f"Topped up with {volume} the tank has {mean} on average, since its air has less room; "
        f"{100.0 * most:.0f} % full at most{full}."
    )


def _recharge(data: xr.Dataset, units: System) -> Iterator[str]:
    one = finished_choice(data, "recharge")
    if one is None or not opening_matters(data):
        return
    limits = ("cap_relief_pressure", "tank_rating", "seal_rating")
    charge, limit = (
        shown_text(value, "Pa", units)
        for value in (data.attrs["recharge_pressure"], min(data.attrs[name] for name in limits))
    )
    mean = gauge_text(float(one.stint_gauge_pressure), units)
    yield (
        f"Recharged to {charge} the tank has {mean} on average: only through a regulator, never over {limit} (the "
        "least of cap, tank and shaft seal), never raw shop air."
    )


def _left_off(data: xr.Dataset, units: System) -> Iterator[str]:
    one = finished_choice(data, "left_off")
    if one is not None and _differs(data).sel(choice="left_off").any():
        lowest = gauge_text(float(one.stint_feed_gauge_pressure), units)
        yield f"Left off, the pump has only the height of the tank: {lowest} at its inlet on average."


def _spills(data: xr.Dataset, units: System) -> Iterator[str]:
    shut = float(data.oil_lost.sel(choice="shut"))
    if shut > SPILT_OIL:
        yield f"With the cap left shut {mass_text(shut, units)} of oil is lost all the same."
    for label in data.choice.values:
        more = float(data.oil_lost.sel(choice=label)) - shut
        if more > SPILT_OIL:
            yield f"{choice_name(label).capitalize()}: {mass_text(more, units)} more oil goes over the side."


def _failures(data: xr.Dataset) -> Iterator[str]:
    for label in data.choice.values:
        status = str(data.status.sel(choice=label).item())
        if status != "done":
            yield f"{choice_name(label).capitalize()}: the race cannot be finished: {status}."
