import functools
from pathlib import Path

import numpy as np
import pytest

from support import SCENARIOS, STUDIES
from ullage.api import simulate
from ullage.cautions import CAUTIONS
from ullage.scenario.describe import describe
from ullage.scenario.load import load_scenario
from ullage.study.load import load_study

ROOT = Path(__file__).parents[1]


@functools.cache
def race(path):
    """Return the results of a scenario file."""
    return simulate(load_scenario(path))


def plain(text):
    """Return text with every gap one space, without line marks of quotations and lists."""
    return " ".join(word for word in text.split() if word not in (">", "-", "*"))


def test_three_scenarios_or_more_are_delivered():
    assert {path.stem for path in SCENARIOS} >= {"ironwood", "bench_rig", "cold_morning"}


def test_two_studies_are_delivered_and_their_titles_say_that_their_data_are_invented():
    assert {path.stem for path in STUDIES} >= {"fill_and_cap", "uncertain"}
    assert all("invented" in load_study(path).title for path in STUDIES)


@pytest.mark.parametrize("path", SCENARIOS, ids=lambda path: path.stem)
def test_scenario_says_that_its_data_are_invented(path):
    scenario = load_scenario(path)
    assert "invented" in scenario.spec.title
    comments = [line for line in path.read_text(encoding="utf-8").split("\n") if line.startswith("#")]
    assert any("invented" in line for line in comments)


@pytest.mark.parametrize("path", SCENARIOS, ids=lambda path: path.stem)
@pytest.mark.parametrize("units", ["metric", "us"])
def test_scenario_checks_without_a_warning(path, units):
    text = describe(load_scenario(path), units)
    assert "assumed" in text
    assert "warning" not in text


@pytest.mark.parametrize("path", SCENARIOS, ids=lambda path: path.stem)
def test_scenario_runs_to_its_end_and_closes_its_balances(path):
    data = race(path)
    assert data.attrs["status"] == "done"
    assert np.all(np.diff(data.time) > 0.0)
    simulated = data.drop_vars([name for name in data.data_vars if name.startswith("measured_")])
    known = simulated.where(data.pump_speed > 0.0, 0.0)  # margins are unknown while the pump stands
    assert [
        name for name in simulated.data_vars if data[name].dtype.kind == "f" and not np.all(np.isfinite(known[name]))
    ] == []
    # Oil and air are carried in flux form: rounding over some 1e5 steps. Energy: quadratures of the same steps.
    assert data.attrs["oil_balance"] < 1e-10
    assert data.attrs["air_balance"] < 1e-10
    assert data.attrs["energy_balance"] < 1e-6


@pytest.mark.parametrize("path", SCENARIOS, ids=lambda path: path.stem)
def test_scenario_stays_where_the_model_holds(path):
    data = race(path)
    assert float(data.oil_temperature.max()) < 473.15
    assert float(data.oil_temperature.min()) > 233.15
    assert float(data.headspace_pressure.min()) > 0.0
    assert float(data.oil_level.max()) < 1.0


@pytest.mark.parametrize("caution", CAUTIONS)
def test_readme_holds_every_caution(caution):
    assert plain(caution) in plain((ROOT / "README.md").read_text(encoding="utf-8"))


def test_ironwood_is_the_race_that_it_is_said_to_be():
    path = ROOT / "scenarios" / "ironwood.toml"
    spec, data = load_scenario(path).spec, race(path)
    assert spec.duty.laps == int(data.lap.max()) == 4
    assert float(data.distance[-1]) == pytest.approx(240e3, abs=1e3)  # four laps of 60 km and 7 m on the lock
    assert load_scenario(path).stops == ("first pit", "fuel pit")
    heights = (float(data.elevation.min()), float(data.elevation.max()))
    assert heights == pytest.approx((900.0, 1750.0), abs=0.5)  # rows of 1 s, 60 km/h up 140 m in 8.1 km
    ambient = data.ambient_temperature - 273.15
    assert (float(ambient.min()), float(ambient.max())) == pytest.approx((31.0, 38.0), abs=0.01)  # rows of 1 s
    assert 4.8 < float(data.time[-1]) / 3600.0 < 5.4


def test_ironwood_is_hot_but_loses_no_oil_and_overspeeds_no_pump():
    path = ROOT / "scenarios" / "ironwood.toml"
    spec, data = load_scenario(path).spec, race(path)
    assert 115.0 < float(data.oil_temperature.max()) - 273.15 < 135.0
    assert float(data.oil_lost[-1]) == 0.0
    assert int(data.event_count.where(data.event_name == "cap relief", 0).sum()) == 0
    assert float(data.pump_speed.max()) < spec.pump.maximum_speed


def test_ironwood_is_driven_unevenly_from_its_seed():
    path = ROOT / "scenarios" / "ironwood.toml"
    scenario, data = load_scenario(path), race(path)
    other = simulate(scenario.replace({"duty.seed": scenario.spec.duty.seed + 1}))
    assert np.array_equal(other.time, data.time)  # another seed takes no other time
    assert float(other.distance[-1]) == pytest.approx(float(data.distance[-1]), rel=1e-9)
    moved = float(np.abs(other.oil_temperature - data.oil_temperature).max())
    assert 0.1 < moved < 10.0  # another day on the same course, not another course
