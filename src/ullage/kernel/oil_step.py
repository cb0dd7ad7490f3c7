"""One step of the four oil temperatures: coefficients at middle and end, then implicit Simpson."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ullage.compiled import compiled, inlined
from ullage.kernel.air_exchange import Stream, stream_of
from ullage.kernel.heat import Balance, balance, cooler_heat, fill_matrix, node_rates, surroundings_heat, top_up_power
from ullage.kernel.params import Forcing, Parameters
from ullage.kernel.setting import settle
from ullage.kernel.state import COOLER, NODES, RESERVOIR, Scratch, State
from ullage.kernel.stores import densities, node_masses
from ullage.numerics.implicit import hermite_middle, make_lobatto_step
from ullage.numerics.linear import copy_into

Array = NDArray[np.float64]

_lobatto_step = make_lobatto_step(len(NODES))

_PASSES = 4
NOT_A_NUMBER = 1e9
_KINKED = 10.0  # how much more the error counts of a step in which the flow control begins or ends to set the flow
_FARTHEST_PREDICTION = 20.0


class OilStep(NamedTuple):
    """A step of the oil: its error over tolerance [1], what flows through the tank in its middle, and its end."""

    error: float
    stream: Stream
    at_end: Balance


@compiled
def _powers(p: Parameters, forcing: Forcing, b: Balance, temperature: Array, power: Array) -> None:
    """Write shaft power, ram power, cooler heat, surroundings heat and top-up enthalpy flow [W]."""
    power[0] = b.flows.shaft_power
    power[1] = b.flows.ram_power
    power[2] = cooler_heat(b, temperature)
    power[3] = surroundings_heat(p, b, temperature)
    power[4] = top_up_power(p, forcing)


@compiled
def start_rate(p: Parameters, s: State, w: Scratch, forcing: Forcing) -> None:
    """Renew rates and powers at the start of a step after a jump of channels or modes.

    Parameters
    ----------
    p, s, w : record
        Parameters, state and scratch; `temperature_rate` and `power` of the state change.
    forcing : Forcing
        Channels at that instant.
    """
    s.gas_fresh = 1
    s.pressure_feedback = 0.0
    s.feed_elapsed = 0.0
    density = densities(p, s.temperature)
    masses = node_masses(p, forcing.steering_position, s.oil_mass, s.temperature, density)
    settle(p, s, forcing, masses.reservoir)
    b = balance(p, s, forcing, s.temperature)
    s.feed_flow = b.flows.feed_flow
    s.spare_flow = b.flows.spare_flow
    rates, power = s.temperature_rate, s.headspace_power
    fill_matrix(p, forcing, b, masses, s.temperature, rates, power, w.middle_matrix, w.middle_source)
    node_rates(w.middle_matrix, w.middle_source, s.temperature, s.temperature_rate)
    _powers(p, forcing, b, s.temperature, s.power)


@compiled
def _predict(start: Array, rate: Array, length: float, predicted: Array) -> None:
    """Write where a rate leads in a time, no farther than a prediction is worth."""
    for i in range(4):
        moved = length * rate[i]
        predicted[i] = start[i] + min(_FARTHEST_PREDICTION, max(-_FARTHEST_PREDICTION, moved))


@inlined
def oil_step(p: Parameters, s: State, w: Scratch, middle: Forcing, end: Forcing, length: float) -> OilStep:
    """Step the oil temperatures; the result is in the scratch record.

    The balances are linear once flows and conductances are known. These are taken at the middle and at the end, at
    temperatures predicted from the rates at the start, and once more at the corrected temperatures if the
    prediction was poor.

    Parameters
    ----------
    p, s, w : record
        Parameters, state and scratch; `end`, `rate` and the powers of the scratch change.
    middle, end : Forcing
        Channels at middle and end.
    length : float
        Step length [s].

    Returns
    -------
    OilStep
        Its error is Simpson's rule less the trapezoid, and the last correction.
    """
    _predict(s.temperature, s.temperature_rate, 0.5 * length, w.middle)
    poured = length * (middle.top_up_flow - middle.drain_flow)
    mass_middle = s.oil_mass + 0.5 * poured
    mass_end = s.oil_mass + poured
    correction = 0.0
    rates, power = s.temperature_rate, s.headspace_power
    for trial in range(_PASSES):
        s.feed_elapsed = 0.5 * length
        b = balance(p, s, middle, w.middle)
        masses = node_masses(p, middle.steering_position, mass_middle, w.middle, b.density)
        fill_matrix(p, middle, b, masses, w.middle, rates, power, w.middle_matrix, w.middle_source)
        if trial == 0:
            node_rates(w.middle_matrix, w.middle_source, w.middle, w.predicted)
            _predict(s.temperature, w.predicted, length, w.end)
        s.feed_elapsed = length
        b_end = balance(p, s, end, w.end)
        masses = node_masses(p, end.steering_position, mass_end, w.end, b_end.density)
        fill_matrix(p, end, b_end, masses, w.end, rates, power, w.end_matrix, w.end_source)
        copy_into(w.predicted, w.end)
        _lobatto_step(
            s.temperature,
            s.temperature_rate,
            w.middle_matrix,
            w.middle_source,
            w.end_matrix,
            w.end_source,
            length,
            w.system,
            w.end,
        )
        node_rates(w.end_matrix, w.end_source, w.end, w.rate)
        correction = 0.0
        for i in range(4):
            w.middle[i] = hermite_middle(s.temperature[i], w.end[i], s.temperature_rate[i], w.rate[i], length)
            correction = max(correction, abs(w.end[i] - w.predicted[i]))
        if not correction > p.temperature_tolerance:
            break
    _powers(p, middle, b, w.middle, w.middle_power)
    _powers(p, end, b_end, w.end, w.end_power)
    kinked = not (s.spare_flow > 0.0) == (b.flows.spare_flow > 0.0) == (b_end.flows.spare_flow > 0.0)
    measure = _error_measure(p, s, w, correction, length, _KINKED if kinked else 1.0)
    return OilStep(measure, stream_of(s, b.flows, b.supply), b_end)


@compiled
def _error_measure(p: Parameters, s: State, w: Scratch, correction: float, length: float, weight: float) -> float:
    """Return the error over its tolerance; on a smooth step it is the trapezoid's, far more than the step's own."""
    node_rates(w.middle_matrix, w.middle_source, w.middle, w.predicted)
    worst = 0.1 * correction
    for i in range(RESERVOIR, COOLER + 1):
        trapezoid = 0.5 * (s.temperature_rate[i] + w.rate[i])
        worst += abs(2.0 / 3.0 * length * (w.predicted[i] - trapezoid))
    return weight * worst / p.temperature_tolerance if not math.isnan(worst) else NOT_A_NUMBER


@inlined
def book_step(s: State, w: Scratch, length: float) -> None:
    """Add a step's powers to the quadratures and to the oil's energy by Simpson's rule.

    Parameters
    ----------
    s, w : record
        State and scratch.
    length : float
        Step length [s].
    """
    sixth = length / 6.0
    shaft = sixth * (s.power[0] + 4.0 * w.middle_power[0] + w.end_power[0])
    ram = sixth * (s.power[1] + 4.0 * w.middle_power[1] + w.end_power[1])
    core = sixth * (s.power[2] + 4.0 * w.middle_power[2] + w.end_power[2])
    around = sixth * (s.power[3] + 4.0 * w.middle_power[3] + w.end_power[3])
    added = sixth * (s.power[4] + 4.0 * w.middle_power[4] + w.end_power[4])
    s.shaft_work += shaft
    s.ram_work += ram
    s.cooler_energy += core
    s.surroundings_energy += around
    s.top_up_energy += added
    s.oil_energy += shaft - ram - core - around + added
    copy_into(s.power, w.end_power)
