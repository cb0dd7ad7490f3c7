"""Parameter record and initial state of a specification."""

from __future__ import annotations

from typing import NamedTuple

from ullage.kernel.derive import prepare
from ullage.kernel.params import Parameters
from ullage.kernel.state import State, empty_array
from ullage.scenario.circuit import initial_gas
from ullage.scenario.duty_spec import ScenarioSpec
from ullage.scenario.settings import settings_array


class Prepared(NamedTuple):
    """Parameters of a race, and the state in which it begins."""

    parameters: Parameters
    state: State


def prepared(spec: ScenarioSpec, tolerance_factor: float) -> Prepared:
    """Make parameters and initial state of a race.

    Parameters
    ----------
    spec : ScenarioSpec
        A checked specification.
    tolerance_factor : float
        Factor on the tolerances; 1 is the default accuracy.

    Returns
    -------
    Prepared
        Records of their own memory, SI units.
    """
    parameters, states = empty_array(Parameters), empty_array(State)
    prepare(settings_array(spec, tolerance_factor), initial_gas(spec), parameters, states)
    return Prepared(parameters[0], states[0])


def make_parameters(spec: ScenarioSpec, tolerance_factor: float) -> Parameters:
    """Make the parameter record of a race.

    Parameters
    ----------
    spec : ScenarioSpec
        A checked specification.
    tolerance_factor : float
        Factor on the tolerances; 1 is the default accuracy.

    Returns
    -------
    numpy record
        One float64 field a quantity, SI units.
    """
    return prepared(spec, tolerance_factor).parameters
