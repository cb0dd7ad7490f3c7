"""Implicit stages of the gas: one evaluation and a linear correction, or a root in the pressure of the air."""

from __future__ import annotations

from typing import NamedTuple

from ullage.compiled import compiled, inlined
from ullage.kernel.headspace import GasSetting, GasStage, StageTask, clear_stiffness, gas_rates, pressure_now, stage_at
from ullage.kernel.pools import Five
from ullage.numerics.implicit import make_stiff_step
from ullage.numerics.roots import make_root
from ullage.physics.air import GAS_CONSTANT

_LOWEST_PRESSURE = 1e-6
_HIGHEST_PRESSURE = 1e12
_ROOT_TOLERANCE = 1e-2  # of the air's pressure, where air passes the cap [Pa]
_SHUT_TOLERANCE = 0.1  # under a shut cap [Pa]
_FEEDBACK_DOUBT = 0.1  # by what share the feedback of a stage is taken to be wrong [1]
_MOST_CORRECTION = 5.0  # up to which the rates are straight lines in the pressure [Pa]


class Guess(NamedTuple):
    """What a stage ended with: rates, pressure of the air [Pa] and feedback [kg K s-1 Pa-1]."""

    rates: Five
    pressure: float
    feedback: float


class SolvedStage(NamedTuple):
    """A solved stage, a guess for the one that follows, whether the cap lets anything pass, number of evaluations."""

    value: Five
    guess: Guess
    gas: GasStage
    passing: bool
    evaluations: int


_stage_root = make_root(stage_at)


@compiled
def _passes(gas: GasStage) -> bool:
    return gas.air_in + gas.air_out + gas.oil_out > 0.0


@inlined
def _solve_stage(base: Five, weight: float, time: float, guess: Guess, setting: GasSetting) -> SolvedStage:
    """Solve one implicit stage for the air's partial pressure.

    Under a shut cap the rates hardly answer to the pressure, and N decides it: one evaluation near the root will do.
    """
    task = StageTask(base, weight, time, setting)
    rates = guess.rates
    likely = (
        min(max(base[0] + weight * rates[0], 0.5 * base[0]), 2.0 * base[0]),
        base[1],
        base[2],
        base[3] + weight * rates[3],
        base[4] + weight * rates[4],
    )
    start = min(max(pressure_now(likely, time, setting.problem), _LOWEST_PRESSURE), _HIGHEST_PRESSURE)
    residual, gas = stage_at(start, task)
    held = gas.heat.stiffness / GAS_CONSTANT
    passing = _passes(gas)
    feedback = guess.feedback if passing and guess.feedback != 0.0 else gas.heat.feedback
    slope = held - weight * feedback
    correction = -residual / slope
    off = abs(correction)
    tolerance = _ROOT_TOLERANCE / GAS_CONSTANT * clear_stiffness(gas, setting.problem)
    wrong = _FEEDBACK_DOUBT * abs(weight * feedback) / held * off
    if off > _MOST_CORRECTION or wrong > _SHUT_TOLERANCE or (passing and abs(residual) > tolerance):
        pressure, slope, (_, gas), more = _stage_root(
            start, (residual, gas), slope, _LOWEST_PRESSURE, _HIGHEST_PRESSURE, tolerance, task
        )
        found = Guess(gas_rates(gas), pressure, (held - slope) / weight)
        return SolvedStage(gas.value, found, gas, _passes(gas), 1 + more)
    rates, more, down = gas_rates(gas), feedback * correction, gas.heat.uptake * correction
    moved = (rates[0] + more, rates[1] - down, rates[2] + down, rates[3], rates[4])
    value = (
        gas.value[0] + weight * more,
        gas.value[1] - weight * down,
        gas.value[2] + weight * down,
        gas.value[3],
        gas.value[4],
    )
    return SolvedStage(value, Guess(moved, start + correction, feedback), gas, passing, 1)


@compiled
def stage_now(value: Five, time: float, air_pressure: float, setting: GasSetting) -> SolvedStage:
    """Return flows and rates at an instant, without a step.

    Parameters
    ----------
    value : tuple of float
        The five unknowns.
    time : float
        Time [s].
    air_pressure : float
        Partial pressure of the air [Pa], from `pressure_now`.
    setting : GasSetting
        Interval and cap.

    Returns
    -------
    SolvedStage
        The instant's pressures and flows, and a first guess.
    """
    gas = stage_at(air_pressure, StageTask(value, 0.0, time, setting))[1]
    return SolvedStage(value, Guess(gas_rates(gas), air_pressure, gas.heat.feedback), gas, _passes(gas), 1)


gas_step = make_stiff_step(_solve_stage)
