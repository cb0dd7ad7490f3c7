import os
import re
import socket
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import xarray as xr

from support import truck
from ullage.api import simulate
from ullage.errors import UllageError
from ullage.results.store import ResultsError, open_results, remove_left_parts, save_results, save_text, written_whole
from ullage.results.variables import FORMAT_VERSION


@pytest.fixture(scope="module", params=["events", "no event"])
def data(request):
    events = [{"action": "cap off", "time": "8 min"}, {"action": "engine off", "time": "9 min"}]
    return simulate(truck({"event": events if request.param == "events" else []}))


def names(folder):
    """Return the names of the files in a folder."""
    return sorted(path.name for path in folder.iterdir())


def test_saved_results_open_identically(data, tmp_path):
    save_results(data, tmp_path / "run.nc")
    opened = open_results(str(tmp_path / "run.nc"))
    assert opened.identical(data)
    assert opened.attrs == data.attrs
    for name in data.variables:
        assert opened[name].dims == data[name].dims
        assert list(opened[name].attrs) == list(data[name].attrs)
    assert names(tmp_path) == ["run.nc"]


def test_every_variable_keeps_its_type(data, tmp_path):
    save_results(data, tmp_path / "run.nc")
    opened = open_results(tmp_path / "run.nc")
    assert {name: opened[name].dtype for name in opened.variables} == {
        name: data[name].dtype for name in data.variables
    }


@pytest.mark.parametrize("small", [1e9, 0.0], ids=["small file", "large file"])
def test_file_is_netcdf_that_others_can_read_and_packed_if_it_is_large(data, tmp_path, monkeypatch, small):
    monkeypatch.setattr("ullage.results.store.SMALL_FILE", small)
    save_results(data, tmp_path / "run.nc")
    assert (tmp_path / "run.nc").read_bytes()[:4] == b"\x89HDF"
    with xr.open_dataset(tmp_path / "run.nc", engine="h5netcdf") as opened:
        assert np.array_equal(opened.oil_temperature, data.oil_temperature)
        assert opened.oil_temperature.encoding["zlib"] == (small == 0.0)


def test_saving_again_replaces_the_file(data, tmp_path):
    save_results(data.isel(time=slice(0, 10)), tmp_path / "run.nc")
    first = (tmp_path / "run.nc").stat().st_ino
    save_results(data, tmp_path / "run.nc")
    assert (tmp_path / "run.nc").stat().st_ino != first  # another file took its place in one step
    assert open_results(tmp_path / "run.nc").sizes["time"] == data.sizes["time"]
    assert names(tmp_path) == ["run.nc"]


def test_opened_results_do_not_hold_the_file(data, tmp_path):
    save_results(data, tmp_path / "run.nc")
    opened = open_results(tmp_path / "run.nc")
    (tmp_path / "run.nc").unlink()
    assert opened.identical(data)


@pytest.mark.parametrize("error", [OSError("disk full"), KeyboardInterrupt()])
def test_interrupted_writing_leaves_the_old_file_and_no_part(data, tmp_path, monkeypatch, error):
    save_results(data, tmp_path / "run.nc")
    before = (tmp_path / "run.nc").read_bytes()

    def half_written(_, path, **others):
        assert others["engine"] == "h5netcdf"
        Path(path).write_bytes(before[: len(before) // 2])
        raise error

    monkeypatch.setattr(xr.Dataset, "to_netcdf", half_written)
    expected = ResultsError if isinstance(error, OSError) else KeyboardInterrupt
    with pytest.raises(expected) as caught:
        save_results(data.isel(time=slice(0, 10)), tmp_path / "run.nc")
    assert expected is KeyboardInterrupt or str(caught.value) == f"{tmp_path / 'run.nc'}: cannot be written: disk full"
    assert names(tmp_path) == ["run.nc"]
    assert (tmp_path / "run.nc").read_bytes() == before


@pytest.mark.parametrize("place", ["none/run.nc", "file/run.nc", "folder"])
def test_place_that_cannot_be_written_is_a_results_error(data, tmp_path, place):
    (tmp_path / "file").write_text("x")
    (tmp_path / "folder").mkdir()
    with pytest.raises(ResultsError, match="cannot be written"):
        save_results(data, tmp_path / place)
    assert names(tmp_path) == ["file", "folder"]


def test_results_of_a_newer_format_are_refused(data, tmp_path):
    save_results(data.assign_attrs(format_version=FORMAT_VERSION + 1), tmp_path / "new.nc")
    with pytest.raises(ResultsError, match="has format 2; this version reads up to 1: update ullage"):
        open_results(tmp_path / "new.nc")


def test_file_that_is_no_result_is_refused(data, tmp_path):
    (tmp_path / "text.nc").write_text("no results")
    (tmp_path / "empty.nc").write_bytes(b"")
    xr.Dataset({"x": ("y", [1.0])}).to_netcdf(tmp_path / "other.nc", engine="h5netcdf")
    save_results(data, tmp_path / "run.nc")
    whole = (tmp_path / "run.nc").read_bytes()
    (tmp_path / "cut.nc").write_bytes(whole[: len(whole) // 2])
    for name in ("text.nc", "empty.nc", "cut.nc", "none.nc"):
        with pytest.raises(ResultsError, match="cannot be read"):
            open_results(tmp_path / name)
    with pytest.raises(ResultsError, match="is not a result file of ullage"):
        open_results(tmp_path / "other.nc")
    assert issubclass(ResultsError, UllageError)


def test_a_folder_of_a_run_opens_and_a_missing_file_is_said_in_words(tmp_path):
    data = simulate(truck())
    save_results(data, tmp_path / "run.nc")
    assert open_results(tmp_path).sizes == data.sizes
    with pytest.raises(ResultsError, match="no such file"):
        open_results(tmp_path / "other.nc")


def test_a_folder_of_a_study_that_is_not_gathered_says_what_to_do(tmp_path):
    (tmp_path / "ledger.json").write_text("{}")
    with pytest.raises(ResultsError) as caught:
        open_results(tmp_path)
    text = "holds a study that is not gathered yet: go on with --resume, or --gather its shards"
    assert str(caught.value) == f"{tmp_path}: {text}"


def test_a_folder_opens_as_its_study_before_its_run(data, tmp_path):
    save_results(data, tmp_path / "run.nc")
    save_results(data.assign_attrs(title="study"), tmp_path / "study.nc")
    assert open_results(tmp_path).attrs["title"] == "study"


def test_a_large_run_is_in_memory_and_a_large_study_is_not(data, tmp_path, monkeypatch):
    save_results(data, tmp_path / "run.nc")
    save_results(data.assign_attrs(kind="study"), tmp_path / "study.nc")
    monkeypatch.setattr("ullage.results.store.SMALL_FILE", 0.0)
    assert open_results(tmp_path / "run.nc").oil_temperature._in_memory
    with open_results(tmp_path / "study.nc") as opened:
        assert not opened.oil_temperature._in_memory
        assert np.array_equal(opened.oil_temperature, data.oil_temperature)


def test_what_is_written_appears_only_when_it_is_complete(tmp_path):
    with written_whole(tmp_path / "a.txt") as part:
        part.write_text("half")
        assert names(tmp_path) == [part.name]
        assert re.fullmatch(rf"a\.txt\.{socket.gethostname()}\.[0-9]+\.{os.getpid()}\.part", part.name)
    assert names(tmp_path) == ["a.txt"]
    save_text("whole", tmp_path / "a.txt")
    assert (tmp_path / "a.txt").read_text() == "whole\n"


def test_parts_of_dead_processes_go_and_those_of_living_ones_and_of_other_machines_stay(tmp_path):
    dead = subprocess.Popen([sys.executable, "-c", ""])
    dead.wait()
    here = socket.gethostname()
    stay = [
        f"a.h5.{here}.7.{os.getpid()}.part",
        f"a.h5.{here}.7.1.part",
        f"a.h5.elsewhere.7.{dead.pid}.part",
        f"a.h5.{here}.b.c.part",
        "a.h5",
        "a.part",
    ]
    for name in (*stay, f"a.h5.{here}.7.{dead.pid}.part"):
        (tmp_path / name).touch()
    remove_left_parts(tmp_path)
    assert names(tmp_path) == sorted(stay)
