"""The table of the choices at a stop."""

from __future__ import annotations

import math

import xarray as xr

from ullage.results.display import System, short, shown_value

_NAMES = {"cool_then_open": "cool, then open", "cool_then_open_engine_off": "cool, engine off"}
_NAME, _COLUMN = 22, 8
_MINUTE = 60.0


def choice_name(label: str) -> str:
    """Return what a choice is called in words."""
    return _NAMES.get(label, label.replace("_", " "))


def pit_table(data: xr.Dataset, units: System) -> list[str]:
    """Return a table of the choices: pressures in the stint, gas at the pump by model of the air, delay.

    Parameters
    ----------
    data : xarray.Dataset
        Result of `compare_cap_opening`.
    units : str
        "metric" or "us".

    Returns
    -------
    list of str
        Lines of at most 66 characters, two of them heads.
    """
    unit = shown_value(0.0, "Pa", units)[1]
    heads = [
        _line("", ["tank", "feed", "gas at", "pump,", "min", "late"]),
        _line("mean of the stint", [unit, unit, "never", "in time", "at once", "min"]),
    ]
    return heads + [_line(choice_name(str(label)), _row(data.sel(choice=label), units)) for label in data.choice.values]


def _row(one: xr.Dataset, units: System) -> list[str]:
    pressures = [
        _number(shown_value(float(one[name]), "Pa", units)[0])
        for name in ("stint_gauge_pressure", "stint_feed_gauge_pressure")
    ]
    gas = [_number(float(value) / _MINUTE) for value in one.cavitation_exposure_by_air_model]
    delay = float(one.finish_delay) / _MINUTE
    return [*pressures, *gas, "-" if delay == 0.0 else _number(delay)]


def _number(value: float) -> str:
    return "-" if math.isnan(value) else short(value)


def _line(name: str, columns: list[str]) -> str:
    shown = name if len(name) < _NAME else f"{name[: _NAME - 2]}."
    return f"{shown:<{_NAME}}{''.join(f'{column:<{_COLUMN}}' for column in columns)}".rstrip()


def finished_choice(data: xr.Dataset, label: str) -> xr.Dataset | None:
    """Return one choice, or None if it was not run or could not be finished."""
    if label not in data.choice.values:
        return None
    chosen = data.sel(choice=label)
    return chosen if str(chosen.status.item()) == "done" else None
