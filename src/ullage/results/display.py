"""Results in the units that a crew reads."""

from __future__ import annotations

from typing import Literal, NamedTuple, get_args

import xarray as xr

from ullage.units import KINDS, SHOWN_KINDS, digits, factor

System = Literal["metric", "us"]


class _Unit(NamedTuple):
    """Displayed unit: its name, the SI unit, and the SI value of its zero."""

    name: str
    si: str
    zero: float = 0.0


DIFFERENCE = "temperature: difference"  # `units_metadata` of the CF conventions, 1.11: the zero of no scale
_LEAST_VACUUM = 0.005  # [inHg]; less is written as no pressure
_TEMPERATURE = {"metric": _Unit("degC", "K", 273.15), "us": _Unit("degF", "K", 255.3722222222222)}
_SHOWN: dict[str, dict[str, _Unit]] = {
    "K": _TEMPERATURE,
    "Pa": {"metric": _Unit("kPa", "Pa"), "us": _Unit("psi", "Pa")},
    "m3 s-1": {"metric": _Unit("L/min", "m3/s"), "us": _Unit("gal/min", "m3/s")},
    "m3": {"metric": _Unit("L", "m3"), "us": _Unit("qt", "m3")},
    "m": {"metric": _Unit("km", "m"), "us": _Unit("mile", "m")},
    "rad s-1": {"metric": _Unit("rpm", "rad/s"), "us": _Unit("rpm", "rad/s")},
    "m2 s-1": {"metric": _Unit("mm2/s", "m2/s"), "us": _Unit("cSt", "m2/s")},
}


def _unit_of_kind(kind: str, system: System) -> _Unit | None:
    """Return the unit in which a kind of scenario value is shown; None for none, or for one with a zero of its own."""
    shown = (KINDS | SHOWN_KINDS).get(kind)
    if shown is None or kind.startswith("temperature"):
        return None
    name = shown.us if system == "us" else shown.metric
    return _Unit(name, shown.unit) if name else None


def shown_value(value: float, units: str, system: System) -> tuple[float, str]:
    """Return a value in the displayed unit, and that unit.

    Parameters
    ----------
    value : float
        SI value.
    units : str
        Its `units` attribute.
    system : str
        "metric" or "us".

    Returns
    -------
    tuple
        Value and unit; unchanged if the quantity is shown in SI.
    """
    if units not in _SHOWN:
        return value, units
    unit = _SHOWN[units][system]
    return (value - unit.zero) / factor(unit.name, unit.si), unit.name


def shown_text(value: float, units: str, system: System) -> str:
    """Write a value with three significant digits, or two decimals if it is below one, in the displayed unit.

    Parameters
    ----------
    value : float
        SI value.
    units : str
        Its SI unit, as in a `units` attribute.
    system : str
        "metric" or "us".

    Returns
    -------
    str
        Number and unit.
    """
    number, unit = shown_value(value, units, system)
    return f"{short(number)} {unit}"


def short(number: float) -> str:
    """Write a number with three significant digits, or two decimals if it is below one."""
    return digits(number, 3) if abs(number) >= 1.0 else digits(round(number, 2) + 0.0)


def gauge_text(value: float, system: System) -> str:
    """Write a gauge pressure [Pa]; below zero in inches of mercury of vacuum where psi are shown."""
    if system == "us" and value <= -_LEAST_VACUUM * factor("inHg", "Pa"):
        return f"{short(-value / factor('inHg', 'Pa'))} inHg vac"
    return f"{shown_text(value, 'Pa', system)} gauge"


def to_display(data: xr.Dataset, units: System = "metric") -> xr.Dataset:
    """Convert results to the units that a crew reads.

    Parameters
    ----------
    data : xarray.Dataset
        Results in SI units.
    units : str
        "metric" (degC, kPa, L/min, L, km) or "us" (degF, psi, US gal/min, qt, mile).

    Returns
    -------
    xarray.Dataset
        A converted copy with its `units` attributes rewritten; the data given are left alone.

    Raises
    ------
    ValueError
        If `units` is neither of the two.
    """
    if units not in get_args(System):
        raise ValueError(f"units is {units!r}; 'metric' or 'us' is allowed")
    shown = data.copy(deep=True)
    for name in [*data.data_vars, *data.coords]:
        variable = data[name]
        written = variable.attrs.get("units", "")
        unit = _unit_of_kind(variable.attrs.get("kind", ""), units) or _SHOWN.get(written, {}).get(units)
        if unit is not None:
            zero = 0.0 if variable.attrs.get("units_metadata") == DIFFERENCE else unit.zero
            converted = (variable - zero) / factor(unit.name, unit.si)
            shown[name] = converted.assign_attrs({**variable.attrs, "units": unit.name})
    return shown
