"""A driving cycle that the world knows goes in through the door of logger files and comes out the same.

WLTC class 3b: UN Global Technical Regulation No. 15, annex 1, speeds at whole seconds, as the package `wltp` carries
them with the checksum of the regulation (the sum of all speeds in km/h). The engine speed beside it is our own.
"""

import numpy as np
import pytest
from wltp.cycles.class3 import class_data_b

from support import TRUCK
from ullage.api import simulate
from ullage.kernel.params import CHANNEL_INDEX
from ullage.scenario.compile import compile_problem
from ullage.scenario.load import Scenario

CYCLE = class_data_b()
SPEEDS = np.array(CYCLE["cycle"])
CHECKSUM = 83758.6
LENGTH = CHECKSUM / 3.6  # it begins and ends at rest: the sum over whole seconds is the integral
MAPPED = {"file": "cycle.csv", "engine_speed": {"column": "Motor"}, "vehicle_speed": {"column": "Tempo"}}
DIALECTS = {
    "plain": ("Zeit (s),Motor (rpm),Tempo (km/h)\n", ",", "."),
    "with comma decimals": ("Fahrzyklus\n\nZeit [s];Motor [rpm];Tempo [km/h]\n", ";", ","),
    "with a row of units": ("Zeit\tMotor\tTempo\ns\trpm\tkm/h\n", "\t", "."),
}


@pytest.fixture(params=DIALECTS)
def scenario(request, tmp_path, monkeypatch):
    head, mark, point = DIALECTS[request.param]
    rows = [(f"{second}", f"{900.0 + 30.0 * speed:.1f}", f"{speed:.1f}") for second, speed in enumerate(SPEEDS)]
    (tmp_path / "cycle.csv").write_text(head + "".join(mark.join(row).replace(".", point) + "\n" for row in rows))
    monkeypatch.chdir(tmp_path)
    return Scenario.from_dict({**TRUCK, "duty": {"recording": {**MAPPED, "time": {"column": "Zeit"}}}})


def test_package_carries_the_cycle_of_the_regulation():
    assert len(SPEEDS) == 1801
    assert SPEEDS.sum() == pytest.approx(CHECKSUM, rel=1e-12)  # one digit after the point; rounding of the sum


def test_every_second_of_the_cycle_comes_back(scenario):
    lap = scenario.spec.duty.recording.log
    assert lap.notes == () or all("Windows" not in note for note in lap.notes)
    assert np.array_equal(lap.time, np.arange(1801.0))
    assert lap.channels["vehicle_speed"] * 3.6 == pytest.approx(SPEEDS, rel=1e-14, abs=0.0)  # one factor there and back
    table = compile_problem(scenario.spec).table
    at = np.searchsorted(table.time, np.arange(1801.0))
    driven = table.channels[at, CHANNEL_INDEX["vehicle_speed"]] * 3.6
    assert driven == pytest.approx(SPEEDS, rel=1e-9, abs=1e-9)  # the clock of the race has whole nanoseconds


def test_race_is_as_long_as_the_cycle(scenario):
    data = simulate(scenario)
    assert float(data.time[-1]) == 1800.0
    assert float(data.distance[-1]) == pytest.approx(LENGTH, rel=1e-9)
