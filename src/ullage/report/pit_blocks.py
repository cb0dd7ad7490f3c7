"""The parts of a pit card, in a mechanic's words."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import xarray as xr

from ullage.report.choice_styles import SHUT, figure_of, labels_of, short_name, status_of
from ullage.report.labels import clipped, drawable, short_duration, signed, unit_sign
from ullage.report.typeset import Block, Text, beside, boxed, moved, paragraph, stacked, table, width_of
from ullage.results.display import System, shown_value
from ullage.units import clock, digits, factor

MISSING = "\N{EN DASH}"

# a typical compressor, common practice
_SHOP_AIR = 120.0 * factor("psi", "Pa")
_WAYS = {"idling": "idling with the fan on"}
_CONDITIONS = {"after_stop": "after the stop"}
_SIGN_LENGTH = 150
_RULES = ("Use gauge AND thermometer, not the clock.", "A zero gauge does not mean cold oil.")
_MARKS, _SPEEDS = 4, 5
_HEAD, _BIG = 1.12, 1.6  # letters of a heading and of a big number, in sizes of the text
_STRIP = 0.24


def pressure(value: float, units: System) -> str:
    """Write a pressure as a crew reads its gauge: tenths of psi, or whole kPa; without its unit."""
    if not math.isfinite(value):
        return MISSING
    shown = shown_value(value, "Pa", units)[0]
    return signed(f"{round(shown, 1) + 0.0:.1f}" if units == "us" else f"{round(shown) + 0:d}")


def setting(value: float, units: System) -> str:
    """Write a rating or a setting with its unit."""
    number, unit = shown_value(value, "Pa", units)
    return f"{digits(number, 3)}\N{NO-BREAK SPACE}{unit}"


def temperature(value: float, units: System) -> str:
    """Write a temperature in whole degrees."""
    if not math.isfinite(value):
        return MISSING
    number, unit = shown_value(value, "K", units)
    return f"{signed(str(round(number)))}\N{NO-BREAK SPACE}{unit_sign(unit)}"


def _unit(units: System) -> str:
    return shown_value(0.0, "Pa", units)[1]


def heading(text: str, width: float, size: float) -> Block:
    """Set the heading of a part: a rule across, and bold letters below."""
    rule = Block((), (), 0.0)._replace(height=1.4)
    words = paragraph(Text(text), width, _HEAD * size)
    return stacked([boxed(rule, width, 0.0, "black"), words], 0.1 * size)


def title_block(choices: xr.Dataset, width: float, size: float) -> Block:
    """Set what the card is for, and the lines that are filled by hand."""
    title = drawable(str(choices.attrs.get("title") or "race"))
    stop = drawable(str(choices.attrs.get("stop") or "stop"))
    where = f"for {stop}, {clock(float(choices.attrs.get('stop_time', 0.0)))} into the race"
    by_hand = f"date {'_' * 11} day temp. {'_' * 5}"
    side = width_of(by_hand, False, size) + 2.0
    place = paragraph(Text("Pit card", where), width - side - size, size)
    lines = beside([(0.0, place), (width - side, paragraph(by_hand, side, size))])
    return stacked([paragraph(Text(title), width, 1.35 * size), lines], 0.15 * size)


def warning_block(width: float) -> Block:
    """Set what stands above everything else, white on black, as large as the page is wide."""
    pad, inner = 5.0, width - 10.0
    shout, rules = "NEVER CRACK IT HOT", _RULES
    big = 0.42 * inner / width_of(shout, True, 1.0)
    size = 0.53 * inner / max(width_of(rule, True, 1.0) for rule in rules)
    told = stacked([paragraph(Text(rule), inner, size, color="white") for rule in rules], 0.1 * size)
    loud = paragraph(Text(shout), inner, big, color="white")
    loud = moved(loud, 0.0, 0.5 * (told.height - loud.height))
    return boxed(beside([(0.0, loud), (0.47 * inner, told)]), width, pad, "black")


def cost_block(
    choices: xr.Dataset, sentences: Sequence[str], units: System, width: float, size: float, most: int
) -> Block:
    """Set what opening costs here: the sentences, and one row a choice, at most so many."""
    oil = float(np.nanmax(choices.oil_temperature_at_stop.values)) if "oil_temperature_at_stop" in choices else math.nan
    spent = float(choices.gauge_pressure_at_stop) if "gauge_pressure_at_stop" in choices else math.nan
    held = f"{pressure(spent, units)} {_unit(units)}" if math.isfinite(spent) else "an unknown pressure"
    spends = "Opening spends it." if spent > 0.0 else ""
    lead = f"Holds {held}, oil {temperature(oil, units)}. {spends}"
    lines = [paragraph(Text(lead), width, size)]
    lines += [paragraph(drawable(sentence), width, size) for sentence in sentences]
    labels = labels_of(choices)
    rows = [_cost_row(choices, label, units) for label in labels[:most]]
    unit = _unit(units)
    head = ["", f"back, {unit}", f"feed, {unit}", "gas, min", "finish"]
    note = "Back: most in the air space later. Feed: at the pump, first 10 min. Gas: at the pump, against shut."
    more = f" {len(labels) - most} more choices are in the picture of the stop." if len(labels) > most else ""
    return stacked(
        [
            heading("WHAT OPENING COSTS HERE", width, size),
            *lines,
            table(head, rows, width, size),
            paragraph(note + more, width, size),
        ],
        _STRIP * size,
    )


def _cost_row(choices: xr.Dataset, label: str, units: System) -> list[Text | str]:
    back = figure_of(choices, "regained_gauge_pressure", label) if label != SHUT else math.nan
    feed = figure_of(choices, "feed_gauge_pressure_after_stop", label)
    gas, shut = (figure_of(choices, "cavitation_exposure", name) / 60.0 for name in (label, SHUT))
    delay = figure_of(choices, "finish_delay", label)
    later = f"+{short_duration(delay)}" if delay >= 0.5 else "on time" if math.isfinite(delay) else MISSING
    minutes = MISSING if not math.isfinite(gas - shut) else f"{gas:.0f}" if label == SHUT else f"{gas - shut:+.0f}"
    minutes = {"+0": "0", "-0": "0"}.get(minutes, minutes)
    name = Text(short_name(label)) if label == SHUT else short_name(label)
    failed = status_of(choices, label) != "done"
    return [name, pressure(back, units), pressure(feed, units), signed(minutes), "fails" if failed else later]


def cooling_block(choices: xr.Dataset, units: System, width: float, size: float) -> Block:
    """Set how long the oil takes to cool, both ways."""
    below = float(choices.attrs.get("open_below", math.nan))
    times = choices.cooling_time if "cooling_time" in choices else xr.DataArray([], {"way": []}, "way")
    ways = {str(way): float(time) for way, time in zip(times.way.values, times.values, strict=True)}
    coolest = dict(zip(times.way.values, choices.coolest_oil.values, strict=True)) if "coolest_oil" in choices else {}
    longest = choices.attrs.get("longest_wait")
    never = f"not in {short_duration(float(longest))}" if longest else "too long"
    numbers = [short_duration(time) if math.isfinite(time) else never for time in ways.values()]
    side = max((width_of(number, True, _BIG * size) for number in numbers), default=0.0) + 0.6 * size
    rows = []
    for (way, time), number in zip(ways.items(), numbers, strict=True):
        short = way in coolest and not math.isfinite(time)
        words = _WAYS.get(way, way) + (f": still {temperature(float(coolest[way]), units)}" if short else "")
        told = paragraph(words, width - side, size)
        loud = paragraph(Text(number), side, _BIG * size)
        down = max(0.0, 0.5 * (loud.height - told.height))
        rows.append(beside([(0.0, loud), (side, moved(told, 0.0, down)._replace(height=told.height + down))]))
    unknown = paragraph("Not known: wait for the thermometer.", width, size)
    return stacked([heading(f"COOLING TO {temperature(below, units)}", width, size), *(rows or [unknown])], 0.0)


def mark_block(choices: xr.Dataset, units: System, width: float, size: float) -> Block:
    """Set the cold mark for a few temperatures of the day."""
    rule = paragraph(
        Text(
            "After any opening top up to the COLD mark",
            "of the day. Hot oil stands higher: check the level cold next morning.",
        ),
        width,
        size,
    )
    parts = [heading("COLD MARK, SHARE OF THE TANK", width, size)]
    if "mark_by_temperature" in choices:
        marks = choices.mark_by_temperature
        chosen = np.unique(np.linspace(0, marks.sizes["day_temperature"] - 1, _MARKS).round().astype(int))
        head = ["day", *(temperature(float(marks.day_temperature[place]), units) for place in chosen)]
        shares = [f"{100.0 * float(marks[place]):.0f} %" for place in chosen]
        parts.append(table(head, [["fill", *shares]], width, size))
    elif "cold_mark" in choices.attrs:
        parts.append(paragraph(f"{100.0 * choices.attrs['cold_mark']:.0f} % of the tank", width, size))
    return stacked([*parts, rule], _STRIP * size)


def opening_block(choices: xr.Dataset, units: System, width: float, size: float) -> Block:
    """Set what to do if the cap must come off, step by step."""
    below = temperature(float(choices.attrs.get("open_below", math.nan)), units)
    steps = [
        Text(f"Thermometer in the oil below {below}, and gauge at zero.", "Both, or it stays shut."),
        Text("Fire bottle manned.", "Catch rag away from the exhaust."),
        Text("Gloves, glasses, rag over the cap.", "Face aside: it can still spit."),
        Text("First notch. Wait.", "Nothing hisses? Then the rest, slowly."),
        *_recharging(choices, units),
    ]
    indent = 1.3 * size
    rows = [
        beside([(0.0, paragraph(Text(str(place)), indent, size)), (indent, paragraph(step, width - indent, size))])
        for place, step in enumerate(steps, start=1)
    ]
    return stacked([heading("IF THE CAP MUST COME OFF", width, size), *rows], _STRIP * size)


def _recharging(choices: xr.Dataset, units: System) -> list[Text]:
    cap, tank, seal = (
        float(choices.attrs.get(name, math.inf)) for name in ("cap_relief_pressure", "tank_rating", "seal_rating")
    )
    rated = f"a tank rated {setting(tank, units)}" if math.isfinite(tank) else "this tank"
    shop = Text("Never raw shop air.", f"A typical {setting(_SHOP_AIR, units)} in {rated} is a bomb.")
    if not math.isfinite(cap):
        return [Text("No recharge:", "a vented cap holds no pressure."), shop]
    least = min(cap, tank, seal)
    weakest = {cap: "the cap", tank: "the tank's rating", seal: "the shaft seal's rating"} | {cap: "the cap"}
    return [Text("Recharge only through a regulator", f"set below {setting(least, units)} ({weakest[least]})."), shop]


def cap_block(choices: xr.Dataset, units: System, width: float, size: float) -> Block:
    """Set what to look for at the cap itself."""
    cap = choices.attrs.get("cap_relief_pressure", math.inf)
    stamp = f"Read the stamp: {setting(cap, units)} here." if math.isfinite(cap) else "This truck has a vented cap."
    test = Text("Lift-test the cap:", "does its relief work?") if math.isfinite(cap) else Text("Is its vent open?")
    lines = [Text("Radiator caps of other ratings look alike.", stamp), test]
    return stacked([heading("THE CAP", width, size), *(paragraph(line, width, size) for line in lines)], _STRIP * size)


def gauge_block(gauges: xr.Dataset, units: System, width: float, size: float) -> Block:
    """Set what the gauges of a healthy truck read."""
    speeds = gauges.engine_speed.values
    chosen = np.unique(np.linspace(0, len(speeds) - 1, _SPEEDS).round().astype(int))
    head = ["", "oil", "air", *(_turns(speeds[place], units) for place in chosen)]
    oil, air, feed = (
        gauges[name].transpose("condition", ...).values
        for name in ("oil_temperature", "headspace_gauge_pressure", "feed_gauge_pressure")
    )
    rows = [
        [
            _CONDITIONS.get(str(name), drawable(str(name))),
            temperature(float(oil[row]), units),
            pressure(float(air[row]), units),
            *(pressure(float(feed[row, place]), units) for place in chosen),
        ]
        for row, name in enumerate(gauges.condition.values)
    ]
    over = paragraph("air space, and feed at the pump at engine rpm", width - 0.45 * size, size, align="right")
    title = heading(f"A HEALTHY TRUCK READS, {_unit(units)} gauge", width, size)
    return stacked([title, stacked([over, table(head, rows, width, size)], 0.0)], 0.1 * size)


def _feed_at(speed: float | str, units: System) -> str:
    """Return the head of a column of feed pressures: engine speed [rad/s] in rpm, or the name that stands for one."""
    return f"feed\N{NO-BREAK SPACE}at {speed if isinstance(speed, str) else _turns(speed, units)}"


def _turns(speed: float, units: System) -> str:
    return f"{shown_value(float(speed), 'rad s-1', units)[0]:.0f}"


def _fault(fault: str, sign: str) -> Text:
    return Text(f"{drawable(fault)}{':' if sign else ''}", clipped(drawable(sign), _SIGN_LENGTH, 0))


def symptom_block(symptoms: xr.Dataset, units: System, width: float, size: float, most: int) -> Block:
    """Set what it means if the gauges read otherwise, at most so many faults after the healthy truck."""
    faults = [str(fault) for fault in symptoms.fault.values]
    if len(faults) < 2:
        return Block()
    head = [
        "oil",
        "air space",
        *(_feed_at(speed, units) for speed in symptoms.engine_speed.values),
        "then it may be",
    ]
    air, signs = symptoms.headspace_gauge_pressure.values, symptoms["look" if "look" in symptoms else "sign"].values
    oil = symptoms.oil_temperature.values
    feed = symptoms.feed_gauge_pressure.transpose("fault", "engine_speed").values
    rows: list[list[Text | str]] = [
        [
            temperature(float(oil[row]), units),
            pressure(float(air[row]), units),
            *(pressure(float(value), units) for value in feed[row]),
            _fault(fault, str(signs[row])),
        ]
        for row, fault in enumerate(faults[: most + 1])
    ]
    title = heading(f"IF THE GAUGES READ, HOT: {_unit(units)}, feed at engine rpm (below 0: vacuum)", width, size)
    left = len(faults) - len(rows)
    more = paragraph(f"{left} more faults are in the results.", width, size) if left else Block()
    return stacked([title, table(head, rows, width, size, sentences=len(head) - 1), more], 0.1 * size)
