"""Discrete modes: cap valves, fan, cooler thermostat. When they switch, and the record of it.

A valve that pops hundreds of times is recorded as counts per minute and kind, with the time of the first.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ullage.compiled import compiled
from ullage.kernel.params import CAP_SEALED, Forcing, Parameters
from ullage.kernel.state import State

SWITCHES = (
    ("cap relief", "open"),
    ("cap relief", "shut"),
    ("cap vacuum", "open"),
    ("cap vacuum", "shut"),
    ("fan", "on"),
    ("fan", "off"),
    ("cooler thermostat", "open"),
    ("cooler thermostat", "shut"),
    ("oil over 200 degC", "begins"),
    ("oil over 200 degC", "ends"),
    ("air space at vapour pressure", "begins"),
    ("air space at vapour pressure", "ends"),
)
RELIEF_OPENS, RELIEF_SHUTS, VACUUM_OPENS, VACUUM_SHUTS, FAN_STARTS, FAN_STOPS, COOLER_OPENS, COOLER_SHUTS = range(8)
HOT_OIL_BEGINS, HOT_OIL_ENDS, VAPOUR_BEGINS, VAPOUR_ENDS = 8, 9, 10, 11

HOT_OIL = 473.15
HOT_OIL_BAND = 5.0
LEAST_AIR_PRESSURE = 500.0

LOG_PERIOD = 60.0
VALVE_DWELL = 0.02
RESTART_STEP = 1e-3
OVERSHOOT = 1.0
NEVER = -1e12

Log = NDArray[np.float64]


def empty_log(start: float, end: float) -> Log:
    """Return an empty record of switches.

    Parameters
    ----------
    start, end : float
        Race times [s].

    Returns
    -------
    array of shape (minutes, switches, 2)
        Count and first time per minute and kind.
    """
    return np.zeros((int((end - start) // LOG_PERIOD) + 2, len(SWITCHES), 2))


@compiled
def record(log: Log, start: float, time: float, switch: int) -> None:
    """Count a switch in its minute.

    Parameters
    ----------
    log : array of shape (minutes, switches, 2)
        The record.
    start, time : float
        Start of the race and time of the switch [s].
    switch : int
        Row of `SWITCHES`; chosen by the caller, since each constant would be compiled into a function of its own.
    """
    minute = min(int((time - start) / LOG_PERIOD), log.shape[0] - 1)
    if log[minute, switch, 0] == 0.0:
        log[minute, switch, 1] = time
    log[minute, switch, 0] += 1.0


@compiled
def valve_excess(p: Parameters, s: State, difference: float) -> float:
    """Return by how much the pressure over the cap has passed the next switch of its valves.

    Parameters
    ----------
    p, s : record
        Parameters and state.
    difference : float
        Headspace less ambient pressure [Pa].

    Returns
    -------
    float
        Excess [Pa]; positive when a valve has to move.

    Notes
    -----
    A spring valve opens at its crack pressure and shuts at its lower reseat pressure.
    """
    if s.cap_on == 0 or p.cap_kind != CAP_SEALED:
        return NEVER
    outward, inward = NEVER, NEVER
    if s.relief_stuck == 0:
        outward = p.relief_reseat - difference if s.relief_open == 1 else difference - p.relief_crack
    if s.vacuum_stuck == 0:
        inward = p.vacuum_reseat + difference if s.vacuum_open == 1 else -difference - p.vacuum_crack
    return max(outward, inward)


@compiled
def switch_valves(p: Parameters, s: State, difference: float, log: Log, start: float) -> bool:
    """Move the cap valves if the pressure over the cap says so.

    Parameters
    ----------
    p, s : record
        Parameters and state; the modes in the state change.
    difference : float
        Headspace less ambient pressure [Pa].
    log : array
        Record of switches.
    start : float
        Start of the race [s].

    Returns
    -------
    bool
        Whether a valve moved.

    Notes
    -----
    A valve that has just moved stays for 20 ms: a disc has inertia, and a tank full of liquid would otherwise make it
    chatter without bound. Engineering judgement; no pressure of a tank with air in it depends on it.
    """
    if s.time < s.valve_free_time or valve_excess(p, s, difference) < 0.0:
        return False
    if s.relief_open == 1 and difference <= p.relief_reseat:
        s.relief_open = 0
        moved = RELIEF_SHUTS
    elif s.relief_open == 0 and s.relief_stuck == 0 and difference >= p.relief_crack:
        s.relief_open = 1
        s.relief_openings += 1
        moved = RELIEF_OPENS
    elif s.vacuum_open == 1 and -difference <= p.vacuum_reseat:
        s.vacuum_open = 0
        moved = VACUUM_SHUTS
    else:
        s.vacuum_open = 1
        moved = VACUUM_OPENS
    record(log, start, s.time, moved)
    s.valve_free_time = s.time + VALVE_DWELL
    s.gas_step = RESTART_STEP
    s.gas_fresh = 1
    s.pressure_feedback = 0.0
    return True


@compiled
def follow_cap(s: State, forcing: Forcing) -> None:
    """Take the cap off or put it on, let its valves and seal fail, and recharge the tank, as the channels say.

    After a change the gas step is short; after one of the cap its free valves are shut.

    Parameters
    ----------
    s : record
        State; its modes of the cap change.
    forcing : Forcing
        Channels of the interval that begins.
    """
    cap_on, relief, vacuum = int(forcing.cap_on), int(forcing.relief_stuck), int(forcing.vacuum_stuck)
    same = cap_on == s.cap_on and relief == s.relief_stuck and vacuum == s.vacuum_stuck
    same = same and forcing.leak_area == s.leak_area
    if same and forcing.recharge_pressure == s.recharge_pressure:
        return
    s.recharge_pressure = forcing.recharge_pressure
    s.gas_step = RESTART_STEP
    s.gas_fresh = 1
    s.pressure_feedback = 0.0
    if same:
        return
    s.cap_on, s.relief_stuck, s.vacuum_stuck, s.leak_area = cap_on, relief, vacuum, forcing.leak_area
    s.relief_open = 0
    s.vacuum_open = 0
    s.valve_free_time = s.time


@compiled
def follow_fan(s: State, forcing: Forcing, log: Log, start: float) -> None:
    """Force the fan on, or give it back to its thermostat, which has gone on by itself, as the channels say.

    Parameters
    ----------
    s : record
        State; its mode `fan_forced` changes.
    forcing : Forcing
        Channels of the interval that begins.
    log : array
        Record of switches.
    start : float
        Start of the race [s].
    """
    forced = int(forcing.fan_forced)
    if forced == s.fan_forced:
        return
    s.fan_forced = forced
    if s.fan_called == 0:
        record(log, start, s.time, FAN_STARTS if forced == 1 else FAN_STOPS)


@compiled
def thermal_threshold(p: Parameters, s: State, cooler_inlet: float) -> tuple[float, float]:
    """Return the two temperatures at which thermostats of fan and core switch next, as signed distances.

    Parameters
    ----------
    p, s : record
        Parameters and state.
    cooler_inlet : float
        Oil temperature at the cooler's inlet [K].

    Returns
    -------
    tuple of float
        Distance past the switch of the fan's and of the core's thermostat [K]; positive when due.
    """
    fan = p.fan_off - cooler_inlet if s.fan_called == 1 else cooler_inlet - p.fan_on
    thermostat = p.thermostat_shut - cooler_inlet if s.cooler_open == 1 else cooler_inlet - p.thermostat_open
    return fan, thermostat


@compiled
def switch_thermal(p: Parameters, s: State, cooler_inlet: float, log: Log, start: float, slack: float) -> bool:
    """Switch fan and cooler thermostat where they are due; a fan that is forced on runs on.

    Parameters
    ----------
    p, s : record
        Parameters and state; the modes in the state change.
    cooler_inlet : float
        Oil temperature at the cooler's inlet [K].
    log : array
        Record of switches.
    start : float
        Start of the race [s].
    slack : float
        How far below its threshold a switch counts as due [K].

    Returns
    -------
    bool
        Whether something switched.
    """
    fan, thermostat = thermal_threshold(p, s, cooler_inlet)
    if fan >= -slack:
        s.fan_called = 1 - s.fan_called
        if s.fan_forced == 0:
            record(log, start, s.time, FAN_STARTS if s.fan_called == 1 else FAN_STOPS)
    if thermostat >= -slack:
        s.cooler_open = 1 - s.cooler_open
        record(log, start, s.time, COOLER_OPENS if s.cooler_open == 1 else COOLER_SHUTS)
    return fan >= -slack or thermostat >= -slack


@compiled
def watch_limits(s: State, log: Log, start: float) -> None:
    """Record when the race enters or leaves a state that the model only just describes.

    The hottest oil over 200 degC, where the property laws and the oil itself end; and an air space that holds hardly
    anything but vapour, below whose pressure it cannot fall.

    Parameters
    ----------
    s : record
        State; its modes `hot_oil` and `at_vapour` change.
    log : array
        Record of switches.
    start : float
        Start of the race [s].
    """
    hottest = max(max(s.temperature[0], s.temperature[1]), max(s.temperature[2], s.temperature[3]))
    passed = hottest > HOT_OIL if s.hot_oil == 0 else hottest < HOT_OIL - HOT_OIL_BAND
    if passed:
        s.hot_oil = 1 - s.hot_oil
        record(log, start, s.time, HOT_OIL_BEGINS if s.hot_oil == 1 else HOT_OIL_ENDS)
    air = s.air_pressure
    passed = air < LEAST_AIR_PRESSURE if s.at_vapour == 0 else air > 2.0 * LEAST_AIR_PRESSURE
    if passed:
        s.at_vapour = 1 - s.at_vapour
        record(log, start, s.time, VAPOUR_BEGINS if s.at_vapour == 1 else VAPOUR_ENDS)
