"""What a race or another program does to the circuit, and the channels that follow from it.

Engine bay and engine block are not given: they warm up and cool down with the engine, step by step.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from ullage.compiled import compiled
from ullage.kernel.params import CHANNELS, ENGINE_TURNS, FIRST_MODE, Forcing
from ullage.kernel.settings import Settings
from ullage.physics.atmosphere import pressure

STANDING_SPEED = 0.3  # what is slower stands [m s-1]
NO_JUMP = 1e-9  # share of a value by which it may differ between two steps and go on as if it had not


class Inputs:
    """What is given for one end of a step, SI units.

    Those from `engine_on` on hold from the beginning of a step to its end, the others are linear in between.
    `engine_on`, `cap_on`, `fan_forced` and `in_water` are 1 or 0; `fan_share` is the share of its full air speed at
    which the fan runs while it runs. All others are channels of `Forcing`.
    """

    engine_speed: float
    vehicle_speed: float
    steering_load: float
    steering_position: float
    elevation: float
    ambient_temperature: float
    forward_acceleration: float
    left_acceleration: float
    upward_acceleration: float
    engine_on: float
    cap_on: float
    fan_forced: float
    fan_share: float
    ground_roughness: float
    in_water: float
    water_temperature: float
    core_blockage: float
    strainer_factor: float
    bore_share: float
    leak_area: float
    relief_stuck: float
    vacuum_stuck: float
    water_content: float
    top_up_flow: float
    top_up_temperature: float
    drain_flow: float
    mark_fills: float
    recharge_pressure: float


INPUTS = tuple(Inputs.__annotations__)
FIRST_HELD = INPUTS.index("engine_on")


class Warmth:
    """How warm the surroundings are: the block [K], and the bay over ambient [K]."""

    block_temperature: float
    bay_rise: float


@compiled
def _bay_target(c: Settings, block: float, ambient: float, speed: float) -> float:
    """Return how far the bay would rise over ambient with the block and the truck as they are [K]."""
    warmth = (block - ambient) / max(c.surroundings_block_temperature - ambient, 1.0)
    full = c.surroundings_bay_offset + (c.surroundings_stop_rise if speed < STANDING_SPEED else 0.0)
    return full * min(max(warmth, 0.0), 1.0)


@compiled
def _forcing(end: Inputs, held: Inputs, c: Settings, running: bool, warmth: Warmth) -> Forcing:
    """Return the channels at one end of a step."""
    wet = held.in_water == 1.0
    return Forcing(
        end.engine_speed if running else 0.0,
        end.vehicle_speed,
        end.steering_load if running else 0.0,
        end.steering_position,
        pressure(end.elevation) + c.weather_pressure_offset,
        end.ambient_temperature,
        held.water_temperature if wet else end.ambient_temperature + warmth.bay_rise,
        warmth.block_temperature,
        held.top_up_flow,
        held.top_up_temperature,
        end.forward_acceleration,
        end.left_acceleration,
        end.upward_acceleration,
        held.cap_on,
        held.relief_stuck,
        held.vacuum_stuck,
        held.leak_area,
        held.core_blockage,
        held.strainer_factor,
        held.bore_share,
        held.drain_flow,
        held.water_content,
        held.mark_fills,
        held.recharge_pressure,
        held.fan_forced,
        held.ground_roughness,
        c.surroundings_wet_factor if wet else 1.0,
        held.fan_share,
    )


@compiled
def write_channels(
    c: Settings,
    warmth: Warmth,
    before: Inputs,
    after: Inputs,
    length: float,
    left: NDArray[np.float64],
    right: NDArray[np.float64],
) -> None:
    """Write the channels at both ends of a step, and let block and bay follow the engine by first-order lags.

    Parameters
    ----------
    c, warmth : record
        Settings, and how warm the surroundings are, which changes.
    before, after : record
        Inputs at both ends; what is held is that of `after`.
    length : float
        Length of the step [s].
    left, right : array of shape (channels,)
        Channels at its beginning and at its end: written.

    Notes
    -----
    The engine runs if it is on and turns, by its mean speed over the step. The lags are exact for constant targets; the
    bay follows the block at the middle of the step, which is of second order in its length.
    """
    running = after.engine_on == 1.0 and 0.5 * (before.engine_speed + after.engine_speed) >= ENGINE_TURNS
    start = _forcing(before, after, c, running, warmth)
    ambient = 0.5 * (before.ambient_temperature + after.ambient_temperature)
    target = c.surroundings_block_temperature if running else ambient
    keep = math.exp(-length / (c.surroundings_block_warming_time if running else c.surroundings_block_cooling_time))
    middle = target + (warmth.block_temperature - target) * math.sqrt(keep)
    warmth.block_temperature = target + (warmth.block_temperature - target) * keep
    rise = _bay_target(c, middle, ambient, 0.5 * (before.vehicle_speed + after.vehicle_speed))
    warmth.bay_rise = rise + (warmth.bay_rise - rise) * math.exp(-length / c.surroundings_bay_settling_time)
    end = _forcing(after, after, c, running, warmth)
    for place in range(len(CHANNELS)):
        left[place] = start[place]
        right[place] = end[place]


@compiled
def mix(before: Inputs, after: Inputs, share: float, between: Inputs) -> None:
    """Write the linear ones of the inputs at a share of the way from one end of a step to the other."""
    between.engine_speed = before.engine_speed + share * (after.engine_speed - before.engine_speed)
    between.vehicle_speed = before.vehicle_speed + share * (after.vehicle_speed - before.vehicle_speed)
    between.steering_load = before.steering_load + share * (after.steering_load - before.steering_load)
    between.steering_position = before.steering_position + share * (after.steering_position - before.steering_position)
    between.elevation = before.elevation + share * (after.elevation - before.elevation)
    change = after.ambient_temperature - before.ambient_temperature
    between.ambient_temperature = before.ambient_temperature + share * change
    change = after.forward_acceleration - before.forward_acceleration
    between.forward_acceleration = before.forward_acceleration + share * change
    change = after.left_acceleration - before.left_acceleration
    between.left_acceleration = before.left_acceleration + share * change
    change = after.upward_acceleration - before.upward_acceleration
    between.upward_acceleration = before.upward_acceleration + share * change


@compiled
def goes_on(before: NDArray[np.float64], after: NDArray[np.float64]) -> bool:
    """Return whether channels go on without a jump.

    Parameters
    ----------
    before, after : array of shape (channels,)
        Channels at the end of a step and at the beginning of the next.

    Returns
    -------
    bool
        Whether all modes are the same, and all other channels but for rounding.
    """
    for place in range(len(CHANNELS)):
        if place >= FIRST_MODE:
            if before[place] != after[place]:
                return False
        elif not abs(after[place] - before[place]) <= NO_JUMP * (1.0 + abs(after[place])):
            return False
    return True
