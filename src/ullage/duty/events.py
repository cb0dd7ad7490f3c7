"""Timed events: the modes that they switch and the faults that they bring, in the order in which they were written."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from ullage.duty.profile import Array

CAP = "cap"
ENGINE = "engine"
TOP_UP = "top-up"
RECHARGE = "recharge"
FAN_OVERRIDE = "fan override"
LOST_OIL = "lost oil"
WATER = "water got in"
TO_THE_MARK = "filled hot to the cold mark"

CAP_VALVES = ("relief_stuck", "vacuum_stuck")
STUCK_OPEN, STUCK_SHUT = 1.0, -1.0


class Effect(NamedTuple):
    """What a fault does while it lasts: a channel becomes its sound value and the size of the fault, combined.

    `size` is that of a fault that has only one. What is not `curable` never ends.
    """

    channel: str
    combine: Callable[[Array, float], Array]
    size: float = 1.0
    curable: bool = True


FAULTS = {
    "seal leak": Effect("leak_area", np.add),
    "relief stuck open": Effect("relief_stuck", np.add, STUCK_OPEN),
    "relief stuck shut": Effect("relief_stuck", np.add, STUCK_SHUT),
    "vacuum valve stuck open": Effect("vacuum_stuck", np.add, STUCK_OPEN),
    "vacuum valve stuck shut": Effect("vacuum_stuck", np.add, STUCK_SHUT),
    "blocked cooler": Effect("core_blockage", np.maximum),
    "blocked strainer": Effect("strainer_factor", np.multiply),
    "collapsed hose": Effect("bore_share", np.multiply),
    LOST_OIL: Effect("drain_flow", np.add, curable=False),
    WATER: Effect("water_content", np.add, curable=False),
    TO_THE_MARK: Effect("mark_fills", np.add, curable=False),
}


class Sound(NamedTuple):
    """The channels that faults change, as they are without a fault, SI units."""

    leak_area: float = 0.0
    core_blockage: float = 0.0
    water_content: float = 0.0
    strainer_factor: float = 1.0
    bore_share: float = 1.0


@dataclass(frozen=True)
class TimedEvent:
    """One event, SI units. `direction` is off, on, or start; mass and temperature belong to a top-up.

    `size` is that of a fault, or the pressure of a recharge over ambient. What has a duration ends by itself.
    """

    time: float
    name: str
    direction: str
    mass: float = 0.0
    temperature: float = 0.0
    duration: float = 0.0
    size: float = 0.0


class Spell(NamedTuple):
    """A fault from its beginning to its end, SI units."""

    name: str
    begin: float
    end: float
    size: float


def in_order(events: Sequence[TimedEvent]) -> list[TimedEvent]:
    """Return events by time; simultaneous ones keep the order in which they were written."""
    return sorted(events, key=lambda event: event.time)


def switch_times(events: Sequence[TimedEvent], name: str) -> list[tuple[float, bool]]:
    """Return when a mode is switched, and to what.

    Parameters
    ----------
    events : sequence of TimedEvent
        Events in order.
    name : str
        `CAP`, `ENGINE` or `FAN_OVERRIDE`.

    Returns
    -------
    list of tuple
        Time [s] and the new value. Of several at one time the last counts: nothing lasts no time.
    """
    last: dict[float, bool] = {}
    for event in events:
        if event.name == name:
            last[event.time] = event.direction == "on"
    return list(last.items())


def spells(events: Sequence[TimedEvent]) -> list[Spell]:
    """Return every fault with the time [s] at which it ends; infinity if nothing ends it.

    Parameters
    ----------
    events : sequence of TimedEvent
        Events in order; what ends has begun.

    Returns
    -------
    list of Spell
        In the order of their beginnings.
    """
    found: list[Spell] = []
    latest: dict[str, int] = {}
    for event in events:
        if event.name not in FAULTS:
            continue
        if event.direction == "off":
            place = latest[event.name]
            found[place] = found[place]._replace(end=event.time)
            continue
        latest[event.name] = len(found)
        end = event.time + event.duration if event.duration > 0.0 else math.inf
        found.append(Spell(event.name, event.time, end, event.size))
    return found
