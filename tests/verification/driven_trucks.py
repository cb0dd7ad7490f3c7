"""The truck of Ironwood Flats at constant speed, as a race and as balances written once more with other tools.

The numbers are those of the scenario in SI units and the defaults of docs/scenario.md. Nothing of the race's own code
is used. Gas is kept out (frozen air, a return that draws in nothing): it would take torque from the pump.
"""

import copy
import functools
import json
import math
import tomllib
from pathlib import Path

import numpy as np
from fluids.friction import friction_factor
from ht.hx import effectiveness_from_NTU
from scipy.integrate import solve_ivp
from scipy.optimize import brentq, fsolve

from ullage import Scenario, simulate
from written_again import AIR as GAS_CONSTANT
from written_again import GRAVITY, HEAT_RATIO, PASSAGES, ambient, density, specific_heat, viscosity

IRONWOOD = Path(__file__).parents[2] / "scenarios" / "ironwood.toml"
TANK, PUMP, GEAR, COOLER = range(4)
OUTSIDE = 308.15  # 35 degC
ELEVATION = 900.0
APPROXIMATE, EXACT = "crossflow approximate", "crossflow"

DISPLACEMENT, DRIVE = 28e-6 / (2.0 * math.pi), 0.70  # per radian
SET_FLOW, CONTROL_DROP, RELIEF = 38e-3 / 60.0, 5e5, 110e5
SLIP, DRAG, FRICTION, IDLE_TORQUE = 1e-8, 6e4, 0.06, 1.0
MINUTE_LITRE = 1e-3 / 60.0
BAR = 1e5
VOLUMES = (0.0, 0.3e-3, 1.6e-3, 1.6e-3)
METAL = (2e3, 3.5e3, 6e3, 2.5e3)
LINES, MOUNT, STILL = 0.5, 1.0, 3.0
TO_BAY = (4.0, 3.0, 6.0)
PREHEAT, BAY_OFFSET, BLOCK = 10.0, 25.0, 368.15
GAS_PATH = 1.0 / (1.0 / 0.6 + 1.0 / 0.15)  # oil to air space to bay


@functools.lru_cache(maxsize=32)
def _raced(text):
    return simulate(Scenario.from_dict(json.loads(text)))


def ironwood_truck(segments, changes=None, temperature="35 degC", start="35 degC"):
    """Return the results of segments driven with the truck of Ironwood Flats at 900 m, without gas in its oil."""
    data = tomllib.loads(IRONWOOD.read_text(encoding="utf-8"))
    data["weather"] = {"temperature": temperature}
    data["start"]["temperature"] = start
    data["air"] = {"model": "frozen"}
    data["return_line"] = {"entrainment": 0.0}
    data["duty"] = {"sample_interval": "1 s", "segment": copy.deepcopy(list(segments))}
    for name, table in (changes or {}).items():
        data.setdefault(name, {}).update(table)
    return _raced(json.dumps(data))


RACE = {"vehicle_speed": "70 km/h", "engine_speed": "4800 rpm", "steering_load": "15 bar"}
RACE_SPEED, RACE_ENGINE, RACE_LOAD = 70.0 / 3.6, 4800.0 * math.pi / 30.0, 15.0 * BAR


def raced(duration):
    return ironwood_truck([{"duration": duration, **RACE}])


def rated(flow, kinematic, drop, rated_flow, rated_viscosity):
    """Half of a rated drop goes with flow and viscosity, half with the square of the flow."""
    share = flow / rated_flow
    return 0.5 * drop * share * kinematic / rated_viscosity + 0.5 * drop * share**2


def return_drop(flow, kinematic):
    """Line and cooler, and a filter whose drop turns to that of its bypass by a smooth minimum of fourth order."""
    line = rated(flow, kinematic, 0.4 * BAR, 30.0 * MINUTE_LITRE, 15e-6)
    through = 0.3 * BAR * flow / (30.0 * MINUTE_LITRE) * kinematic / 15e-6
    return line + (through**-4 + (1.7 * BAR) ** -4) ** -0.25


def supply_rise(flow, load, kinematic):
    return load + 7.0 * BAR * (flow / (38.0 * MINUTE_LITRE)) ** 2 + return_drop(flow, kinematic)


def shaft_power(rise, speed, temperature):
    """Wilson's torque times speed."""
    dynamic = viscosity(temperature) * density(temperature)
    return speed * (DISPLACEMENT * (rise * (1.0 + FRICTION) + DRAG * dynamic * speed) + IDLE_TORQUE)


def delivered(speed, load, pump_temperature, return_temperature):
    """Return flow [m3/s] and pressure rise [Pa] of a pump that brings less than its flow control passes."""

    def missing(flow):
        rise = supply_rise(flow, load, viscosity(return_temperature))
        rise += CONTROL_DROP * (flow / SET_FLOW) ** 2
        dynamic = viscosity(pump_temperature) * density(pump_temperature)
        return DISPLACEMENT * speed - SLIP * DISPLACEMENT * rise / dynamic - flow

    flow = brentq(missing, 1e-6, DISPLACEMENT * speed)
    return flow, supply_rise(flow, load, viscosity(return_temperature))


def core(flow, oil_in, return_temperature, speed, form):
    """Return what the core gives off per kelvin between oil and air that come in [W/K]."""
    air_speed = max(0.25 * speed, 3.0)
    oil_side = 160.0 * (flow / (36.0 * MINUTE_LITRE)) ** 0.5 * (9e-6 / viscosity(return_temperature)) ** 0.2
    air_side = 130.0 * (air_speed / 5.0) ** 0.6
    air_density = ambient(ELEVATION) / (GAS_CONSTANT * OUTSIDE)
    air_stream = air_density * 0.06 * air_speed * HEAT_RATIO / (HEAT_RATIO - 1.0) * GAS_CONSTANT
    oil_stream = flow * density(oil_in) * specific_heat(oil_in)
    least, most = sorted((air_stream, oil_stream))
    units = 1.0 / (1.0 / oil_side + 1.0 / air_side) / least
    return least * effectiveness_from_NTU(units, least / most, form)


def carried(stream, warm, cold):
    """Return the heat that a stream of oil [kg/s] brings, Cragoe's specific heat being linear."""
    return stream * specific_heat(0.5 * (warm + cold)) * (warm - cold)


def around(t, bay, block, core_air, speed):
    """Return the heat that each node gains from bay, block, still air and its neighbours along the lines [W]."""
    gains = np.array([LINES * (t[n - 1] - 2.0 * t[n] + t[(n + 1) % 4]) for n in range(4)])
    airing = math.sqrt(1.0 + speed / 10.0)
    for node, conductance in enumerate(TO_BAY):
        gains[node] -= conductance * airing * (t[node] - bay)
    gains[TANK] -= GAS_PATH * (t[TANK] - bay)
    gains[PUMP] -= MOUNT * (t[PUMP] - block)
    gains[COOLER] -= STILL * (t[COOLER] - core_air)
    return gains


def race_power(t):
    """Return the power at the shaft at race speed [W]."""
    rise = supply_rise(SET_FLOW, RACE_LOAD, viscosity(t[COOLER])) + CONTROL_DROP
    return shaft_power(rise, RACE_ENGINE * DRIVE, t[PUMP])


def through(t, form):
    """Return the heat that each node gains from pump, pressure drops, core and the oil that goes round [W]."""
    rise, back = supply_rise(SET_FLOW, RACE_LOAD, viscosity(t[COOLER])), return_drop(SET_FLOW, viscosity(t[COOLER]))
    stream = SET_FLOW * density(t[PUMP])
    gains = np.array([carried(stream, t[n - 1], t[n]) for n in range(4)])
    gains[PUMP] += race_power(t) - SET_FLOW * rise
    gains[GEAR] += SET_FLOW * (rise - back)
    gains[COOLER] += SET_FLOW * back
    gains[COOLER] -= core(SET_FLOW, t[GEAR], t[COOLER], RACE_SPEED, form) * (t[GEAR] - OUTSIDE - PREHEAT)
    return gains


def steady(form):
    """Return the temperatures at which no node gains anything [K]."""

    def gained(t):
        return around(t, OUTSIDE + BAY_OFFSET, BLOCK, OUTSIDE + PREHEAT, RACE_SPEED) + through(t, form)

    return fsolve(gained, np.full(4, 370.0), xtol=1e-12)


def oil_in_tank(t, filled_at=298.15):
    """Return the oil in the tank [kg]: all oil, filled to 80 % at 25 degC, less what the full parts hold."""
    whole = 0.8 * 7.6e-3 * (1.0 + 7.1e-5 * (filled_at - 293.15)) * density(filled_at)
    whole += sum(held(node, filled_at) for node in (PUMP, GEAR, COOLER))
    return whole - sum(held(node, t[node]) for node in (PUMP, GEAR, COOLER))


def held(node, temperature):
    return VOLUMES[node] * (1.0 + PASSAGES * (temperature - 293.15)) * density(temperature)


def rates(t, gains):
    masses = (oil_in_tank(t), *(held(node, t[node]) for node in (PUMP, GEAR, COOLER)))
    return [gains[n] / (masses[n] * specific_heat(t[n]) + METAL[n]) for n in range(4)]


def followed(times, start, gains, block_goal, block_time, bay_rise):
    """Return the four temperatures at some times after a start at one; block and bay follow by first-order lags."""

    def slope(_, y):
        t, block, offset = y[:4], y[4], y[5]
        bay_goal = bay_rise * (block - OUTSIDE) / (BLOCK - OUTSIDE)
        gained = gains(t, OUTSIDE + offset, block)
        return [*rates(t, gained), (block_goal - block) / block_time, (bay_goal - offset) / 180.0]

    span = (0.0, times[-1])
    return solve_ivp(slope, span, [start] * 5 + [0.0], "LSODA", t_eval=times, rtol=1e-9, atol=1e-9).y[:4]


def warm_up(times):
    """Return the temperatures of the race from a start at 35 degC on."""

    def gains(t, bay, block):
        return around(t, bay, block, OUTSIDE + PREHEAT, RACE_SPEED) + through(t, APPROXIMATE)

    return followed(times, OUTSIDE, gains, BLOCK, 360.0, BAY_OFFSET)


def soak(times):
    """Return the temperatures of a truck that is parked with all of it at 95 degC, the engine off."""

    def gains(t, bay, block):
        return around(t, bay, block, OUTSIDE, 0.0)

    return followed(times, BLOCK, gains, OUTSIDE, 5400.0, BAY_OFFSET + 15.0)


def full_lock(times, speed, vehicle_speed):
    """Return the temperatures with all flow going round over the relief valve inside the pump."""

    def gains(t, bay, block):
        gained = around(t, bay, block, OUTSIDE + PREHEAT, vehicle_speed)
        gained[PUMP] += shaft_power(RELIEF + CONTROL_DROP, speed, t[PUMP])
        return gained

    return followed(times, OUTSIDE, gains, BLOCK, 360.0, BAY_OFFSET)


def line_loss(flow, temperature):
    """Return what strainer, feed line, fittings and speed take on the way to the port [Pa]."""
    bore, kinematic = 22.2e-3, viscosity(temperature)
    speed = 4.0 * flow / (math.pi * bore**2)
    factor = friction_factor(speed * bore / kinematic, 0.01e-3 / bore, Method="Churchill_1977")
    dynamic = 0.5 * density(temperature) * speed**2
    strainer = rated(flow, kinematic, 500.0, 38.0 * MINUTE_LITRE, 15e-6)
    return (factor * 1.2 / bore + 2.5 + 1.0) * dynamic + strainer


def head(temperature):
    """Return what the height of the oil over the pump gives [Pa]; the surface has 210 cm2."""
    level = oil_in_tank(np.full(4, temperature)) / density(temperature) / 210e-4
    return density(temperature) * GRAVITY * (level + 0.25)
