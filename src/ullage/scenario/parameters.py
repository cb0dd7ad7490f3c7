"""Parameter record and initial state from a specification."""

from __future__ import annotations

from ullage.kernel.derive import derive
from ullage.kernel.params import Parameters
from ullage.kernel.settings import Settings
from ullage.kernel.state import empty_record
from ullage.scenario.duty_spec import ScenarioSpec
from ullage.scenario.settings import settings_of


def make_parameters(spec: ScenarioSpec, tolerance_factor: float) -> Parameters:
    """Make the parameter record of a race.

    Parameters
    ----------
    spec : ScenarioSpec
        A checked specification.
    tolerance_factor : float
        Factor on all tolerances; 1 is the default accuracy.

    Returns
    -------
    numpy record
        One float64 field a quantity, SI units.
    """
    return parameters_of(settings_of(spec, tolerance_factor))


def parameters_of(settings: Settings) -> Parameters:
    """Return the parameter record that `derive` makes of settings."""
    parameters = empty_record(Parameters)
    derive(settings, parameters)
    return parameters
