"""Text with a unit to SI and back. Units live only here: everything inside is SI floats."""

from __future__ import annotations

import functools
import math
import re
from typing import TYPE_CHECKING, NamedTuple

from ullage.errors import printable, quoted
from ullage.hints import advice
from ullage.unit_list import DEFINITIONS, NUMBER_AND_UNIT

if TYPE_CHECKING:
    import pint

_UNIT = re.compile(r"[A-Za-z0-9°µ·²³*/() ]{1,40}")
_ANGLE = re.compile(r"\b(?:rad|radian|rev|revolution|rpm)\b")
_LONGEST_TEXT = 100
_PART_OF_TIME = re.compile(r"\s*([0-9]+\.?[0-9]*)\s*(day|d|hour|hr|h|minute|min|second|sec|s)(?![A-Za-z])")
TEMPERATURE_UNITS = {"degC": (1.0, 273.15), "°C": (1.0, 273.15), "K": (1.0, 0.0)}
TEMPERATURE_UNITS |= {"degF": (5.0 / 9.0, 459.67 * 5.0 / 9.0), "°F": (5.0 / 9.0, 459.67 * 5.0 / 9.0)}
_LEVEL_SUFFIX = {
    "psig": ("psi", "gauge"),
    "psia": ("psi", "abs"),
    "barg": ("bar", "gauge"),
    "bara": ("bar", "abs"),
    "kPag": ("kPa", "gauge"),
    "kPaa": ("kPa", "abs"),
}


class Kind(NamedTuple):
    """A kind of quantity: its SI unit, and the units in which it is shown."""

    unit: str
    metric: str
    us: str


KINDS = {
    "length": Kind("m", "m", "ft"),
    "short length": Kind("m", "mm", "in"),
    "area": Kind("m2", "cm2", "in2"),
    "valve area": Kind("m2", "mm2", "in2"),
    "volume": Kind("m3", "L", "qt"),
    "density": Kind("kg/m3", "kg/m3", "lb/ft3"),
    "temperature": Kind("K", "degC", "degF"),
    "temperature difference": Kind("K", "K", "degF"),
    "pressure level": Kind("Pa", "kPa", "psi"),
    "pressure difference": Kind("Pa", "kPa", "psi"),
    "flow": Kind("m3/s", "L/min", "gpm"),
    "mass flow": Kind("kg/s", "kg/min", "lb/min"),
    "speed": Kind("m/s", "km/h", "mph"),
    "air speed": Kind("m/s", "m/s", "ft/s"),
    "rotation": Kind("rad/s", "rpm", "rpm"),
    "time": Kind("s", "s", "s"),
    "frequency": Kind("Hz", "Hz", "Hz"),
    "acceleration": Kind("m/s2", "m/s2", "gn"),
    "viscosity": Kind("m2/s", "mm2/s", "cSt"),
    "diffusivity": Kind("m2/s", "m2/s", "m2/s"),
    "conductance": Kind("W/K", "W/K", "BTU/h/degF"),
    "heat capacity": Kind("J/K", "kJ/K", "BTU/degF"),
    "torque": Kind("N*m", "N*m", "ft*lbf"),
    "expansion": Kind("1/K", "1/K", "1/degF"),
    "compliance": Kind("m3/Pa", "mL/bar", "in3/psi"),
    "number": Kind("1", "", ""),
}
# the same quantities where they are small or large: how a displacement and a load are spoken of
SHOWN_KINDS = {
    "displacement": Kind("m3", "cm3", "in3"),
    "hydraulic pressure": Kind("Pa", "bar", "psi"),
    "distance": Kind("m", "km", "miles"),
}

# what is below a magnitude [SI unit] is shown in smaller units
SMALL_KINDS = {"volume": (1e-4, Kind("m3", "mL", "in3")), "air speed": (1e-2, Kind("m/s", "mm/h", "in/h"))}


class UnitError(ValueError):
    """Text that is not a quantity of the kind wanted; the message says what is."""


@functools.cache
def registry() -> pint.UnitRegistry[float]:
    """Return the registry of this module's closed list."""
    import pint  # loads in a quarter of a second: only when the first unit is read

    return pint.UnitRegistry(DEFINITIONS.strip().splitlines(), on_redefinition="raise")


@functools.cache
def factor(unit: str, si_unit: str) -> float:
    """Return what one of a unit is in another.

    Parameters
    ----------
    unit, si_unit : str
        Unit expressions of this module's closed list.

    Returns
    -------
    float
        Factor.

    Raises
    ------
    UnitError
        If the unit is unknown or of another dimension.
    """
    if not _UNIT.fullmatch(unit) or "**" in unit:
        raise UnitError(f"unknown unit '{unit[:40]}'")
    known = registry()
    try:
        ratio: float = known.Quantity(1.0, known.parse_units(spelled(unit))).to(spelled(si_unit)).magnitude
    except Exception as error:
        if "convert" in str(error):
            raise UnitError(f"'{unit}' is not a unit of this kind") from None
        raise UnitError(f"unknown unit '{unit}'") from None
    return ratio


def spelled(unit: str) -> str:
    """Return a unit as the registry reads it."""
    text = unit.replace("°", "deg").replace("·", "*").replace("²", "2").replace("³", "3")
    text = re.sub(r"^1?\s*/", "1/", text)
    return "" if text == "1" else re.sub(r"^1/(\w+)$", r"\1**-1", text)


def parse(text: str, kind: str, ambient: float = math.nan) -> float:
    """Read a number with its unit.

    Parameters
    ----------
    text : str
        Such as "16 psi", "2 h 31 min", "5 psig", "0.8" or "80 %".
    kind : str
        Name in `KINDS`.
    ambient : float
        Ambient pressure for a gauge level [Pa]; without it a gauge level comes back as a difference.

    Returns
    -------
    float
        SI value. A pressure level is absolute if the text or `ambient` makes it so.

    Raises
    ------
    UnitError
        If the text is no quantity of this kind.
    """
    if len(text) > _LONGEST_TEXT:
        raise UnitError(f"{quoted(text)} is too long for a number with a unit")
    try:
        value = _read(text.strip(), kind, ambient)
    except UnitError as error:
        raise UnitError(printable(f"{quoted(text)}: {error}{advice(text, kind)}")) from None
    if not math.isfinite(value):
        raise UnitError(f"{quoted(text)} is not a finite number")
    return value


def _read(text: str, kind: str, ambient: float) -> float:
    if kind == "time" and (seconds := _time(text)) is not None:
        return seconds
    match = NUMBER_AND_UNIT.fullmatch(text)
    if not match:
        raise UnitError("not a number" if kind == "number" else "not a number with a unit")
    number, unit = float(match[1]), match[2]
    if kind == "number":
        return _plain(number, unit)
    if not unit:
        raise UnitError("no unit")
    if kind == "temperature":
        return _temperature(number, unit)
    if kind == "pressure level":
        return _level(number, unit, ambient)
    if unit in _LEVEL_SUFFIX or unit.split()[-1] in ("gauge", "abs", "vac"):
        raise UnitError(f"'{unit}' is a pressure level")
    return number * factor_of_kind(unit, kind)


def factor_of_kind(unit: str, kind: str) -> float:
    """Return the SI factor of a unit; angles have no dimension, so a rotation is told apart by its words."""
    ratio = factor(unit, KINDS[kind].unit)
    if (_ANGLE.search(unit) is not None) != (kind == "rotation"):
        raise UnitError(f"'{unit}' is not a unit of this kind")
    return ratio


def _time(text: str) -> float | None:
    total, place = 0.0, 0
    while place < len(text.rstrip()):
        match = _PART_OF_TIME.match(text, place)
        if not match:
            return None
        total += float(match[1]) * factor(match[2], "s")
        place = match.end()
    return total if place else None


def _plain(number: float, unit: str) -> float:
    if unit == "%":
        return number / 100.0
    if unit:
        raise UnitError(f"'{unit}' is out of place")
    return number


def _temperature(number: float, unit: str) -> float:
    if unit not in TEMPERATURE_UNITS:
        raise UnitError(f"unknown temperature unit '{unit}'")
    step, zero = TEMPERATURE_UNITS[unit]
    return number * step + zero


def _level(number: float, unit: str, ambient: float) -> float:
    base, level = level_of(unit)
    value = number * factor(base, "Pa")
    if level == "abs":
        return value
    if level == "vac":
        value = -value
    return value if math.isnan(ambient) else ambient + value


def level_of(unit: str) -> tuple[str, str]:
    """Split the unit of a pressure level into the bare unit and `gauge`, `abs` or `vac`.

    Parameters
    ----------
    unit : str
        Such as "psig" or "inHg vac".

    Returns
    -------
    tuple of str
        Bare unit and level.

    Raises
    ------
    UnitError
        If the text does not say which level it means.
    """
    if unit in _LEVEL_SUFFIX:
        return _LEVEL_SUFFIX[unit]
    words = unit.split()
    if len(words) == 2 and words[1] in ("gauge", "abs", "vac"):
        return words[0], words[1]
    raise UnitError(f"'{unit}' does not say which pressure level")


def is_gauge(text: str) -> bool:
    """Return whether the text of a pressure level, one that `parse` accepts, is relative to the ambient pressure."""
    match = NUMBER_AND_UNIT.fullmatch(text.strip())
    return match is not None and level_of(match[2])[1] != "abs"


def show(value: float, kind: str, units: str = "metric") -> str:
    """Write an SI value with the unit in which its kind is shown.

    Parameters
    ----------
    value : float
        SI value.
    kind : str
        Name in `KINDS` or `SHOWN_KINDS`; small values of some kinds have units of their own, `SMALL_KINDS`.
    units : str
        "metric" or "us".

    Returns
    -------
    str
        At most four significant digits, and a unit.
    """
    shown = (KINDS | SHOWN_KINDS)[kind]
    below, small = SMALL_KINDS.get(kind, (0.0, shown))
    chosen = small if 0.0 < abs(value) < below else shown
    unit = chosen.us if units == "us" else chosen.metric
    if kind == "temperature":
        step, zero = TEMPERATURE_UNITS[unit]
        return f"{digits((value - zero) / step)} {unit}"
    return f"{digits(value / factor(unit, chosen.unit))} {unit}" if unit else digits(value)


def show_both(value: float, kind: str) -> str:
    """Write an SI value as `show` does in metric units and, in brackets, in US units if they differ."""
    metric, us = show(value, kind), show(value, kind, "us")
    return metric if metric == us else f"{metric} ({us})"


def clock(seconds: float) -> str:
    """Write a race time as hours, minutes and seconds."""
    whole = round(seconds)
    return f"{whole // 3600}:{whole // 60 % 60:02d}:{whole % 60:02d}"


def digits(value: float, count: int = 4) -> str:
    """Write a number rounded to some significant digits, without an exponent where it can be read without."""
    return f"{float(f'{value:.{count}g}'):.10g}"
