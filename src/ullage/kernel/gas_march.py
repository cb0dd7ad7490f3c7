"""March the headspace through one interval of the oil: substeps, valve switches, and what crosses the boundary."""

from __future__ import annotations

import math
from typing import NamedTuple

from ullage.compiled import compiled, inlined
from ullage.errors import STATUS_DONE, STATUS_GAS_STEP, STATUS_TOO_MANY_STEPS
from ullage.kernel.air_exchange import Stream, air_exchange
from ullage.kernel.cap import cap_areas
from ullage.kernel.gas_stage import Guess, SolvedStage, gas_step, stage_now
from ullage.kernel.headspace import TIED_MASS, GasProblem, GasSetting, GasStage, clear_stiffness, pressure_now
from ullage.kernel.modes import OVERSHOOT, Log, switch_valves, valve_excess
from ullage.kernel.params import Forcing, Parameters
from ullage.kernel.pools import Five
from ullage.kernel.state import State
from ullage.numerics.implicit import GAMMA
from ullage.numerics.step_size import step_factor
from ullage.physics import oil, water
from ullage.physics.air import GAS_CONSTANT, HEAT_CONSTANT_PRESSURE, HEAT_CONSTANT_VOLUME

_LEAST_STEP = 1e-9
_LEAST_CROSSING = 1e-6
_MOST_SUBSTEPS = 2_000_000
_MOST_LOSS = 0.4


class Span(NamedTuple):
    """Oil side of an interval: times [s], headspace volumes at reference pressure [m3], reservoir temperatures [K]."""

    start: float
    end: float
    volume_start: float
    volume_end: float
    temperature_start: float
    temperature_end: float


@inlined
def gas_problem(p: Parameters, s: State, span: Span, before: Forcing, after: Forcing, stream: Stream) -> GasProblem:
    """Gather what the headspace sees during an interval.

    Parameters
    ----------
    p, s : record
        Parameters and state at the start.
    span : Span
        Oil side of the interval.
    before, after : Forcing
        Channels at its ends.
    stream : Stream
        What flows through the tank in its middle.

    Returns
    -------
    GasProblem
        Straight lines in time, and constants.
    """
    length = span.end - span.start
    temperature = 0.5 * (span.temperature_start + span.temperature_end)
    vapour_end = water.vapour_pressure(span.temperature_end, before.water_content, p.water_saturation)
    return GasProblem(
        span.start,
        length,
        span.volume_start,
        (span.volume_end - span.volume_start) / length,
        span.temperature_start,
        (span.temperature_end - span.temperature_start) / length,
        s.vapour_pressure,
        (vapour_end - s.vapour_pressure) / length,
        before.ambient_pressure,
        (after.ambient_pressure - before.ambient_pressure) / length,
        0.5 * (before.ambient_temperature + after.ambient_temperature),
        0.5 * (before.bay_temperature + after.bay_temperature),
        s.compliance,
        oil.density(temperature, p.density_15),
        air_exchange(p, s, stream, before, after, temperature, length),
        s.trapped_air,
        p.splash_volume,
        p.gas_oil_conductance,
        p.gas_wall_conductance,
    )


@compiled
def _over_ambient(air_pressure: float, time: float, problem: GasProblem) -> float:
    """Return the pressure over the cap at a partial pressure of the air [Pa]."""
    elapsed = time - problem.start
    vapour = problem.vapour_pressure + elapsed * problem.vapour_pressure_rate
    return air_pressure + vapour - problem.ambient_pressure - elapsed * problem.ambient_pressure_rate


@compiled
def _renew_rates(s: State, value: Five, air_pressure: float, setting: GasSetting) -> None:
    """Find the rates at the start of a substep; under a shut cap they are those that the substep before ended with."""
    now = stage_now(value, s.time, air_pressure, setting)
    s.gas_rate[0], s.gas_rate[1], s.gas_rate[2], s.gas_rate[3], s.gas_rate[4] = now.guess.rates
    s.evaluations += 1


@compiled
def _keep_rates(s: State, stage: SolvedStage) -> None:
    guess = stage.guess
    s.gas_rate[0], s.gas_rate[1], s.gas_rate[2], s.gas_rate[3], s.gas_rate[4] = guess.rates
    s.air_pressure, s.pressure_feedback = guess.pressure, guess.feedback
    s.gas_fresh = 1 if stage.passing else 0


@compiled
def _error_measure(p: Parameters, error: Five, stage: SolvedStage, problem: GasProblem) -> float:
    """Return the largest error over its tolerance: pressure at constant volume, and air mass."""
    gas = stage.gas
    stiffness = clear_stiffness(gas, problem)
    swelling = gas.air_pressure * abs(error[3]) / problem.oil_density
    bubbling = GAS_CONSTANT * problem.oil_temperature * abs(error[4])
    pressure = (GAS_CONSTANT * abs(error[0]) + swelling + bubbling) / stiffness
    mass = abs(error[1]) / max(stage.value[1], TIED_MASS)
    total = pressure / p.pressure_tolerance + mass / p.mass_tolerance
    return total if not math.isnan(total) else 1e9


@compiled
def _book(p: Parameters, s: State, gas: GasStage, problem: GasProblem, elapsed: float, weight: float) -> None:
    """Add what crosses the boundary during a stage's share of a substep [s] to the quadratures."""
    oil_temperature, ambient_temperature = _oil_at(problem, elapsed), problem.ambient_temperature
    drain = problem.exchange.drain
    oil_out = gas.oil_out + drain
    s.surroundings_energy += weight * gas.heat.wall_heat
    temperature = gas.value[0] / gas.value[1]
    s.air_energy += weight * HEAT_CONSTANT_PRESSURE * (temperature * gas.air_out - ambient_temperature * gas.air_in)
    s.lost_energy += weight * (
        oil_out * oil.enthalpy(oil_temperature, p.heat_constant, p.heat_slope)
        + gas.pools.lost * HEAT_CONSTANT_PRESSURE * oil_temperature
    )
    s.oil_lost += weight * oil_out
    s.air_vented += weight * gas.air_out
    s.air_admitted += weight * gas.air_in
    s.air_lost += weight * gas.pools.lost


@compiled
def _substep_length(s: State, end: float) -> float:
    length = min(s.gas_step, end - s.time)
    wait = s.valve_free_time - s.time
    if 0.0 < wait < length:
        return wait
    return end - s.time if end - s.time - length < 1e-3 * length else length


@inlined
def march_gas(p: Parameters, s: State, problem: GasProblem, log: Log, race_start: float) -> int:
    """March the headspace to the end of an interval.

    Parameters
    ----------
    p, s : record
        Parameters and state; the gas part of the state, its modes, its quadratures and `oil_mass` change, and the
        energy that the oil gains from the gas is added to `oil_energy`.
    problem : GasProblem
        The interval.
    log : array
        Record of switches.
    race_start : float
        Start of the race [s].

    Returns
    -------
    int
        Status code.
    """
    end = problem.start + problem.length
    value = (s.air_heat, s.air_mass, s.dissolved_air, 0.0, s.free_air)
    before = _quadratures(s)
    for _ in range(_MOST_SUBSTEPS):
        if s.time >= end:
            _close_interval(s, value, problem, before)
            return STATUS_DONE
        air_pressure = pressure_now(value, s.time, problem)
        difference = _over_ambient(air_pressure, s.time, problem)
        if switch_valves(p, s, difference, log, race_start):
            continue
        setting = GasSetting(problem, cap_areas(p, s))
        if s.gas_fresh == 1:
            _renew_rates(s, value, air_pressure, setting)
        length = _substep_length(s, end)
        rates = (s.gas_rate[0], s.gas_rate[1], s.gas_rate[2], s.gas_rate[3], s.gas_rate[4])
        guess = Guess(rates, air_pressure, s.pressure_feedback)
        first, second, error = gas_step(value, rates, s.time, length, guess, setting)
        s.evaluations += first.evaluations + second.evaluations
        measure = _error_measure(p, error, second, problem)
        if first.value[1] < (1.0 - _MOST_LOSS) * value[1]:
            measure = max(measure, 4.0)
        if measure > 1.0:
            if length <= _LEAST_STEP:
                return STATUS_GAS_STEP
            s.rejected += 1
            s.gas_fresh = 1
            s.gas_step = length * min(0.5, step_factor(measure, 2.0))
            continue
        reached = s.time + length if length < end - s.time else end
        excess = valve_excess(p, s, _over_ambient(second.guess.pressure, reached, problem))
        if excess > OVERSHOOT and reached >= s.valve_free_time and length > _LEAST_CROSSING:
            earlier = min(valve_excess(p, s, difference), 0.0)
            share = (0.5 * OVERSHOOT - earlier) / (excess - earlier)
            s.gas_step = length * min(0.98, max(0.02, share))
            continue
        elapsed = GAMMA * length + s.time - problem.start
        _book(p, s, first.gas, problem, elapsed, (1.0 - GAMMA) * length)
        _book(p, s, second.gas, problem, reached - problem.start, GAMMA * length)
        value = second.value
        _keep_rates(s, second)
        s.time = reached
        s.steps += 1
        grown = length * step_factor(measure, 2.0)
        s.gas_step = grown if length >= s.gas_step else max(s.gas_step, grown)
    return STATUS_TOO_MANY_STEPS


@compiled
def _oil_at(problem: GasProblem, elapsed: float) -> float:
    return problem.oil_temperature + elapsed * problem.oil_temperature_rate


class _Before(NamedTuple):
    """Quadratures at the start of an interval."""

    carried_out: float
    lost_energy: float
    air_lost: float


@compiled
def _quadratures(s: State) -> _Before:
    return _Before(s.surroundings_energy + s.air_energy + s.lost_energy, s.lost_energy, s.air_lost)


@compiled
def _close_interval(s: State, value: Five, problem: GasProblem, before: _Before) -> None:
    """Write the gas back into the state and pass the energy that it gave up to the oil."""
    now = _quadratures(s)
    gained = before.carried_out - now.carried_out - HEAT_CONSTANT_VOLUME * (value[0] - s.air_heat)
    added = problem.exchange.added * problem.length
    in_oil = value[2] + value[4] - s.dissolved_air - s.free_air
    freed = problem.exchange.freed * problem.length
    taken_up = in_oil - freed - added + now.air_lost - before.air_lost
    oil_temperature = _oil_at(problem, problem.length)
    heat = gained + now.lost_energy - before.lost_energy - HEAT_CONSTANT_PRESSURE * oil_temperature * taken_up
    s.headspace_power = heat / problem.length
    s.oil_energy += gained
    s.air_added += added
    s.oil_mass -= value[3]
    s.air_heat = value[0]
    s.air_mass = value[1]
    s.dissolved_air = value[2]
    s.free_air = value[4]
    s.trapped_air -= freed
