"""How much longer general solvers take than the march, on the same equations and inputs, for the same errors.

    python benchmarks/peers.py [--quick]

Checks accuracy first: the march and the solvers are held against LSODA at tight tolerances, and that against the march
at a thousandth of its tolerances: two algorithms that share nothing but the laws. Each solver's tolerance is then
tightened until its errors are allowed: those of the march itself for LSODA compiled by numbalsoda, which has no Python
in its loop and is the fair peer; 0.02 K and 50 Pa for SciPy's methods, which call the compiled right-hand side from
Python, as a user would write it. Only then are march and solver timed, in turns, in one process. Prints JSON lines with
name, value and unit; ratios are medians. The quick version takes a race of 26 minutes, on which ratios differ.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from figures import (
    MOST_KELVIN,
    MOST_PASCAL,
    SHORT,
    TIGHT,
    Errors,
    Solution,
    accurate,
    clock,
    demo_race,
    errors,
    in_turns,
    march_seconds,
    median,
    quick_asked,
    show,
    solution_of,
)
from floor import EVALUATIONS, evaluation_seconds
from general_solvers import (
    COMPILED_LSODA,
    HAS_COMPILED,
    INSTALL,
    ODEINT,
    Race,
    Solved,
    Tolerance,
    race_of,
    reference_of,
    repeated,
    solve,
)
from ullage.kernel.state import State
from ullage.results.trace import trace_race

FINER = 0.8  # from one trial of a tolerance to the next
MOST_TRIALS, MOST_SECONDS = 20, 120.0  # no more trials after one that took longer
FAR_BELOW = 0.25  # what two references may differ by, of the errors that they judge


class Peer(NamedTuple):
    """A solver at its best: the loosest temperature tolerance worth a trial [K], the air's tolerance for each kelvin.

    `stages` is how many instants it evaluates in a step.
    """

    name: str
    method: str
    kelvin: float
    air_per_kelvin: float
    stages: int


# found by trying grids of both tolerances on the whole race
COMPILED = Peer("compiled_lsoda", COMPILED_LSODA, 1e-3, 0.03, 1)
SCIPY = (
    Peer("lsoda", "LSODA", 1.25e-3, 0.03, 1),
    Peer("odeint", ODEINT, 1.25e-3, 0.1, 1),
    Peer("bdf", "BDF", 4e-4, 0.1, 1),
    Peer("radau", "Radau", 1.25e-3, 0.01, 3),
)


def tolerance_of(peer: Peer, kelvin: float) -> Tolerance:
    """Return both tolerances of a peer."""
    return Tolerance(kelvin, kelvin * peer.air_per_kelvin)


def matched(race: Race, peer: Peer, reference: Solution, allowed: Errors) -> tuple[Tolerance, Solved, Errors]:
    """Return the loosest tolerance of a row of trials whose errors are allowed, or the last of the row."""
    for trial in range(MOST_TRIALS):
        tolerance = tolerance_of(peer, peer.kelvin * FINER**trial)
        solved = solve(race, peer.method, tolerance)
        found = errors(solved.solution, reference)
        if found.within(*allowed) or solved.seconds > MOST_SECONDS:
            break
    return tolerance, solved, found


def compare(race: Race, peer: Peer, reference: Solution, allowed: Errors, quick: bool) -> None:
    """Print a peer's errors and cost, and its time over that of the march if its errors are allowed."""
    tolerance, solved, found = matched(race, peer, reference, allowed)
    show(f"{peer.name}_temperature_error_k", found.kelvin, "K")
    show(f"{peer.name}_pressure_error_pa", found.pascal, "Pa")
    show(f"{peer.name}_evaluations", solved.evaluations, "1")
    show(f"{peer.name}_steps", solved.instants / peer.stages, "1")
    show(f"{peer.name}_temperature_tolerance_k", tolerance.kelvin, "K")
    if not found.within(*allowed):
        print(f"{peer.name} does not come within {allowed.kelvin:.3g} K and {allowed.pascal:.3g} Pa", file=sys.stderr)
        return
    own = march_seconds(race.problem)
    march, other = in_turns([own, lambda: solve(race, peer.method, tolerance).seconds], quick).T
    show(f"{peer.name}_ms", 1e3 * median(other), "ms")
    show(f"{peer.name}_over_march", median(other / march), "1")


def rate_seconds(race: Race, state: State) -> Callable[[], float]:
    """Return a call that times one evaluation of the solvers' right-hand side, in one compiled loop [s]."""
    lengths = np.diff(race.problem.table.time)
    values = [*state.temperature, state.air_heat, state.air_mass, state.dissolved_air, 0.0, state.free_air]
    race.handle["passes"], race.handle["unit"] = 1, 1.0

    def timed() -> float:
        start = clock()
        repeated(np.array(values), np.flatnonzero(lengths > 0.0), race.handle, EVALUATIONS)
        return (clock() - start) / EVALUATIONS

    timed()
    return timed


def main() -> int:
    """Check, then time."""
    quick = quick_asked(__doc__)
    changes = SHORT if quick else {}
    problem = demo_race(changes)
    trace, tight = trace_race(problem), trace_race(demo_race(changes, TIGHT))
    race = race_of(problem, tight)
    reference = reference_of(race)
    largest, between = errors(solution_of(trace.rows), reference), errors(solution_of(tight.rows), reference)
    show("temperature_error_k", largest.kelvin, "K")
    show("pressure_error_pa", largest.pascal, "Pa")
    show("between_references_k", between.kelvin, "K")
    show("between_references_pa", between.pascal, "Pa")
    if not accurate(largest):
        return 1
    if not between.within(FAR_BELOW * largest.kelvin, FAR_BELOW * largest.pascal):
        print("the references differ by too much: no timing", file=sys.stderr)
        return 1
    floor, rate = in_turns([evaluation_seconds(problem), rate_seconds(race, trace.state)], quick).T
    show("rhs_us", 1e6 * median(rate), "us")
    show("rhs_over_floor", median(rate / floor), "1")
    if HAS_COMPILED:
        compare(race, COMPILED, reference, largest, quick)
    else:
        print(INSTALL, file=sys.stderr)
    for peer in SCIPY:
        compare(race, peer, reference, Errors(MOST_KELVIN, MOST_PASCAL), quick)
    return 0


if __name__ == "__main__":
    sys.exit(main())
