import json
from types import SimpleNamespace

import numpy as np
import pytest

from measured_support import PSI, with_log
from support import truck
from ullage.api import bracket_air, simulate
from ullage.kernel.state import NODES
from ullage.results.display import to_display
from ullage.results.measured import measured_on_rows, misfits
from ullage.results.store import open_results, save_results
from ullage.results.summary import summarise, summary_json
from ullage.results.variables import MEASURED_VARIABLES

ALTITUDE = {"start.elevation": "2500 m"}
SHORT = {"duty.segment.0.duration": "2 min"}


@pytest.fixture(scope="module")
def bare():
    return simulate(truck())


def misfit(data, name, node=None):
    """Return a misfit of a race."""
    found = summarise(data)["misfit"][name]
    return found[node] if node else found


def test_log_of_the_run_itself_fits_to_rounding(bare, tmp_path):
    columns = {"t": bare.time.values, "feed": bare.feed_gauge_pressure.values, "tank": bare.oil_temperature.values[0]}
    mapped = {"feed_gauge_pressure": ("feed", "Pa gauge"), "reservoir_temperature": ("tank", "K")}
    data = simulate(with_log(tmp_path, columns, **mapped))
    # a float has 16 digits; the file holds all of them, units and lines between rows lose a few of the last
    for found, scale in (
        (misfit(data, "feed_gauge_pressure"), 1e5),
        (misfit(data, "oil_temperature", NODES[0]), 300.0),
    ):
        assert found["rows"] == len(bare.time)
        assert abs(found["largest"]) < 1e-12 * scale
        assert found["root_mean_square"] <= abs(found["largest"])


def test_log_that_reads_a_psi_low_misfits_by_a_psi(bare, tmp_path):
    columns = {"t": bare.time.values, "feed": bare.feed_gauge_pressure.values / PSI - 1.0}
    found = misfit(simulate(with_log(tmp_path, columns, feed_gauge_pressure=("feed", "psig"))), "feed_gauge_pressure")
    for figure in ("mean", "root_mean_square", "largest"):
        assert found[figure] == pytest.approx(PSI, rel=1e-9)  # rounding of sums over 601 rows


def test_sign_time_and_lap_of_the_largest_are_those_of_the_worst_row(tmp_path):
    changes = {"duty.laps": 2}
    data = simulate(truck(changes))
    feed = data.feed_gauge_pressure.values.copy()
    feed[np.searchsorted(data.time.values, 700.0)] += 5e3
    columns = {"t": data.time.values, "feed": feed}
    found = misfit(
        simulate(with_log(tmp_path, columns, changes, feed_gauge_pressure=("feed", "Pa gauge"))), "feed_gauge_pressure"
    )
    assert found["largest"] == pytest.approx(-5e3, abs=1e-6)
    assert (found["largest_time"], found["largest_lap"]) == (700.0, 2)
    assert found["mean"] == pytest.approx(-5e3 / found["rows"], rel=1e-6)
    assert found["root_mean_square"] == pytest.approx(5e3 / found["rows"] ** 0.5, rel=1e-6)


@pytest.mark.parametrize("name", ["feed_gauge_pressure", "headspace_gauge_pressure", "supply_pressure"])
@pytest.mark.parametrize("unit", ["Pa abs", "Pa gauge"])
def test_gauge_and_absolute_sensors_meet_at_altitude_by_the_simulated_ambient_pressure(tmp_path, name, unit):
    data = simulate(truck(ALTITUDE | SHORT))
    assert float(data.ambient_pressure.max()) < 80e3
    absolute = data[name] if name == "supply_pressure" else data[name] + data.ambient_pressure
    said = absolute if unit == "Pa abs" else absolute - data.ambient_pressure
    columns = {"t": data.time.values, "p": said.values}
    again = simulate(with_log(tmp_path, columns, ALTITUDE | SHORT, **{name: ("p", unit)}))
    assert abs(misfit(again, name)["largest"]) < 1e-6  # rounding of some 1e7 Pa at most
    assert again[f"measured_{name}"].attrs["pressure_reference"] == data[name].attrs["pressure_reference"]


def test_vacuum_in_inches_of_mercury_is_below_ambient(tmp_path):
    columns = {"t": [0.0, 120.0], "p": [2.0, 2.0]}
    data = simulate(with_log(tmp_path, columns, SHORT, feed_gauge_pressure=("p", "inHg vac")))
    known = data.measured_feed_gauge_pressure.dropna("time")
    assert known.values == pytest.approx([-2.0 * 3386.389] * 2, rel=1e-12)


def test_oil_is_measured_at_nodes_that_have_a_sensor_and_nowhere_else(bare, tmp_path):
    columns = {"t": bare.time.values, "pump": bare.oil_temperature.sel(node="pump").values - 273.15}
    data = simulate(with_log(tmp_path, columns, pump_temperature=("pump", "degC")))
    assert data.measured_oil_temperature.dims == ("node", "time")
    known = np.isfinite(data.measured_oil_temperature).all("time")
    assert known.values.tolist() == [node == "pump" for node in NODES]
    assert np.isfinite(data.measured_oil_temperature).any("time").values.tolist() == known.values.tolist()
    assert list(summarise(data)["misfit"]["oil_temperature"]) == ["pump"]


def test_finer_log_counts_with_its_mean_about_a_row(tmp_path):
    time = np.arange(0.0, 120.0 + 0.01, 0.1)
    columns = {"t": time, "c": 60.0 + np.where(np.arange(len(time)) % 2, 1.0, -1.0)}
    data = simulate(with_log(tmp_path, columns, SHORT, reservoir_temperature=("c", "degC")))
    inner = data.measured_oil_temperature.sel(node="reservoir").values[1:-1] - 273.15
    assert inner == pytest.approx(60.0, abs=1e-9)  # a zigzag about 60, five to and five fro about each row


def test_coarser_log_is_a_line_between_its_rows_and_nothing_outside_them(tmp_path):
    columns = {"t": [0.0, 5.0, 10.0], "c": [20.0, 30.0, 10.0]}
    data = simulate(with_log(tmp_path, columns, SHORT, reservoir_temperature=("c", "degC"), starts_at="20 s"))
    said = data.measured_oil_temperature.sel(node="reservoir").values - 273.15
    at = {second: said[np.searchsorted(data.time.values, second)] for second in (20, 22, 25, 28, 30)}
    assert [*at.values()] == pytest.approx([20.0, 24.0, 30.0, 18.0, 10.0], abs=1e-9)
    assert np.isnan(said[(data.time < 20.0) | (data.time > 30.0)]).all()
    assert misfit(data, "oil_temperature", "reservoir")["rows"] == 11


def test_no_line_goes_over_a_gap_of_the_log(tmp_path):
    columns = {"t": [*range(0, 31), *range(60, 91)], "c": [50.0] * 62}
    data = simulate(with_log(tmp_path, columns, SHORT, reservoir_temperature=("c", "degC"), longest_gap="10 s"))
    known = np.isfinite(data.measured_oil_temperature.sel(node="reservoir").values)
    inside = (data.time.values <= 30.0) | ((data.time.values >= 60.0) & (data.time.values <= 90.0))
    assert (known == inside).all()


def test_readings_that_are_written_down_stand_alone_and_no_thinning_takes_them_away(tmp_path):
    times = [13.3, 73.3, 133.3, 700.0]
    columns = {"t": times, "p": [1.0, 2.0, 3.0, 4.0]}
    changes = {"output.interval": "1 min"}
    data = simulate(with_log(tmp_path, columns, changes, feed_gauge_pressure=("p", "psig"), starts_at="13.3 s"))
    known = data.measured_feed_gauge_pressure.dropna("time")
    assert known.time.values.tolist() == [13.0, 73.0, 133.0]  # the fourth is after the race
    assert known.values == pytest.approx(PSI * np.array([1.0, 2.0, 3.0]), rel=1e-9)
    assert misfit(data, "feed_gauge_pressure")["rows"] == 3


@pytest.mark.parametrize("known", [[], [40], [40, 41]])
def test_sensor_with_hardly_a_reading_has_those_and_no_more(known):
    said = np.full(101, np.nan)
    said[known] = 5.0
    time = np.arange(101.0)
    log = SimpleNamespace(time=time, channels={"headspace_temperature": said}, columns={})
    measured = SimpleNamespace(log=log, starts_at=0.0, longest_gap=10.0, over_ambient=lambda _name: 0)
    laid = measured_on_rows(measured, time, np.zeros(101))
    values = laid.variables["measured_headspace_temperature"][1]
    assert np.flatnonzero(np.isfinite(values)).tolist() == known
    assert np.flatnonzero(laid.readings).tolist() == (known if len(known) == 1 else [])


def test_longest_gap_says_what_is_a_line_and_what_stands_alone(tmp_path):
    columns = {"t": [0.0, 20.0, 40.0, 100.0], "p": [1.0, 2.0, 3.0, 4.0]}
    mapped = {"feed_gauge_pressure": ("p", "psig")}
    for gap, rows in (("10 s", [0, 20, 40, 100]), ("20 s", [*range(41), 100]), ("1 min", [*range(101)])):
        data = simulate(with_log(tmp_path, columns, SHORT, longest_gap=gap, **mapped))
        assert data.measured_feed_gauge_pressure.dropna("time").time.values.tolist() == rows


def test_thinning_takes_rows_of_a_log_away_and_leaves_its_misfit(bare, tmp_path):
    columns = {"t": bare.time.values, "p": np.sin(bare.time.values)}
    mapped = {"headspace_gauge_pressure": ("p", "psig")}
    whole = simulate(with_log(tmp_path, columns, **mapped))
    thin = simulate(with_log(tmp_path, columns, {"output.interval": "10 s"}, **mapped))
    assert thin.sizes["time"] == 61
    same = whole.measured_headspace_gauge_pressure.sel(time=thin.time)
    assert np.array_equal(same, thin.measured_headspace_gauge_pressure)
    assert misfit(whole, "headspace_gauge_pressure") == misfit(thin, "headspace_gauge_pressure")


def test_measured_values_change_nothing_that_is_simulated(bare, tmp_path):
    columns = {"t": bare.time.values, "p": np.sin(bare.time.values)}
    data = simulate(with_log(tmp_path, columns, feed_gauge_pressure=("p", "psig")))
    assert set(data.data_vars) - set(bare.data_vars) == {"measured_feed_gauge_pressure"}
    for name in bare.data_vars:
        assert np.array_equal(data[name], bare[name], equal_nan=data[name].dtype.kind == "f"), name


def test_race_without_sensors_has_no_misfit(bare):
    assert summarise(bare)["misfit"] == {}
    assert not set(MEASURED_VARIABLES) & set(bare.data_vars)


def test_everything_measured_survives_the_file_and_is_shown_in_the_units_of_a_crew(bare, tmp_path):
    columns = {"t": bare.time.values[:301], "p": np.full(301, 5.0), "f": np.full(301, 212.0)}
    mapped = {
        "feed_gauge_pressure": ("p", "psig"),
        "cooler_temperature": ("f", "degF"),
        "ambient_temperature": ("f", "degF"),
    }
    data = simulate(with_log(tmp_path, columns, **mapped))
    save_results(data, tmp_path / "run.nc")
    again = open_results(tmp_path / "run.nc")
    for name in ("measured_feed_gauge_pressure", "measured_oil_temperature", "measured_ambient_temperature"):
        assert np.array_equal(again[name], data[name], equal_nan=True)
        assert again[name].attrs == data[name].attrs
        assert again[name].attrs["long_name"] == MEASURED_VARIABLES[name].long_name
    shown = to_display(again, "us")
    assert float(shown.measured_feed_gauge_pressure[7]) == pytest.approx(5.0, rel=1e-12)
    assert float(shown.measured_oil_temperature.sel(node="cooler")[7]) == pytest.approx(212.0, rel=1e-12)


def test_json_of_the_summary_has_no_value_that_json_does_not_have(bare, tmp_path):
    columns = {"t": bare.time.values[:61], "c": np.full(61, 30.0)}
    scenario = with_log(tmp_path, columns, pump_temperature=("c", "degC"))
    text = summary_json(simulate(scenario), {})

    def refuse(constant):
        raise AssertionError(constant)

    assert json.loads(text, parse_constant=refuse)["misfit"]["oil_temperature"]["pump"]["rows"] == 61


def test_each_model_of_the_air_has_a_misfit_of_its_own(bare, tmp_path):
    columns = {"t": bare.time.values, "p": bare.headspace_gauge_pressure.values}
    data = bracket_air(with_log(tmp_path, columns, headspace_gauge_pressure=("p", "Pa gauge")))
    found = {model: figures["misfit"]["headspace_gauge_pressure"] for model, figures in summarise(data).items()}
    assert found["kinetic"]["root_mean_square"] < 1e-6  # the log is that of this race, to rounding
    assert min(found[model]["root_mean_square"] for model in ("frozen", "equilibrium")) > 100.0


def test_race_that_stops_before_its_first_sensor_reading_says_that_it_has_none(bare, tmp_path):
    columns = {"t": bare.time.values, "p": np.full(len(bare.time), 3.0)}
    scenario = with_log(tmp_path, columns, feed_gauge_pressure=("p", "psig"), starts_at="10 s")
    for rows in (1, 5):
        time = bare.time.values[:rows]
        laid = measured_on_rows(scenario.spec.measured, time, bare.ambient_pressure.values[:rows])
        assert np.isnan(laid.variables["measured_feed_gauge_pressure"][1]).all()
        stopped = bare.isel(time=slice(rows)).assign(laid.variables)
        assert misfits(stopped) == {
            "feed_gauge_pressure": {
                "rows": 0,
                **dict.fromkeys(("mean", "root_mean_square", "largest", "largest_time", "largest_lap")),
            }
        }
