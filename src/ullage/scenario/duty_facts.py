"""What a specification has the truck drive, in numbers with the names that the scenario gives."""

from __future__ import annotations

from typing import Any

from ullage.duty.events import ENGINE, switch_times
from ullage.duty.statistics import Distribution, DriveStatistics, DutyStatistics, duty_statistics
from ullage.scenario.duty_spec import ScenarioSpec
from ullage.scenario.race import race_pieces
from ullage.scenario.timed_events import timed_events

RECORDED = "recorded lap"


def race_statistics(spec: ScenarioSpec) -> DutyStatistics:
    """Measure what is driven in the race of a specification."""
    switches = switch_times(timed_events(spec), ENGINE)
    return duty_statistics(race_pieces(spec)[0], spec.pump.relief_pressure, switches)


def segment_names(spec: ScenarioSpec, statistics: DutyStatistics) -> dict[int, str]:
    """Return the name of each segment that is driven, by its number in the lap; one without a name is called by it."""
    if spec.duty.recording:
        return dict.fromkeys(statistics.segments, RECORDED)
    return {place: spec.duty.segment[place].name or f"segment {place + 1}" for place in statistics.segments}


def duty_facts(spec: ScenarioSpec) -> dict[str, Any]:
    """Return what is driven as it stands in JSON: race, segments in the order of the lap, laps, standing time; SI."""
    found = race_statistics(spec)
    names = segment_names(spec, found)
    return {
        "race": _facts(found.race),
        "segments": [{"name": names[place], **_facts(driven)} for place, driven in found.segments.items()],
        "laps": [{"lap": lap, **_facts(driven)} for lap, driven in found.laps.items()],
        "standing_engine_on": found.standing_engine_on,
        "standing_engine_off": found.standing_engine_off,
    }


def _facts(driven: DriveStatistics) -> dict[str, Any]:
    return {
        name: value._asdict() if isinstance(value, Distribution) else value for name, value in driven._asdict().items()
    }
