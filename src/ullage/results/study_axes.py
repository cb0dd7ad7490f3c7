"""What a study varies, as its results tell it: axes, their words, and values as a crew reads them."""

from __future__ import annotations

import json
import math
import re
import tomllib
from typing import Any, NamedTuple

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from ullage.results.display import System, shown_value
from ullage.scenario.duty_spec import ScenarioSpec
from ullage.scenario.fields import quantity_of_key
from ullage.units import KINDS, SHOWN_KINDS, UnitError, factor, parse, show

GRID, TABLE = "grid", "table"
DONE = "done"
# what a builder calls what is varied most
_WORDS = {
    "reservoir.fill": "cold fill mark",
    "cap.relief_pressure": "cap rating",
    "reservoir.volume": "tank size",
    "return_line.entrainment": "air drawn in by the return",
    "air.transfer_velocity": "how fast still oil drinks air",
    "reservoir.compliance": "give of the tank wall",
    "air.bubble_diameter": "size of the bubbles",
    "weather.temperature": "heat of the day",
    "weather.point.0.temperature": "heat of the day",
    "pump.drive_ratio": "pulley ratio",
}
_SHARES = ("reservoir.fill",)


class Axis(NamedTuple):
    """One thing varied: its keys, several if they change together, and its distribution, None for listed values."""

    keys: tuple[str, ...]
    distribution: str | None

    @property
    def coordinates(self) -> tuple[str, ...]:
        """Names of the coordinates over `member`."""
        return tuple(map(coordinate_name, self.keys))

    @property
    def name(self) -> str:
        """Words for the first key; the others follow it."""
        return key_words(self.keys[0])


def axes_of(data: xr.Dataset) -> list[Axis]:
    """Return the axes of a study in their order."""
    return [Axis(tuple(axis["keys"]), axis.get("distribution")) for axis in json.loads(data.attrs["axes"])]


def sampling_of(data: xr.Dataset) -> str:
    """Return the method by which the members were laid out: "grid", "random", "latin hypercube", "sobol", "table"."""
    return str(json.loads(data.attrs["sampling"])["method"])


def key_words(key: str) -> str:
    """Return what a builder calls a key: his own word, or the key's last names in words."""
    if key in _WORDS:
        return _WORDS[key]
    table, _, name = key.rpartition(".")
    return f"{table} {name}".strip().replace("_", " ").replace(".", " ")


def coordinate_name(key: str) -> str:
    """Return the name of the coordinate that holds the values of a dotted key."""
    return re.sub(r"\W", "_", key)


def is_sample(data: xr.Dataset) -> bool:
    """Return whether the members of a study are a sample, each as likely as any other."""
    return sampling_of(data) not in (GRID, TABLE)


def shown_values(data: xr.Dataset, key: str, units: System) -> tuple[NDArray[np.float64], str]:
    """Return the values of a numeric key in the unit in which its kind is shown, and that unit.

    Parameters
    ----------
    data : xarray.Dataset
        Results of a study in SI units.
    key : str
        A varied key with numbers.
    units : str
        "metric" or "us".

    Returns
    -------
    tuple
        Values over `member`; a fill in per cent, a number without a unit as it is.
    """
    return in_shown_unit(np.asarray(data[coordinate_name(key)].values, dtype=np.float64), key, units)


def in_shown_unit(values: NDArray[np.float64], key: str, units: System) -> tuple[NDArray[np.float64], str]:
    """Return SI values of a key in the unit in which its kind is shown, and that unit."""
    if key in _SHARES:
        return 100.0 * values, "%"
    quantity = quantity_of_key(ScenarioSpec, key)
    if quantity is None:
        return values, ""
    shown = (KINDS | SHOWN_KINDS)[quantity.kind]
    unit = shown.us if units == "us" else shown.metric
    if quantity.kind == "temperature":
        zero, one = (shown_value(each, "K", units)[0] for each in (0.0, 1.0))
        return zero + (one - zero) * values, unit
    return values / (factor(unit, shown.unit) if unit else 1.0), unit


def base_value(data: xr.Dataset, key: str) -> float:
    """Return what the scenario of a study has for a numeric key, in SI units; NaN if that is not known."""
    here: Any = tomllib.loads(data.attrs["scenario_toml"])
    quantity = quantity_of_key(ScenarioSpec, key)
    for part in key.split("."):
        named = here
        if isinstance(here, list):
            named = {str(place): each for place, each in enumerate(here)} | {
                str(each.get("name")): each for each in here
            }
        here = named.get(part) if isinstance(named, dict) else None
    written = quantity.default if here is None and quantity is not None else here
    if isinstance(written, int | float):
        return float(written)
    if quantity is None or quantity.kind == "pressure level" or not isinstance(written, str):
        return math.nan
    try:
        return parse(written, quantity.kind)
    except UnitError:
        return math.nan  # "required": the scenario names a preset instead


def value_text(data: xr.Dataset, key: str, member: int, units: System) -> str:
    """Write what a member has for a key: a number with its unit, or the text of the study."""
    value = data[coordinate_name(key)].values[member]
    if not np.issubdtype(type(value), np.number):
        return str(value)
    if key in _SHARES:
        return f"{100.0 * float(value):.3g} %"
    quantity = quantity_of_key(ScenarioSpec, key)
    return show(float(value), quantity.kind, units) if quantity is not None else f"{float(value):.4g}"


def member_text(data: xr.Dataset, member: int, units: System, most: int = 3) -> str:
    """Name a member: its number, and what it has for the first axes."""
    axes = axes_of(data)
    keys = axes[0].keys if len(axes) == 1 else [axis.keys[0] for axis in axes]
    values = ", ".join(f"{key_words(key)} {value_text(data, key, member, units)}" for key in keys[:most])
    more = f" and {len(keys) - most} more" if len(keys) > most else ""
    return f"member {int(data.member.values[member])}: {values}{more}"


def hottest_oil(data: xr.Dataset) -> NDArray[np.float64]:
    """Return the hottest oil of each member anywhere [K]; NaN for one that failed."""
    return np.asarray(data.peak_oil_temperature.max("node", skipna=False).values, dtype=np.float64)


def figure_values(data: xr.Dataset, figure: str) -> NDArray[np.float64]:
    """Return a figure of each member in SI units, that of the hottest place where it has places."""
    if figure == "peak_oil_temperature":
        return hottest_oil(data)
    return np.asarray(data[figure].values, dtype=np.float64)


def done(data: xr.Dataset) -> NDArray[np.bool_]:
    """Return which members were finished."""
    return np.asarray(data.status.values.astype(str) == DONE)
