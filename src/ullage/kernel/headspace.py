"""The gas above the oil: mass and energy balance, cap flows, exchange of air with the oil.

Unknowns are `N = m T` and the mass m of the air, the air dissolved in the oil, the oil lost in the interval, and the
air in the bubbles. For a trial pressure of the air all else follows in closed form.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from ullage.compiled import compiled, inlined
from ullage.kernel.cap import Cap, Splash, cap_flows
from ullage.kernel.pools import FLOOR_MASS, AirExchange, Five, Pools, exchange, uptake
from ullage.physics import tank
from ullage.physics.air import GAS_CONSTANT, HEAT_CONSTANT_PRESSURE, HEAT_CONSTANT_VOLUME
from ullage.physics.oil import REFERENCE_PRESSURE

TIED_MASS = 1e-6
_TIE_CONDUCTANCE = 0.01
_NO_AIR = 1e-30  # a step that takes all the air is refused; until then its numbers must stay numbers


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


class HeatRate(NamedTuple):
    """Rate of N [kg K s-1], and heat from the air to oil and wall [W].

    `stiffness` is the pressure over its fall with the volume [m3], `feedback` what the pressure does to the rate of N
    by heat, work and what the oil takes up, flow through the cap aside [kg K s-1 Pa-1]; `uptake` is what more the oil
    takes up [kg s-1 Pa-1].
    """

    rate: float
    oil_heat: float
    wall_heat: float
    stiffness: float
    feedback: float
    uptake: float


class GasStage(NamedTuple):
    """A stage at a trial pressure: the five unknowns, the pressures, and the flows over the boundary."""

    value: Five
    air_pressure: float
    pressure: float
    volume: float
    air_out: float
    air_in: float
    oil_out: float
    pools: Pools
    heat: HeatRate


class StageTask(NamedTuple):
    """What a stage starts from and the weight of its rates [s], its time [s], and what the air space sees."""

    base: Five
    weight: float
    time: float
    setting: GasSetting


class _Above(NamedTuple):
    """The air above the oil at a trial, the volume of free air per mass `bubble` [m3 kg-1], air `in_oil` [kg]."""

    air_pressure: float
    volume: float
    mass: float
    temperature: float
    oil_temperature: float
    bubble: float
    in_oil: float


@inlined
def stage_at(air_pressure: float, task: StageTask) -> tuple[float, GasStage]:
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
    above = _Above(air_pressure, volume, mass, temperature, oil_temperature, bubble, free + trapped)
    change = _heat_rate(problem, above, pools, air_in, air_out, oil_out, weight)
    residual = heat - base[0] - weight * change.rate
    value = (
        base[0] + weight * change.rate,
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
        change,
    )


@inlined
def _heat_rate(
    problem: GasProblem, x: _Above, pools: Pools, air_in: float, air_out: float, oil_out: float, weight: float
) -> HeatRate:
    """Return the rate of N by the first law: heat, enthalpies and work, and what the pressure does to it."""
    conductance = _oil_conductance(problem, x.mass)
    oil_heat = conductance * (x.temperature - x.oil_temperature)
    wall_heat = problem.wall_conductance * (x.temperature - problem.bay_temperature)
    supply = HEAT_CONSTANT_PRESSURE * (
        problem.ambient_temperature * air_in
        - x.temperature * (air_out + pools.down)
        + x.oil_temperature * (pools.down - pools.from_headspace)
    ) - (oil_heat + wall_heat)
    grown = pools.free_rate - problem.exchange.freed + x.in_oil * problem.oil_temperature_rate / x.oil_temperature
    volume_rate = problem.volume_rate + oil_out / problem.oil_density - x.bubble * grown
    volume_rate += problem.compliance * problem.vapour_pressure_rate
    yielding = x.air_pressure * problem.compliance + x.bubble * x.in_oil
    stiffness = max(x.volume, 0.0) + yielding
    squeezed = volume_rate * max(x.volume, 0.0) / stiffness
    capacity = HEAT_CONSTANT_VOLUME + yielding * GAS_CONSTANT / stiffness
    leaving = HEAT_CONSTANT_PRESSURE * (air_out + pools.down) + conductance + problem.wall_conductance
    warmed = leaving * stiffness / (GAS_CONSTANT * max(x.mass, _NO_AIR))
    more = uptake(problem.exchange, weight)
    feedback = -(warmed + HEAT_CONSTANT_PRESSURE * x.temperature * more + squeezed) / capacity
    return HeatRate((supply - x.air_pressure * squeezed) / capacity, oil_heat, wall_heat, stiffness, feedback, more)


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


@compiled
def clear_stiffness(gas: GasStage, problem: GasProblem) -> float:
    """Return a stage's pressure over its fall with the volume [m3] where no bubbles yield: errors are weighed by it."""
    return max(gas.volume, 0.0) + gas.air_pressure * problem.compliance


@compiled
def gas_rates(gas: GasStage) -> Five:
    """Return the rates of the unknowns at a stage: N [kg K s-1], air, dissolved air, lost oil, free air [kg s-1]."""
    mass_rate = gas.air_in - gas.air_out - gas.pools.from_headspace
    return gas.heat.rate, mass_rate, gas.pools.dissolved_rate, gas.oil_out, gas.pools.free_rate


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
