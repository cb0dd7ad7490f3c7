"""What moves air between headspace, solution and bubbles during an interval."""

from __future__ import annotations

from typing import NamedTuple

from ullage.compiled import compiled, inlined
from ullage.kernel.heat import top_up_air
from ullage.kernel.hydraulics import Hydraulics
from ullage.kernel.intake import Supply, line_volume, void_fraction
from ullage.kernel.params import ENGINE_TURNS, Forcing, Parameters
from ullage.kernel.pools import AirExchange
from ullage.kernel.state import State
from ullage.physics import air, bubbles, oil, tank

PRESSURISED_SHARE = 0.5
_LEAST_FLOW = 1e-9
_CYCLE_BY_DRIVING = 60.0


class Stream(NamedTuple):
    """Flows: feed, back from the ring, back past it, swept [m3 s-1]; rise to the supply, deficit at the port [Pa].

    `viscosity` is that of the oil in the tank [m2 s-1].
    """

    feed_flow: float
    ring_flow: float
    direct_flow: float
    swept_flow: float
    supply_rise: float
    port_deficit: float
    viscosity: float


@compiled
def stream_of(s: State, flows: Hydraulics, before: Supply) -> Stream:
    """Return what flows through the tank, from the flows of an instant and what stands before the pump."""
    return Stream(
        flows.feed_flow,
        flows.ring_flow,
        flows.direct_flow,
        flows.swept_flow,
        flows.supply_rise,
        s.air_pressure + before.vapour_pressure - flows.intake.pressure,
        before.viscosity,
    )


@compiled
def _redissolved(p: Parameters, s: State, stream: Stream, held: float, saturation: float) -> float:
    """Return the share of the bubbles that dissolve under the supply pressure on their way through the gear [1].

    Half of the oil in gear, hoses and ram is taken to stand under that pressure (engineering judgement). What the flow
    control sends straight back to the tank dissolves none.
    """
    through = stream.ring_flow + stream.direct_flow
    if stream.ring_flow <= _LEAST_FLOW:
        return 0.0
    supply = s.air_pressure + stream.supply_rise
    radius = bubbles.compressed_radius(p.sheared_bubble_diameter, supply)
    rate = bubbles.dissolution_rate(radius, p.air_diffusivity, held, saturation / supply)
    time = PRESSURISED_SHARE * p.gear_volume / stream.ring_flow
    return stream.ring_flow / through * bubbles.share_of_equilibrium(rate, time)


@compiled
def _drawn_in(p: Parameters, s: State, stream: Stream, temperature: float, speed: float, roughness: float) -> float:
    """Return the headspace gas that return and uncovered outlet draw in [m3 s-1]."""
    whole = tank.expanded_volume(p.tank_volume, p.tank_expansion, temperature)
    share = bubbles.drawn_in_share(
        p.entrainment,
        p.plunging_entrainment,
        p.return_port_level,
        p.surface_area * s.surface_height / whole,
        p.slosh_factor,
        speed,
        roughness,
    )
    density = oil.density(temperature, p.density_15)
    gas = bubbles.gas_ratio(s.free_air / s.reservoir_mass, temperature, s.air_pressure, density)
    room = bubbles.room_for_bubbles(void_fraction(gas, 0.0))
    return room * (share * (stream.ring_flow + stream.direct_flow) + s.line_gas * stream.swept_flow)


@compiled
def _freed(p: Parameters, s: State, before: Forcing, after: Forcing, length: float) -> float:
    """Return the trapped air that an interval's ram travel brings out [kg].

    Driving counts as a lock-to-lock cycle a minute (engineering judgement).
    """
    cycles = 0.25 * abs(after.steering_position - before.steering_position)
    if before.engine_speed >= ENGINE_TURNS and before.vehicle_speed > 0.0:
        cycles += length / _CYCLE_BY_DRIVING
    return s.trapped_air * bubbles.share_of_equilibrium(1.0 / p.bleeding_cycles, cycles)


@inlined
def air_exchange(
    p: Parameters, s: State, stream: Stream, before: Forcing, after: Forcing, temperature: float, length: float
) -> AirExchange:
    """Return what moves air between headspace, solution and bubbles during an interval.

    Parameters
    ----------
    p, s : record
        Parameters and state at the start.
    stream : Stream
        What flows through the tank in the middle of the interval.
    before, after : Forcing
        Channels at its ends.
    temperature : float
        Mean temperature of the oil in the tank [K].
    length : float
        Length of the interval [s].

    Returns
    -------
    AirExchange
        Rates, constant in the interval.
    """
    density = oil.density(temperature, p.density_15)
    solubility = air.solubility(temperature, p.bunsen, p.solubility_slope, p.density_15)
    saturation = s.dissolved_air / (solubility * s.oil_mass)
    held = bubbles.ostwald(temperature, solubility, p.density_15)
    speed = 0.5 * (before.vehicle_speed + after.vehicle_speed)
    transfer = air.transfer_velocity(p.transfer_velocity, p.rough_ground_factor, speed, before.ground_roughness)
    if before.engine_speed < ENGINE_TURNS:
        transfer *= p.rest_factor
    redissolved = _redissolved(p, s, stream, held, saturation)
    in_tank = bubbles.dissolution_rate(0.5 * p.bubble_diameter, p.air_diffusivity, held, saturation / s.air_pressure)
    drawn_off = density * stream.feed_flow
    held_in_line = line_volume(p, p.feed_bore * before.bore_share)
    in_line = bubbles.share_of_equilibrium(p.line_release_rate, held_in_line / max(stream.feed_flow, _LEAST_FLOW))
    depth = s.reservoir_mass / (density * p.surface_area)
    return AirExchange(
        s.oil_mass,
        s.reservoir_mass,
        solubility,
        p.release_threshold,
        stream.port_deficit,
        air.uptake_rate(transfer, p.surface_area, s.oil_mass / density),
        p.tank_release_rate * s.reservoir_mass / s.oil_mass,
        drawn_off / s.oil_mass * in_line * (1.0 - redissolved),
        in_tank + drawn_off / s.reservoir_mass * redissolved,
        bubbles.rise_velocity(p.bubble_diameter, stream.viscosity) / depth,
        _drawn_in(p, s, stream, temperature, speed, before.ground_roughness),
        before.top_up_flow * top_up_air(p, before),
        _freed(p, s, before, after, length) / length,
        before.drain_flow,
    )
