"""The gas above the oil: mass and energy balance, cap flows, exchange of air with the oil.

Unknowns are `N = m T` and the mass m of the air, the air dissolved in the oil, the oil lost in the interval, and the
air in the bubbles. For a trial pressure of the air all else follows in closed form: an implicit stage is one evaluation
and a linear correction where little hangs on that pressure, else one bracketed root in it.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from ullage.compiled import compiled, inlined
from ullage.kernel.cap import Cap, Splash, cap_flows
from ullage.kernel.pools import FLOOR_MASS, AirExchange, Five, Pools, exchange, uptake
from ullage.numerics.implicit import make_stiff_step
from ullage.numerics.roots import make_root
from ullage.physics import tank
from ullage.physics.air import GAS_CONSTANT, HEAT_CONSTANT_PRESSURE, HEAT_CONSTANT_VOLUME
from ullage.physics.oil import REFERENCE_PRESSURE

TIED_MASS = 1e-6
_TIE_CONDUCTANCE = 0.01
_NO_AIR = 1e-30  # a step that takes all the air is refused; until then its numbers must stay numbers
_LOWEST_PRESSURE = 1e-6
_HIGHEST_PRESSURE = 1e12
_ROOT_TOLERANCE = 1e-2  # of the air's pressure, where air passes the cap [Pa]
_SHUT_TOLERANCE = 0.1  # under a shut cap [Pa]
_FEEDBACK_DOUBT = 0.1  # by what share the feedback of a stage is taken to be wrong [1]
_MOST_CORRECTION = 5.0  # up to which the rates are straight lines in the pressure [Pa]


class GasProblem(NamedTuple):
    """Everything that the headspace sees during one interval: straight lines in time, and constants."""

    start: float
    length: float
    volume: float
    volume_rate: float
    oil_temperature: float
    oil_temperature_rate: float
    vapour_pressure: float
    vapour_pressure_rate: float
    ambient_pressure: float
    ambient_pressure_rate: float
    ambient_temperature: float
    bay_temperature: float
    compliance: float
    oil_density: float
    exchange: AirExchange
    trapped_air: float
    splash_volume: float
    oil_conductance: float
    wall_conductance: float


class GasSetting(NamedTuple):
    """An interval and the cap's present mode."""

    problem: GasProblem
    cap: Cap


class GasStage(NamedTuple):
    """A stage at a trial pressure: the five unknowns, the pressures, and the flows over the boundary.

    `stiffness` is the pressure over its fall with the volume [m3], `feedback` what the pressure does to the rate of N
    by heat, work and what the oil takes up, flow through the cap aside [kg K s-1 Pa-1]; `uptake` is what more the oil
    takes up [kg s-1 Pa-1].
    """

    value: Five
    air_pressure: float
    pressure: float
    volume: float
    air_out: float
    air_in: float
    oil_out: float
    pools: Pools
    oil_heat: float
    wall_heat: float
    heat_rate: float
    stiffness: float
    feedback: float
    uptake: float


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


class _StageTask(NamedTuple):
    base: Five
    weight: float
    time: float
    setting: GasSetting


@inlined
def _stage_at(air_pressure: float, task: _StageTask) -> tuple[float, GasStage]:
    """Return the residual of the energy balance, and all else, at a trial pressure of the air."""
    problem, base, weight = task.setting.problem, task.base, task.weight
    elapsed = task.time - problem.start
    oil_temperature = problem.oil_temperature + elapsed * problem.oil_temperature_rate
    pressure = air_pressure + problem.vapour_pressure + elapsed * problem.vapour_pressure_rate
    ambient = problem.ambient_pressure + elapsed * problem.ambient_pressure_rate
    trapped = problem.trapped_air - elapsed * problem.exchange.freed
    bubble = GAS_CONSTANT * oil_temperature / air_pressure
    clear_volume = (
        problem.volume
        + elapsed * problem.volume_rate
        + problem.compliance * (pressure - REFERENCE_PRESSURE)
        + base[3] / problem.oil_density
    )
    splash = Splash(clear_volume - bubble * (base[4] + trapped), problem.splash_volume, problem.oil_density, weight)
    oil_out, air_in, unit_out = cap_flows(
        task.setting.cap,
        splash,
        pressure,
        ambient,
        problem.ambient_temperature,
        air_pressure / pressure * _above_floor(base[1]),
    )
    pools = exchange(problem.exchange, air_pressure, oil_temperature, base, weight, air_in, oil_out)
    free = base[4] + weight * pools.free_rate
    volume = clear_volume + weight * oil_out / problem.oil_density - bubble * (free + trapped)
    heat = air_pressure * volume / GAS_CONSTANT
    stock = max(base[1] + weight * (air_in - pools.from_headspace), _NO_AIR)
    positive_heat = max(heat, _NO_AIR)
    air_out = _air_out(unit_out, stock, positive_heat, weight) if unit_out > 0.0 else 0.0
    mass = stock - weight * air_out
    temperature = positive_heat / max(mass, _NO_AIR)
    conductance = _oil_conductance(problem, mass)
    oil_heat = conductance * (temperature - oil_temperature)
    wall_heat = problem.wall_conductance * (temperature - problem.bay_temperature)
    supply = HEAT_CONSTANT_PRESSURE * (
        problem.ambient_temperature * air_in
        - temperature * (air_out + pools.down)
        + oil_temperature * (pools.down - pools.from_headspace)
    ) - (oil_heat + wall_heat)
    grown = pools.free_rate - problem.exchange.freed + (free + trapped) * problem.oil_temperature_rate / oil_temperature
    volume_rate = problem.volume_rate + oil_out / problem.oil_density - bubble * grown
    volume_rate += problem.compliance * problem.vapour_pressure_rate
    yielding = air_pressure * problem.compliance + bubble * (free + trapped)
    stiffness = max(volume, 0.0) + yielding
    squeezed = volume_rate * max(volume, 0.0) / stiffness
    capacity = HEAT_CONSTANT_VOLUME + yielding * GAS_CONSTANT / stiffness
    rate = (supply - air_pressure * squeezed) / capacity
    leaving = HEAT_CONSTANT_PRESSURE * (air_out + pools.down) + conductance + problem.wall_conductance
    warmed = leaving * stiffness / (GAS_CONSTANT * max(mass, _NO_AIR))
    more_taken = uptake(problem.exchange, weight)
    taken_up = HEAT_CONSTANT_PRESSURE * temperature * more_taken
    residual = heat - base[0] - weight * rate
    value = (
        base[0] + weight * rate,
        mass,
        base[2] + weight * pools.dissolved_rate,
        base[3] + weight * oil_out,
        free,
    )
    return residual, GasStage(
        value,
        air_pressure,
        pressure,
        volume,
        air_out,
        air_in,
        oil_out,
        pools,
        oil_heat,
        wall_heat,
        rate,
        stiffness,
        -(warmed + taken_up + squeezed) / capacity,
        more_taken,
    )


@compiled
def _air_out(unit_out: float, stock: float, heat: float, weight: float) -> float:
    """Return the air that leaves [kg s-1] of a stock [kg] in an implicit stage, as warm as what stays of `heat` = N."""
    unit = unit_out / math.sqrt(heat)
    slope = weight * unit
    return unit * 2.0 * stock / (slope + math.sqrt(slope * slope + 4.0 * stock))


@compiled
def _above_floor(mass: float) -> float:
    """Return the share of its flow with which air still leaves: none below the floor mass."""
    return min(1.0, max(0.0, mass / FLOOR_MASS - 1.0))


@compiled
def _oil_conductance(problem: GasProblem, mass: float) -> float:
    tie = (TIED_MASS - mass) / (TIED_MASS - 2.0 * FLOOR_MASS)
    return problem.oil_conductance + _TIE_CONDUCTANCE * min(1.0, max(0.0, tie))


_stage_root = make_root(_stage_at)


@compiled
def _passes(gas: GasStage) -> bool:
    return gas.air_in + gas.air_out + gas.oil_out > 0.0


@inlined
def _solve_stage(base: Five, weight: float, time: float, guess: Guess, setting: GasSetting) -> SolvedStage:
    """Solve one implicit stage for the air's partial pressure.

    Under a shut cap the rates hardly answer to the pressure, and N decides it: one evaluation near the root will do.
    """
    task = _StageTask(base, weight, time, setting)
    rates = guess.rates
    likely = (
        min(max(base[0] + weight * rates[0], 0.5 * base[0]), 2.0 * base[0]),
        base[1],
        base[2],
        base[3] + weight * rates[3],
        base[4] + weight * rates[4],
    )
    start = min(max(pressure_now(likely, time, setting.problem), _LOWEST_PRESSURE), _HIGHEST_PRESSURE)
    residual, gas = _stage_at(start, task)
    held = gas.stiffness / GAS_CONSTANT
    passing = _passes(gas)
    feedback = guess.feedback if passing and guess.feedback != 0.0 else gas.feedback
    slope = held - weight * feedback
    correction = -residual / slope
    off = abs(correction)
    tolerance = _ROOT_TOLERANCE * held
    wrong = _FEEDBACK_DOUBT * abs(weight * feedback) / held * off
    if off > _MOST_CORRECTION or wrong > _SHUT_TOLERANCE or (passing and abs(residual) > tolerance):
        pressure, slope, (_, gas), more = _stage_root(
            start, (residual, gas), slope, _LOWEST_PRESSURE, _HIGHEST_PRESSURE, tolerance, task
        )
        found = Guess(gas_rates(gas), pressure, (held - slope) / weight)
        return SolvedStage(gas.value, found, gas, _passes(gas), 1 + more)
    rates, more, down = gas_rates(gas), feedback * correction, gas.uptake * correction
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
    gas = _stage_at(air_pressure, _StageTask(value, 0.0, time, setting))[1]
    return SolvedStage(value, Guess(gas_rates(gas), air_pressure, gas.feedback), gas, _passes(gas), 1)


@compiled
def gas_rates(gas: GasStage) -> Five:
    """Return the rates of the unknowns at a stage: N [kg K s-1], air, dissolved air, lost oil, free air [kg s-1]."""
    mass_rate = gas.air_in - gas.air_out - gas.pools.from_headspace
    return gas.heat_rate, mass_rate, gas.pools.dissolved_rate, gas.oil_out, gas.pools.free_rate


@compiled
def pressure_now(value: Five, time: float, problem: GasProblem) -> float:
    """Return the partial pressure of the air that belongs to the unknowns at an instant.

    Parameters
    ----------
    value : tuple of float
        The five unknowns.
    time : float
        Time [s].
    problem : GasProblem
        The interval.

    Returns
    -------
    float
        Partial pressure [Pa].
    """
    elapsed = time - problem.start
    oil_temperature = problem.oil_temperature + elapsed * problem.oil_temperature_rate
    vapour = problem.vapour_pressure + elapsed * problem.vapour_pressure_rate
    volume = problem.volume + elapsed * problem.volume_rate + value[3] / problem.oil_density
    in_oil = value[4] + problem.trapped_air - elapsed * problem.exchange.freed
    return headspace_air_pressure(value[0], in_oil, oil_temperature, volume, problem.compliance, vapour)


@compiled
def headspace_air_pressure(
    air_heat: float, in_oil: float, oil_temperature: float, volume: float, compliance: float, vapour: float
) -> float:
    """Return the partial pressure of the air above the oil.

    Parameters
    ----------
    air_heat : float
        `N = m T` of the headspace air [kg K].
    in_oil : float
        Air in bubbles and trapped in the hoses; it takes up room at the same pressure [kg].
    oil_temperature : float
        Its temperature [K].
    volume : float
        Volume above the clear oil at reference pressure [m3].
    compliance : float
        Yield of wall and liquid [m3 Pa-1].
    vapour : float
        Vapour pressure [Pa].

    Returns
    -------
    float
        Partial pressure [Pa].
    """
    held = GAS_CONSTANT * (air_heat + in_oil * oil_temperature)
    return tank.air_pressure(held, volume + compliance * (vapour - REFERENCE_PRESSURE), compliance)


gas_step = make_stiff_step(_solve_stage)
