"""What another program may give a stepwise simulation: every input with its range, unit and meaning."""

from __future__ import annotations

import functools
from collections.abc import Callable, Mapping
from typing import Any, cast

import numpy as np

from ullage.errors import Fault, quoted
from ullage.hints import did_you_mean
from ullage.kernel.inputs import INPUTS
from ullage.scenario.fields import Quantity, read_quantity
from ullage.units import UnitError

ON_OR_OFF = ("engine_on", "cap_on", "fan_forced", "in_water")
_LONGEST = 8.64e6  # [s]
_SECONDS = Quantity("time", "0 s", "100 day", None, False, "length of a step")
_SWITCHED = {"on": 1.0, "off": 0.0}
_ACCELERATIONS = ("forward_acceleration", "left_acceleration", "upward_acceleration")
WHOLE_NUMBERS = (*ON_OR_OFF, "relief_stuck", "vacuum_stuck", "mark_fills")


def _given(kind: str, low: str, high: str, help: str, sign: str = "") -> Quantity:
    return Quantity(kind, low, high, None, False, help, sign)


INPUT_QUANTITIES = {
    "engine_speed": _given("rotation", "0 rpm", "15000 rpm", "engine speed"),
    "vehicle_speed": _given("speed", "0 km/h", "400 km/h", "speed of the truck, its amount in reverse as well"),
    "steering_load": _given("pressure difference", "0 bar", "300 bar", "pressure for the ram"),
    "steering_position": _given(
        "number", "-1", "1", "ram position", "positive: ram holds more oil; 1 and -1 are the ends"
    ),
    "elevation": _given("length", "-400 m", "5000 m", "where the truck is", "above sea level positive"),
    "ambient_temperature": _given("temperature", "-40 degC", "55 degC", "temperature of the air outside"),
    "forward_acceleration": _given("acceleration", "-10 gn", "10 gn", "of the truck", "positive: speeding up"),
    "left_acceleration": _given("acceleration", "-10 gn", "10 gn", "of the truck", "positive: in a left-hand bend"),
    "upward_acceleration": _given(
        "acceleration", "-10 gn", "10 gn", "of the truck; 0 at rest", "positive: thrown up, -1 gn: falling"
    ),
    "engine_on": _given("number", "0", "1", "1 while the engine is on"),
    "cap_on": _given("number", "0", "1", "1 while the cap is on"),
    "fan_forced": _given("number", "0", "1", "1 while the fan runs whatever its thermostat says"),
    "fan_share": _given("number", "0", "1", "share of its full air speed at which the fan runs while it runs"),
    "ground_roughness": _given("number", "0", "5", "1 is the usual rough ground, 0 a smooth one"),
    "in_water": _given("number", "0", "1", "1 while the truck crosses water"),
    "water_temperature": _given("temperature", "0 degC", "40 degC", "of that water"),
    "core_blockage": _given("number", "0", "0.99", "share of the cooler's core that is blocked"),
    "strainer_factor": _given("number", "1", "1000", "drop of the strainer over that of a clean one"),
    "bore_share": _given("number", "0.1", "1", "share of the feed line's bore that is left"),
    "leak_area": _given("valve area", "0 mm2", "20 mm2", "of a leak in the cap's seal, as a nozzle"),
    "relief_stuck": _given("number", "-1", "1", "relief valve of the cap: 1 stuck open, -1 stuck shut, 0 sound"),
    "vacuum_stuck": _given("number", "-1", "1", "vacuum valve of the cap: 1 stuck open, -1 stuck shut, 0 sound"),
    "water_content": _given("number", "0", "0.1", "mass share of water in the oil"),
    "top_up_flow": _given(
        "mass flow", "0 kg/s", "10 kg/s", "oil that is poured in, also through a cap that is on: take it off before"
    ),
    "top_up_temperature": _given("temperature", "-40 degC", "80 degC", "of that oil"),
    "drain_flow": _given("mass flow", "0 kg/s", "10 kg/s", "oil that runs out"),
    "mark_fills": _given(
        "number", "0", "1000000", "how often the tank was brought to its cold mark, up or down: one more does it"
    ),
    "recharge_pressure": _given(
        "pressure difference",
        "0 psi",
        "40 psi",
        "air put in through a regulator set so far over ambient, 0 for none: keep it below the cap",
    ),
}


@functools.cache
def _limits() -> dict[str, tuple[float, float]]:
    return {name: quantity.limits() for name, quantity in INPUT_QUANTITIES.items()}


def input_number(name: str, value: Any) -> float:
    """Read the value of an input.

    Parameters
    ----------
    name : str
        Name of the input.
    value : float, int, str, bool or NumPy scalar
        SI number, or text with a unit; pressures over ambient and of the ram are differences.

    Returns
    -------
    float
        SI value.

    Raises
    ------
    UnitError
        If it is no input, or its value cannot be read or is out of range.
    """
    if name not in INPUT_QUANTITIES:
        raise UnitError(f"is no input{did_you_mean(name, INPUTS)}")
    if type(value) is float:
        low, high = _limits()[name]
        if low <= value <= high and (name not in WHOLE_NUMBERS or value.is_integer()):
            return value
    return _checked_number(name, value)


def _checked_number(name: str, value: Any) -> float:
    value = _plain(value)
    if isinstance(value, bool) and name in ON_OR_OFF:
        return float(value)
    number = cast("float", read_quantity(value, INPUT_QUANTITIES[name], from_file=False))
    if name in WHOLE_NUMBERS and not number.is_integer():
        raise UnitError(f"{quoted(value)} is no whole number")
    return number


def _plain(value: Any) -> Any:
    """Return what a NumPy scalar or an array of no dimension holds."""
    return value.item() if isinstance(value, np.generic | np.ndarray) and value.ndim == 0 else value


class StepInputs:
    """What a step was given: its length, its inputs as numbers, and everything that is wrong with them."""

    def __init__(self) -> None:
        self.seconds = 0.0
        self.numbers: dict[str, float] = {}
        self.faults: list[Fault] = []

    def mapping(self, inputs: Any) -> None:
        """Read inputs by their names: a mapping, a row of a structured array, or None."""
        if inputs is None:
            return
        if isinstance(inputs, np.void) and inputs.dtype.names:
            inputs = {name: inputs[name] for name in inputs.dtype.names if name != "time"}
        if not isinstance(inputs, Mapping):
            self.faults.append(Fault("", None, "inputs", "a mapping, or one row of `race_inputs`, is wanted"))
            return
        for name, value in inputs.items():
            self._take(str(name), _KEYWORDS.get(name, _input), value)

    def keyword(self, name: str, value: Any) -> None:
        """Read a value that has a word of its own."""
        if name == "seconds":
            self._take(name, self._length, value)
        else:
            self._take(name, _KEYWORDS.get(name, _input), value)

    def _take(self, name: str, read: Callable[[str, Any], dict[str, float]], value: Any) -> None:
        try:
            self.numbers |= read(name, value)
        except UnitError as error:
            self.faults.append(Fault("", None, name, str(error)))

    def _length(self, _: str, value: Any) -> dict[str, float]:
        plain = _plain(value)
        if type(plain) is not float or not 0.0 <= plain <= _LONGEST:
            plain = cast("float", read_quantity(plain, _SECONDS, from_file=False))
        self.seconds = plain
        return {}


def _input(name: str, value: Any) -> dict[str, float]:
    return {name: input_number(name, value)}


def _switched(name: str, value: Any) -> dict[str, float]:
    if not isinstance(value, str) or value not in _SWITCHED:
        raise UnitError(f'{quoted(value)} is neither "on" nor "off"')
    return {f"{name}_on": _SWITCHED[value]}


def _accelerations(_: str, value: Any) -> dict[str, float]:
    if isinstance(value, str) or np.shape(value) != (3,):
        raise UnitError("three values are wanted: forward, left and up")
    return {name: input_number(name, each) for name, each in zip(_ACCELERATIONS, value, strict=True)}


def _fan(_: str, value: Any) -> dict[str, float]:
    """Return the inputs that are meant; a fan that stands is not forced on, and would blow no air if it ran."""
    if isinstance(value, str) and value == "auto":
        return {"fan_forced": 0.0, "fan_share": 1.0}
    try:
        share = input_number("fan_share", value)
    except UnitError:
        text = f'{quoted(_plain(value))} is neither a share from 0 to 1, nor a percentage, nor "auto"'
        raise UnitError(text) from None
    return {"fan_share": share, "fan_forced": 1.0 if share > 0.0 else 0.0}


_KEYWORDS: dict[str, Callable[[str, Any], dict[str, float]]] = {
    "cap": _switched,
    "engine": _switched,
    "acceleration": _accelerations,
    "fan": _fan,
}
