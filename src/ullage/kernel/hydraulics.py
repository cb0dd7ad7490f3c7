"""Flows, pressures and powers of the circuit at one instant: all algebraic."""

from __future__ import annotations

from typing import NamedTuple

from ullage.compiled import compiled
from ullage.kernel.params import RELIEF_IN_PUMP, RELIEF_IN_RESERVOIR, RELIEF_IN_STEERING_GEAR, Forcing, Parameters
from ullage.numerics.roots import make_root
from ullage.physics import oil, pump

_LEAST_FLOW = 1e-15
_FLOW_TOLERANCE = 1e-10


class Demand(NamedTuple):
    """What a flow through the steering needs: pressures above the headspace [Pa] and the relief's share [1]."""

    supply_rise: float
    return_rise: float
    relief_share: float


class FlowGuess(NamedTuple):
    """One trial flow of an uncontrolled pump: residual [m3 s-1] and the demand behind it."""

    residual: float
    demand: Demand


class FlowProblem(NamedTuple):
    """What `_flow_residual` needs besides the flow."""

    params: Parameters
    load: float
    return_viscosity: float
    pump_viscosity: float
    geometric_flow: float


class Hydraulics(NamedTuple):
    """Pump and circuit at one instant: speed [rad s-1], flows [m3 s-1], pressures [Pa], powers [W]."""

    pump_speed: float
    feed_flow: float
    ring_flow: float
    direct_flow: float
    steering_flow: float
    supply_rise: float
    shaft_power: float
    ram_power: float
    pump_heat: float
    gear_heat: float
    cooler_heat: float
    reservoir_heat: float
    return_viscosity: float


@compiled
def viscosity(p: Parameters, temperature: float) -> float:
    """Return the kinematic viscosity of this race's oil.

    Parameters
    ----------
    p : record
        Parameters.
    temperature : float
        Oil temperature [K].

    Returns
    -------
    float
        Kinematic viscosity [m2 s-1], the ageing factor included; below 40 degC on the line of the cold point.
    """
    if temperature < oil.COLD_SPLIT:
        fresh = oil.kinematic_viscosity(temperature, p.cold_viscosity_constant, p.cold_viscosity_slope)
    else:
        fresh = oil.kinematic_viscosity(temperature, p.viscosity_constant, p.viscosity_slope)
    return p.ageing_factor * fresh


@compiled
def demand(p: Parameters, flow: float, load: float, return_viscosity: float) -> Demand:
    """Return what it takes to push a flow through steering valve, return line, filter and cooler.

    Parameters
    ----------
    p : record
        Parameters.
    flow : float
        Flow offered to the steering [m3 s-1].
    load : float
        Pressure that the ram asks for [Pa].
    return_viscosity : float
        Kinematic viscosity in return line and cooler [m2 s-1].

    Returns
    -------
    Demand
        Supply pressure and return back pressure above the headspace, and the share that crosses the relief.
    """
    flow_ratio = flow / p.return_flow
    viscosity_ratio = return_viscosity / p.return_viscosity
    return_rise = pump.return_drop(flow_ratio, viscosity_ratio, p.return_drop) + pump.filter_drop(
        flow_ratio, viscosity_ratio, p.filter_drop, p.filter_bypass
    )
    wanted = load + pump.open_centre_drop(flow, p.centre_drop, p.centre_flow) + return_rise
    share = pump.relief_share(wanted, p.relief_pressure)
    supply = (1.0 - share) * wanted + share * p.relief_pressure
    return Demand(supply, min(return_rise, supply), share)


@compiled
def _flow_residual(flow: float, problem: FlowProblem) -> FlowGuess:
    p = problem.params
    need = demand(p, flow, problem.load, problem.return_viscosity)
    difference = need.supply_rise + pump.open_centre_drop(flow, p.control_drop, p.set_flow)
    slip = pump.slip_flow(p.slip_coefficient, p.displacement, difference, problem.pump_viscosity)
    return FlowGuess(flow + slip - problem.geometric_flow, need)


_flow_root = make_root(_flow_residual)


@compiled
def _controlled_flow(problem: FlowProblem) -> tuple[float, Demand]:
    """Return the flow behind the flow control, and what it needs: the set flow if the pump can, else all it can."""
    p = problem.params
    if problem.geometric_flow <= _LEAST_FLOW:
        return 0.0, Demand(0.0, 0.0, 0.0)
    if p.set_flow < problem.geometric_flow:
        at_set = _flow_residual(p.set_flow, problem)
        if at_set.residual <= 0.0:
            return p.set_flow, at_set.demand
    at_rest = _flow_residual(0.0, problem)
    if at_rest.residual >= 0.0:
        held = problem.geometric_flow * problem.pump_viscosity / (p.slip_coefficient * p.displacement)
        return 0.0, Demand(min(held, at_rest.demand.supply_rise), 0.0, at_rest.demand.relief_share)
    most = min(p.set_flow, problem.geometric_flow)
    flow, _, guess, _ = _flow_root(most, 1.0, _LEAST_FLOW, most, _FLOW_TOLERANCE, problem)
    return flow, guess.demand


@compiled
def hydraulics(p: Parameters, forcing: Forcing, pump_temperature: float, cooler: float) -> Hydraulics:
    """Return flows, pressures and powers of the circuit.

    The heats add up to shaft power less ram work: every pressure drop turns to heat in the node that holds it, and
    what leaves the shaft and does not leave the pump as pressure heats the pump. The loss in the feed line is left
    out of the pressure rise over the pump (some kPa against tens of bar); its heat is in the pump's share.

    Parameters
    ----------
    p : record
        Parameters.
    forcing : Forcing
        Channels.
    pump_temperature, cooler : float
        Oil temperatures in pump and cooler [K].

    Returns
    -------
    Hydraulics
        The instant's flows, pressures above the headspace, powers and heats.
    """
    speed = forcing.engine_speed * p.drive_ratio * (1.0 - p.belt_slip)
    dynamic = viscosity(p, pump_temperature) * oil.density(pump_temperature, p.density_15)
    return_viscosity = viscosity(p, cooler)
    geometric = p.displacement * speed
    problem = FlowProblem(p, forcing.steering_load, return_viscosity, dynamic, geometric)
    flow, need = _controlled_flow(problem)
    difference = need.supply_rise + pump.open_centre_drop(flow, p.control_drop, p.set_flow)
    delivered = max(flow, geometric - pump.slip_flow(p.slip_coefficient, p.displacement, difference, dynamic))
    shaft_power = 0.0
    if geometric > _LEAST_FLOW:
        shaft_power = speed * pump.shaft_torque(
            p.displacement, difference, dynamic, speed, p.friction, p.viscous_drag, p.idle_torque
        )
    relief_flow = need.relief_share * flow
    steering_flow = flow - relief_flow
    ring_flow = flow if p.relief_place == RELIEF_IN_STEERING_GEAR else steering_flow
    dumped = relief_flow if p.relief_place == RELIEF_IN_RESERVOIR else 0.0
    direct_flow = dumped + p.bypass_to_reservoir * (delivered - flow)
    ram_power = p.work_share * steering_flow * min(forcing.steering_load, need.supply_rise - need.return_rise)
    outgoing = flow - relief_flow if p.relief_place == RELIEF_IN_PUMP else flow
    return Hydraulics(
        speed,
        ring_flow + direct_flow,
        ring_flow,
        direct_flow,
        steering_flow,
        need.supply_rise,
        shaft_power,
        ram_power,
        shaft_power - outgoing * need.supply_rise,
        ring_flow * (need.supply_rise - need.return_rise) - ram_power,
        ring_flow * need.return_rise,
        dumped * need.supply_rise,
        return_viscosity,
    )
