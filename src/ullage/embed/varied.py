"""What an objective varies and returns: keys with their ranges, and figures, read and checked."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np

from ullage.errors import Fault, ScenarioError, quoted
from ullage.hints import did_you_mean
from ullage.kernel.state import NODES
from ullage.results.summary import STATE_FIGURES
from ullage.results.variables import SUMMARY_FIGURES
from ullage.scenario.duty_spec import ScenarioSpec
from ullage.scenario.fields import Level, Quantity, quantity_of_key, read_quantity
from ullage.scenario.limits import Place
from ullage.scenario.load import Scenario
from ullage.scenario.tree import set_value
from ullage.study.values import key_faults
from ullage.units import KINDS, UnitError

End = float | str
Vary = str | tuple[str, End, End]

PEAK = "peak_oil_temperature"
_EXAMPLE = '["reservoir.fill", ("cap.relief_pressure", "10 psi", "20 psi")]'
OUTPUTS = (*STATE_FIGURES, "shaft_energy", *(f"{PEAK}.{node}" for node in NODES))


class Variable(NamedTuple):
    """A key that an optimiser's number sets: unit as a file has it, range and the scenario's own value [SI]."""

    key: str
    unit: str
    low: float
    high: float
    own: float

    def written(self, number: float) -> str | float:
        """Return a number as a file has it; reading it gives the same number to the last bit."""
        return f"{number!r} {self.unit}" if self.unit else number


def read_variables(scenario: Scenario, vary: Sequence[Vary]) -> tuple[list[Variable], list[Fault]]:
    """Read what is varied.

    Parameters
    ----------
    scenario : Scenario
        The scenario in which it is varied.
    vary : sequence
        Keys, or (key, low, high).

    Returns
    -------
    tuple of list
        Variables, and everything that is wrong.
    """
    if not isinstance(vary, list | tuple) or not vary:
        return [], [Fault("", None, "vary", f"a list of keys is wanted, such as {_EXAMPLE}")]
    variables: list[Variable] = []
    faults: list[Fault] = []
    places: set[Place] = set()
    for item in vary:
        try:
            key, ends = _key_and_ends(item)
            place, quantity = _place(scenario, key, places)
            places.add(place)
            variables.append(_variable(key, quantity, ends, _value_at(scenario.spec, place)))
        except ScenarioError as error:
            faults += error.faults
        except UnitError as error:
            faults.append(Fault("", None, key, str(error)))
    return variables, faults


def _key_and_ends(item: Any) -> tuple[str, tuple[Any, ...]]:
    key, *ends = [item] if isinstance(item, str) else item if isinstance(item, list | tuple) and item else [None]
    if not isinstance(key, str) or len(ends) not in (0, 2):
        raise ScenarioError([Fault("", None, "vary", f"{quoted(item)} is neither a key nor (key, low, high)")])
    return key, tuple(ends)


def _place(scenario: Scenario, key: str, taken: set[Place]) -> tuple[Place, Quantity]:
    """Return the place of a key in a specification, and what it accepts."""
    if wrong := key_faults(scenario, [key], ("0",)):
        raise ScenarioError([Fault("", None, *each) for each in wrong])
    place, quantity = set_value(scenario.to_dict(), key, "0"), quantity_of_key(ScenarioSpec, key)
    if quantity is None:
        raise UnitError("takes no number with a unit (a whole number, words, a list, a table): vary it in a study")
    if place in taken:
        raise UnitError("is varied twice")
    return place, quantity


def _value_at(spec: Any, place: Place) -> Any:
    for step in place:
        spec = spec[step] if isinstance(step, int) else getattr(spec, step, None)
    return spec


def _variable(key: str, quantity: Quantity, ends: tuple[Any, ...], own: float | Level | None) -> Variable:
    """Read the ends of a range and hold them against what a key accepts."""
    plain = (end.item() if isinstance(end, np.generic) else end for end in ends)
    read = [read_quantity(end, quantity, from_file=False) for end in plain]
    gauge = next((value.gauge for value in (own, *read) if isinstance(value, Level)), True)
    if any(isinstance(end, Level) and end.gauge != gauge for end in read):
        how = 'over ambient, such as "2 barg"' if gauge else 'absolute, such as "0.5 bara"'
        raise UnitError(f"give both ends as the scenario has the pressure: {how}")
    limits = quantity.limits() if gauge else quantity.absolute_limits()
    low, high = (_si(end) for end in read) if read else limits
    if not low < high:
        raise UnitError(f"the lowest value, {quoted(ends[0])}, is not below the highest, {quoted(ends[1])}")
    unit = "" if quantity.kind == "number" else KINDS[quantity.kind].unit
    if quantity.kind == "pressure level":
        unit += " gauge" if gauge else " abs"
    return Variable(key, unit, low, high, math.nan if own is None else _si(own))


def _si(value: float | Level) -> float:
    return value.pascal if isinstance(value, Level) else value


def output_faults(outputs: Sequence[str]) -> list[Fault]:
    """Return what is wrong with the figures that are asked for."""
    if not isinstance(outputs, list | tuple) or not outputs:
        return [Fault("", None, "outputs", f'a list of figures is wanted, such as ["{PEAK}"]')]
    return [Fault("", None, str(name), _no_output(str(name))) for name in outputs if name not in OUTPUTS]


def _no_output(name: str) -> str:
    if name in SUMMARY_FIGURES:
        return "needs every row of a race, which an objective does not keep: take it from `simulate`"
    return "is no figure of a race" + did_you_mean(name, OUTPUTS)
