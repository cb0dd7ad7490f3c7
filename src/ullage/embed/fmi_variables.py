"""The variables of a unit of co-simulation: where each stands in the record, what it is, and what it accepts."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from typing import Any, Literal, NamedTuple

import numpy as np

from ullage.embed.accepted import INPUT_QUANTITIES, ON_OR_OFF, WHOLE_NUMBERS
from ullage.kernel.inputs import FIRST_HELD, INPUTS
from ullage.kernel.outputs import OUTPUT_DTYPE
from ullage.kernel.settings import Settings
from ullage.kernel.state import NODES, record_dtype
from ullage.kernel.unit import UNIT_DTYPE, Units
from ullage.results.variables import CAP_STATES, VARIABLES
from ullage.scenario.duty_spec import ScenarioSpec
from ullage.scenario.fields import Quantity, quantity_of_key
from ullage.scenario.settings import CODES, SETTING_KEYS
from ullage.units import KINDS

_STANDARD_AMBIENT = 101325.0
_NO_LIMIT = math.inf
_PRESSURES = {"level": "absolute", "difference": "negative: past the limit"}
_NOT_KEYS = {
    "feed_inertia": Quantity("number", "0", "1", None, False, "1 if the oil in the feed line takes time to speed up"),
    "tolerance_factor": Quantity("number", "1e-4", "10", None, False, "factor on the tolerances; 1 is the default"),
}


class UnitVariable(NamedTuple):
    """A variable of a unit.

    `units` is its SI unit, `shown` the unit that people read, `offset` its place in the record [bytes]. `held` says of
    an input that it holds for a whole step, `difference` of a temperature that its zero is that of no scale.
    """

    name: str
    units: str
    offset: int
    causality: Literal["input", "output", "parameter"]
    type: Literal["Real", "Integer", "Boolean"] = "Real"
    help: str = ""
    low: float = -_NO_LIMIT
    high: float = _NO_LIMIT
    start: float = math.nan
    held: bool = False
    whole: bool = False
    difference: bool = False
    shown: str = ""


def place(*path: str | int) -> int:
    """Return where a field of the record of a unit begins [bytes], by names of fields and numbers of elements."""
    dtype: np.dtype[Any] = UNIT_DTYPE
    offset = 0
    for part in path:
        if isinstance(part, int):
            offset += part * dtype.base.itemsize
            dtype = dtype.base
        else:
            assert dtype.fields is not None
            dtype, within = dtype.fields[part][:2]
            offset += within
    return offset


def unit_variables(units: Units) -> list[UnitVariable]:
    """Return all variables of a unit.

    Parameters
    ----------
    units : record array of shape (1,)
        The unit before it begins; what its settings and inputs are is what they start with.

    Returns
    -------
    list of UnitVariable
        Inputs, outputs, parameters; those of keys that the scenario leaves out are not there.
    """
    return [*_inputs(units), *_outputs(), *_parameters(units)]


def _inputs(units: Units) -> Iterator[UnitVariable]:
    for number, name in enumerate(INPUTS):
        quantity = INPUT_QUANTITIES[name]
        low, high = quantity.limits()
        yield UnitVariable(
            name,
            KINDS[quantity.kind].unit,
            place("inputs", 1, name),
            "input",
            "Boolean" if name in ON_OR_OFF else "Real",
            _help(quantity),
            low,
            high,
            float(units["inputs"][0, 1][name]),
            held=number >= FIRST_HELD,
            whole=name in WHOLE_NUMBERS,
            shown=KINDS[quantity.kind].metric,
        )


def _outputs() -> Iterator[UnitVariable]:
    for name in OUTPUT_DTYPE.names or ():
        if name not in VARIABLES or name in INPUTS:
            continue
        variable, offset = VARIABLES[name], place("rows", 0, name)
        text = "; ".join(filter(None, (variable.long_name, variable.sign, _PRESSURES.get(variable.pressure, ""))))
        if name == "cap_state":
            text += ": " + ", ".join(f"{code} {word}" for code, word in enumerate(CAP_STATES))
        type: Literal["Real", "Integer"] = "Integer" if OUTPUT_DTYPE[name].kind == "i" else "Real"
        units = _slashed(variable.units)
        shown = next((kind.metric for kind in KINDS.values() if kind.unit == units), "")
        for number, node in enumerate(NODES if OUTPUT_DTYPE[name].shape else ("",)):
            each, said = (f"{name}.{node}", f"{text}, {node.replace('_', ' ')}") if node else (name, text)
            yield UnitVariable(each, units, offset + 8 * number, "output", type, said, shown=shown)


def _parameters(units: Units) -> Iterator[UnitVariable]:
    settings = units["settings"][0]
    keys = {field: (key, quantity_of_key(ScenarioSpec, key)) for field, key in SETTING_KEYS.items()}
    keys |= {field: (field, quantity) for field, quantity in _NOT_KEYS.items()}
    for field in record_dtype(Settings).names or ():
        key, quantity = keys.get(field, ("", None))
        start = float(settings[field])
        if quantity is None or field in CODES or math.isnan(start) or _is_found_from_a_point(field, settings):
            continue
        low, high = quantity.limits()
        over, text = (
            _level(field, bool(settings["start_headspace_gauge"] == 1.0))
            if quantity.kind == "pressure level"
            else (0.0, "")
        )
        yield UnitVariable(
            key,
            KINDS[quantity.kind].unit,
            place("settings", field),
            "parameter",
            "Real",
            f"{_help(quantity)}{text}",
            min(low + over, start),  # a gauge pressure on a mountain may be less than any at sea level
            max(high + over, start),
            start,
            whole=field == "feed_inertia",
            difference=quantity.kind == "temperature difference",
            shown=KINDS[quantity.kind].metric,
        )


def _is_found_from_a_point(field: str, settings: Any) -> bool:
    """Return whether a point of the pump's data sheet stands in place of a coefficient."""
    point = {"pump_slip_coefficient": "pump_flow_point_flow", "pump_friction": "pump_torque_point_torque"}.get(field)
    return point is not None and not math.isnan(settings[point])


def _level(field: str, start_is_gauge: bool) -> tuple[float, str]:
    """Return what is added to the limits of a pressure level, which are over ambient, and what it is counted from."""
    absolute = field == "pump_minimum_inlet_pressure" or (field == "start_headspace_pressure" and not start_is_gauge)
    return (_STANDARD_AMBIENT, "; absolute") if absolute else (0.0, "; over ambient")


def _help(quantity: Quantity) -> str:
    return quantity.help + (f"; {quantity.sign}" if quantity.sign else "")


def _slashed(units: str) -> str:
    """Return a unit with its negative powers behind a stroke, as scenario files write it."""
    powers = [re.fullmatch(r"(.+?)(-?\d)?", part) for part in units.split()]
    above = [match[0] for match in powers if match and not (match[2] or "").startswith("-")]
    below = [
        match[1] + match[2].removeprefix("-1").removeprefix("-") for match in powers if match and match[0] not in above
    ]
    return "*".join(above or ["1"]) + "".join(f"/{part}" for part in below)
