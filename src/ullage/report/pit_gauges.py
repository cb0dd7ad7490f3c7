"""The parts of a pit card that say what gauges read, on a healthy truck and with faults."""

from __future__ import annotations

import numpy as np
import xarray as xr

from ullage.report.labels import clipped, drawable
from ullage.report.pit_blocks import heading, pressure, pressure_unit, temperature
from ullage.report.typeset import Block, Text, paragraph, stacked, table
from ullage.results.display import System, shown_value

_CONDITIONS = {"after_stop": "after the stop"}
_SPEEDS = 5
_SIGN_LENGTH = 150
# readings of gauge and thermometer that no crew tells apart; own choice [Pa, K]
_SAME_READING, _SAME_OIL = 700.0, 2.0


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
    title = heading(f"A HEALTHY TRUCK READS, {pressure_unit(units)} gauge", width, size)
    return stacked([title, stacked([over, table(head, rows, width, size)], 0.0)], 0.1 * size)


def _feed_at(speed: float | str, units: System) -> str:
    """Return the head of a column of feed pressures: engine speed [rad/s] in rpm, or the name that stands for one."""
    return f"feed\N{NO-BREAK SPACE}at {speed if isinstance(speed, str) else _turns(speed, units)}"


def _turns(speed: float, units: System) -> str:
    return f"{shown_value(float(speed), 'rad s-1', units)[0]:.0f}"


def symptom_block(symptoms: xr.Dataset, units: System, width: float, size: float, most: int) -> Block:
    """Set what it means if the gauges read otherwise, at most so many rows after the one of the healthy truck."""
    groups = alike(symptoms)
    if symptoms.sizes["fault"] < 2:
        return Block()
    feeds = (_feed_at(speed, units) for speed in symptoms.engine_speed.values)
    head = ["oil", "air space", *feeds, "then it may be"]
    rows: list[list[Text | str]] = []
    for group in groups[: most + 1]:
        first = symptoms.isel(fault=group[0])
        feed = [pressure(float(value), units) for value in first.feed_gauge_pressure.values]
        oil, air = (
            temperature(float(first.oil_temperature), units),
            pressure(float(first.headspace_gauge_pressure), units),
        )
        rows.append([oil, air, *feed, _faults(symptoms.isel(fault=group))])
    title = heading(
        f"IF THE GAUGES READ, HOT: {pressure_unit(units)}, feed at engine rpm (below 0: vacuum)", width, size
    )
    left = len(groups) - len(rows)
    more = paragraph(f"{left} more readings are in the results.", width, size) if left else Block()
    return stacked([title, table(head, rows, width, size, sentences=len(head) - 1), more], 0.1 * size)


def alike(symptoms: xr.Dataset) -> list[list[int]]:
    """Return the places of faults in groups whose gauges no crew tells apart, in their order."""
    feed = symptoms.feed_gauge_pressure.transpose("fault", "engine_speed").values
    pressures = np.column_stack([symptoms.headspace_gauge_pressure.values, feed])
    groups: list[list[int]] = []
    for place, oil in enumerate(symptoms.oil_temperature.values):
        for group in groups:
            close = np.abs(pressures[place] - pressures[group[0]]) < _SAME_READING
            if close.all() and abs(oil - symptoms.oil_temperature.values[group[0]]) < _SAME_OIL:
                group.append(place)
                break
        else:
            groups.append([place])
    return groups


def _faults(symptoms: xr.Dataset) -> Text:
    """Name the faults of a row, and say where to look: the gauges cannot tell them apart."""
    names = " or ".join(drawable(str(fault)) for fault in symptoms.fault.values)
    looks = dict.fromkeys(str(look) for look in symptoms["look" if "look" in symptoms else "sign"].values if look)
    told = clipped(drawable("; ".join(looks)), _SIGN_LENGTH, 0)
    return Text(f"{names}{':' if told else ''}", told)
