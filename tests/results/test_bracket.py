import json

import numpy as np
import pytest

import ullage.api
from support import truck
from ullage.api import bracket_air, simulate, simulate_with_bracket
from ullage.errors import STATUS_GAS_STEP, SimulationError
from ullage.results.store import open_results, save_results
from ullage.results.summary import summarise
from ullage.results.trace import trace_race
from ullage.results.variables import AIR_MODELS, COORDINATES, SUMMARY_FIGURES, VARIABLES

CHANGES = {
    "duty.laps": 2,
    "duty.stop": [{"name": "pit", "after_lap": 1, "duration": "5 min", "engine": "off"}],
    "event": [
        {"action": "cap off", "stop": "pit", "after": "1 min"},
        {"action": "cap on", "stop": "pit", "after": "2 min"},
    ],
}


@pytest.fixture(scope="module")
def data():
    return bracket_air(truck(CHANGES))


@pytest.mark.parametrize("model", AIR_MODELS)
def test_each_model_is_the_race_simulated_with_it(data, model):
    run = simulate(truck({**CHANGES, "air.model": model}))
    one = data.sel(air_model=model)
    for name in VARIABLES:
        assert np.array_equal(one[name].values, run[name].values, equal_nan=True), name
    assert json.loads(data.attrs["summary"])[model] == summarise(run)


def test_bracket_holds_traces_and_the_numbers_of_the_summary_that_are_no_trace(data):
    assert dict(data.sizes) == {"air_model": 3, "node": 4, "time": data.sizes["time"]}
    assert data.air_model.values.tolist() == list(AIR_MODELS) == ["frozen", "kinetic", "equilibrium"]
    assert set(data.coords) == {*COORDINATES, "node", "air_model"}
    numbers = {name for name, figure in SUMMARY_FIGURES.items() if figure.units} - set(VARIABLES) - {"distance"}
    assert set(data.data_vars) == set(VARIABLES) | numbers
    assert data.oil_temperature.dims == ("air_model", "node", "time")
    assert data.peak_oil_temperature.dims == ("air_model", "node")
    figures = json.loads(data.attrs["summary"])
    for name in numbers - {"peak_oil_temperature"}:
        assert data[name].dims == ("air_model",)
        told = [figures[model][name] for model in AIR_MODELS]
        assert np.array_equal(data[name].values, np.array(told, dtype=float), equal_nan=True)
        assert (data[name].attrs["units"], data[name].attrs["long_name"]) == SUMMARY_FIGURES[name][:2]
    for name in VARIABLES:
        assert (data[name].attrs["units"], data[name].attrs["long_name"]) == VARIABLES[name][:2]
    assert data.peak_oil_temperature.sel(air_model="frozen").values.tolist() == list(
        figures["frozen"]["peak_oil_temperature"].values()
    )


def test_air_that_never_moves_stays_and_air_that_moves_takes_the_pressure_down(data):
    dissolved = data.dissolved_air_mass
    moved = np.abs(dissolved - dissolved[:, 0]).max("time").values
    assert moved[0] == 0.0 < moved[1]
    before = data.headspace_gauge_pressure.sel(time=600.0).values
    assert before[0] > max(before[1:])


def test_race_with_the_usual_air_can_lie_outside_the_other_two():
    # Bubbles that a plunging return draws in dissolve under the pressure of the pump and come out in the tank only
    # slowly: oil beyond saturation, which neither air that never moves nor air that moves at once has.
    plunging = bracket_air(truck({"return_line.port_level": 1.0, "cap.kind": "vented"}))
    excess = (plunging.dissolved_air_pressure - plunging.headspace_pressure).isel(time=-1)
    frozen, kinetic, equilibrium = excess.values
    assert kinetic > 1e4
    assert kinetic > max(frozen, equilibrium)


def test_model_of_the_scenario_is_overridden_and_its_name_and_text_kept(data):
    frozen = truck({**CHANGES, "air.model": "frozen"})
    other = bracket_air(frozen)
    assert other.drop_attrs().identical(data.drop_attrs())
    assert other.attrs["scenario_hash"] == frozen.hash
    assert (data.attrs["scenario_hash"], data.attrs["title"]) == (truck(CHANGES).hash, "test truck (invented data)")
    assert {"air_model", "solver", "oil_balance"} & set(other.attrs) == set()


def test_figures_that_a_standing_pump_has_not_are_not_a_number():
    still = bracket_air(truck({"duty.segment.0.engine_speed": "0 rpm"}))
    assert np.isnan(still.lowest_feed_gauge_pressure.values).all()
    assert np.isfinite(still.time_turning.values).all()


def test_saved_bracket_opens_identically(data, tmp_path):
    save_results(data, tmp_path / "bracket.nc")
    assert open_results(tmp_path / "bracket.nc").identical(data)


@pytest.mark.parametrize("asked", ["kinetic", "equilibrium"])
def test_race_as_asked_comes_with_the_figures_of_all_three(data, asked):
    scenario = truck({**CHANGES, "air.model": asked})
    run, figures = simulate_with_bracket(scenario)
    assert run.drop_attrs().identical(simulate(scenario).drop_attrs())
    assert (run.attrs["scenario_hash"], run.attrs["air_model"]) == (scenario.hash, asked)
    assert figures == json.loads(data.attrs["summary"])


def only(model):
    """Return a march that fails for one model, the one whose air crosses the surface at a rate given."""

    def march(problem):
        trace = trace_race(problem)
        return (
            trace
            if problem.parameters.transfer_velocity != model
            else trace.__class__(trace.rows[:101], trace.log, trace.state, STATUS_GAS_STEP)
        )

    return march


def test_model_that_cannot_finish_stops_the_bracket_but_not_the_race_as_asked(monkeypatch):
    monkeypatch.setattr(ullage.api, "trace_race", only(0.0))  # frozen: nothing crosses
    with pytest.raises(SimulationError):
        bracket_air(truck())
    run, figures = simulate_with_bracket(truck())
    assert run.attrs["status"] == "done"
    assert {model: found["status"] == "done" for model, found in figures.items()} == {
        "frozen": False,
        "kinetic": True,
        "equilibrium": True,
    }
    with pytest.raises(SimulationError):
        simulate_with_bracket(truck({"air.model": "frozen"}))
