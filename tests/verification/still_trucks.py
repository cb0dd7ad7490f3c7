"""Races of a truck that stands with its engine off and follows the weather: what the tank alone does."""

import copy
import functools
import json

from support import TRUCK
from ullage import Scenario, simulate


def at_hours(*points):
    """Return weather that goes through pairs of hours and degC."""
    return {"point": [{"time": f"{hours} h", "temperature": f"{celsius} degC"} for hours, celsius in points]}


@functools.lru_cache(maxsize=64)
def _raced(text):
    return simulate(Scenario.from_dict(json.loads(text)))


def standing(hours, weather, events=(), elevation=None, **tables):
    """Return the results of the test truck, engine off, its tables changed; frozen air unless it says otherwise.

    Parts lose heat fast, so that oil and air space are at the temperature of the weather within minutes.
    """
    data = copy.deepcopy(TRUCK)
    segment = {"duration": f"{hours} h", "engine_speed": "0 rpm"}
    data["duty"] = {"sample_interval": "10 s", "segment": [segment | ({"elevation": elevation} if elevation else {})]}
    data["weather"] = weather
    data["event"] = list(events)
    data["air"] = {"model": "frozen"}
    for name in ("reservoir", "pump", "steering_gear"):
        data.setdefault(name, {})["outside_conductance"] = "50 W/K"
    data["cooler"] = {"still_air_conductance": "30 W/K"}
    data["surroundings"] = {"block_cooling_time": "1 min"}
    for name, table in tables.items():
        data.setdefault(name, {}).update(table)
    return _raced(json.dumps(data))
