"""What gauges should read at a stop, and what they read with a fault, as tables and sentences of a screen."""

from __future__ import annotations

import json
import math

import xarray as xr

from ullage.results.display import System, short, shown_value

_CONDITION, _FAULT, _COLUMN = 16, 24, 8
_CONDITIONS = {"after_stop": "after the stop"}
_FAULTS = {"filled hot to the cold mark": "filled hot to mark"}


def gauge_lines(gauges: xr.Dataset, units: System) -> list[str]:
    """Return the gauge table of a healthy truck.

    Parameters
    ----------
    gauges : xarray.Dataset
        Result of `gauge_table`.
    units : str
        "metric" or "us".

    Returns
    -------
    list of str
        A row a condition: oil in the tank, air space, and the feed at some engine speeds.
    """
    pressure, temperature = shown_value(0.0, "Pa", units)[1], shown_value(300.0, "K", units)[1]
    speeds = [f"{shown_value(float(speed), 'rad s-1', units)[0]:.0f}" for speed in gauges.engine_speed]
    lines = [
        _line("healthy", ["oil", "tank", "feed at", "rpm"], _CONDITION),
        _line("", [temperature, pressure, *speeds], _CONDITION),
    ]
    for condition in gauges.condition.values:
        row = gauges.sel(condition=condition)
        values = [
            _number(shown_value(float(row.oil_temperature), "K", units)[0]),
            _pressure(float(row.headspace_gauge_pressure), units),
            *(_pressure(float(value), units) for value in row.feed_gauge_pressure),
        ]
        lines.append(_line(_CONDITIONS.get(str(condition), str(condition)), values, _CONDITION))
    return lines


def symptom_lines(symptoms: xr.Dataset, units: System) -> list[str]:
    """Return the symptom table of a truck: what the gauges read hot at the stop with each fault.

    Parameters
    ----------
    symptoms : xarray.Dataset
        Result of `symptom_table`.
    units : str
        "metric" or "us".

    Returns
    -------
    list of str
        A row a fault.
    """
    unit = shown_value(0.0, "Pa", units)[1]
    speeds = [f"{shown_value(float(speed), 'rad s-1', units)[0]:.0f}" for speed in symptoms.engine_speed]
    lines = [
        _line("with a fault, hot", ["tank", "feed at", "rpm", "oil", "cold next"], _FAULT),
        _line("", [unit, *speeds, shown_value(300.0, "K", units)[1], f"day {unit}"], _FAULT),
    ]
    for fault in symptoms.fault.values:
        row = symptoms.sel(fault=fault)
        values = [
            _pressure(float(row.headspace_gauge_pressure), units),
            *(_pressure(float(value), units) for value in row.feed_gauge_pressure),
            _number(shown_value(float(row.oil_temperature), "K", units)[0]),
            _pressure(float(row.overnight_gauge_pressure), units),
        ]
        lines.append(_line(_FAULTS.get(str(fault), str(fault)), values, _FAULT))
    return lines


def symptom_sentences(symptoms: xr.Dataset) -> list[str]:
    """Return what tells each fault, and which faults this truck cannot have."""
    told = [
        f"{str(fault).capitalize()}: {sign}"
        for fault, sign in zip(symptoms.fault.values, symptoms.sign.values, strict=True)
        if fault != symptoms.fault.values[0]
    ]
    reasons: dict[str, list[str]] = {}
    for fault, why in json.loads(symptoms.attrs["left_out"]).items():
        reasons.setdefault(why, []).append(fault)
    return told + [f"Not worked out here: {', '.join(faults)}: {why}." for why, faults in reasons.items()]


def _pressure(value: float, units: System) -> str:
    return _number(shown_value(value, "Pa", units)[0])


def _number(value: float) -> str:
    return "-" if math.isnan(value) else short(value)


def _line(name: str, columns: list[str], width: int) -> str:
    shown = name if len(name) < width else f"{name[: width - 2]}."
    return f"{shown:<{width}}{''.join(f'{column:<{_COLUMN}}' for column in columns)}".rstrip()
