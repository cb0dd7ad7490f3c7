"""A study ends as the same Dataset, whoever runs it, however often it is begun, and is never done twice."""

import pytest

import ullage.study.run
from study_files import BOILING, GRID, MIXED, sample, study
from ullage.results.store import ResultsError, open_results
from ullage.study.ledger import StudyError, open_ledger
from ullage.study.run import run_shards, run_study, to_do

LOADS = '[[axis]]\nkey = "duty.segment.0.steering_load"\nvalues = ["5 bar", "15 bar", "40 bar"]\n'
FILL = '[[axis]]\nkey = "reservoir.fill"\nlow = 0.7\nhigh = 0.9\n'
TRACES = '[traces]\nvariables = ["oil_temperature", "feed_gauge_pressure"]\ninterval = "30 s"\n'
SAMPLE = sample(FILL + LOADS, 50) + TRACES


@pytest.fixture(scope="module")
def asked(tmp_path_factory):
    return study(tmp_path_factory.mktemp("study"), SAMPLE)


@pytest.fixture(scope="module")
def whole(asked, tmp_path_factory):
    folder = tmp_path_factory.mktemp("whole")
    run_study(asked, folder, workers=1)
    return folder


def bytes_of(folder):
    return (folder / "study.nc").read_bytes()


def shard_files(folder):
    return sorted((folder / "shards").iterdir())


def test_a_study_is_what_its_directory_opens_as(asked, whole):
    data = run_study(asked, whole)
    assert data.identical(open_results(whole))
    assert data.sizes["member"] == 50
    assert (data.status == "done").all()


@pytest.mark.parametrize("workers", [2, 5, None])
def test_the_result_does_not_hang_on_how_many_threads_there_are(asked, whole, tmp_path, workers):
    data = run_study(asked, tmp_path, workers=workers)
    assert data.identical(open_results(whole))
    assert [file.read_bytes() for file in shard_files(tmp_path)] == [file.read_bytes() for file in shard_files(whole)]


@pytest.mark.parametrize("lost", [[0], [1, 3], [0, 1, 2]])
def test_a_study_that_goes_on_ends_as_one_that_was_not_interrupted(asked, whole, tmp_path, lost):
    ledger = open_ledger(asked, tmp_path)
    run_shards(ledger, [shard for shard in range(asked.shards) if shard not in lost])
    kept = {file.name: file.stat().st_mtime_ns for file in shard_files(tmp_path)}
    assert ledger.missing() == lost
    assert run_study(asked, tmp_path, resume=True).identical(open_results(whole))
    assert {name: (tmp_path / "shards" / name).stat().st_mtime_ns for name in kept} == kept


def test_a_part_is_refused_without_being_asked_to_go_on(asked, tmp_path):
    run_shards(open_ledger(asked, tmp_path), [2])
    with pytest.raises(StudyError) as caught:
        run_study(asked, tmp_path)
    text = f"{tmp_path}: 1 of 4 shards are done: add --resume to go on, or take another directory"
    assert str(caught.value) == text
    assert [file.name for file in shard_files(tmp_path)] == ["000002.h5"]


def test_what_is_to_do_is_what_is_missing(asked, tmp_path):
    ledger = open_ledger(asked, tmp_path)
    assert to_do(ledger, resume=False) == [0, 1, 2, 3]
    run_shards(ledger, [1])
    assert to_do(ledger, resume=True) == [0, 2, 3]
    run_shards(ledger, [0, 2, 3])
    assert to_do(ledger, resume=False) == []


def test_finishing_twice_changes_nothing(asked, tmp_path, monkeypatch):
    run_study(asked, tmp_path)
    before = {path: (path.stat().st_mtime_ns, path.read_bytes()) for path in tmp_path.rglob("*") if path.is_file()}
    monkeypatch.setattr(ullage.study.run, "do_shard", None)  # whoever marches fails
    run_study(asked, tmp_path)
    run_study(asked, tmp_path, resume=True)
    assert {
        path: (path.stat().st_mtime_ns, path.read_bytes()) for path in tmp_path.rglob("*") if path.is_file()
    } == before


def test_another_study_does_not_touch_a_directory(asked, tmp_path):
    run_study(asked, tmp_path / "out")
    before = bytes_of(tmp_path / "out")
    (tmp_path / "other").mkdir()
    for resume in (False, True):
        with pytest.raises(StudyError, match="holds another study"):
            run_study(study(tmp_path / "other", GRID), tmp_path / "out", resume=resume)
    assert bytes_of(tmp_path / "out") == before


def test_members_that_fail_are_rows_with_status_and_sentence(tmp_path):
    data = run_study(study(tmp_path, MIXED, BOILING), tmp_path / "out")
    gone, refused = "the reservoir has run out of oil", "refused by the checks of a scenario"
    assert data.status.values.tolist() == [gone, refused, gone, "done", refused, "done"]
    assert data.sentence.values[0].startswith(f"at 11.0 s {gone}: ")
    assert data.sentence.values[1].startswith("reservoir.fill: ")
    assert data.sentence.values[3] == ""
    assert data.shaft_energy.isnull().values.tolist() == [True, True, True, False, True, False]


def test_each_shard_is_told_once(asked, tmp_path):
    told = []

    class Watcher:
        def done(self, done):
            told.append(done)

        def waiting(self, reason):
            raise AssertionError(reason)

    run_shards(open_ledger(asked, tmp_path), range(4), watcher=Watcher())
    assert sorted((done.shard, done.members, done.failed) for done in told) == [
        (0, 16, 0),
        (1, 16, 0),
        (2, 16, 0),
        (3, 2, 0),
    ]


def test_a_shard_that_cannot_be_written_ends_the_study_and_what_is_done_stays(asked, tmp_path):
    ledger = open_ledger(asked, tmp_path)
    run_shards(ledger, [0])
    ledger.shard_file(2).mkdir()
    with pytest.raises(StudyError) as caught:
        run_shards(ledger, [2], workers=1)
    assert "000002.h5: cannot be written: " in str(caught.value)
    assert str(caught.value).endswith("shards are done and stay: mend that, then go on with --resume")
    assert ledger.shard_file(0).is_file()


def test_a_damaged_shard_ends_the_gathering_and_going_on_does_it_again(asked, whole, tmp_path):
    ledger = open_ledger(asked, tmp_path)
    run_shards(ledger, range(4))
    raw = ledger.shard_file(1).read_bytes()
    ledger.shard_file(1).write_bytes(raw[: len(raw) // 2])
    with pytest.raises(ResultsError, match=r"000001\.h5: is damaged: --resume does it again"):
        run_study(asked, tmp_path)
    assert not ledger.gathered
    assert run_study(asked, tmp_path, resume=True).identical(open_results(whole))


@pytest.mark.parametrize("wrong", [{"workers": 0}, {"device": "gpu"}])
def test_what_cannot_be_had_is_refused_before_anything_is_written(asked, tmp_path, wrong):
    with pytest.raises(ValueError, match="take device 'cpu' and whole numbers from 1 on"):
        run_study(asked, tmp_path / "out", **wrong)
    assert not (tmp_path / "out").exists()


def test_a_study_that_traces_some_members_is_gathered_from_shards_without_any(tmp_path):
    some = study(tmp_path, sample(FILL, 40) + TRACES + "members = [3, 39]\n")
    data = run_study(some, tmp_path / "some")
    assert some.shards > 2
    assert data.traced_member.values.tolist() == [3, 39]
    assert bool(data.feed_gauge_pressure.notnull().all())


def test_times_of_traces_do_not_hang_on_which_member_is_refused(tmp_path):
    fans = '[[axis]]\nkey = "cooler.fan_on_temperature"\nvalues = ["{}", "{}"]\n'
    times = []
    for number, order in enumerate((("20 degC", "80 degC"), ("80 degC", "20 degC"))):
        changes = {
            "cooler.fan_air_speed": "3 m/s",
            "cooler.fan_on_temperature": "80 degC",
            "cooler.fan_off_temperature": "75 degC",
        }
        (tmp_path / str(number)).mkdir()
        asked = study(tmp_path / str(number), fans.format(*order) + TRACES, changes)
        times.append(run_study(asked, tmp_path / str(number) / "out").time.values.tolist())
    assert times[0] == times[1] == [0.0, 30.0, 60.0, 90.0, 120.0]


def test_recordings_that_an_axis_names_are_part_of_the_study(tmp_path):
    lap = "time,speed\n" + "".join(f"{second},{2000 + 10 * second}\n" for second in range(0, 61, 10))
    (tmp_path / "a.csv").write_text(lap)
    (tmp_path / "b.csv").write_text(lap.replace("2600", "2700"))
    columns = 'time = {column = "time", unit = "s"}, engine_speed = {column = "speed", unit = "rpm"}'
    head = f'[change]\nduty.segment = []\nduty.recording = {{file = "a.csv", {columns}}}\n'
    axis = '[[axis]]\nkey = "duty.recording.file"\nvalues = ["a.csv", "b.csv"]\n'
    asked = study(tmp_path, head + axis)
    assert asked.cycles == 2
    (tmp_path / "b.csv").write_text(lap.replace("2600", "2650"))
    assert study(tmp_path, head + axis).hash != asked.hash
