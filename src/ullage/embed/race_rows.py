"""The inputs of a scenario's own race, to drive a stepper or another program with them."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from ullage.kernel.inputs import INPUTS
from ullage.scenario.compile import forcing_of, inputs_of
from ullage.scenario.load import Scenario, a_scenario
from ullage.scenario.race import race_pieces


def race_inputs(scenario: Scenario) -> NDArray[Any]:
    """Return what the race of a scenario gives to the circuit, from its start to its end.

    Parameters
    ----------
    scenario : Scenario
        A checked scenario.

    Returns
    -------
    numpy structured array of shape (rows,)
        `time` [s] and a field for each input [SI units], linear between rows; two rows at one time are a jump. What is
        held (`engine_on` and all fields after it) holds in the interval before its row.
    """
    spec = a_scenario(scenario).spec
    race = inputs_of(race_pieces(spec)[0], forcing_of(spec))
    steps = len(race.before)
    rows = np.empty(2 * steps, dtype=[("time", np.float64), *((name, np.float64) for name in INPUTS)])
    rows["time"] = np.repeat(race.knots, 2)[1:-1]
    for name in INPUTS:
        rows[name][0::2] = race.before[name]
        rows[name][1::2] = race.after[name]
    jumps = np.ones(2 * steps, dtype=bool)
    jumps[2::2] = race.before[1:] != race.after[:-1]
    return rows[jumps]
