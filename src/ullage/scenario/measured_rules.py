"""Rules on what sensors of the truck said: that there is something, and that it is of this race."""

from __future__ import annotations

from collections.abc import Iterator

from ullage.scenario.checks import Found, Rule, rule
from ullage.scenario.duty_spec import ScenarioSpec
from ullage.scenario.measured_spec import Measured
from ullage.scenario.race import race_pieces
from ullage.scenario.stop_rules import CLOCK
from ullage.units import clock

MEASURED_RULES: list[Rule] = []
MEASURED_RACE_RULES: list[Rule] = []


@rule(MEASURED_RULES, "measured")
def _nothing(spec: ScenarioSpec) -> Iterator[Found]:
    if spec.measured is not None and not spec.measured.log.channels:
        yield ("measured",), f"names no column of a sensor; give one or more of: {', '.join(Measured.recorded())}"


@rule(MEASURED_RACE_RULES, *CLOCK, "measured")
def _of_another_time(spec: ScenarioSpec) -> Iterator[Found]:
    if spec.measured is None:
        return
    end, time = race_pieces(spec)[0][-1].end, spec.measured.starts_at + spec.measured.log.time
    if not ((time >= 0.0) & (time <= end)).any():
        begins, ends = (f"{'-' if moment < 0.0 else ''}{clock(abs(moment))}" for moment in (time[0], time[-1]))
        text = f"puts no row of the log into the race: they are from {begins} to {ends}, the race ends at {clock(end)}"
        yield ("measured", "starts_at"), text
