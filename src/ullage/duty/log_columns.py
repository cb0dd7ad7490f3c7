"""What is wanted of the columns of a log, and how the units of loggers are spelled."""

from __future__ import annotations

import math
from typing import NamedTuple

from ullage.errors import quoted
from ullage.hints import CUSTOMARY, did_you_mean_unit, wanted
from ullage.units import KINDS, TEMPERATURE_UNITS, UnitError, factor, factor_of_kind, level_of, parse

TIME = "time"
_STANDARD_AMBIENT = 101325.0

# how loggers spell units, in small letters, beside the customary spellings in any case
_SPELLED = {
    "speed": {"kmh": "km/h", "kmph": "km/h", "km/hr": "km/h", "mi/h": "mph", "fps": "ft/s", "mps": "m/s"}
    | {"kn": "knot", "kt": "knot", "kts": "knot", "knots": "knot"},
    "rotation": {"1/min": "rpm", "/min": "rpm", "min-1": "rpm", "u/min": "rpm", "r/min": "rpm"},
    "temperature": {"c": "degC", "f": "degF", "deg c": "degC", "deg f": "degF", "celsius": "degC"}
    | {"fahrenheit": "degF", "°c": "degC", "°f": "degF", "kelvin": "K"},
    "acceleration": {"g": "gn", "gs": "gn", "m/s^2": "m/s2", "m/s/s": "m/s2", "m/s²": "m/s2", "ft/s^2": "ft/s2"},
    "time": {"seconds": "s", "second": "s", "secs": "s", "msec": "ms", "millisecond": "ms", "milliseconds": "ms"}
    | {"minutes": "min", "minute": "min", "mins": "min", "hours": "h", "hour": "h", "hrs": "h"},
    "length": {"feet": "ft", "foot": "ft", "metres": "m", "meters": "m", "metre": "m", "meter": "m"},
    "flow": {"l/m": "L/min", "gal/m": "gpm"},
    "number": {"": "1", "percent": "%", "-": "1", "ratio": "1"},
}


_DIFFERENCE = {"temperature": "temperature difference", "pressure level": "pressure difference"}


class Wanted(NamedTuple):
    """A wanted column: header or number from 1, its unit or "", kind of quantity, accepted range.

    Without a range (a time) anything is accepted. `less` is taken off every value, in SI.
    """

    header: str | int
    unit: str
    kind: str
    low: str = ""
    high: str = ""
    less: float = 0.0

    @property
    def label(self) -> str:
        """What the column is called in a fault."""
        return f"column {self.header}" if isinstance(self.header, int) else f"column '{self.header}'"


class Column(NamedTuple):
    """A column with its unit known: SI = number * factor + zero; the accepted range in SI, and in words.

    A pressure level is absolute, or over the ambient pressure where it is `gauge`; so are the limits.
    """

    header: str | int
    unit: str
    factor: float
    zero: float
    low: float
    high: float
    accepted: str
    kind: str
    gauge: bool = False


def unit_named(text: str, kind: str) -> str:
    """Return the unit that a logger means.

    Parameters
    ----------
    text : str
        Such as "RPM", "KPH" or "° F".
    kind : str
        A key of `KINDS`.

    Returns
    -------
    str
        Unit of the closed list.

    Raises
    ------
    UnitError
        If it is no unit of this kind, or a pressure level that does not say whether it is gauge or absolute.
    """
    plain = " ".join(text.split())[:40]
    small = plain.lower().replace("° ", "°")
    known = {unit.lower(): unit for unit in CUSTOMARY[kind].units} | _SPELLED.get(kind, {})
    unit = known.get(small, plain)
    try:
        _scale(unit, kind)
    except UnitError as error:
        raise UnitError(f"{error}{did_you_mean_unit(plain, kind)}; {wanted(kind)}") from None
    return unit


def is_unit(text: str, kind: str) -> bool:
    """Return whether a text is a unit of a kind."""
    try:
        unit_named(text, kind)
    except UnitError:
        return False
    return bool(text.strip())


def column_of(want: Wanted, unit: str) -> Column:
    """Return a wanted column whose unit is known: one that `unit_named` returned."""
    step, zero, gauge = _scale(unit, want.kind)
    zero -= want.less
    if not want.low:
        return Column(want.header, unit, step, zero, -math.inf, math.inf, "", want.kind, gauge)
    low, high = (parse(text, want.kind) for text in (want.low, want.high))
    if want.kind == "pressure level" and not gauge:
        low, high = low + _STANDARD_AMBIENT, high + _STANDARD_AMBIENT
    words = f"{want.low} to {want.high}"
    return Column(want.header, unit, step, zero, low, high, words, want.kind, gauge)


def taken_off(text: str, kind: str) -> float:
    """Return what is to be taken off the values of a kind, SI; of a level it is a difference.

    Parameters
    ----------
    text : str
        Number with unit; nothing is taken off without one.
    kind : str
        A key of `KINDS`.

    Returns
    -------
    float
        SI value.

    Raises
    ------
    UnitError
        If it is no quantity of the kind.
    """
    return parse(text, _DIFFERENCE.get(kind, kind)) if text else 0.0


def _scale(unit: str, kind: str) -> tuple[float, float, bool]:
    """Return what one of a unit is in SI, its zero, and whether it is over the ambient pressure."""
    if kind == "number":
        if unit not in ("%", "1"):
            raise UnitError(f"{quoted(unit)} is not a unit of a plain number")
        return (0.01 if unit == "%" else 1.0), 0.0, False
    if kind == "temperature":
        if unit not in TEMPERATURE_UNITS:
            raise UnitError(f"unknown temperature unit {quoted(unit)}")
        return *TEMPERATURE_UNITS[unit], False
    if kind == "pressure level":
        bare, level = level_of(unit)
        step = factor(bare, KINDS[kind].unit)
        return (-step if level == "vac" else step), 0.0, level != "abs"
    return factor_of_kind(unit, kind), 0.0, False
