"""One study in a directory, whatever becomes of it."""

import json
import os
import socket
import threading
from concurrent.futures import ThreadPoolExecutor

import h5py
import pytest

from study_files import CAPS, GRID, HEAD, study, write_study
from ullage.study.ledger import StudyError, open_ledger, study_in
from ullage.study.load import load_study

MORE = GRID.replace("steps = 3", "steps = 11")  # 33 members: three shards


@pytest.fixture
def ledger(tmp_path):
    return open_ledger(study(tmp_path, MORE), tmp_path / "out")


def test_a_new_directory_holds_the_identity_of_the_study_and_no_shard(ledger):
    held = json.loads((ledger.directory / "ledger.json").read_text())
    assert held["study_hash"] == ledger.study.hash
    assert (held["members"], held["shard_size"], held["shards"]) == (33, 16, 3)
    assert ledger.missing() == [0, 1, 2]
    assert not ledger.gathered
    assert ledger.progress() == "0 of 3 shards are done"


def test_a_shard_is_missing_until_its_file_is_there(ledger):
    ledger.shard_file(1).touch()
    (ledger.directory / "shards" / "000002.h5.host.1.part").touch()
    assert ledger.missing() == [0, 2]
    assert ledger.progress() == "1 of 3 shards are done"


def test_the_same_study_finds_its_directory_as_it_is(ledger, tmp_path):
    before = (ledger.directory / "ledger.json").stat().st_mtime_ns
    ledger.shard_file(0).touch()
    again = open_ledger(load_study(tmp_path / "study.toml"), str(tmp_path / "out"))
    assert again.missing() == [1, 2]
    assert (ledger.directory / "ledger.json").stat().st_mtime_ns == before


def test_another_study_is_refused(ledger, tmp_path):
    other = load_study(write_study(tmp_path, GRID, head=HEAD.replace("of a test", "of caps")))
    with pytest.raises(StudyError) as caught:
        open_ledger(other, tmp_path / "out")
    assert str(caught.value) == (
        f'{tmp_path / "out"}: holds another study, "study of a test (invented data)", or this one before it was '
        f"changed: take another directory (study {other.hash}, there {ledger.study.hash})"
    )


def test_the_same_text_with_another_table_or_other_equations_is_refused(tmp_path, monkeypatch):
    file = write_study(tmp_path, 'table = "members.csv"\n')
    (tmp_path / "members.csv").write_text("reservoir.fill\n0.8\n")
    open_ledger(load_study(file), tmp_path / "out")
    begun = "was begun by another version .* or with another table of members"
    (tmp_path / "members.csv").write_text("reservoir.fill\n0.9\n")
    with pytest.raises(StudyError, match=begun):
        open_ledger(load_study(file), tmp_path / "out")
    (tmp_path / "members.csv").write_text("reservoir.fill\n0.8\n")
    monkeypatch.setattr("ullage.study.load._CODE", "other equations")
    with pytest.raises(StudyError, match=begun):
        open_ledger(load_study(file), tmp_path / "out")


@pytest.mark.parametrize("text", ["", "{", "[]", "{}", "3", '{"study_hash": 1}'])
def test_a_ledger_that_cannot_be_read_is_said_and_left_alone(tmp_path, text):
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "ledger.json").write_text(text)
    with pytest.raises(StudyError, match=r"ledger\.json: cannot be read: .*; take another directory"):
        open_ledger(study(tmp_path), tmp_path / "out")
    assert (tmp_path / "out" / "ledger.json").read_text() == text


def test_a_directory_that_cannot_be_made_is_said(tmp_path):
    asked = study(tmp_path)
    (tmp_path / "out").write_text("a file")
    with pytest.raises(StudyError, match="out: cannot be made: "):
        open_ledger(asked, tmp_path / "out")
    (tmp_path / "folder" / "ledger.json").mkdir(parents=True)
    with pytest.raises(StudyError, match=r"ledger\.json: cannot be read: .*; take another directory"):
        open_ledger(asked, tmp_path / "folder")


def test_results_without_a_ledger_are_no_part_of_a_study(ledger, tmp_path):
    for name in ("study.nc", "shards/000000.h5"):
        folder = tmp_path / name.replace("/", "_")
        (folder / name).parent.mkdir(parents=True)
        (folder / name).write_bytes(b"results")
        with pytest.raises(StudyError, match=r"holds results without ledger\.json: take another directory"):
            open_ledger(ledger.study, folder)


def test_results_of_another_study_beside_the_ledger_are_refused(ledger):
    with h5py.File(ledger.study_file, "w") as file:
        file.attrs["study_hash"] = "another"
    with pytest.raises(StudyError, match=r"study\.nc: is of another study: take it away"):
        open_ledger(ledger.study, ledger.directory)


def test_of_two_studies_that_begin_at_once_one_has_the_directory(tmp_path):
    (tmp_path / "a").mkdir()
    (tmp_path / "b").mkdir()
    asked = [study(tmp_path / "a"), study(tmp_path / "b", CAPS)]
    for repeat in range(20):
        start = threading.Barrier(2)

        def begin(one, directory=tmp_path / str(repeat), start=start):
            start.wait()
            try:
                return open_ledger(one, directory)
            except StudyError:
                return None

        with ThreadPoolExecutor(2) as pool:
            assert [*pool.map(begin, asked)].count(None) == 1


def test_what_killed_processes_left_is_taken_away_and_what_living_ones_write_stays(ledger, tmp_path):
    here, gone = socket.gethostname(), 2**22 + 1  # above the highest number of a process
    living = [f"000000.h5.{here}.7.{os.getpid()}.part", f"000001.h5.elsewhere.7.{gone}.part", f"a.{here}.b.c.part"]
    for name in (*living, f"000000.h5.{here}.7.{gone}.part"):
        (ledger.directory / "shards" / name).touch()
    (ledger.directory / f"study.nc.{here}.7.{gone}.part").touch()
    open_ledger(load_study(tmp_path / "study.toml"), tmp_path / "out")
    assert sorted(path.name for path in (ledger.directory / "shards").iterdir()) == sorted(living)
    assert sorted(path.name for path in ledger.directory.iterdir()) == ["ledger.json", "shards"]


def test_a_worker_makes_the_study_of_a_directory_once_more(ledger, tmp_path):
    again = study_in(ledger.directory, ledger.study.hash)
    assert (again.hash, again.design) == (ledger.study.hash, ledger.study.design)
    (tmp_path / "truck.toml").write_text((tmp_path / "truck.toml").read_text().replace("16 psi", "17 psi"))
    with pytest.raises(StudyError, match=r"study\.toml: its scenario or table was changed meanwhile"):
        study_in(ledger.directory, ledger.study.hash)
