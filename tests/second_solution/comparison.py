"""The differences between the second solution and a run of the library, variable by variable."""

from typing import NamedTuple

import numpy as np

from second_solution.march import March
from ullage.scenario.compile import compile_problem

TOLERANCES = {
    "oil_temperature": (0.05, "K"),
    "headspace_temperature": (0.5, "K"),
    "headspace_pressure": (100.0, "Pa"),
    "feed_pressure": (100.0, "Pa"),
    "pump_void_fraction": (1e-4, "1"),
    "inlet_void_fraction": (1e-4, "1"),
    "oil_mass": (1e-12, "kg"),
    "headspace_air_mass": (2e-6, "kg"),
    "dissolved_air_mass": (1e-6, "kg"),
    "free_air_mass": (5e-7, "kg"),
    "supply_pressure": (500.0, "Pa"),
    "shaft_power": (2.0, "W"),
    "cavitation_exposure": (6.0, "s"),
}


class Difference(NamedTuple):
    """The largest difference of a variable over all rows, and when it is."""

    variable: str
    largest: float
    time: float
    tolerance: float
    unit: str


def second_solution(scenario, times, tightening=1.0):
    """Solve a scenario a second time, and show it at some times."""
    return March(scenario.spec, compile_problem(scenario.spec).table, tightening).run([float(time) for time in times])


def table_of_differences(run, solution):
    """Compare a run of the library with a second solution at the same times."""
    return [_difference(name, run, solution) for name in TOLERANCES]


def _difference(name, run, solution):
    theirs = run[name].transpose("time", ...).values
    ours = solution[name]
    if not np.array_equal(np.isnan(ours), np.isnan(theirs)):
        raise AssertionError(f"{name} is a number in one solution and none in the other")
    apart = np.nan_to_num(np.abs(ours - theirs)).reshape(len(ours), -1).max(axis=1)
    row = int(np.argmax(apart))
    return Difference(name, float(apart[row]), float(run.time[row]), *TOLERANCES[name])
