"""The feed line and the pump's inlet: what stands before the pump, and what a flow makes of it."""

from __future__ import annotations

import math
from typing import NamedTuple

from ullage.compiled import compiled, inlined
from ullage.kernel.params import Forcing, Parameters
from ullage.kernel.state import State
from ullage.numerics.roots import make_root
from ullage.physics import air, bubbles, line, oil, pump, water

COLD_SPLIT = 313.15
LEAST_FEED_PRESSURE = 5e3
LEAST_CHAMBER_PRESSURE = 1e3
_SHORT_CHAMBER = 1e-5  # how much a chamber is overfilled that lacks a pressure [Pa-1]
_FILLING_TOLERANCE = 1e-8
_LEAST_FILLING = 1e-6
_LEAST_DRAWN = 1e-5  # the slowest flow for which the time in the line is still counted [m3 s-1]


class TankOil(NamedTuple):
    """The oil in tank and feed line: temperature [K], density [kg m-3], viscosity [m2 s-1], vapour pressure [Pa]."""

    temperature: float
    density: float
    viscosity: float
    vapour_pressure: float


class Supply(NamedTuple):
    """What stands before the pump, whatever it draws, SI units.

    `standing_pressure` is that at the port without flow. `dissolved` and `free` are masses of air per mass of oil.
    `inertia` is the pressure that it takes per change of flow since `flow_before` [Pa s m-3].
    """

    standing_pressure: float
    least_pressure: float
    least_chamber_pressure: float
    density: float
    viscosity: float
    temperature: float
    vapour_pressure: float
    solubility: float
    dissolved: float
    free: float
    line_gas: float
    bore: float
    strainer_drop: float
    flow_before: float
    inertia: float


class Intake(NamedTuple):
    """Pressures at port and in the chambers [Pa], and what gas leaves of the pump.

    `pressure` is never below the least; `shortage` [Pa] is by how much it would be, negative while the line has some
    to spare. `loss` is what the line takes [Pa], `inlet_gas` the free gas at the port per volume of oil, `filling` the
    share of the chambers that oil takes, `choked` is one where the chambers stand at their least pressure.
    """

    pressure: float
    shortage: float
    loss: float
    chamber_pressure: float
    inlet_gas: float
    filling: float
    choked: int


class Chamber(NamedTuple):
    """What `_overfilled` needs besides the filling: pressure at the port, speed over its limit, share released."""

    params: Parameters
    supply: Supply
    pressure: float
    speed_ratio: float
    viscosity: float
    released: float


class Filled(NamedTuple):
    """One trial of a filling: the residual, the pressure in the chambers [Pa], whether that is at its least."""

    residual: float
    pressure: float
    choked: int


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
    if temperature < COLD_SPLIT:
        fresh = oil.kinematic_viscosity(temperature, p.cold_viscosity_constant, p.cold_viscosity_slope)
    else:
        fresh = oil.kinematic_viscosity(temperature, p.viscosity_constant, p.viscosity_slope)
    return p.ageing_factor * fresh


@compiled
def acceleration(forcing: Forcing) -> tuple[float, float, float]:
    """Return the truck's acceleration, forward, left and up [m s-2]."""
    return forcing.forward_acceleration, forcing.left_acceleration, forcing.upward_acceleration


@compiled
def outlet_depth(p: Parameters, s: State, forcing: Forcing) -> float:
    """Return the depth of the tank's outlet below the tilted surface [m]."""
    return line.outlet_depth(s.surface_height, p.outlet_forward, p.outlet_left, acceleration(forcing))


@compiled
def tank_oil(p: Parameters, forcing: Forcing, temperature: float) -> TankOil:
    """Return the oil in tank and feed line at a temperature [K]."""
    return TankOil(
        temperature,
        oil.density(temperature, p.density_15),
        viscosity(p, temperature),
        water.vapour_pressure(temperature, forcing.water_content, p.water_saturation),
    )


@inlined
def supply(p: Parameters, s: State, forcing: Forcing, x: TankOil) -> Supply:
    """Return what stands before the pump.

    Parameters
    ----------
    p, s : record
        Parameters, and the state with the air space and the air in the oil.
    forcing : Forcing
        Channels.
    x : TankOil
        The oil in tank and feed line.

    Returns
    -------
    Supply
        Pressure without flow, and the oil with its air.
    """
    vapour = x.vapour_pressure
    head = line.body_force(
        x.density, outlet_depth(p, s, forcing), p.outlet_height, p.pump_forward, p.pump_left, acceleration(forcing)
    )
    bore = p.feed_bore * forcing.bore_share
    inertia = 0.0
    if p.inertia_length > 0.0 and s.feed_elapsed > 0.0:
        inertia = x.density * p.feed_length * p.feed_length / (line_volume(p, bore) * s.feed_elapsed)
    return Supply(
        s.air_pressure + vapour + head,
        max(vapour, LEAST_FEED_PRESSURE),
        max(vapour, LEAST_CHAMBER_PRESSURE),
        x.density,
        x.viscosity,
        x.temperature,
        vapour,
        air.solubility(x.temperature, p.bunsen, p.solubility_slope, p.density_15),
        s.dissolved_air / s.oil_mass,
        max(0.0, s.free_air) / s.reservoir_mass,
        s.line_gas,
        bore,
        p.strainer_drop * forcing.strainer_factor,
        s.feed_flow,
        inertia,
    )


@compiled
def line_volume(p: Parameters, bore: float) -> float:
    """Return what the feed line holds [m3] at a bore [m], which a collapsed hose narrows."""
    return 0.25 * math.pi * bore * bore * p.feed_length


@compiled
def _gas_at(p: Parameters, x: Supply, pressure: float, released: float) -> float:
    """Return the free gas per volume of oil at a pressure, once a share of what can come out of solution has."""
    local = pressure - x.vapour_pressure
    free = x.free + released * bubbles.oversaturation(x.dissolved, x.solubility, local, p.release_threshold)
    return bubbles.gas_ratio(free, x.temperature, max(local, LEAST_CHAMBER_PRESSURE), x.density)


@inlined
def intake(p: Parameters, x: Supply, flow: float, speed: float, pump_viscosity: float) -> Intake:
    """Return pressures and gas at the pump's port and in its chambers.

    Parameters
    ----------
    p : record
        Parameters.
    x : Supply
        What stands before the pump.
    flow : float
        Flow of oil in the feed line [m3 s-1].
    speed : float
        Pump speed [rad s-1].
    pump_viscosity : float
        Kinematic viscosity of the oil in the pump [m2 s-1].

    Returns
    -------
    Intake
        Pressures and filling; a positive `shortage` says that the line cannot bring that flow.
    """
    loss = line.line_loss(flow, x.bore, p.feed_length, p.feed_loss, p.feed_roughness, x.density, x.viscosity)
    loss += line.velocity_head(flow, x.bore, x.density) + x.inertia * (flow - x.flow_before)
    loss += line.rated_drop(flow / p.strainer_flow, x.viscosity / p.strainer_viscosity, x.strainer_drop)
    return inlet(p, x, loss, flow, speed, pump_viscosity)


@inlined
def inlet(p: Parameters, x: Supply, loss: float, flow: float, speed: float, pump_viscosity: float) -> Intake:
    """Return pressures and gas at port and in the chambers, as `intake` does, behind a known loss of the line [Pa]."""
    brought = x.standing_pressure - loss
    pressure = max(brought, x.least_pressure)
    in_line, in_pump = 0.0, 0.0
    if speed > 0.0:
        held, change = line_volume(p, x.bore), p.line_release_rate / max(flow, _LEAST_DRAWN)
        in_line = bubbles.share_of_equilibrium(change, held)
        in_pump = bubbles.share_of_equilibrium(change, held + p.pump_volume)
    filling, found = _filled(Chamber(p, x, pressure, speed / p.maximum_speed, pump_viscosity, in_pump))
    at_port = _gas_at(p, x, pressure, in_line)
    return Intake(pressure, x.least_pressure - brought, loss, found.pressure, at_port, filling, found.choked)


@compiled
def _overfilled(filling: float, chamber: Chamber) -> Filled:
    """Return by how much a filling is more than gas and pressure behind the port allow.

    What passes the port is what fills the chambers, so the loss behind it falls with the filling.
    """
    p, x = chamber.params, chamber.supply
    passing = filling * chamber.speed_ratio
    pressure = chamber.pressure - pump.port_loss(passing, chamber.viscosity, p.port_loss, p.port_viscous_loss)
    short = _SHORT_CHAMBER * (x.least_chamber_pressure - pressure)
    held = max(pressure, x.least_chamber_pressure)
    gas = _gas_at(p, x, held, chamber.released)
    over = filling * (1.0 + gas) - (1.0 - x.line_gas)
    return Filled(max(over, short), held, 1 if short > over else 0)


_filling_root = make_root(_overfilled)


@inlined
def _filled(chamber: Chamber) -> tuple[float, Filled]:
    """Return the filling of the chambers [1] and the pressure there."""
    most = 1.0 - chamber.supply.line_gas
    full = _overfilled(most, chamber)
    if full.residual <= _FILLING_TOLERANCE or most <= _LEAST_FILLING:
        return most, full
    less = max(most * most / (most + full.residual), _LEAST_FILLING)
    near = _overfilled(less, chamber)
    if near.residual * near.residual < _FILLING_TOLERANCE and full.choked + near.choked == 0:
        beyond = near.residual / (full.residual - near.residual)
        pressure = near.pressure - beyond * (full.pressure - near.pressure)
        return less - beyond * (most - less), Filled(0.0, pressure, 0)
    filling, _, found, _ = _filling_root(less, near, 1.0, _LEAST_FILLING, most, _FILLING_TOLERANCE, chamber)
    return filling, found


@compiled
def void_fraction(gas: float, line_gas: float) -> float:
    """Return the void fraction [1] of oil with free gas per volume of oil [1] behind a line that is partly gas [1]."""
    return 1.0 - (1.0 - line_gas) / (1.0 + gas)
