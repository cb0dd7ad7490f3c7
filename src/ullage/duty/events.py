"""Timed events: the modes that they switch, in the order in which they were written."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

CAP = "cap"
ENGINE = "engine"
TOP_UP = "top-up"


@dataclass(frozen=True)
class TimedEvent:
    """One event, SI units. `direction` is off, on, or start; mass and temperature belong to a top-up."""

    time: float
    name: str
    direction: str
    mass: float = 0.0
    temperature: float = 0.0
    duration: float = 0.0


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
        `CAP` or `ENGINE`.

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
