"""Facts of the trade: common practice, not physics. Bands, held by plausible inputs; every truck and stand is invented.

What is known of pump stands: with an 18 psi cap, warmed up at idle, a gauge in the feed line reads about 15 psi and the
sight glass is clear, at 8 as at 12 gal/min; with the cap off the gauge shows a slight vacuum at 8 gal/min and a couple
of inches of mercury at 12, and the glass clouds, more at 12; refitted hot, most of the pressure does not come back.
The stand below is invented; its oil takes up air through a calm surface, which takes hours.
"""

import functools
import json
import math

import numpy as np
import pytest

from outside import PRACTICE, WHOLE_JOB, Between, Check
from ullage.results.trace import trace_race
from ullage.scenario.compile import compile_problem
from ullage.scenario.load import Scenario
from written_again import PSI

STAND_LORE = "common practice on pump stands for power steering"
SIZING = "common practice of sizing tanks and coolers"

INHG, GAL_MIN = 3386.39, 3.785412e-3 / 60.0
MINUTE = 60.0
WARM, OPENED, REFITTED = 60.0 * MINUTE, 62.0 * MINUTE, 63.0 * MINUTE
SLOW, FAST = "860 rpm", "1240 rpm"

STAND = {
    "format": 1,
    "title": "pump stand (invented data)",
    "fluid": {"preset": "ISO VG 32"},
    "reservoir": {"volume": "7.6 L", "fill": 0.89, "surface_area": "300 cm2", "outlet_height": "0.05 m"},
    "cap": {"kind": "sealed", "relief_pressure": "18 psi"},
    "pump": {"displacement": "38 cm3", "relief_pressure": "40 bar", "mount_conductance": "0 W/K"},
    "steering_gear": {"oil_volume": "1.0 L", "open_centre_drop": "0 bar"},
    "return_line": {"entrainment": 0.0},
    "cooler": {
        "oil_volume": "1.0 L",
        "oil_side_conductance": "60 W/K",
        "air_side_conductance": "15 W/K",
        "preheat": "0 K",
        "fan_air_speed": "1.5 m/s",
    },
    "feed_line": {"bore": "22.2 mm", "length": "1.0 m", "strainer_drop": "0 kPa"},
    "surroundings": {"bay_offset": "0 K", "stop_rise": "0 K"},
    "weather": {"temperature": "22 degC"},
}


@functools.lru_cache(maxsize=32)
def _run(speed, model, events, changes):
    load = {"steering_load": "26 bar"}
    duty = {
        "segment": [
            {"name": "warm-up", "duration": "60 min", "engine_speed": SLOW, **load},
            {"name": "test", "duration": "20 min", "engine_speed": speed, **load},
        ]
    }
    stand = Scenario.from_dict({**STAND, "duty": duty, "event": json.loads(events), "air": {"model": model}})
    return trace_race(compile_problem(stand.replace(json.loads(changes)).spec)).rows


def run(speed, model, events=(), changes=None):
    """Return the rows of a warm-up at idle and twenty minutes more at a speed."""
    return _run(speed, model, json.dumps(events), json.dumps(changes or {}))


def at(rows, time):
    return rows[int(np.searchsorted(rows.time, time))]


CAP_OFF = {"action": "cap off", "time": f"{OPENED} s"}
CAP_ON = {"action": "cap on", "time": f"{REFITTED} s"}
AIRS = ("frozen", "kinetic")


def sealed(name):
    """Return a value of the warm stand with its cap on: slow and fast, with air that never moves and that moves."""
    return [float(at(run(speed, model), OPENED)[name]) for speed in (SLOW, FAST) for model in AIRS]


def opened(name, speed, models=(*AIRS, "equilibrium")):
    """Return a value of the stand half a minute after its cap is taken off."""
    return [float(at(run(speed, model, [CAP_OFF]), OPENED + 30.0)[name]) for model in models]


def regained(model):
    """Return the pressure ten minutes after a hot refit over that before the opening."""
    before = at(run(SLOW, model), OPENED).feed_gauge_pressure
    return float(at(run(SLOW, model, [CAP_OFF, CAP_ON]), REFITTED + 10.0 * MINUTE).feed_gauge_pressure / before)


def stand_of_fast_uptake():
    oil_volume, surface = 9.1e-3, 0.03
    changes = {"air.transfer_velocity": f"{oil_volume / surface / 600.0} m/s"}
    return float(at(run(SLOW, "kinetic", changes=changes), OPENED).feed_gauge_pressure) / PSI


CHECKS = [
    Check(
        WHOLE_JOB,
        "warm pump stand with an 18 psi cap, 8 and 12 gal/min, air frozen and moving: feed gauge about 15 psi",
        lambda: [value / PSI for value in sealed("feed_gauge_pressure")],
        Between(13.0, 18.0),
        "psi",
        STAND_LORE,
        PRACTICE,
        "about 15, and not over the cap",
    ),
    Check(
        WHOLE_JOB,
        "warm pump stand with an 18 psi cap, 8 and 12 gal/min: the sight glass is clear",
        lambda: sealed("sight_glass_transmittance"),
        Between(0.9, math.inf),
        "1",
        STAND_LORE,
        PRACTICE,
        "clear is from a transmittance of 0.9 on, by own choice",
    ),
    Check(
        WHOLE_JOB,
        "warm pump stand, cap off, 8 gal/min, air frozen, moving and at once: a slight vacuum",
        lambda: [-value / INHG for value in opened("feed_gauge_pressure", SLOW)],
        Between(0.0, 1.0),
        "inHg",
        STAND_LORE,
        PRACTICE,
        "slight",
    ),
    Check(
        WHOLE_JOB,
        "warm pump stand, cap off, 12 gal/min, air frozen, moving and at once: a couple of inches of mercury",
        lambda: [-value / INHG for value in opened("feed_gauge_pressure", FAST)],
        Between(1.0, 4.0),
        "inHg",
        STAND_LORE,
        PRACTICE,
        "a couple",
    ),
    Check(
        WHOLE_JOB,
        "warm pump stand, cap off, 8 and 12 gal/min, air moving: the sight glass clouds",
        lambda: [opened("sight_glass_transmittance", speed, ("kinetic",))[0] for speed in (SLOW, FAST)],
        Between(-math.inf, 0.7),
        "1",
        STAND_LORE,
        PRACTICE,
        "cloudy is well below 0.9",
    ),
    Check(
        WHOLE_JOB,
        "warm pump stand opened for a minute, air frozen and moving: share of the pressure ten minutes after the refit",
        lambda: [regained(model) for model in AIRS],
        Between(-math.inf, 1.0 / 3.0),
        "1",
        STAND_LORE,
        PRACTICE,
        "most does not come back",
    ),
    Check(
        WHOLE_JOB,
        "warm pump stand cooled by a fan, 8 and 12 gal/min: share of the shaft power that the cooler takes",
        lambda: (np.array(sealed("cooler_heat"))[[1, 3]] / np.array(sealed("shaft_power"))[[1, 3]]).tolist(),
        Between(0.25, 0.40),
        "1",
        SIZING,
        PRACTICE,
        "25 to 40 % is reckoned with where tank and lines shed the rest, as on this stand",
    ),
]


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_what_the_trade_knows_comes_out(check):
    assert check.misses() == []


def test_glass_clouds_more_at_speed_and_not_without_release():
    for model in ("kinetic", "equilibrium"):
        slow, fast = (opened("sight_glass_transmittance", speed, (model,))[0] for speed in (SLOW, FAST))
        assert fast < slow < 0.7
    for speed in (SLOW, FAST):  # the bracket has two ends
        assert opened("sight_glass_transmittance", speed, ("frozen",))[0] > 0.9


def test_the_stand_is_set_up_for_8_and_12_gallons_a_minute():
    slow, fast = sealed("pump_flow")[0], sealed("pump_flow")[2]
    # "about"
    assert slow / GAL_MIN == pytest.approx(8.0, rel=0.05)
    assert fast / GAL_MIN == pytest.approx(12.0, rel=0.05)


def test_stand_that_took_up_air_in_ten_minutes_could_not_hold_15_psi():
    """15 psi after an hour and uptake within 600 s cannot both be true: through a calm surface uptake takes hours."""
    assert 5.0 < stand_of_fast_uptake() < 9.0  # some 6 psi, less than half of what is read
