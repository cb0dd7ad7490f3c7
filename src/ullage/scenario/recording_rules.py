"""Rules on a recorded lap: how much of it is marched."""

from __future__ import annotations

from collections.abc import Iterator

from ullage.scenario.checks import Found, Rule, rule
from ullage.scenario.duty_spec import ScenarioSpec
from ullage.scenario.race import recorded_knots
from ullage.scenario.race_rules import MOST_ROWS
from ullage.scenario.stretches import loads_of

RECORDING_RULES: list[Rule] = []  # on a race that is right otherwise

_DROPS = ("pump.relief_pressure", "steering_gear.open_centre_drop", "return_line.drop", "return_line.filter_drop")


@rule(RECORDING_RULES, "duty.laps", "duty.recording", "duty.sample_interval", *_DROPS)
def _rows(spec: ScenarioSpec) -> Iterator[Found]:
    recording = spec.duty.recording
    if recording is None:
        return
    knots = recorded_knots(recording.log, spec.duty.sample_interval, loads_of(spec).at_the_relief)
    if len(knots) * spec.duty.laps > MOST_ROWS:
        yield ("duty", "laps"), f"gives more than {MOST_ROWS} rows of the recording; take a longer sample_interval"
