"""Rules on the points of the weather: each has a time or a lap, and they follow each other."""

from __future__ import annotations

import itertools
from collections.abc import Iterator

from ullage.scenario.checks import Found, Rule, rule
from ullage.scenario.circuit import timed_points
from ullage.scenario.duty_spec import ScenarioSpec
from ullage.scenario.stop_rules import CLOCK
from ullage.units import clock

WEATHER_RULES: list[Rule] = []
WEATHER_TIME_RULES: list[Rule] = []  # on a race that can be laid out

_IN_ORDER = "put the points in order of time"


@rule(WEATHER_RULES, "weather.point.time", "weather.point.lap", each="weather.point")
def _either(spec: ScenarioSpec) -> Iterator[Found]:
    for place, point in enumerate(spec.weather.point):
        if (point.time is None) == (point.lap is None):
            yield ("weather", "point", place), "give either time or lap"


@rule(WEATHER_RULES, "duty.laps", "weather.point.lap", each="weather.point")
def _laps(spec: ScenarioSpec) -> Iterator[Found]:
    for place, point in enumerate(spec.weather.point):
        if point.lap is not None and point.lap > spec.duty.laps:
            yield ("weather", "point", place, "lap"), f"is after the end: the race has {spec.duty.laps} laps"


@rule(WEATHER_RULES, "weather.point.time", each="weather.point")
def _times(spec: ScenarioSpec) -> Iterator[Found]:
    timed = [(place, point.time) for place, point in enumerate(spec.weather.point) if point.time is not None]
    for (_, earlier), (place, later) in itertools.pairwise(timed):
        if later <= earlier:
            text = f"is not after the point before, at {clock(earlier)}: {_IN_ORDER}"
            yield ("weather", "point", place, "time"), text


@rule(WEATHER_TIME_RULES, *CLOCK, "weather.point.time", "weather.point.lap", each="weather.point")
def _laps_among_times(spec: ScenarioSpec) -> Iterator[Found]:
    points = spec.weather.point
    if all(point.lap is None for point in points):
        return
    times = [point.time or 0.0 for point in timed_points(spec)]
    for place, (earlier, later) in enumerate(itertools.pairwise(times), 1):
        by_lap = points[place].lap is not None
        if later <= earlier and (by_lap or points[place - 1].lap is not None):
            begins = f"begins at {clock(later)}, " if by_lap else ""
            text = f"{begins}is not after the point before, at {clock(earlier)}: {_IN_ORDER}"
            yield ("weather", "point", place, "lap" if by_lap else "time"), text
