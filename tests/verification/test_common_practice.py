"""Facts of the trade on a pump stand: common practice, no published source. Bands, held by plausible inputs.

What is known of such stands: with an 18 psi cap, warmed up at idle, a gauge in the feed line reads about 15 psi and the
sight glass is clear, at 8 as at 12 gal/min; with the cap off the gauge shows a slight vacuum at 8 gal/min and a couple
of inches of mercury at 12, and the glass clouds, more at 12; refitted hot, most of the pressure does not come back.
The stand below is invented; its oil takes up air through a calm surface, which takes hours.
"""

import numpy as np
import pytest

from ullage.results.trace import trace_race
from ullage.scenario.compile import compile_problem
from ullage.scenario.load import Scenario

PSI, INHG, GAL_MIN = 6894.757, 3386.39, 3.785412e-3 / 60.0
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


def run(speed, model, events=(), changes=None):
    """Return the rows of a warm-up at idle and twenty minutes more at a speed."""
    load = {"steering_load": "26 bar"}
    duty = {
        "segment": [
            {"name": "warm-up", "duration": "60 min", "engine_speed": SLOW, **load},
            {"name": "test", "duration": "20 min", "engine_speed": speed, **load},
        ]
    }
    stand = Scenario.from_dict({**STAND, "duty": duty, "event": list(events), "air": {"model": model}})
    return trace_race(compile_problem(stand.replace(changes or {}).spec)).rows


def at(rows, time):
    return rows[int(np.searchsorted(rows.time, time))]


CAP_OFF = {"action": "cap off", "time": f"{OPENED} s"}
CAP_ON = {"action": "cap on", "time": f"{REFITTED} s"}


@pytest.fixture(scope="module")
def sealed():
    return {(speed, model): run(speed, model) for speed in (SLOW, FAST) for model in ("frozen", "kinetic")}


@pytest.fixture(scope="module")
def opened():
    models = ("frozen", "kinetic", "equilibrium")
    return {(speed, model): run(speed, model, [CAP_OFF]) for speed in (SLOW, FAST) for model in models}


def test_stand_flows_are_about_8_and_12_gallons_a_minute(sealed):
    for speed, flow in ((SLOW, 8.0), (FAST, 12.0)):  # within 5 %: "about"
        assert at(sealed[speed, "kinetic"], OPENED).pump_flow == pytest.approx(flow * GAL_MIN, rel=0.05)


def test_warm_sealed_stand_reads_about_15_psi_with_a_clear_glass(sealed):
    for rows in sealed.values():
        row = at(rows, OPENED)
        assert 13.0 * PSI < row.feed_gauge_pressure < 18.0 * PSI
        assert row.sight_glass_transmittance > 0.9


def test_open_stand_reads_a_slight_vacuum_and_a_couple_of_inches_at_speed(opened):
    for (speed, _), rows in opened.items():
        vacuum = -at(rows, OPENED + 30.0).feed_gauge_pressure / INHG
        low, high = (0.0, 1.0) if speed == SLOW else (1.0, 4.0)
        assert low < vacuum < high


def test_glass_clouds_with_the_cap_off_and_more_at_speed(opened):
    for model in ("kinetic", "equilibrium"):
        slow, fast = (at(opened[speed, model], OPENED + 30.0).sight_glass_transmittance for speed in (SLOW, FAST))
        assert fast < slow < 0.7
    for speed in (SLOW, FAST):  # without release nothing clouds: the bracket has two ends
        assert at(opened[speed, "frozen"], OPENED + 30.0).sight_glass_transmittance > 0.9


def test_most_of_the_pressure_does_not_come_back_after_a_hot_refit(sealed):
    for model in ("frozen", "kinetic"):
        before = at(sealed[SLOW, model], OPENED).feed_gauge_pressure
        after = at(run(SLOW, model, [CAP_OFF, CAP_ON]), REFITTED + 10.0 * MINUTE).feed_gauge_pressure
        assert after < before / 3.0


def test_stand_that_took_up_air_in_ten_minutes_could_not_hold_15_psi():
    """15 psi after an hour and uptake within 600 s cannot both be true: through a calm surface uptake takes hours."""
    oil_volume, surface = 9.1e-3, 0.03
    fast = run(SLOW, "kinetic", changes={"air.transfer_velocity": f"{oil_volume / surface / 600.0} m/s"})
    assert 5.0 * PSI < at(fast, OPENED).feed_gauge_pressure < 9.0 * PSI  # settles near 7 psi, half of what is read
