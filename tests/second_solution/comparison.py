"""The differences between the second solution and a run of the library, variable by variable."""

from typing import NamedTuple

import numpy as np

from second_solution.march import March
from ullage.scenario.compile import compile_problem

# 2 mg of air are what 100 Pa are worth in the air space. Its temperature moves fastest, by some 15 K/s, just after the
# cap went off: there the library is good to half a kelvin (with a twentieth of its tolerances: to 0.02 K). The time
# with gas in the pump is a sum over steps in the library, each counted as at its end.
TOLERANCES = {
    "oil_temperature": (0.05, "K"),
    "headspace_temperature": (1.0, "K"),
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


def quiet_rows(run, solution):
    """Rows in which a difference of milliseconds or of half a pascal in time or place of a switch is not seen.

    Left out are 2 s about openings of the relief valve (pressure drops by kilopascals in a tenth of a second), 10 s
    after switches of the thermostat (the cooler turns over), and the time in which the vacuum valve works: pressure is
    then somewhere between its opening and its reseat.
    """
    time = run.time.values
    quiet = np.ones(len(time), bool)
    for begin in solution.switched("cap relief", "open"):
        quiet &= np.abs(time - begin) > 2.0
    for begin in solution.switched("thermostat", "open") + solution.switched("thermostat", "shut"):
        quiet &= (time < begin - 2.0) | (time > begin + 10.0)
    vacuum = solution.switched("cap vacuum", "open")
    return quiet & ~((time > vacuum[0] - 2.0) & (time < vacuum[-1] + 20.0)) if vacuum else quiet


def table_of_differences(run, solution, rows=None):
    """Compare a run of the library with a second solution at the same times, in all rows or some."""
    rows = np.ones(run.sizes["time"], bool) if rows is None else rows
    return [_difference(name, run, solution, rows) for name in TOLERANCES]


def _difference(name, run, solution, rows):
    theirs = run[name].transpose("time", ...).values[rows]
    ours = solution[name][rows]
    if not np.array_equal(np.isnan(ours), np.isnan(theirs)):
        raise AssertionError(f"{name} is a number in one solution and none in the other")
    apart = np.nan_to_num(np.abs(ours - theirs)).reshape(len(ours), -1).max(axis=1)
    row = int(np.argmax(apart))
    return Difference(name, float(apart[row]), float(run.time.values[rows][row]), *TOLERANCES[name])
