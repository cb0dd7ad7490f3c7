"""The feed line and the pump's inlet: what stands before the pump, and what a flow makes of it."""

from __future__ import annotations

import math
from typing import NamedTuple

from ullage.compiled import compiled
from ullage.kernel.params import Forcing, Parameters
from ullage.kernel.state import State
from ullage.physics import air, bubbles, line, oil, pump, water

LEAST_FEED_PRESSURE = 5e3
LEAST_CHAMBER_PRESSURE = 1e3
_LEAST_DRAWN = 1e-5  # the slowest flow for which the time in the line is still counted [m3 s-1]


class Supply(NamedTuple):
    """What stands before the pump, whatever it draws, SI units.

    `standing_pressure` is that at the port without flow. `dissolved` and `free` are masses of air per mass of oil.
    """

    standing_pressure: float
    least_pressure: float
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


class Intake(NamedTuple):
    """Pressures at port and in the chambers [Pa], and the free gas there per volume of oil [1]."""

    pressure: float
    chamber_pressure: float
    inlet_gas: float
    pump_gas: float


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
def acceleration(forcing: Forcing) -> tuple[float, float, float]:
    """Return the truck's acceleration, forward, left and up [m s-2]."""
    return forcing.forward_acceleration, forcing.left_acceleration, forcing.upward_acceleration


@compiled
def outlet_depth(p: Parameters, s: State, forcing: Forcing) -> float:
    """Return the depth of the tank's outlet below the tilted surface [m]."""
    return line.outlet_depth(s.surface_height, p.outlet_forward, p.outlet_left, acceleration(forcing))


@compiled
def supply(p: Parameters, s: State, forcing: Forcing, temperature: float) -> Supply:
    """Return what stands before the pump.

    Parameters
    ----------
    p, s : record
        Parameters, and the state with the air space and the air in the oil.
    forcing : Forcing
        Channels.
    temperature : float
        Temperature of the oil in tank and feed line [K].

    Returns
    -------
    Supply
        Pressure without flow, and the oil with its air.
    """
    density = oil.density(temperature, p.density_15)
    vapour = water.vapour_pressure(temperature, forcing.water_content, p.water_saturation)
    head = line.body_force(
        density, outlet_depth(p, s, forcing), p.outlet_height, p.pump_forward, p.pump_left, acceleration(forcing)
    )
    return Supply(
        s.air_pressure + vapour + head - density * p.inertia_length * s.feed_acceleration,
        max(vapour, LEAST_FEED_PRESSURE),
        density,
        viscosity(p, temperature),
        temperature,
        vapour,
        air.solubility(temperature, p.bunsen, p.solubility_slope, p.density_15),
        s.dissolved_air / s.oil_mass,
        s.free_air / s.reservoir_mass,
        s.line_gas,
        p.feed_bore * forcing.bore_share,
        p.strainer_drop * forcing.strainer_factor,
    )


@compiled
def line_volume(p: Parameters) -> float:
    """Return what the feed line holds [m3]."""
    return 0.25 * math.pi * p.feed_bore * p.feed_bore * p.feed_length


@compiled
def _gas_at(p: Parameters, x: Supply, pressure: float, time: float) -> float:
    """Return the free gas per volume of oil at a pressure, a time after the oil has left the tank."""
    local = pressure - x.vapour_pressure
    free = x.free
    oversaturation = bubbles.oversaturation(x.dissolved, x.solubility, local, p.release_threshold)
    if oversaturation > 0.0:
        free += oversaturation * bubbles.share_of_equilibrium(p.line_release_rate, time)
    return bubbles.gas_ratio(free, x.temperature, max(local, LEAST_CHAMBER_PRESSURE), x.density)


@compiled
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
        The port's pressure can lie below `least_pressure`: the line cannot bring that flow.
    """
    loss = line.line_loss(flow, x.bore, p.feed_length, p.feed_loss, p.feed_roughness, x.density, x.viscosity)
    loss += line.velocity_head(flow, x.bore, x.density)
    loss += line.rated_drop(flow / p.strainer_flow, x.viscosity / p.strainer_viscosity, x.strainer_drop)
    pressure = x.standing_pressure - loss
    port = pump.port_loss(speed / p.maximum_speed, pump_viscosity, p.port_loss, p.port_viscous_loss)
    chamber = max(max(pressure, x.least_pressure) - port, max(x.vapour_pressure, LEAST_CHAMBER_PRESSURE))
    drawn = max(flow, _LEAST_DRAWN)
    in_line = line_volume(p) / drawn if speed > 0.0 else 0.0
    in_pump = in_line + p.pump_volume / drawn if speed > 0.0 else 0.0
    at_port = _gas_at(p, x, max(pressure, x.least_pressure), in_line)
    return Intake(pressure, chamber, at_port, _gas_at(p, x, chamber, in_pump))


@compiled
def void_fraction(gas: float, line_gas: float) -> float:
    """Return the void fraction [1] of oil with free gas per volume of oil [1] behind a line that is partly gas [1]."""
    return 1.0 - (1.0 - line_gas) / (1.0 + gas)
