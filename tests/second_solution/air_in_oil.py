"""Ways of the air in and out of the oil: docs/physics.md, "Air in the oil"."""

import math
from dataclasses import dataclass

from second_solution.properties import AIR_GAS_CONSTANT, REFERENCE_PRESSURE, rise_velocity
from second_solution.truck import RESERVOIR

R = AIR_GAS_CONSTANT
ROUGH_SPEED = 5.0  # from here rough ground counts in full [m/s]
MOST_BUBBLES = 0.3  # share of the oil in the tank at which no more are drawn in


@dataclass
class AirFlows:
    """Air on its ways [kg/s]."""

    surface: float  # into the oil, through its surface
    drawn: float  # into bubbles, by the return
    rise: float  # out of bubbles, into the air space
    to_bubbles: float  # out of solution
    dissolved: float  # out of bubbles, into solution


def air_flows(truck, state, space, flow, channels):
    """Exchanges of the kinetic model."""
    air, oil, T0, p = truck.air, truck.oil, state.T[RESERVOIR], space.p
    rho, S, L = oil.density(T0), oil.solubility(T0), oil.ostwald(T0)
    p_d = state.dissolved / (S * truck.oil_mass)
    rough = min(channels.vehicle_speed / ROUGH_SPEED, 1.0)
    k_L = air.transfer_velocity * (1.0 + (air.rough_ground_factor - 1.0) * rough)
    if channels.pump_speed == 0.0:
        k_L *= air.rest_factor
    surface = k_L * truck.reservoir.surface_area * rho * S * (p - p_d)
    excess = max(p_d - p - air.release_threshold, 0.0)
    tank_release = S * space.reservoir_mass * excess / air.tank_release_time
    Q = flow.steering_flow
    to_ring, fed = Q * rho, flow.feed_flow * rho  # [kg/s]
    ring_share = _share_dissolved(truck, L, p_d, flow)
    line_bubbles = flow.line_release * (fed - to_ring * ring_share)
    ring = to_ring * state.bubbles / space.reservoir_mass * ring_share
    tank_rate = 2.0 * air.diffusivity * L * max(1.0 - p_d / p, 0.0) / (0.5 * air.bubble_diameter) ** 2
    if air.model == "frozen":
        surface = tank_release = line_bubbles = ring = tank_rate = 0.0
    returning = flow.feed_flow  # all that comes back into the tank, the bypass too
    drawn = _entrainment(truck, state, space, rough) * returning * p / (R * T0)
    rise = state.bubbles * rise_velocity(air.bubble_diameter, oil.viscosity(T0)) / space.clear_depth
    return AirFlows(surface, drawn, rise, tank_release + line_bubbles, ring + tank_rate * state.bubbles)


def _share_dissolved(truck, L, p_d, flow):
    """Share of the bubbles that go into solution on their way round, under the supply pressure."""
    Q, p = flow.steering_flow, flow.supply_pressure
    if Q <= 0.0 or p <= p_d:
        return 0.0
    radius = 0.5 * truck.air.sheared_bubble_diameter * (REFERENCE_PRESSURE / p) ** (1.0 / 3.0)
    time = radius**2 / (2.0 * truck.air.diffusivity * L * (1.0 - p_d / p))
    return 1.0 - math.exp(-0.5 * truck.gear.oil_volume / (Q * time))


def _entrainment(truck, state, space, rough):
    """Gas that the return draws in, over its flow; the oil, bubbles included, must stand over the port."""
    T0, line = state.T[RESERVOIR], truck.return_line
    tank = truck.tank_volume(T0)
    if 1.0 - space.V / tank < line.port_level + 0.05:
        raise ValueError("not covered: the return plunges into the oil")
    share = state.bubbles * R * T0 / space.p / (space.clear_depth * truck.reservoir.surface_area)
    fade = min(max(1.0 - share / MOST_BUBBLES, 0.0), 1.0)
    return line.entrainment * fade * (1.0 + (truck.air.slosh_factor - 1.0) * rough)
