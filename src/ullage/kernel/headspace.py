"""The gas above the oil: mass and energy balance, cap flows, exchange of air with the oil.

Unknowns are `N = m T` and the mass m of the air, the air dissolved in the oil, and the oil lost in the interval. For a
trial pressure all else follows in closed form: an implicit stage is one bracketed root in the air's pressure.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from ullage.compiled import compiled
from ullage.kernel.cap import Cap, open_area
from ullage.numerics.implicit import make_stiff_step
from ullage.numerics.roots import make_root
from ullage.physics import tank, valve
from ullage.physics.air import GAS_CONSTANT, HEAT_CONSTANT_PRESSURE, HEAT_CONSTANT_VOLUME
from ullage.physics.oil import REFERENCE_PRESSURE

FLOOR_MASS = 1e-7
TIED_MASS = 1e-6
_TIE_CONDUCTANCE = 0.01
_NO_AIR = 1e-30  # a step that takes all the air is refused; until then its numbers must stay numbers
_LOWEST_PRESSURE = 1e-6
_HIGHEST_PRESSURE = 1e12
_ROOT_TOLERANCE = 1e-3

Four = tuple[float, float, float, float]


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
    oil_mass: float
    solubility: float
    uptake_rate: float
    air_added: float
    free_air: float
    splash_volume: float
    oil_conductance: float
    wall_conductance: float


class GasSetting(NamedTuple):
    """An interval and the cap's present mode."""

    problem: GasProblem
    cap: Cap


class GasStage(NamedTuple):
    """A solved stage: the four unknowns, the pressures, and the flows over the boundary."""

    value: Four
    air_pressure: float
    pressure: float
    volume: float
    air_out: float
    air_in: float
    oil_out: float
    uptake: float
    oil_heat: float
    wall_heat: float
    heat_rate: float


class SolvedStage(NamedTuple):
    """A solved stage, and the slope of its residual to start the next with."""

    value: Four
    gas: GasStage
    slope: float
    evaluations: int


class _StageTask(NamedTuple):
    base: Four
    weight: float
    time: float
    setting: GasSetting


@compiled
def _oil_out(problem: GasProblem, area: float, difference: float, volume: float, weight: float) -> tuple[float, float]:
    """Return the oil that leaves [kg s-1] and the share of the opening that it takes, for an implicit step."""
    if volume >= problem.splash_volume or difference <= 0.0 or area <= 0.0:
        return 0.0, 0.0
    most = valve.liquid_orifice_flow(area, difference, problem.oil_density)
    emptied = weight * most / (problem.oil_density * problem.splash_volume)
    share = min(1.0, max(0.0, (1.0 - volume / problem.splash_volume) / (1.0 + emptied)))
    return most * share, share


@compiled
def _exchange(air_pressure: float, task: _StageTask, air_in: float, leaving: float) -> tuple[float, float]:
    """Return the air that the oil takes up [kg s-1], no more than there is, and the air then dissolved [kg]."""
    problem, base, weight = task.setting.problem, task.base, task.weight
    equilibrium = problem.solubility * problem.oil_mass * air_pressure
    dissolved = (base[2] + weight * (problem.uptake_rate * equilibrium + problem.air_added)) / (
        1.0 + weight * (problem.uptake_rate + leaving)
    )
    uptake = problem.uptake_rate * (equilibrium - dissolved)
    if weight > 0.0:
        most = max(0.0, air_in + (base[1] - FLOOR_MASS) / weight)
        if uptake > most:
            uptake = most
            dissolved = (base[2] + weight * (uptake + problem.air_added)) / (1.0 + weight * leaving)
    return uptake, dissolved


@compiled
def _stage_at(air_pressure: float, task: _StageTask) -> tuple[float, GasStage]:
    """Return the residual of the energy balance, and all else, at a trial pressure of the air."""
    problem, base, weight = task.setting.problem, task.base, task.weight
    elapsed = task.time - problem.start
    oil_temperature = problem.oil_temperature + elapsed * problem.oil_temperature_rate
    pressure = air_pressure + problem.vapour_pressure + elapsed * problem.vapour_pressure_rate
    ambient = problem.ambient_pressure + elapsed * problem.ambient_pressure_rate
    difference = pressure - ambient
    area = open_area(task.setting.cap, difference)
    volume = (
        problem.volume
        + elapsed * problem.volume_rate
        + problem.compliance * (pressure - REFERENCE_PRESSURE)
        + base[3] / problem.oil_density
        - problem.free_air * GAS_CONSTANT * oil_temperature / air_pressure
    )
    oil_out, liquid_share = _oil_out(problem, area, difference, volume, weight)
    volume += weight * oil_out / problem.oil_density
    heat = air_pressure * volume / GAS_CONSTANT
    air_in = 0.0
    unit_out = 0.0
    if area > 0.0:
        if difference < 0.0:
            air_in = valve.gas_orifice_flow(area, ambient, pressure, problem.ambient_temperature)
        else:
            part = (1.0 - liquid_share) * air_pressure / pressure * _above_floor(base[1])
            unit_out = part * valve.gas_orifice_flow(area, pressure, ambient, 1.0)
    uptake, dissolved = _exchange(air_pressure, task, air_in, oil_out / problem.oil_mass)
    stock = max(base[1] + weight * (air_in - uptake), _NO_AIR)
    positive_heat = max(heat, _NO_AIR)
    slope = weight * unit_out / math.sqrt(positive_heat)
    root = 2.0 * stock / (slope + math.sqrt(slope * slope + 4.0 * stock))
    air_out = unit_out * root / math.sqrt(positive_heat)
    mass = stock - weight * air_out
    temperature = positive_heat / mass
    oil_heat = _oil_conductance(problem, mass) * (temperature - oil_temperature)
    wall_heat = problem.wall_conductance * (temperature - problem.bay_temperature)
    carried = temperature if uptake > 0.0 else oil_temperature
    supply = HEAT_CONSTANT_PRESSURE * (
        problem.ambient_temperature * air_in - temperature * air_out - carried * uptake
    ) - (oil_heat + wall_heat)
    volume_rate = problem.volume_rate + oil_out / problem.oil_density
    yielding = air_pressure * problem.compliance
    stiffness = max(volume, 0.0) + yielding
    rate = (supply - air_pressure * volume_rate * max(volume, 0.0) / stiffness) / (
        HEAT_CONSTANT_VOLUME + yielding * GAS_CONSTANT / stiffness
    )
    residual = heat - base[0] - weight * rate
    value = (base[0] + weight * rate, mass, dissolved, base[3] + weight * oil_out)
    return residual, GasStage(
        value, air_pressure, pressure, volume, air_out, air_in, oil_out, uptake, oil_heat, wall_heat, rate
    )


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
def _residual_slope(gas: GasStage, problem: GasProblem) -> float:
    return (max(gas.volume, 0.0) + gas.air_pressure * problem.compliance) / GAS_CONSTANT


@compiled
def _solve_stage(base: Four, weight: float, time: float, guess: SolvedStage, setting: GasSetting) -> SolvedStage:
    """Solve one implicit stage for the air's partial pressure."""
    tolerance = _ROOT_TOLERANCE * _residual_slope(guess.gas, setting.problem)
    _, slope, found, evaluations = _stage_root(
        guess.gas.air_pressure,
        guess.slope,
        _LOWEST_PRESSURE,
        _HIGHEST_PRESSURE,
        tolerance,
        _StageTask(base, weight, time, setting),
    )
    gas = found[1]
    return SolvedStage(gas.value, gas, slope, evaluations)


@compiled
def stage_now(value: Four, time: float, air_pressure: float, setting: GasSetting) -> SolvedStage:
    """Return flows and rates at an instant, without a step.

    Parameters
    ----------
    value : tuple of float
        The four unknowns.
    time : float
        Time [s].
    air_pressure : float
        Partial pressure of the air [Pa], from `pressure_now`.
    setting : GasSetting
        Interval and cap.

    Returns
    -------
    SolvedStage
        The instant's pressures and flows.
    """
    gas = _stage_at(air_pressure, _StageTask(value, 0.0, time, setting))[1]
    return SolvedStage(value, gas, _residual_slope(gas, setting.problem), 1)


@compiled
def gas_rates(gas: GasStage, problem: GasProblem) -> Four:
    """Return the rates of the four unknowns at a stage: N [kg K s-1], air, dissolved air and lost oil [kg s-1]."""
    dissolved = gas.uptake + problem.air_added - dissolved_out(gas, problem)
    return gas.heat_rate, gas.air_in - gas.air_out - gas.uptake, dissolved, gas.oil_out


@compiled
def dissolved_out(gas: GasStage, problem: GasProblem) -> float:
    """Return the dissolved air that leaves with lost oil [kg s-1]."""
    return gas.oil_out * gas.value[2] / problem.oil_mass


@compiled
def pressure_now(value: Four, time: float, problem: GasProblem) -> float:
    """Return the partial pressure of the air that belongs to the unknowns at an instant.

    Parameters
    ----------
    value : tuple of float
        The four unknowns.
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
    volume = (
        problem.volume
        + elapsed * problem.volume_rate
        + value[3] / problem.oil_density
        + problem.compliance * (vapour - REFERENCE_PRESSURE)
    )
    air = GAS_CONSTANT * (value[0] + problem.free_air * oil_temperature)
    return tank.air_pressure(air, volume, problem.compliance)


gas_step = make_stiff_step(_solve_stage)
