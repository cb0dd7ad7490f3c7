"""What the track of a specification makes of its lap."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ullage.duty.joining import joined_by_distance, joined_by_time
from ullage.duty.profile import Stretch
from ullage.scenario.duty_spec import Duty
from ullage.scenario.lap_spec import Segment


def paced_by_track(duty: Duty) -> bool:
    """Return whether the track says how fast the segments are driven."""
    return duty.track is not None and duty.track.speed == "track"


def paced_segments(duty: Duty) -> Sequence[Segment]:
    """Return the segments; one with a length that leaves its speed to the track has the mean speed of the track."""
    track = duty.track
    if track is None or track.speed != "track" or track.course.time is None:
        return duty.segment
    pace = {"vehicle_speed": track.course.length / float(track.course.time[-1])}
    return [
        segment if segment.vehicle_speed or segment.length is None else segment.model_copy(update=pace)
        for segment in duty.segment
    ]


def over_track(duty: Duty, lap: list[Stretch]) -> list[Stretch]:
    """Return a lap laid over the track of a duty that has one."""
    track, recording = duty.track, duty.recording
    if track is None:
        return lap
    if recording is not None and track.join == "time":
        offset, driven = track_offset(duty) or 0.0, recording.vehicle_speed is None
        return [joined_by_time(stretch, track.course, offset, driven=driven) for stretch in lap]
    return joined_by_distance(lap, track.course, driven=track.speed == "track" and recording is None)


def end_heights(duty: Duty) -> tuple[float, float]:
    """Return the elevations at which a lap over a track begins and ends [m]."""
    if duty.track is None:
        raise ValueError("a lap without a track has no such heights")
    course, recording = duty.track.course, duty.recording
    if recording is None or duty.track.join == "distance" or course.time is None:
        return float(course.elevation[0]), float(course.elevation[-1])
    begun = track_offset(duty) or 0.0
    first, last = np.interp([begun, begun + float(recording.log.time[-1])], course.time, course.elevation).tolist()
    return first, last


def track_offset(duty: Duty) -> float | None:
    """Return the track time at which the recording begins [s]: as given, else by the dates, else None."""
    if duty.track is None or duty.recording is None:
        return None
    begun, recorded = duty.track.course.begins_at, duty.recording.log.begins_at
    if duty.track.offset is not None or begun is None or recorded is None:
        return duty.track.offset
    return recorded - begun
