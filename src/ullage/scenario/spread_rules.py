"""Rules between a segment's means and spreads: drawn channels never leave what a constant value may be."""

from __future__ import annotations

from collections.abc import Iterator

from ullage.duty.generator import ENGINE_FURTHEST, FURTHEST, largest_load_spread
from ullage.scenario.checks import Found, Rule, rule
from ullage.scenario.driven import driven, largest_spread, usual_steering
from ullage.scenario.duty_spec import ScenarioSpec
from ullage.scenario.fields import quantity_of
from ullage.scenario.lap_spec import Gear, Segment
from ullage.units import show_both

SPREAD_RULES: list[Rule] = []

_SPEEDS = {
    name: tuple(f"duty.segment.{name}{end}" for end in ("", "_spread", "_low", "_high"))
    for name in ("vehicle_speed", "engine_speed")
}
_LOAD = tuple(f"duty.segment.steering_load{end}" for end in ("", "_spread", "_peak"))
_WORDS = ("duty.segment.surface", "duty.segment.steering")
_DRAWN = ("duty.segment.lock_holds", "duty.segment.duration_spread", "duty.stop.duration_spread")


@rule(
    SPREAD_RULES,
    "duty.seed",
    "duty.gear",
    *_SPEEDS["vehicle_speed"],
    *_SPEEDS["engine_speed"],
    *_LOAD,
    *_WORDS,
    *_DRAWN,
)
def _seed(spec: ScenarioSpec) -> Iterator[Found]:
    duty = spec.duty
    if duty.seed is not None:
        return
    segments = [each for each in duty.segment if _is_drawn(each, duty.gear)]
    drawn = [*segments, *(stop for stop in duty.stop if stop.duration_spread > 0.0)]
    if drawn:
        ground = "a word for ground or steering"
        text = f"segments with a spread, a band, {ground} or lock holds, and durations with a spread, are drawn"
        yield ("duty", "seed"), f"missing: {text} from a seed, such as 1"


def _is_drawn(segment: Segment, gears: tuple[Gear, ...]) -> bool:
    return segment.lock_holds > 0 or segment.duration_spread > 0.0 or driven(segment, gears).varies


@rule(SPREAD_RULES, *_SPEEDS["vehicle_speed"], each="duty.segment")
def _vehicle(spec: ScenarioSpec) -> Iterator[Found]:
    return _speeds(spec, "vehicle_speed", FURTHEST)


@rule(SPREAD_RULES, *_SPEEDS["engine_speed"], each="duty.segment")
def _engine(spec: ScenarioSpec) -> Iterator[Found]:
    return _speeds(spec, "engine_speed", ENGINE_FURTHEST)


def _speeds(spec: ScenarioSpec, name: str, furthest: float) -> Iterator[Found]:
    """Hold spreads that are given against the room about a mean; those of words and bands keep to it."""
    quantity = quantity_of(Segment, name)
    for place, segment in enumerate(spec.duty.segment):
        mean, spread = getattr(segment, name), getattr(segment, f"{name}_spread")
        banded = getattr(segment, f"{name}_low") is not None or getattr(segment, f"{name}_high") is not None
        if quantity is None or not spread or banded or (mean is None and name == "engine_speed"):
            continue
        largest = largest_spread(name, mean or 0.0, furthest)
        if spread > largest:
            remedy = f"take {show_both(0.99 * largest, quantity.kind)} or less"
            yield (
                ("duty", "segment", place, f"{name}_spread"),
                f"leads out of {quantity.low} to {quantity.high}; {remedy}",
            )


@rule(SPREAD_RULES, *_LOAD, *_WORDS, each="duty.segment")
def _load(spec: ScenarioSpec) -> Iterator[Found]:
    for place, segment in enumerate(spec.duty.segment):
        for key, text in _pulses(segment):
            yield ("duty", "segment", place, key), text


def _pulses(segment: Segment) -> Iterator[tuple[str, str]]:
    load, spread, peak = driven(segment, ()).steering_load
    if spread > 0.0 and segment.steering_load_peak is None and usual_steering(segment) is None:
        yield "steering_load_peak", "missing: steering_load_spread needs it"
    elif spread == 0.0 and segment.steering_load_peak is not None:
        words = "is not above the steering load" if segment.steering_load_spread is None and peak <= load else ""
        yield "steering_load_peak", words or "needs a steering_load_spread"
    elif spread > (largest := largest_load_spread(load, peak)):
        remedy = f"take {show_both(0.99 * largest, 'pressure difference')} or less, or a higher peak"
        yield "steering_load_spread", f"is more than pulses up to steering_load_peak can give; {remedy}"
