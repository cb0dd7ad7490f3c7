"""The parts of a pit card, in a mechanic's words."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import xarray as xr

from ullage.report.choice_styles import SHUT, figure_of, gas_minutes, labels_of, short_name, status_of
from ullage.report.labels import drawable, short_duration, signed, unit_sign
from ullage.report.typeset import Block, Text, beside, boxed, moved, paragraph, stacked, table, width_of
from ullage.results.display import System, shown_value
from ullage.results.pit_cold import WAYS, way_name
from ullage.results.verdict import HOT_TO_OPEN
from ullage.units import clock, digits, factor

MISSING = "\N{EN DASH}"

# a typical compressor, common practice
_SHOP_AIR = 120.0 * factor("psi", "Pa")
_RULES = ("Use gauge AND thermometer, not the clock.", "A zero gauge does not mean cold oil.")
_MARKS = 4
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


def pressure_unit(units: System) -> str:
    """Return the unit of a pressure."""
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
    known = "oil_temperature_at_stop" in choices
    oil = float(choices.oil_temperature_at_stop.sel(node="reservoir")) if known else math.nan
    spent = float(choices.gauge_pressure_at_stop) if "gauge_pressure_at_stop" in choices else math.nan
    held = f"{pressure(spent, units)} {pressure_unit(units)}" if math.isfinite(spent) else "an unknown pressure"
    spends = "Opening spends it." if spent > 0.0 else ""
    lead = f"Holds {held}, tank's oil {temperature(oil, units)}. {spends}"
    lines = [paragraph(Text(lead), width, size)]
    lines += [paragraph(drawable(sentence), width, size) for sentence in sentences]
    labels = labels_of(choices)
    rows = [_cost_row(choices, label, units) for label in labels[:most]]
    unit = pressure_unit(units)
    head = ["", f"tank, {unit}", f"feed, {unit}", "gas, min", "finish"]
    note = "Tank, feed: means of the stint. Gas: at the pump, more than shut, over three assumptions (?: no telling)."
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
    tank, feed = (figure_of(choices, f"stint_{name}", label) for name in ("gauge_pressure", "feed_gauge_pressure"))
    delay = figure_of(choices, "finish_delay", label)
    later = f"+{short_duration(delay)}" if delay >= 0.5 else "on time" if math.isfinite(delay) else MISSING
    name = Text(short_name(label)) if label == SHUT else short_name(label)
    failed = status_of(choices, label) != "done"
    return [
        name,
        pressure(tank, units),
        pressure(feed, units),
        gas_minutes(choices, label) or MISSING,
        "fails" if failed else later,
    ]


def cooling_block(choices: xr.Dataset, units: System, width: float, size: float) -> Block:
    """Set how long the oil takes to cool, both ways, all the way and half of it."""
    below = float(choices.attrs.get("open_below", math.nan))
    never = f"not in {short_duration(float(choices.attrs.get('longest_wait', math.nan)))}"
    head = heading(f"COOLING TO {temperature(below, units)}", width, size)
    if "cooling_time" not in choices:
        return stacked([head, paragraph("Not known: wait for the thermometer.", width, size)], 0.0)
    ways = {way_name(choices, way): choices.sel(way=way) for way in WAYS}
    numbers = [_time(float(one.cooling_time), never) for one in ways.values()]
    side = max(width_of(number, True, _BIG * size) for number in numbers) + 0.6 * size
    rows = []
    for (way, one), number in zip(ways.items(), numbers, strict=True):
        short = "" if math.isfinite(one.cooling_time) else f": still {temperature(float(one.coolest_oil), units)}"
        told = paragraph(f"{way}{short}", width - side, size)
        loud = paragraph(Text(number), side, _BIG * size)
        down = max(0.0, 0.5 * (loud.height - told.height))
        rows.append(beside([(0.0, loud), (side, moved(told, 0.0, down)._replace(height=told.height + down))]))
    half = [f"{_time(float(one.half_cooled_time), never)} {way}" for way, one in ways.items()]
    left = figure_of(choices, "gauge_pressure_opened", "cool_then_open")
    shows = f" Cooled, the gauge still shows {pressure(left, units)} {pressure_unit(units)}." if left > 0.0 else ""
    return stacked([head, *rows, paragraph(Text("Half-way:", f"{', '.join(half)}.{shows}"), width, size)], 0.0)


def _time(seconds: float, never: str) -> str:
    return "below now" if seconds == 0.0 else short_duration(seconds) if math.isfinite(seconds) else never


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
    parts = [heading("COLD: FILL, AND FROM THE MARK", width, size)]
    if "mark_by_temperature" in choices:
        marks = choices.mark_by_temperature
        chosen = np.unique(np.linspace(0, marks.sizes["day_temperature"] - 1, _MARKS).round().astype(int))
        head = ["day", *(temperature(float(marks.day_temperature[place]), units) for place in chosen)]
        rows = [["fill", *(f"{100.0 * float(marks[place]):.0f} %" for place in chosen)]]
        if "mark_height_by_temperature" in choices:
            unit, digits_shown = ("in", 1) if units == "us" else ("mm", 0)
            heights = choices.mark_height_by_temperature.values[chosen] / factor(unit, "m")
            shown = (signed(f"{round(height, digits_shown) + 0.0:+.{digits_shown}f}") for height in heights)
            rows.append([unit, *shown])
        parts.append(table(head, rows, width, size))
    elif "cold_mark" in choices.attrs:
        parts.append(paragraph(f"{100.0 * choices.attrs['cold_mark']:.0f} % of the tank", width, size))
    return stacked([*parts, rule], _STRIP * size)


def opening_block(choices: xr.Dataset, units: System, width: float, size: float) -> Block:
    """Set what to do if the cap must come off, step by step."""
    cold = temperature(min(float(choices.attrs.get("open_below", HOT_TO_OPEN)), HOT_TO_OPEN), units)
    steps = [
        Text(
            f"Oil below {cold} and gauge at zero.", "Both, or it stays shut. Read the thermometer on the tank, cap ON."
        ),
        Text("Fire bottle manned.", "Catch rag away from the exhaust, hands off the fan."),
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
    least, charge = min(cap, tank, seal), choices.attrs.get("recharge_pressure", 0.0)
    target = f"set to {setting(charge, units)}, " if charge > 0.0 else ""
    weakest = {cap: "the cap", tank: "the tank's rating", seal: "the shaft seal's rating"} | {cap: "the cap"}
    return [
        Text("Recharge only through a regulator,", f"{target}never over {setting(least, units)} ({weakest[least]})."),
        shop,
    ]


def cap_block(choices: xr.Dataset, units: System, width: float, size: float) -> Block:
    """Set what to look for at the cap itself."""
    cap = choices.attrs.get("cap_relief_pressure", math.inf)
    stamp = f"Read the stamp: {setting(cap, units)} here." if math.isfinite(cap) else "This truck has a vented cap."
    test = Text("Lift-test the cap:", "does its relief work?") if math.isfinite(cap) else Text("Is its vent open?")
    lines = [Text("Radiator caps of other ratings look alike.", stamp), test]
    return stacked([heading("THE CAP", width, size), *(paragraph(line, width, size) for line in lines)], _STRIP * size)
