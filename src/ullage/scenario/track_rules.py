"""Rules on a track beside a lap: who says what, and whether the two fit."""

from __future__ import annotations

from collections.abc import Iterator

from ullage.duty.lock_holds import LONGEST
from ullage.scenario.checks import Found, Rule, rule
from ullage.scenario.driven import highest
from ullage.scenario.duty_spec import ScenarioSpec
from ullage.scenario.race import planned_lengths, race_pieces
from ullage.scenario.track_lap import paced_by_track, track_offset
from ullage.units import clock, show_both

TRACK_RULES: list[Rule] = []
TRACK_FIT_RULES: list[Rule] = []  # on laps and tracks that are right otherwise
TRACK_RACE_RULES: list[Rule] = []  # on the race that they make

_MOST_ROWS = 1_000_000
_MISFIT = 0.1  # of the length of the track that a lap may differ from it
_OVERLAP = 1.0  # that a recording may go beyond a track [s]
_PLACE = ("duty", "track")
_LAP = (
    *("duty.segment.length", "duty.segment.duration", "duty.segment.first_lap", "duty.segment.last_lap"),
    *("duty.segment.vehicle_speed", "duty.segment.vehicle_speed_low", "duty.segment.vehicle_speed_high"),
    *("duty.segment.name", "duty.change", "duty.laps"),
)
_SPREADS = ("vehicle_speed_spread", "vehicle_speed_low", "vehicle_speed_high")


@rule(TRACK_RULES, "duty.track", "duty.segment", "duty.recording")
def _alone(spec: ScenarioSpec) -> Iterator[Found]:
    duty = spec.duty
    if duty.track is not None and not duty.segment and duty.recording is None:
        text = "says where the truck is, not what engine and steering do: add [[duty.segment]], or [duty.recording]"
        yield _PLACE, f"{text}; one segment over the whole lap is enough"


@rule(TRACK_RULES, "duty.track", "duty.segment.elevation", each="duty.segment")
def _segment_elevation(spec: ScenarioSpec) -> Iterator[Found]:
    for place, segment in enumerate(spec.duty.segment):
        if spec.duty.track is not None and segment.elevation is not None:
            yield ("duty", "segment", place, "elevation"), "is one too many: the track gives the elevation"


@rule(TRACK_RULES, "duty.track", *(f"duty.segment.{key}" for key in _SPREADS), each="duty.segment")
def _segment_spread(spec: ScenarioSpec) -> Iterator[Found]:
    if not paced_by_track(spec.duty):
        return
    for place, segment in enumerate(spec.duty.segment):
        for key in (key for key in _SPREADS if getattr(segment, key)):
            yield ("duty", "segment", place, key), "is one too many: the track gives the speed"


@rule(TRACK_RULES, "duty.track", "duty.change.vehicle_speed_factor", each="duty.change")
def _changed_speed(spec: ScenarioSpec) -> Iterator[Found]:
    for place, change in enumerate(spec.duty.change):
        if paced_by_track(spec.duty) and change.vehicle_speed_factor != 1.0:
            yield ("duty", "change", place, "vehicle_speed_factor"), "is one too many: the track gives the speed"


@rule(TRACK_RULES, "duty.track", "duty.segment.duration_spread", *_LAP, each="duty.segment")
def _drawn_duration(spec: ScenarioSpec) -> Iterator[Found]:
    for place, segment in enumerate(spec.duty.segment):
        moves = segment.vehicle_speed or segment.vehicle_speed_high
        if spec.duty.track is not None and segment.duration_spread and moves:
            text = "beside a track is for segments that stand: the track says how far this one goes"
            yield ("duty", "segment", place, "duration_spread"), text


@rule(TRACK_RULES, "duty.track", "duty.recording")
def _recorded(spec: ScenarioSpec) -> Iterator[Found]:
    track, recording = spec.duty.track, spec.duty.recording
    if track is None or recording is None:
        return
    if recording.elevation is not None:
        yield ("duty", "recording", "elevation"), "is one too many: the track gives the elevation"
    if track.join == "distance" and recording.vehicle_speed is None:
        text = "'distance' needs the vehicle_speed of the recording: add its column, or join by 'time'"
        yield (*_PLACE, "join"), text
    if track.speed == "track" and recording.vehicle_speed is not None:
        yield (*_PLACE, "speed"), "'track' is one too many: the recording has a vehicle_speed"


@rule(TRACK_RULES, "duty.track", "duty.segment", "duty.recording")
def _times(spec: ScenarioSpec) -> Iterator[Found]:
    track = spec.duty.track
    if track is None:
        return
    for key, value in (("speed", track.speed == "track"), ("join", track.join == "time")):
        if value and track.course.time is None:
            yield (*_PLACE, key), "needs a track with times: this file has none"
    if track.join == "time" and spec.duty.recording is None and spec.duty.segment:
        yield (*_PLACE, "join"), "needs a recording: segments are joined by 'distance'"
    if track.join == "distance" and track.offset is not None:
        yield (*_PLACE, "offset"), "counts only where a recording is joined by 'time'"


@rule(TRACK_FIT_RULES, "duty.track", "duty.recording", *_LAP)
def _fits(spec: ScenarioSpec) -> Iterator[Found]:
    track = spec.duty.track
    if track is None or track.join == "time":
        return
    length = track.course.length
    for lap, planned in enumerate(planned_lengths(spec.duty), 1):
        if not abs(planned - length) <= _MISFIT * length:
            goes, ground = show_both(planned, "distance"), show_both(length, "distance")
            remedy = "cut the track to one lap with begin and end, or mend the lengths"
            yield _PLACE, f"is {ground} long, but lap {lap} goes {goes}, more than {100 * _MISFIT:g} % off: {remedy}"
            return


@rule(TRACK_RACE_RULES, "duty")
def _holds(spec: ScenarioSpec) -> Iterator[Found]:
    """Hold lock holds against the time that a segment has on the track."""
    if spec.duty.track is None:
        return
    shortest = dict[int, float]()
    for piece in race_pieces(spec)[0]:
        if piece.stretch.lock_holds is not None and piece.stretch.place is not None:
            lasts = piece.stretch.duration
            shortest[piece.stretch.place] = min(lasts, shortest.get(piece.stretch.place, lasts))
    for place, lasts in shortest.items():
        segment = spec.duty.segment[place]
        held = LONGEST * segment.lock_holds * segment.lock_hold
        if held >= lasts:
            text = f"holds can take {clock(held)} in all, and on the track the segment lasts {clock(lasts)}"
            yield ("duty", "segment", place, "lock_holds"), f"{text}: hold less often, or shorter"


@rule(TRACK_RACE_RULES, "duty")
def _furthest(spec: ScenarioSpec) -> Iterator[Found]:
    """Hold the speeds of the track, and what gears make of them, against the accepted ranges."""
    if spec.duty.track is None:
        return
    profiles = [piece.profile for piece in race_pieces(spec)[0] if piece.lap == 1 and piece.stop is None]
    for name in ("vehicle_speed", "engine_speed"):
        far = max(float(getattr(profile, name).max()) for profile in profiles)
        if far > highest(name) * (1.0 + 1e-9):
            kind = "speed" if name == "vehicle_speed" else "rotation"
            limit, reached = (show_both(value, kind) for value in (highest(name), far))
            yield (*_PLACE, "speed"), f"lets {name} reach {reached}, and {limit} is the limit"


@rule(TRACK_FIT_RULES, "duty.track", "duty.recording")
def _covers(spec: ScenarioSpec) -> Iterator[Found]:
    track, recording, offset = spec.duty.track, spec.duty.recording, track_offset(spec.duty)
    if track is None or recording is None or track.join == "distance" or track.course.time is None:
        return
    if offset is None:
        yield (*_PLACE, "offset"), "missing: say at which track time the recording begins, such as 0 s"
        return
    done, last = offset + float(recording.log.time[-1]), float(track.course.time[-1])
    if offset < -_OVERLAP or done > last + _OVERLAP:
        sign = "-" if offset < 0.0 else ""
        spell = f"{sign}{clock(abs(offset))} to {clock(max(done, 0.0))} of the track, which ends at {clock(last)}"
        yield _PLACE, f"does not cover the recording, which lasts from {spell}: mend the offset, or cut the recording"


@rule(TRACK_FIT_RULES, "duty.track", "duty.laps", "duty.recording")
def _rows(spec: ScenarioSpec) -> Iterator[Found]:
    track = spec.duty.track
    if track is not None and spec.duty.recording is None and len(track.course.distance) * spec.duty.laps > _MOST_ROWS:
        yield ("duty", "laps"), f"gives more than {_MOST_ROWS} rows of the track; take a longer smoothing or fewer laps"
