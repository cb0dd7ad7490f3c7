"""Faults between a segment's means and spreads: drawn channels never leave what a constant value may be."""

from __future__ import annotations

from collections.abc import Iterator

from ullage.duty.generator import ENGINE_FURTHEST, FURTHEST, largest_load_spread
from ullage.scenario.duty_spec import ScenarioSpec
from ullage.scenario.fields import quantity_of
from ullage.scenario.lap_spec import Segment
from ullage.units import show

_SPEEDS = {"vehicle_speed": FURTHEST, "engine_speed": ENGINE_FURTHEST}


def spread_faults(spec: ScenarioSpec) -> Iterator[tuple[tuple[str | int, ...], str]]:
    """Return place and sentence of every fault of the spreads.

    Parameters
    ----------
    spec : ScenarioSpec
        The specification.

    Yields
    ------
    tuple
        Place and sentence.
    """
    if spec.duty.seed is None and any(segment.varies for segment in spec.duty.segment):
        yield ("duty", "seed"), "missing: segments with a spread are drawn from a seed, such as 1"
    for place, segment in enumerate(spec.duty.segment):
        for key, text in [*_speeds(segment), *_load(segment)]:
            yield ("duty", "segment", place, key), text


def _speeds(segment: Segment) -> Iterator[tuple[str, str]]:
    for name, furthest in _SPEEDS.items():
        mean, spread = getattr(segment, name), getattr(segment, f"{name}_spread")
        quantity = quantity_of(Segment, name)
        if quantity is None or spread == 0.0:
            continue
        largest = min(mean, quantity.limits()[1] - mean) / furthest
        if spread > largest:
            remedy = f"take {show(0.99 * largest, quantity.kind)} or less"
            yield f"{name}_spread", f"leads out of {quantity.low} to {quantity.high}; {remedy}"


def _load(segment: Segment) -> Iterator[tuple[str, str]]:
    spread, peak = segment.steering_load_spread, segment.steering_load_peak
    if spread > 0.0 and peak is None:
        yield "steering_load_peak", "missing: steering_load_spread needs it"
    elif spread == 0.0 and peak is not None:
        yield "steering_load_peak", "needs a steering_load_spread"
    elif peak is not None and spread > (largest := largest_load_spread(segment.steering_load, peak)):
        remedy = f"take {show(0.99 * largest, 'pressure difference')} or less, or a higher peak"
        yield "steering_load_spread", f"is more than pulses up to steering_load_peak can give; {remedy}"
