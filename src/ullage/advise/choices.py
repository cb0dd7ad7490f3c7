"""What a crew can do at a stop: each choice is the race with that stop changed, an ordinary scenario."""

from __future__ import annotations

from typing import Any, NamedTuple

from ullage.duty.course import NANOSECONDS
from ullage.scenario.circuit import timed_points
from ullage.scenario.duty_spec import ScenarioSpec
from ullage.scenario.load import Scenario
from ullage.scenario.race import race_pieces
from ullage.scenario.stretches import stop_duration
from ullage.scenario.timed_events import event_times

POURING, CHARGING = 20.0, 30.0  # how long a top-up and a recharge take [s]

_CAP_WORK = ("cap off", "cap on", "top-up", "recharge")
_BACK = {"cap off": "cap on", "fan on": "fan auto", "engine off": "engine on"}  # what undoes what
_ENGINE_WORK = ("engine off", "engine on", "fan on", "fan auto")

Event = dict[str, Any]


class PlannedStop(NamedTuple):
    """A stop as planned: name, place among the stops of the scenario, race times and how long it is to last [s]."""

    name: str
    place: int
    start: float
    end: float
    duration: float


class Stand(NamedTuple):
    """What a choice does at the stop: events that count from its beginning, and how the truck stands.

    `duration` [s], `engine` ("on" or "off") and `engine_speed` [rad s-1] are None where they are as planned. With
    `stays_off` the cap is never fitted again.
    """

    events: tuple[Event, ...] = ()
    duration: float | None = None
    engine: str | None = None
    engine_speed: float | None = None
    stays_off: bool = False


def planned_stop(scenario: Scenario, name: str) -> PlannedStop:
    """Return a stop of a scenario by its name."""
    stop = next(stop for stop in race_pieces(scenario.spec)[1] if stop.name == name)
    place = next(place for place, spec in enumerate(scenario.spec.duty.stop) if spec.name == name)
    duration = stop_duration(scenario.spec.duty, place)
    return PlannedStop(name, place, round(stop.start, NANOSECONDS), round(stop.end, NANOSECONDS), duration)


def left_shut(scenario: Scenario, stop: PlannedStop) -> dict[str, Any]:
    """Return the changes that make a race in which nobody touches the cap at a stop, whatever was planned there.

    The table `[pit]` goes with them: what it asks is asked of the race as planned.
    """
    timed = _timed(scenario)
    gone = _work_at(timed, stop, _CAP_WORK)
    return {"event": [event for place, (event, _) in enumerate(timed) if place not in gone], "pit": None}


def _work_at(timed: list[tuple[Event, float]], stop: PlannedStop, actions: tuple[str, ...]) -> set[int]:
    """Return the places of events of some kinds at a stop, and of those after it that only undo or need them."""
    found, undone = set(), set()
    for place in sorted(range(len(timed)), key=lambda place: timed[place][1]):
        event, time = timed[place]
        action = event["action"]
        here = event.get("stop") == stop.name or ("stop" not in event and stop.start <= time <= stop.end)
        if (here and action in actions) or action in undone or (action == "top-up" and "cap on" in undone):
            found.add(place)
            undone.discard(action)
            if action in _BACK:
                undone.add(_BACK[action])
    return found


def with_stand(shut: Scenario, stop: PlannedStop, stand: Stand) -> dict[str, Any]:
    """Return the changes that make the race in which a choice is made at a stop.

    Parameters
    ----------
    shut : Scenario
        The race in which nobody touches the cap there.
    stop : PlannedStop
        The stop.
    stand : Stand
        What the choice does.

    Returns
    -------
    dict
        Changes for `Scenario.replace`. What happens by the race clock after the stop moves by what the choice takes
        more or less time; the weather does not wait.
    """
    delay = 0.0 if stand.duration is None else stand.duration - stop.duration
    timed = _timed(shut)
    gone = set() if stand.engine is None else _work_at(timed, stop, _ENGINE_WORK)
    if stand.stays_off:
        gone |= {place for place, (event, time) in enumerate(timed) if _on_the_cap(event) and time >= stop.start}
    events = [
        {**event, "time": time + delay} if delay != 0.0 and "time" in event and time >= stop.end else event
        for place, (event, time) in enumerate(timed)
        if place not in gone
    ]
    changes: dict[str, Any] = {"event": [*events, *({**event, "stop": stop.name} for event in stand.events)]}
    changes["pit"] = None
    for key, value in (("duration", stand.duration), ("engine", stand.engine), ("engine_speed", stand.engine_speed)):
        if value is not None:
            changes[f"duty.stop.{stop.place}.{key}"] = value
    if stand.duration is not None:
        changes[f"duty.stop.{stop.place}.duration_spread"] = None
        changes.update(_weather_by_time(shut.spec))
    for place, other in enumerate(shut.spec.duty.stop):
        if delay != 0.0 and other.time is not None and other.time >= stop.end:
            changes[f"duty.stop.{place}.time"] = other.time + delay
    return changes


def _weather_by_time(spec: ScenarioSpec) -> dict[str, Any]:
    """Return the changes that give every point of the weather its race time, if there is one with a lap."""
    if all(point.lap is None for point in spec.weather.point):
        return {}
    return {"weather.point": [{"time": each.time, "temperature": each.temperature} for each in timed_points(spec)]}


def _on_the_cap(event: Event) -> bool:
    return event["action"] in _CAP_WORK


def _timed(scenario: Scenario) -> list[tuple[Event, float]]:
    """Return every timed event as it is written, with its race time [s]."""
    return list(zip(scenario.to_dict().get("event", []), event_times(scenario.spec), strict=True))


def refitted(planned: float, seconds: float) -> Stand:
    """Return the choice to take the cap off as the stop begins and to refit it so many seconds later."""
    return Stand(_opened(0.0, seconds), _longer(planned, seconds))


def topped_up(planned: float, seconds: float, volume: float) -> Stand:
    """Return the choice to pour oil [m3] into the open tank."""
    pour = {"action": "top-up", "after": 0.0, "volume": volume, "duration": min(POURING, seconds)}
    return Stand((*_opened(0.0, seconds), pour), _longer(planned, seconds))


def recharged(planned: float, seconds: float, gauge_pressure: float) -> Stand:
    """Return the choice to refit the cap and let air in through a regulator up to a gauge pressure [Pa]."""
    charge = {"action": "recharge", "after": seconds, "pressure": f"{gauge_pressure!r} Pa gauge", "duration": CHARGING}
    return Stand((*_opened(0.0, seconds), charge), _longer(planned, seconds + CHARGING))


def left_off() -> Stand:
    """Return the choice to leave the cap off for the rest of the race."""
    return Stand(({"action": "cap off", "after": 0.0},), stays_off=True)


def waiting(engine: str, engine_speed: float | None, fan: bool) -> Stand:
    """Return a stand in which the oil cools and nobody touches the cap; with a fan it is forced on."""
    return Stand(({"action": "fan on", "after": 0.0},) if fan else (), None, engine, engine_speed)


def switched_off(wait: Stand, time: float) -> Stand:
    """Return a stand whose engine goes off after a time [s]."""
    return wait._replace(events=(*wait.events, {"action": "engine off", "after": time}))


def cooled_then_opened(wait: Stand, planned: float, wait_for: float, seconds: float) -> Stand:
    """Return the choice to wait [s] for cool oil as `wait` does, and then to open the cap for some seconds.

    Fan and engine go back to what they were as the truck drives on.
    """
    stands = max(planned, wait_for + seconds)
    back = tuple({"action": _BACK[event["action"]], "after": stands} for event in wait.events)
    events = (*wait.events, *_opened(wait_for, seconds), *back)
    return wait._replace(events=events, duration=_longer(planned, stands))


def _longer(planned: float, needed: float) -> float | None:
    """Return how long a stop lasts [s] if what is done takes longer than planned, else None."""
    return needed if needed > planned else None


def _opened(begin: float, seconds: float) -> tuple[Event, Event]:
    return {"action": "cap off", "after": begin}, {"action": "cap on", "after": begin + seconds}
