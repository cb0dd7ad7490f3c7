"""The one Dataset of a study: members by what was varied, whatever the size of the blocks in which it is written."""

import json

import numpy as np
import pytest
import xarray as xr

import ullage.study.gather
from study_files import BOILING, CAPS, FILLS, GRID, MIXED, sample, study
from ullage.kernel.state import NODES
from ullage.results.display import to_display
from ullage.results.store import open_results
from ullage.results.variables import SUMMARY_FIGURES, VARIABLES
from ullage.scenario.load import Scenario
from ullage.study.gather import gather
from ullage.study.ledger import StudyError, open_ledger
from ullage.study.load import study_of
from ullage.study.plan import StudySource
from ullage.study.run import run_shards, run_study
from ullage.study.shard import figure_dtype, march_shard

TRACES = '[traces]\nvariables = ["oil_temperature", "feed_gauge_pressure"]\ninterval = "30 s"\nmembers = [7, 2]\n'
KINDS = '[[axis]]\nkey = "cap.kind"\nvalues = ["sealed", "vented"]\n'
LAPS = '[[axis]]\nkey = "duty.laps"\nlow = 1\nhigh = 2\n'
LEVELS = '[[axis]]\nkey = "start.headspace_pressure"\nvalues = ["0 psig", "2 psig"]\n'
TEMPERATURES = '[[axis]]\nkey = "start.temperature"\nvalues = ["0 degC", "30 degC"]\n'


@pytest.fixture(scope="module")
def done(tmp_path_factory):
    """Return a study over figures, text and whole numbers, its folder, and its Dataset."""
    folder = tmp_path_factory.mktemp("done")
    asked = study(folder, CAPS + KINDS + LAPS + TRACES)
    return asked, folder / "out", run_study(asked, folder / "out")


def test_every_member_has_the_values_that_it_was_marched_with(done):
    asked, _, data = done
    values = asked.design.values(np.arange(12))
    assert data.member.values.tolist() == list(range(12))
    assert data.cap_relief_pressure_text.values.tolist() == [row[0] for row in values]
    assert data.cap_kind.values.tolist() == data.cap_kind_text.values.tolist() == [row[1] for row in values]
    assert data.duty_laps.values.tolist() == [row[2] for row in values]
    assert data.duty_laps.dtype.kind == "i"
    # NIST SP 811: 1 psi is 6.894757e3 Pa
    np.testing.assert_allclose(data.cap_relief_pressure[:4], 4 * 6894.757, rtol=1e-7)
    assert {*data.coords} == {
        "member", "node", "time", "traced_member", "cap_kind", "cap_kind_text",
        "cap_relief_pressure", "cap_relief_pressure_text", "duty_laps", "duty_laps_text",
    }  # fmt: skip
    assert data.cap_relief_pressure.attrs["key"] == "cap.relief_pressure"
    assert data.cap_relief_pressure.attrs["units"] == "Pa"


def test_every_figure_is_that_of_the_shards_with_its_unit(done):
    asked, _, data = done
    shard = march_shard(asked, 0)
    for name in figure_dtype().names:
        variable = data[name]
        assert variable.dims == (("member", "node") if name == "peak_oil_temperature" else ("member",))
        assert variable.values[shard.members].tobytes() == shard.figures[name].tobytes()
        assert variable.attrs.get("units", "") == SUMMARY_FIGURES[name].units
        assert variable.attrs["long_name"] == SUMMARY_FIGURES[name].long_name
    assert data.node.values.tolist() == list(NODES)


def test_traces_stand_by_member_in_order_and_are_no_numbers_after_the_end(done):
    asked, _, data = done
    shard = march_shard(asked, 0)
    assert data.traced_member.values.tolist() == [2, 7]
    assert data.time.values.tolist() == list(np.arange(0.0, 241.0, 30.0))
    assert data.feed_gauge_pressure.dims == ("traced_member", "time")
    assert data.oil_temperature.dims == ("traced_member", "node", "time")
    assert data.oil_temperature.attrs["units"] == VARIABLES["oil_temperature"].units == "K"
    ends = [120.0 * laps for laps in data.duty_laps.values[[2, 7]]]
    assert ends == [120.0, 240.0]
    for row, end in enumerate(ends):
        assert (np.isfinite(data.feed_gauge_pressure.values[row]) == (data.time.values <= end)).all()
    places = [member for member in shard.members.tolist() if member in (2, 7)]
    for row, member in enumerate((2, 7)):
        found = shard.traces[places.index(member)]
        assert found[:-1].tobytes() == data.oil_temperature.values[row].tobytes()
        assert found[-1].tobytes() == data.feed_gauge_pressure.values[row].tobytes()


def test_the_dataset_says_where_it_comes_from(done):
    asked, folder, data = done
    assert data.attrs["kind"] == "study"
    assert (data.attrs["title"], data.attrs["study_hash"]) == (asked.title, asked.hash)
    assert json.loads(data.attrs["sampling"]) == {"method": "grid", "members": 12, "seed": 0}
    assert json.loads(data.attrs["axes"])[0] == {"keys": ["cap.relief_pressure"], "distribution": None}
    assert study_of(StudySource(data.attrs["study_toml"], str(folder.parent / "study.toml"), {})).hash == asked.hash
    assert Scenario.from_toml(data.attrs["scenario_toml"]).hash == data.attrs["scenario_hash"] == asked.scenario.hash
    # ratings of the test truck over ambient: 2.5 bar and 1.7 bar
    assert data.attrs["tank_rating"] == pytest.approx(2.5e5, rel=1e-12)
    assert data.attrs["seal_rating"] == pytest.approx(1.7e5, rel=1e-12)
    assert data.attrs["cap_relief_pressure"] == asked.scenario.spec.cap.relief_pressure


def test_a_vented_cap_has_no_relief_pressure(tmp_path):
    data = run_study(study(tmp_path, FILLS, {"cap.kind": "vented"}), tmp_path / "out")
    assert "cap_relief_pressure" not in data.attrs


def test_a_sample_names_its_distributions(tmp_path):
    text = '[[axis]]\nkey = "reservoir.fill"\nlow = 0.7\nhigh = 0.8\ndistribution = "normal"\n'
    data = run_study(study(tmp_path, sample(text + KINDS, 5, seed=3)), tmp_path / "out")
    assert json.loads(data.attrs["sampling"]) == {"method": "sobol", "members": 5, "seed": 3}
    spreads = [each["distribution"] for each in json.loads(data.attrs["axes"])]
    assert spreads == ["normal", None]
    assert data.reservoir_fill.values.tolist() == [float(text) for text in data.reservoir_fill_text.values]


def test_a_grid_unstacks_to_its_axes(tmp_path):
    asked = study(tmp_path, GRID)
    data = run_study(asked, tmp_path / "out")
    grid = data.set_index(member=["cap_relief_pressure", "reservoir_fill"]).unstack("member")
    assert dict(grid.sizes) == {"cap_relief_pressure": 3, "reservoir_fill": 3, "node": 4}
    assert np.array_equal(grid.shaft_energy.values.ravel(), data.shaft_energy.values)
    assert np.isfinite(grid.shaft_energy).all()


def test_a_level_over_ambient_is_a_coordinate_over_ambient(tmp_path):
    data = run_study(study(tmp_path, LEVELS), tmp_path / "out")
    np.testing.assert_allclose(data.start_headspace_pressure, [0.0, 2 * 6894.757], rtol=1e-7)
    assert data.start_headspace_pressure.attrs["pressure_reference"] == "ambient"


@pytest.mark.parametrize(("system", "units", "shown"), [("metric", "degC", [0.0, 30.0]), ("us", "degF", [32.0, 86.0])])
def test_a_study_is_shown_in_the_units_of_a_crew_with_its_coordinates(tmp_path, system, units, shown):
    data = run_study(study(tmp_path, TEMPERATURES), tmp_path / "out")
    found = to_display(data, system)
    # definition of the scales; 1e-9 degrees are lost by counting from absolute zero
    np.testing.assert_allclose(found.start_temperature, shown, atol=1e-9)
    assert found.start_temperature.attrs["units"] == found.peak_oil_temperature.attrs["units"] == units
    assert found.start_temperature_text.values.tolist() == ["0 degC", "30 degC"]
    assert found.status.values.tolist() == ["done", "done"]
    assert data.start_temperature.attrs["units"] == "K"


@pytest.mark.parametrize("held", [1.0, 500.0, 1e9])
def test_the_file_does_not_hang_on_how_much_is_held(tmp_path, monkeypatch, held):
    asked = study(tmp_path, MIXED + TRACES.replace("[7, 2]", "[0, 3]"), BOILING)
    usual = run_study(asked, tmp_path / "usual")
    monkeypatch.setattr(ullage.study.gather, "_HELD", held)
    monkeypatch.setattr(ullage.study.gather, "_WRITTEN_AT_ONCE", 2 if held < 1e9 else 100)
    assert run_study(asked, tmp_path / "other").identical(usual)
    assert len([*ullage.study.gather._blocks(6)]) == {1.0: len(figure_dtype().names), 500.0: 4, 1e9: 1}[held]


def test_gathering_twice_writes_the_same(done, tmp_path):
    asked, _, data = done
    ledger = open_ledger(asked, tmp_path)
    run_shards(ledger, range(asked.shards))
    for _ in range(2):
        gather(ledger)
        assert open_results(tmp_path).identical(data)


def test_gathering_with_missing_shards_says_which(tmp_path):
    asked = study(tmp_path, GRID.replace("steps = 3", "steps = 64"))
    ledger = open_ledger(asked, tmp_path / "out")
    run_shards(ledger, [1])
    with pytest.raises(StudyError) as caught:
        gather(ledger)
    missing = "0, 2, 3, 4, 5, 6, 7, 8, 9, 10 ..."
    assert (
        str(caught.value)
        == f"{tmp_path / 'out'}: 1 of 12 shards are done, numbers {missing} (from 0) are missing: go on with --resume"
    )
    assert not ledger.gathered


def test_a_large_study_is_opened_as_it_is_asked_for_and_is_the_same(done, monkeypatch):
    _, folder, data = done
    monkeypatch.setattr("ullage.results.store.SMALL_FILE", 1.0)
    with open_results(folder) as opened:
        assert not any(opened[name]._in_memory for name in opened.data_vars)
        assert opened.shaft_energy.values.tobytes() == data.shaft_energy.values.tobytes()
        loaded = opened.load()
    assert loaded.attrs == data.attrs
    for name in data.variables:
        assert np.array_equal(loaded[name].astype(data[name].dtype), data[name], equal_nan=data[name].dtype.kind == "f")


def test_large_variables_are_packed_and_read_the_same(done, tmp_path, monkeypatch):
    asked, _, data = done
    monkeypatch.setattr(ullage.study.gather, "_PACKED", 0.0)
    assert run_study(asked, tmp_path).identical(data)
    with xr.open_dataset(tmp_path / "study.nc", engine="h5netcdf") as opened:
        assert opened.shaft_energy.encoding["zlib"]
