"""Rules on the plan of the laps: which lap has which segments, bands, gears, lock holds, and laps that differ."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator

from ullage.duty.draws import shortest_duration
from ullage.duty.lock_holds import LONGEST
from ullage.scenario.checks import Found, Rule, rule
from ullage.scenario.driven import Driven, driven, highest, spells
from ullage.scenario.duty_spec import Duty, ScenarioSpec
from ullage.scenario.fields import quantity_of
from ullage.scenario.lap_spec import Change, Segment
from ullage.units import clock, show_both

LAP_RULES: list[Rule] = []
DRIVEN_RULES: list[Rule] = []  # on segments that are right otherwise

_MOST_SPREAD = 0.5  # of a duration, as a share of it: it is cut off at a tenth and at nearly twice
_SPEEDS = ("vehicle_speed", "engine_speed")
_VEHICLE, _ENGINE = (tuple(f"duty.segment.{name}{end}" for end in ("", "_spread", "_low", "_high")) for name in _SPEEDS)
_LOAD = tuple(f"duty.segment.steering_load{end}" for end in ("", "_spread", "_peak"))
_DRIVEN = (*_VEHICLE, *_ENGINE, *_LOAD, "duty.segment.surface", "duty.segment.steering", "duty.gear")
_IN_LAPS = ("duty.laps", "duty.change", "duty.segment.name", "duty.segment.first_lap", "duty.segment.last_lap")
_EXTENT = ("duty.segment.length", "duty.segment.duration", "duty.segment.duration_spread")


@rule(LAP_RULES, "duty.laps", "duty.segment.first_lap", "duty.segment.last_lap", each="duty.segment")
def _segment_laps(spec: ScenarioSpec) -> Iterator[Found]:
    for place, segment in enumerate(spec.duty.segment):
        for key, text in _laps(segment, spec.duty.laps):
            yield ("duty", "segment", place, key), text


@rule(LAP_RULES, "duty.laps", "duty.change.first_lap", "duty.change.last_lap", each="duty.change")
def _change_laps(spec: ScenarioSpec) -> Iterator[Found]:
    for place, change in enumerate(spec.duty.change):
        for key, text in _laps(change, spec.duty.laps):
            yield ("duty", "change", place, key), text


def _laps(item: Segment | Change, laps: int) -> Iterator[tuple[str, str]]:
    for key, lap in (("first_lap", item.first_lap), ("last_lap", item.last_lap or 1)):
        if lap > laps:
            yield key, f"is after the end: the race has {'1 lap' if laps == 1 else f'{laps} laps'}"
    if item.last_lap is not None and item.last_lap < item.first_lap:
        yield "last_lap", f"is before first_lap, {item.first_lap}"


@rule(DRIVEN_RULES, "duty.laps", "duty.segment.first_lap", "duty.segment.last_lap")
def _every_lap(spec: ScenarioSpec) -> Iterator[Found]:
    duty = spec.duty
    begun = [0] * (duty.laps + 2)  # segments that begin in a lap, less those that ended before it
    for segment in duty.segment:
        begun[min(segment.first_lap, duty.laps + 1)] += 1
        begun[min(segment.last_lap or duty.laps, duty.laps) + 1] -= 1
    driven_in = list(itertools.accumulate(begun))[1:-1]
    if duty.segment and min(driven_in) <= 0:
        lap = driven_in.index(min(driven_in)) + 1
        yield ("duty", "segment"), f"lap {lap} has no segment: let one be driven in it, by first_lap and last_lap"


@rule(LAP_RULES, *_VEHICLE, each="duty.segment")
def _vehicle_band(spec: ScenarioSpec) -> Iterator[Found]:
    return _bands(spec, "vehicle_speed")


@rule(LAP_RULES, *_ENGINE, each="duty.segment")
def _engine_band(spec: ScenarioSpec) -> Iterator[Found]:
    return _bands(spec, "engine_speed")


def _bands(spec: ScenarioSpec, name: str) -> Iterator[Found]:
    quantity = quantity_of(Segment, name)
    kind = quantity.kind if quantity else ""
    for place, segment in enumerate(spec.duty.segment):
        low, high = getattr(segment, f"{name}_low"), getattr(segment, f"{name}_high")
        if low is None and high is None:
            continue
        at = ("duty", "segment", place)
        if low is None or high is None:
            yield (*at, f"{name}_{'low' if low is None else 'high'}"), f"missing: a band of {name} has two ends"
        elif high <= low:
            yield (*at, f"{name}_high"), f"is not above {name}_low, {show_both(low, kind)}"
        for key in (name, f"{name}_spread"):
            if getattr(segment, key) is not None:
                yield (*at, key), f"stands beside a band: give it, or {name}_low and {name}_high"


@rule(LAP_RULES, *_ENGINE, "duty.gear", each="duty.segment")
def _engine_speed(spec: ScenarioSpec) -> Iterator[Found]:
    for place, segment in enumerate(spec.duty.segment):
        ends = (segment.engine_speed, segment.engine_speed_low, segment.engine_speed_high)
        if ends == (None, None, None):
            text = "missing: engine speed, 0 rpm to 10000 rpm"
            if spec.duty.gear:
                text = "missing: say where gears are changed, engine_speed_low and engine_speed_high, or give it"
            yield ("duty", "segment", place, "engine_speed"), text


@rule(LAP_RULES, "duty.gear", each="duty.gear")
def _gears(spec: ScenarioSpec) -> Iterator[Found]:
    for place, (lower, higher) in enumerate(itertools.pairwise(spec.duty.gear), 1):
        if higher.engine_speed * lower.vehicle_speed >= lower.engine_speed * higher.vehicle_speed:
            text = "turns the engine as fast as the gear before at the same speed, or faster: lowest gear first"
            yield ("duty", "gear", place), text


@rule(LAP_RULES, "duty.recording", "duty.gear", "duty.change")
def _beside_a_recording(spec: ScenarioSpec) -> Iterator[Found]:
    if spec.duty.recording is None:
        return
    for key in ("gear", "change"):
        if getattr(spec.duty, key):
            yield ("duty", key), "is for segments; a recording is driven as it was"


@rule(LAP_RULES, "duty.change", "duty.segment.name", "duty.recording", each="duty.change")
def _changed_segment(spec: ScenarioSpec) -> Iterator[Found]:
    names = {segment.name for segment in spec.duty.segment} - {""}
    for place, change in enumerate(spec.duty.change):
        factors = (change.vehicle_speed_factor, change.engine_speed_factor, change.steering_load_factor)
        if spec.duty.segment and change.segment is not None and change.segment not in names:
            known = f"there are: {', '.join(sorted(names))}" if names else "no segment has a name"
            yield ("duty", "change", place, "segment"), f"is no segment; {known}"
        if factors == (1.0, 1.0, 1.0):
            yield ("duty", "change", place), "changes nothing: give vehicle_speed_factor or another factor"


@rule(DRIVEN_RULES, *_IN_LAPS, each="duty.change")
def _changed_laps(spec: ScenarioSpec) -> Iterator[Found]:
    duty = spec.duty
    for place, change in enumerate(duty.change):
        named = [segment for segment in duty.segment if change.segment in (None, segment.name)]
        last = change.last_lap or duty.laps
        met = [item for item in named if item.first_lap <= last and change.first_lap <= (item.last_lap or duty.laps)]
        if named and not met:
            yield ("duty", "change", place), f"changes nothing: '{change.segment}' is not driven in these laps"


@rule(LAP_RULES, "duty.segment.duration", "duty.segment.duration_spread", each="duty.segment")
def _segment_duration(spec: ScenarioSpec) -> Iterator[Found]:
    for place, segment in enumerate(spec.duty.segment):
        at = ("duty", "segment", place, "duration_spread")
        if segment.duration_spread > 0.0 and segment.duration is None:
            yield at, "needs a duration; what has a length takes as long as its speed says"
        elif segment.duration is not None:
            yield from ((at, text) for text in _wide(segment.duration, segment.duration_spread))


@rule(LAP_RULES, "duty.stop.duration", "duty.stop.duration_spread", each="duty.stop")
def _stop_duration(spec: ScenarioSpec) -> Iterator[Found]:
    for place, stop in enumerate(spec.duty.stop):
        yield from (
            (("duty", "stop", place, "duration_spread"), text) for text in _wide(stop.duration, stop.duration_spread)
        )


def _wide(duration: float, spread: float) -> Iterator[str]:
    if spread > _MOST_SPREAD * duration:
        yield f"is more than half of the duration: take {show_both(_MOST_SPREAD * duration, 'time')} or less"


@rule(DRIVEN_RULES, *_ENGINE, *_VEHICLE, "duty.segment.surface", *_IN_LAPS, "duty.gear", each="duty.segment")
def _shifts(spec: ScenarioSpec) -> Iterator[Found]:
    for place, segment in enumerate(spec.duty.segment):
        box = driven(segment, spec.duty.gear).gearbox
        if box is None:
            continue
        step = max((low / high for low, high in itertools.pairwise(box.ratios)), default=1.0)
        if box.up < step * box.down:
            text = "is too near: after a change up the engine would turn below engine_speed_low and change down again"
            needed = f"take {show_both(1.001 * step * box.down, 'rotation')} or more"
            yield ("duty", "segment", place, "engine_speed_high"), f"{text}; {needed}"


@rule(DRIVEN_RULES, *_DRIVEN, *_IN_LAPS)
def _furthest(spec: ScenarioSpec) -> Iterator[Found]:
    """Hold what the changes of laps, and the highest gear, make of segments against the accepted ranges."""
    duty, said = spec.duty, set[tuple[str | int, ...]]()
    for place, segment in enumerate(duty.segment):
        numbers = driven(segment, duty.gear)
        for spell in spells(duty, segment):
            laps = numbers.changed(spell.factors)
            for name, far in zip(("vehicle_speed", "engine_speed", "steering_load"), laps.furthest, strict=True):
                at = _cause(duty, place, _by_the_vehicle(laps) if name == "engine_speed" else name, spell.first_lap)
                if far > highest(name) * (1.0 + 1e-9) and at not in said and (laps.gearbox or at[1] == "change"):
                    said.add(at)
                    yield at, _too_far(segment, name, far)


def _by_the_vehicle(laps: Driven) -> str:
    """Return which speed makes the engine turn too fast: the vehicle's, in the highest gear, or its own."""
    box = laps.gearbox
    return "vehicle_speed" if box is not None and box.up <= highest("engine_speed") else "engine_speed"


def _cause(duty: Duty, place: int, name: str, lap: int) -> tuple[str | int, ...]:
    """Return where it is said how high a value is in a lap: by the last change that has a factor on it, or here."""
    segment = duty.segment[place]
    for number in reversed(range(len(duty.change))):
        change = duty.change[number]
        active = change.first_lap <= lap <= (change.last_lap or duty.laps)
        if active and change.segment in (None, segment.name) and getattr(change, f"{name}_factor") > 1.0:
            return ("duty", "change", number, f"{name}_factor")
    banded = name == "vehicle_speed" and segment.vehicle_speed is None
    return ("duty", "segment", place, f"{name}_high" if banded else name)


def _too_far(segment: Segment, name: str, far: float) -> str:
    quantity = quantity_of(Segment, name)
    kind, limit = (quantity.kind, quantity.high) if quantity else ("", "")
    called = f" of '{segment.name}'" if segment.name else ""
    return f"lets {name}{called} reach {show_both(far, kind)}, and {limit} is the limit"


@rule(
    DRIVEN_RULES,
    *_VEHICLE,
    *_EXTENT,
    *_IN_LAPS,
    "duty.segment.lock_holds",
    "duty.segment.lock_hold",
    each="duty.segment",
)
def _lock_holds(spec: ScenarioSpec) -> Iterator[Found]:
    for place, segment in enumerate(spec.duty.segment):
        if segment.lock_holds == 0:
            continue
        held, shortest = LONGEST * segment.lock_holds * segment.lock_hold, _shortest(spec.duty, segment)
        if held >= shortest:
            text = f"holds can take {clock(held)} in all, and the segment may last {clock(shortest)}"
            yield ("duty", "segment", place, "lock_holds"), f"{text}: hold less often, or shorter"


@rule(LAP_RULES, "duty.segment.lock_holds", "duty.segment.lock_hold", each="duty.segment")
def _hold_without_holds(spec: ScenarioSpec) -> Iterator[Found]:
    for place, segment in enumerate(spec.duty.segment):
        if segment.lock_holds == 0 and "lock_hold" in segment.model_fields_set:
            yield ("duty", "segment", place, "lock_hold"), "counts only with lock_holds, how often the wheel is held"


def _shortest(duty: Duty, segment: Segment) -> float:
    """Return the shortest that a segment may take [s]."""
    numbers = driven(segment, duty.gear)
    fastest = max((spell.factors.vehicle_speed for spell in spells(duty, segment)), default=1.0)
    speed = fastest * numbers.vehicle_speed.mean
    if segment.duration is not None or speed == 0.0:
        return shortest_duration(segment.duration or math.inf, segment.duration_spread)
    return (segment.length or math.inf) / speed
