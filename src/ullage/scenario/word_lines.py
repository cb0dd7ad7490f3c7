"""What the words of segments were taken to mean, for the screen of a check."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from ullage.scenario.driven import Driven, driven
from ullage.scenario.duty_spec import ScenarioSpec
from ullage.scenario.fields import quantity_of
from ullage.scenario.lap_spec import Segment
from ullage.units import show

_WIDTH = 110


def word_lines(spec: ScenarioSpec, units: str) -> Iterator[str]:
    """Go through the values that were assumed from words, one line a segment.

    Parameters
    ----------
    spec : ScenarioSpec
        A checked specification.
    units : str
        "metric" or "us".

    Yields
    ------
    str
        A heading before the first, then segment, word and values.
    """
    heading = "assumed from words for ground and steering (our own choice; a value of your own is better):"
    for place, segment in enumerate(spec.duty.segment):
        numbers = driven(segment, spec.duty.gear)
        if numbers.assumed or segment.surface:
            yield from (heading,) if heading else ()
            heading = ""
            words = ", ".join(word for word in (segment.surface, segment.steering) if word)
            rough = [f"roughness {numbers.ground_roughness:g}"] if segment.surface else []
            values = ", ".join(rough + [f"{name} {_shown(numbers, name, units)}" for name in numbers.assumed])
            line = f"  {segment.name or f'segment {place + 1}'} ({words}): {values}"
            yield from textwrap.wrap(line, _WIDTH, subsequent_indent="    ", drop_whitespace=True)


def _shown(numbers: Driven, name: str, units: str) -> str:
    load = numbers.steering_load
    values = {
        "vehicle_speed_spread": numbers.vehicle_speed.spread,
        "engine_speed_spread": numbers.engine_speed.spread,
        "steering_load": load.load,
        "steering_load_spread": load.spread,
        "steering_load_peak": load.peak,
    }
    quantity = quantity_of(Segment, name)
    return show(values[name], quantity.kind if quantity else "", units)
