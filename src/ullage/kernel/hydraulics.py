"""Flows, pressures and powers of the circuit at one instant: all algebraic."""

from __future__ import annotations

from typing import NamedTuple

from ullage.compiled import compiled, inlined
from ullage.kernel.intake import Intake, Supply, intake, viscosity
from ullage.kernel.params import RELIEF_IN_PUMP, RELIEF_IN_RESERVOIR, RELIEF_IN_STEERING_GEAR, Forcing, Parameters
from ullage.numerics.roots import make_root
from ullage.physics import line, pump

STARVED_LINE, STARVED_CHAMBERS = 1, 2
_LEAST_FLOW = 1e-15
_FLOW_TOLERANCE = 1e-7
_STARVED = 1e-6
_PRESSURE_SCALE = 1e5


class Demand(NamedTuple):
    """What a flow through the steering needs: pressures above the headspace [Pa] and the relief's share [1]."""

    supply_rise: float
    return_rise: float
    relief_share: float


class Trial(NamedTuple):
    """One trial of what the pump delivers [m3 s-1]: the residual, and all that follows from the trial.

    `offered` goes to the steering, `slip` [m3 s-1] leaks back over the `difference` [Pa] of pressure.
    """

    residual: float
    delivered: float
    offered: float
    need: Demand
    difference: float
    slip: float
    intake: Intake


class FlowProblem(NamedTuple):
    """What `_trial_at` needs besides the flow."""

    params: Parameters
    supply: Supply
    load: float
    return_viscosity: float
    pump_viscosity: float
    dynamic_viscosity: float
    speed: float
    geometric_flow: float


class Hydraulics(NamedTuple):
    """Pump and circuit at one instant: speed [rad s-1], flows [m3 s-1], pressures [Pa], powers [W].

    `pump_rise` is the pressure that the pump works against, `spare_flow` what the pump could bring beyond what the
    steering is offered, `filling` the share of the displacement that oil fills. `starved` is 1 where the line cannot
    bring the flow, 2 where the pump's own port cannot fill the chambers.
    """

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
    pump_viscosity: float
    pump_rise: float
    swept_flow: float
    spare_flow: float
    intake: Intake
    filling: float
    starved: int


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
    return_rise = line.rated_drop(flow_ratio, viscosity_ratio, p.return_drop) + pump.filter_drop(
        flow_ratio, viscosity_ratio, p.filter_drop, p.filter_bypass
    )
    wanted = load + pump.open_centre_drop(flow, p.centre_drop, p.centre_flow) + return_rise
    share = pump.relief_share(wanted, p.relief_pressure)
    supply = (1.0 - share) * wanted + share * p.relief_pressure
    return Demand(supply, min(return_rise, supply), share)


@compiled
def _feed_flow(p: Parameters, offered: float, delivered: float, relief_share: float) -> float:
    """Return what comes through the feed line [m3 s-1]: all that does not go round inside the pump."""
    round_the_pump = relief_share * offered if p.relief_place == RELIEF_IN_PUMP else 0.0
    return offered - round_the_pump + p.bypass_to_reservoir * (delivered - offered)


@inlined
def _trial_at(delivered: float, problem: FlowProblem) -> Trial:
    """Return by how much a delivery is more than the filled pump brings, or its inlet pressure less than the least."""
    p = problem.params
    offered = min(p.set_flow, delivered)
    need = demand(p, offered, problem.load, problem.return_viscosity)
    difference = need.supply_rise + pump.open_centre_drop(offered, p.control_drop, p.set_flow)
    slip = pump.slip_flow(p.slip_coefficient, p.displacement, difference, problem.dynamic_viscosity)
    feed = _feed_flow(p, offered, delivered, need.relief_share)
    at_inlet = intake(p, problem.supply, feed, problem.speed, problem.pump_viscosity)
    missing = delivered + slip - problem.geometric_flow * at_inlet.filling
    short = at_inlet.shortage * problem.geometric_flow / _PRESSURE_SCALE
    return Trial(max(missing, short), delivered, offered, need, difference, slip, at_inlet)


_delivery_root = make_root(_trial_at)


@compiled
def _standing(problem: FlowProblem) -> Trial:
    """Return a pump that stands: no flow, no pressure."""
    at_inlet = intake(problem.params, problem.supply, 0.0, 0.0, problem.pump_viscosity)
    return Trial(0.0, 0.0, 0.0, Demand(0.0, 0.0, 0.0), 0.0, 0.0, at_inlet)


@compiled
def _held(problem: FlowProblem, at_rest: Trial) -> Trial:
    """Return a pump that turns and delivers nothing: all of its flow slips back at the pressure that it holds."""
    p = problem.params
    filled = problem.geometric_flow * at_rest.intake.filling
    most = filled * problem.dynamic_viscosity / (p.slip_coefficient * p.displacement)
    held = min(most, at_rest.need.supply_rise)
    need = Demand(held, 0.0, at_rest.need.relief_share)
    slip = pump.slip_flow(p.slip_coefficient, p.displacement, held, problem.dynamic_viscosity)
    return Trial(0.0, 0.0, 0.0, need, held, slip, at_rest.intake)


@compiled
def _root_between(first: Trial, low: float, high: float, problem: FlowProblem) -> Trial:
    tolerance = _FLOW_TOLERANCE * problem.geometric_flow
    # what the pump works against beyond the load goes about as the square of the flow, and the slip with it
    slope = 1.0 + 2.0 * first.slip * max(0.0, 1.0 - problem.load / first.difference) / first.delivered
    found: Trial = _delivery_root(first.delivered, first, slope, low, high, tolerance, problem)[2]
    return found


@inlined
def _delivery(problem: FlowProblem) -> Trial:
    """Return what the pump delivers: the flow at which pump, inlet and steering agree."""
    p = problem.params
    if problem.geometric_flow <= _LEAST_FLOW:
        return _standing(problem)
    first = _trial_at(min(p.set_flow, problem.geometric_flow), problem)
    if first.residual < 0.0 and first.delivered < problem.geometric_flow:
        if p.bypass_to_reservoir > 0.0:
            return _root_between(first, first.delivered, problem.geometric_flow, problem)
        brought = problem.geometric_flow * first.intake.filling - first.slip
        return Trial(0.0, brought, first.offered, first.need, first.difference, first.slip, first.intake)
    if first.residual >= first.delivered:
        at_rest = _trial_at(0.0, problem)
        if at_rest.residual >= 0.0:
            return _held(problem, at_rest)
    return _root_between(first, _LEAST_FLOW, first.delivered, problem)


@compiled
def _shaft_power(p: Parameters, speed: float, rise: float, dynamic_viscosity: float) -> float:
    """Return the power of a turning pump [W]; a pump that is part empty works against part of the rise [Pa]."""
    return speed * pump.shaft_torque(
        p.displacement, rise, dynamic_viscosity, speed, p.friction, p.viscous_drag, p.idle_torque
    )


@inlined
def hydraulics(
    p: Parameters, forcing: Forcing, before: Supply, density: float, pump_temperature: float, cooler: float
) -> Hydraulics:
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
    before : Supply
        What stands before the pump.
    density : float
        Density of the oil in the pump [kg m-3].
    pump_temperature, cooler : float
        Oil temperatures in pump and cooler [K].

    Returns
    -------
    Hydraulics
        The instant's flows, pressures above the headspace, powers and heats.
    """
    speed = forcing.engine_speed * p.drive_ratio * (1.0 - p.belt_slip)
    in_pump = viscosity(p, pump_temperature)
    dynamic = in_pump * density
    return_viscosity = viscosity(p, cooler)
    geometric = p.displacement * speed
    problem = FlowProblem(p, before, forcing.steering_load, return_viscosity, in_pump, dynamic, speed, geometric)
    found = _delivery(problem)
    need, flow = found.need, found.offered
    filling, shaft_power, starved = found.intake.filling, 0.0, STARVED_CHAMBERS * found.intake.choked
    if geometric > _LEAST_FLOW:
        brought = (found.delivered + found.slip) / geometric
        if brought < filling - _STARVED:
            filling, starved = brought, STARVED_LINE
        shaft_power = _shaft_power(p, speed, filling * found.difference, dynamic)
    relief_flow = need.relief_share * flow
    steering_flow = flow - relief_flow
    ring_flow = flow if p.relief_place == RELIEF_IN_STEERING_GEAR else steering_flow
    dumped = relief_flow if p.relief_place == RELIEF_IN_RESERVOIR else 0.0
    direct_flow = dumped + p.bypass_to_reservoir * (found.delivered - flow)
    ram_power = p.work_share * steering_flow * forcing.steering_load
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
        in_pump,
        found.difference,
        geometric if p.bypass_to_reservoir > 0.0 else min(geometric, p.set_flow),
        found.delivered - flow,
        found.intake,
        filling,
        starved,
    )


@compiled
def with_inlet(
    p: Parameters, h: Hydraulics, found: Intake, spare_flow: float, in_pump: float, density: float
) -> Hydraulics:
    """Return the same flows behind another state of the inlet, with oil of another viscosity and density in the pump.

    `spare_flow` is what the pump then has to spare [m3 s-1].
    """
    return Hydraulics(
        h.pump_speed,
        h.feed_flow,
        h.ring_flow,
        h.direct_flow,
        h.steering_flow,
        h.supply_rise,
        _shaft_power(p, h.pump_speed, found.filling * h.pump_rise, in_pump * density),
        h.ram_power,
        h.pump_heat,
        h.gear_heat,
        h.cooler_heat,
        h.reservoir_heat,
        h.return_viscosity,
        in_pump,
        h.pump_rise,
        h.swept_flow,
        spare_flow,
        found,
        found.filling,
        h.starved,
    )
