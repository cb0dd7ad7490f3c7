"""What `check` says of a track: how long and how high it is, what was mended, and how it meets the lap."""

from __future__ import annotations

from collections.abc import Iterator

from ullage.scenario.duty_spec import ScenarioSpec
from ullage.scenario.race import planned_lengths
from ullage.scenario.track_lap import end_heights, track_offset
from ullage.units import clock, show, show_both

_NOTABLE = 20.0  # a step of the elevation that is told [m]
_ALIKE = 1e-3  # a share of the length that is not told


def track_lines(spec: ScenarioSpec, units: str) -> Iterator[str]:
    """Go through the lines of a description that are about the track."""
    duty = spec.duty
    if duty.track is None:
        return
    course = duty.track.course
    low, high, climb = (
        show(value, "length", units) for value in (course.elevation.min(), course.elevation.max(), course.climb)
    )
    lasts = "no times" if course.time is None else clock(float(course.time[-1]))
    yield (
        f"  track      {duty.track.file}: {course.points} points, {show(course.length, 'distance', units)}, {lasts}, "
        f"{low} to {high}, climbs {climb}"
    )
    yield from (f"             {note}" for note in (*course.notes, *_joints(spec)))


def _joints(spec: ScenarioSpec) -> Iterator[str]:
    """Go through what happens where track and lap meet, in sentences."""
    duty = spec.duty
    if duty.track is None:
        return
    course = duty.track.course
    first, last = end_heights(duty)
    planned = planned_lengths(duty)[0]
    if duty.track.join == "distance" and abs(planned / course.length - 1.0) > _ALIKE:
        more = 100.0 * (course.length / planned - 1.0)
        yield f"the lap goes {show_both(planned, 'distance')}: it is scaled to the track, by {more:+.2g} %"
    if duty.track.join == "time":
        found = "as given" if duty.track.offset is not None else "by the dates of both files"
        yield f"the recording begins at {clock(track_offset(duty) or 0.0)} of the track, {found}"
    if abs(first - spec.start.elevation) > _NOTABLE:
        yield (
            f"the lap begins at {show_both(first, 'length')}, but the cap was shut at start.elevation, "
            f"{show_both(spec.start.elevation, 'length')}"
        )
    yield from elevation_jump(duty.laps, first, last)


def elevation_jump(laps: int, first: float, last: float) -> Iterator[str]:
    """Say how far the end of a lap is off its start, if there is more than one lap and it is much; elevations in m."""
    if laps > 1 and abs(last - first) > _NOTABLE:
        yield f"the lap ends {show_both(abs(last - first), 'length')} off its start: elevation jumps from lap to lap"
