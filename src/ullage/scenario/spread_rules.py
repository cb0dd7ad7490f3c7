"""Rules between a segment's means and spreads: drawn channels never leave what a constant value may be."""

from __future__ import annotations

from collections.abc import Iterator

from ullage.duty.generator import ENGINE_FURTHEST, FURTHEST, largest_load_spread
from ullage.scenario.checks import Found, Rule, rule
from ullage.scenario.duty_spec import ScenarioSpec
from ullage.scenario.fields import quantity_of
from ullage.scenario.lap_spec import Segment
from ullage.units import show_both

SPREAD_RULES: list[Rule] = []

_SPREADS = (
    "duty.segment.vehicle_speed_spread",
    "duty.segment.engine_speed_spread",
    "duty.segment.steering_load_spread",
)


@rule(SPREAD_RULES, "duty.seed", *_SPREADS)
def _seed(spec: ScenarioSpec) -> Iterator[Found]:
    if spec.duty.seed is None and any(segment.varies for segment in spec.duty.segment):
        yield ("duty", "seed"), "missing: segments with a spread are drawn from a seed, such as 1"


@rule(SPREAD_RULES, "duty.segment.vehicle_speed", "duty.segment.vehicle_speed_spread", each="duty.segment")
def _vehicle(spec: ScenarioSpec) -> Iterator[Found]:
    return _speeds(spec, "vehicle_speed", FURTHEST)


@rule(SPREAD_RULES, "duty.segment.engine_speed", "duty.segment.engine_speed_spread", each="duty.segment")
def _engine(spec: ScenarioSpec) -> Iterator[Found]:
    return _speeds(spec, "engine_speed", ENGINE_FURTHEST)


def _speeds(spec: ScenarioSpec, name: str, furthest: float) -> Iterator[Found]:
    quantity = quantity_of(Segment, name)
    for place, segment in enumerate(spec.duty.segment):
        mean, spread = getattr(segment, name), getattr(segment, f"{name}_spread")
        if quantity is None or spread == 0.0:
            continue
        largest = min(mean, quantity.limits()[1] - mean) / furthest
        if spread > largest:
            remedy = f"take {show_both(0.99 * largest, quantity.kind)} or less"
            yield (
                ("duty", "segment", place, f"{name}_spread"),
                f"leads out of {quantity.low} to {quantity.high}; {remedy}",
            )


@rule(
    SPREAD_RULES,
    "duty.segment.steering_load",
    "duty.segment.steering_load_spread",
    "duty.segment.steering_load_peak",
    each="duty.segment",
)
def _load(spec: ScenarioSpec) -> Iterator[Found]:
    for place, segment in enumerate(spec.duty.segment):
        for key, text in _pulses(segment):
            yield ("duty", "segment", place, key), text


def _pulses(segment: Segment) -> Iterator[tuple[str, str]]:
    spread, peak = segment.steering_load_spread, segment.steering_load_peak
    if spread > 0.0 and peak is None:
        yield "steering_load_peak", "missing: steering_load_spread needs it"
    elif spread == 0.0 and peak is not None:
        yield "steering_load_peak", "needs a steering_load_spread"
    elif peak is not None and spread > (largest := largest_load_spread(segment.steering_load, peak)):
        remedy = f"take {show_both(0.99 * largest, 'pressure difference')} or less, or a higher peak"
        yield "steering_load_spread", f"is more than pulses up to steering_load_peak can give; {remedy}"
