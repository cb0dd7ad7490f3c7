"""The rules of a scenario in the order in which they are asked."""

from __future__ import annotations

from ullage.scenario.event_rules import EVENT_RULES
from ullage.scenario.key_rules import KEY_RULES
from ullage.scenario.lap_rules import DRIVEN_RULES, LAP_RULES
from ullage.scenario.measured_rules import MEASURED_RACE_RULES, MEASURED_RULES
from ullage.scenario.pit_rules import CHOICE_RULES, PIT_RACE_RULES, PIT_RULES
from ullage.scenario.race_rules import RACE_RULES
from ullage.scenario.recording_rules import RECORDING_RULES
from ullage.scenario.spread_rules import SPREAD_RULES
from ullage.scenario.stop_rules import STOP_RULES, STOP_TIME_RULES
from ullage.scenario.track_rules import TRACK_FIT_RULES, TRACK_RACE_RULES, TRACK_RULES
from ullage.scenario.weather_rules import WEATHER_RULES, WEATHER_TIME_RULES

# each stage counts on those before it
STAGES = (
    [
        *KEY_RULES,
        *LAP_RULES,
        *STOP_RULES,
        *SPREAD_RULES,
        *WEATHER_RULES,
        *EVENT_RULES,
        *MEASURED_RULES,
        *PIT_RULES,
        *TRACK_RULES,
    ],
    DRIVEN_RULES,
    TRACK_FIT_RULES,
    [*STOP_TIME_RULES, *WEATHER_TIME_RULES, *TRACK_RACE_RULES],
    [*RACE_RULES, *RECORDING_RULES, *MEASURED_RACE_RULES, *PIT_RACE_RULES],
    CHOICE_RULES,
)
