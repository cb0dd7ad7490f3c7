"""General solvers on the equations of the march: LSODA compiled, with no Python in its loop, and SciPy's methods.

The right-hand side is that of `tests/reference_equations.py`, compiled. The solvers get what helps them: unknowns in
units of their tolerances, a fresh start at every jump of a channel and at no other row, modes that switch at known
times, and one pass of the weak feedback between air space and oil.
"""

from __future__ import annotations

import importlib
import importlib.util
import sys
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, NamedTuple

import numba
import numpy as np
from numba.core import cgutils, types
from numba.extending import intrinsic
from scipy.integrate import odeint, solve_ivp

from figures import ROOT, Array, Solution, clock
from ullage.kernel.modes import FAN_STARTS, FAN_STOPS, empty_log
from ullage.kernel.outputs import OUTPUT_DTYPE
from ullage.kernel.params import CHANNEL_INDEX, CHANNELS, PARAMETER_DTYPE, forcing_between
from ullage.kernel.setting import begin
from ullage.kernel.state import Scratch, State, copied, empty_record, record_dtype
from ullage.physics import water
from ullage.results.trace import Trace
from ullage.scenario.compile import Problem

sys.path.insert(0, str(ROOT / "tests"))
from reference_equations import PASSES, UNKNOWNS, right_hand_side, take_over

COMPILED_LSODA, ODEINT = "compiled LSODA", "odeint"
INSTALL = "numbalsoda is missing, so there is no compiled LSODA; `pip install '.[bench]'` needs gfortran and cmake"
_SIZES = np.array([1.0, 1.0, 1.0, 1.0, 0.5, 1.5e-3, 1e-3, 1e-3, 1e-4])  # of the unknowns: 1 K; N and masses of a race
_LEAST_RELATIVE = 1e-13  # SciPy refuses less; the tolerance proper is the absolute one
_MOST_STEPS = 1_000_000
_STATE, _SCRATCH = record_dtype(State), record_dtype(Scratch)

# what compiled code gets of a race, by one address
_HANDLE = np.dtype(
    [(name, np.int64) for name in ("parameters", "state", "scratch", "time", "channels", "rows")]
    + [(name, np.int64) for name in ("row", "first_row", "last_row", "passes", "evaluations", "instants")]
    + [
        ("instant", np.float64),
        ("oil_mass", np.float64),
        ("unit", np.float64, UNKNOWNS),
        ("value", np.float64, UNKNOWNS),
    ]
)
_PLAIN: Any = {"error_model": "numpy", "nogil": True}


@intrinsic
def _pointer(typing_context, address):  # noqa: ANN001, ANN202, ARG001
    """Return an address as a pointer."""

    def generate(context, builder, signature, arguments):  # noqa: ANN001, ANN202, ARG001
        return builder.inttoptr(arguments[0], cgutils.voidptr_t)

    return types.voidptr(address), generate


@numba.njit(**_PLAIN)
def _parts(h):  # noqa: ANN001, ANN202
    """Return parameters, state, scratch, times and channels behind a handle, records as arrays of one."""
    return (
        numba.carray(_pointer(h.parameters), (1,), PARAMETER_DTYPE),
        numba.carray(_pointer(h.state), (1,), _STATE),
        numba.carray(_pointer(h.scratch), (1,), _SCRATCH),
        numba.carray(_pointer(h.time), (h.rows,), np.float64),
        numba.carray(_pointer(h.channels), (h.rows, len(CHANNELS)), np.float64),
    )


@numba.njit(**_PLAIN)
def rates(t, z, out, handle):  # noqa: ANN001, ANN201
    """Write the rates of the unknowns, in units of their tolerances; beyond a stretch the channels keep their value."""
    h = handle[0]
    p, s, w, time, channels = _parts(h)
    row = h.row
    while row < h.last_row and t > time[row + 1]:
        row += 1
    while row > h.first_row and t < time[row]:
        row -= 1
    h.row = row
    h.evaluations += 1
    if t != h.instant:
        h.instants += 1
        h.instant = t
    forcing = forcing_between(channels, row, min(1.0, (t - time[row]) / (time[row + 1] - time[row])))
    for i in range(UNKNOWNS):
        h.value[i] = z[i] * h.unit[i]
    right_hand_side(p[0], s[0], w[0], forcing, h.value, h.oil_mass, h.passes, out)
    for i in range(UNKNOWNS):
        out[i] /= h.unit[i]


@numba.njit(**_PLAIN)
def _new_rates(t, z, handle):  # noqa: ANN001, ANN202
    out = np.empty(UNKNOWNS)
    rates(t, z, out, handle)
    return out


@numba.njit(**_PLAIN)
def _pressures(rows, times, values, handle):  # noqa: ANN001, ANN202
    """Return the headspace pressure that belongs to the unknowns at some times in some intervals."""
    p, s, _, time, channels = _parts(handle[0])
    pressure = np.empty(len(rows))
    for k in range(len(rows)):
        row = rows[k]
        forcing = forcing_between(channels, row, (times[k] - time[row]) / (time[row + 1] - time[row]))
        take_over(p[0], s[0], forcing, values[k], handle[0].oil_mass)
        vapour = water.vapour_pressure(values[k, 0], forcing.water_content, p[0].water_saturation)
        pressure[k] = s[0].air_pressure + vapour
    return pressure


@numba.njit(**_PLAIN)
def repeated(values, rows, handle, count):  # noqa: ANN001, ANN201
    """Evaluate the right-hand side `count` times, in the middle of some intervals."""
    h, out, total = handle[0], np.empty(UNKNOWNS), 0.0
    time = _parts(h)[3]
    for k in range(count):
        row = rows[k % len(rows)]
        h.row = h.first_row = h.last_row = row
        rates(0.5 * (time[row] + time[row + 1]), values, out, handle)
        total += out[0]
    return total


def _callback() -> int:
    """Return the address of the right-hand side as a C function."""
    numbers = types.CPointer(types.float64)
    signature = types.void(types.float64, numbers, numbers, types.CPointer(numba.from_dtype(_HANDLE)))

    @numba.cfunc(signature, error_model="numpy")
    def called(t, z, out, handle):  # noqa: ANN001, ANN202
        rates(t, numba.carray(z, (UNKNOWNS,)), numba.carray(out, (UNKNOWNS,)), numba.carray(handle, (1,)))

    _KEPT.append(called)
    return int(called.address)


_KEPT: list[object] = []  # compiled code lives as long as these
_NUMBALSODA = importlib.import_module("numbalsoda") if importlib.util.find_spec("numbalsoda") else None
_ADDRESS = _callback() if _NUMBALSODA else 0
HAS_COMPILED = _NUMBALSODA is not None


class Tolerance(NamedTuple):
    """Absolute tolerances: of temperatures [K], and of the air as a share of its usual mass [1]."""

    kelvin: float
    air: float


class Solved(NamedTuple):
    """A solution with what it cost: seconds, evaluations of the right-hand side, instants at which it was evaluated."""

    solution: Solution
    seconds: float
    evaluations: int
    instants: int


class Stretch(NamedTuple):
    """A part of the race without a jump: intervals of the table, times [s], modes."""

    first_row: int
    last_row: int
    start: float
    end: float
    cap_on: int
    fan_running: int


def stretches_of(problem: Problem, trace: Trace) -> list[Stretch]:
    """Return the stretches of a race whose cap valves stay shut; the fan switches when it does in a march."""
    counts, first_times = trace.log[:, :, 0], trace.log[:, :, 1]
    fan = np.isin(np.arange(counts.shape[1]), [FAN_STARTS, FAN_STOPS])
    if np.any(counts[:, ~fan]) or np.any(counts > 1):
        raise SystemExit("a valve moved or the fan chattered: general solvers are not led through that here")
    switches = np.sort(first_times[:, fan][counts[:, fan] > 0])
    time, cap = problem.table.time, problem.table.channels[:, CHANNEL_INDEX["cap_on"]]
    jumps = np.flatnonzero(np.diff(time) <= 0.0)
    stretches, running = [], int(problem.state.fan_running)
    for first, last in zip(np.append(0, jumps + 1), np.append(jumps, len(time) - 1), strict=True):
        cuts = switches[(switches > time[first]) & (switches < time[last])]
        for start, end in zip([time[first], *cuts], [*cuts, time[last]], strict=True):
            running = 1 - running if start in cuts else running
            stretches.append(Stretch(first, last - 1, start, end, int(cap[first]), running))
    return stretches


@dataclass
class Race:
    """A race for general solvers: its memory, its stretches, the unknowns at its start."""

    problem: Problem
    stretches: list[Stretch]
    state: State
    handle: np.ndarray[Any, Any]
    start: Array
    kept: tuple[Any, ...]


def race_of(problem: Problem, trace: Trace) -> Race:
    """Return a problem made ready for general solvers; the march of it says when the fan switches."""
    table, p = problem.table, problem.parameters
    state, w = copied(problem.state), empty_record(Scratch)
    log = empty_log(table.time[0], table.time[-1])
    begin(p, state, table.channels, np.recarray(1, dtype=OUTPUT_DTYPE), log)
    start = [*state.temperature, state.air_heat, state.air_mass, state.dissolved_air, 0.0, state.free_air]
    time, channels = np.ascontiguousarray(table.time), np.ascontiguousarray(table.channels)
    handle = np.zeros(1, _HANDLE)
    for name, kept in {"parameters": p, "state": state, "scratch": w, "time": time, "channels": channels}.items():
        handle[name] = kept.__array_interface__["data"][0]
    handle["rows"], handle["oil_mass"], handle["unit"] = len(time), state.oil_mass, 1.0
    _new_rates(time[0], np.array(start), handle)  # compiled here, not while a solver is timed
    return Race(problem, stretches_of(problem, trace), state, handle, np.array(start), (p, w, time, channels))


def solve(race: Race, method: str, tolerance: Tolerance, exact: bool = False) -> Solved:
    """Solve a race; a solver that gives up leaves samples that are not a number.

    `method` is `COMPILED_LSODA`, `ODEINT` (SciPy's older door to LSODA) or a method of `solve_ivp`. With `exact` the
    feedback between oil and air space is taken to the last digits; one pass of it leaves 0.2 Pa.
    """
    times, unit = race.problem.table.output_time, _SIZES * ([tolerance.kelvin] * 4 + [tolerance.air] * 5)
    run = {COMPILED_LSODA: _compiled_stretch, ODEINT: _odeint_stretch}.get(method) or _scipy_stretch(method)
    race.handle["passes"], race.handle["unit"] = PASSES if exact else 1, unit
    race.handle["evaluations"] = race.handle["instants"] = 0
    values = np.full((len(times), UNKNOWNS), np.nan)
    values[0], z = race.start, race.start / unit
    begun = clock()
    for part in race.stretches:
        race.state.cap_on, race.state.fan_running = part.cap_on, part.fan_running
        race.handle["row"] = race.handle["first_row"] = part.first_row
        race.handle["last_row"] = part.last_row
        i, j = np.searchsorted(times, [part.start, part.end], side="right")
        wanted = np.append(times[i:j], part.end)
        found = run(race.handle, part.start, z, wanted)
        if found is None:
            break
        values[i:j], z = found[: j - i] * unit, found[-1]
    seconds = clock() - begun
    rows = np.maximum(0, np.searchsorted(race.kept[2], times, side="left") - 1)
    solution = Solution(times, values[:, :4], _pressures(rows, times, values, race.handle))
    return Solved(solution, seconds, int(race.handle["evaluations"][0]), int(race.handle["instants"][0]))


Run = Callable[[np.ndarray[Any, Any], float, Array, Array], Array | None]


def _compiled_stretch(handle: np.ndarray[Any, Any], start: float, z: Array, wanted: Array) -> Array | None:
    assert _NUMBALSODA is not None
    data = handle.view(np.float64)  # passed on as an address
    found, done = _NUMBALSODA.lsoda(_ADDRESS, z, np.append(start, wanted), data, 0.0, 1.0, _MOST_STEPS)
    return found[1:] if done and np.all(np.isfinite(found)) else None


def _odeint_stretch(handle: np.ndarray[Any, Any], start: float, z: Array, wanted: Array) -> Array | None:
    options: Any = {"rtol": _LEAST_RELATIVE, "atol": 1.0, "mxstep": _MOST_STEPS, "full_output": True}
    found, report = odeint(_new_rates, z, np.append(start, wanted), (handle,), tfirst=True, **options)
    return found[1:] if report["message"] == "Integration successful." else None


def _scipy_stretch(method: str) -> Run:
    def run(handle: np.ndarray[Any, Any], start: float, z: Array, wanted: Array) -> Array | None:
        found = solve_ivp(
            lambda t, y: _new_rates(t, y, handle),
            (start, wanted[-1]),
            z,
            method,
            np.unique(wanted),
            rtol=_LEAST_RELATIVE,
            atol=1.0,
        )
        return np.append(found.y, found.y[:, -1:], axis=1).T if found.success else None

    return run


def reference_of(race: Race) -> Solution:
    """Return a solution for others to be held against: LSODA at tight tolerances, with SciPy's a little less tight."""
    if HAS_COMPILED:
        return solve(race, COMPILED_LSODA, Tolerance(1e-7, 1e-10), exact=True).solution
    return solve(race, "LSODA", Tolerance(1e-5, 1e-8), exact=True).solution
