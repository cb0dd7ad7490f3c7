"""A member of a study is its race, marched alone, to the last bit; a damaged shard is named with a remedy."""

import dataclasses

import h5py
import numpy as np
import pytest

from study_files import BOILING, CAPS, FILLS, GRID, MIXED, sample, study
from ullage.api import simulate
from ullage.errors import STATUS_DONE, STATUS_OIL_GONE, STATUS_REFUSED, SimulationError
from ullage.results.store import ResultsError
from ullage.results.summary import summarise
from ullage.study.load import load_study
from ullage.study.shard import GivenUpError, figure_dtype, load_shard, march_shard, refusals, save_shard

NAMES = ["oil_temperature", "feed_gauge_pressure"]
TRACES = f"[traces]\nvariables = {NAMES}\ninterval = '20 s'\n"
LOADS = '[[axis]]\nkey = "duty.segment.0.steering_load"\nvalues = ["5 bar", "15 bar", "40 bar"]\n'
FILL = '[[axis]]\nkey = "reservoir.fill"\nlow = 0.7\nhigh = 0.9\n'
LAPS = '[[axis]]\nkey = "duty.laps"\nlow = 1\nhigh = 2\n'
WAYS = {
    "grid": (CAPS + FILLS + TRACES, {}),
    "grid without traces": (CAPS + FILLS, {}),
    "sample over cycles": (sample(FILL + LOADS, 20, "random") + TRACES + "members = [0, 3, 7]\n", {}),
    "races of two lengths": (sample(FILL + LAPS, 6, "latin hypercube") + TRACES, {}),
    "table": ('table = "members.csv"\n' + TRACES + "members = [1]\n", {}),
    "failing and refused": (MIXED + TRACES.replace("20 s", "4 s"), BOILING),
}


def made(folder, way):
    (folder / "members.csv").write_text("reservoir.fill,cap.kind\n0.8,sealed\n0.75,vented\n0.85,sealed\n")
    return study(folder, *WAYS[way])


def alone(asked, number):
    """Return the figures and traces of a member that is simulated alone; not numbers if it cannot be."""
    (values,) = asked.design.values(np.array([number]))
    data = simulate(asked.scenario.replace(dict(zip(asked.design.keys, values, strict=True)), bare_numbers=False))
    rows = data.sel(time=asked.traced.times[asked.traced.times <= data.time.values[-1]])
    return summarise(data), rows


@pytest.mark.parametrize("way", [way for way in WAYS if way != "failing and refused"])
def test_every_member_is_its_race_alone_to_the_last_bit(tmp_path, way):
    asked = made(tmp_path, way)
    assert sorted(asked.traced.members.tolist()) == list(asked.traced.members)
    for part in range(asked.shards):
        found = march_shard(asked, part)
        assert found.statuses.tolist() == [STATUS_DONE] * len(found.members)
        assert found.sentences == {}
        traced = [member for member in found.members.tolist() if member in asked.traced.members]
        for place, member in enumerate(found.members.tolist()):
            figures, rows = alone(asked, member)
            assert found.figures["peak_oil_temperature"][place].tolist() == [*figures["peak_oil_temperature"].values()]
            for name in set(figure_dtype().names) - {"peak_oil_temperature"}:
                value = found.figures[name][place].item()
                assert (None if value != value else value) == figures[name], name
            if member in traced:
                values = found.traces[traced.index(member)]
                until = rows.sizes["time"]
                assert np.array_equal(values[:-1, :until], rows.oil_temperature.transpose("node", "time").values)
                assert np.array_equal(values[-1, :until], rows.feed_gauge_pressure.values)
                assert np.isnan(values[:, until:]).all()


def test_races_of_two_lengths_end_where_they_end(tmp_path):
    asked = made(tmp_path, "races of two lengths")
    assert asked.traced.times.tolist() == list(np.arange(0.0, 241.0, 20.0))
    found = march_shard(asked, 0)
    laps = {number: values[1] for number, values in enumerate(asked.design.values(np.arange(6)))}
    assert set(laps.values()) == {1, 2}
    ended = np.isfinite(found.traces[:, 0]).sum(axis=1)
    assert ended.tolist() == [7 if laps[member] == 1 else 13 for member in found.members.tolist()]


@pytest.fixture(scope="module")
def failing(tmp_path_factory):
    asked = made(tmp_path_factory.mktemp("failing"), "failing and refused")
    return asked, march_shard(asked, 0)


def test_a_member_that_cannot_be_finished_is_a_row_with_its_sentence(failing):
    asked, found = failing
    by_member = dict(zip(found.members.tolist(), found.statuses.tolist(), strict=True))
    assert by_member == {
        0: STATUS_OIL_GONE, 1: STATUS_REFUSED, 2: STATUS_OIL_GONE, 3: STATUS_DONE, 4: STATUS_REFUSED, 5: STATUS_DONE
    }  # fmt: skip
    with pytest.raises(SimulationError) as caught:
        alone(asked, 0)
    assert found.sentences[0] == str(caught.value)
    assert found.sentences[1].startswith("reservoir.fill: ")
    assert sorted(found.sentences) == [0, 1, 2, 4]


def test_a_member_that_is_not_done_has_no_figures(failing):
    _, found = failing
    failed = found.statuses != STATUS_DONE
    assert all(np.isnan(found.figures[name][failed]).all() for name in figure_dtype().names)
    assert np.isfinite(found.figures["peak_oil_temperature"][~failed]).all()


def test_traces_of_a_member_that_cannot_be_finished_go_up_to_there(failing):
    asked, found = failing
    with pytest.raises(SimulationError) as caught:
        alone(asked, 0)
    partial, place = caught.value.partial, found.members.tolist().index(0)
    assert asked.traced.times[:4].tolist() == [0.0, 4.0, 8.0, 12.0]
    assert np.array_equal(found.traces[place, -1, :3], partial.feed_gauge_pressure.sel(time=[0.0, 4.0, 8.0]).values)
    assert np.isnan(found.traces[place, :, 3:]).all()
    assert np.isnan(found.traces[found.members.tolist().index(1)]).all()


def test_sound_members_beside_failing_ones_are_their_races_alone(failing):
    asked, found = failing
    for member in (3, 5):
        figures, _ = alone(asked, member)
        place = found.members.tolist().index(member)
        assert found.figures["cavitation_exposure"][place] == figures["cavitation_exposure"]
        assert found.figures["highest_headspace_gauge_pressure"][place] == figures["highest_headspace_gauge_pressure"]


def test_what_the_checks_refuse_is_known_without_a_march(failing):
    asked, found = failing
    refused = refusals(asked, np.arange(asked.members))
    assert refused == {member: found.sentences[member] for member in (1, 4)}


@pytest.mark.parametrize("way", ["grid", "grid without traces", "failing and refused"])
def test_a_shard_is_read_as_it_was_written(tmp_path, way):
    asked = made(tmp_path, way)
    found = march_shard(asked, 0)
    save_shard(found, tmp_path / "0.h5", asked.hash)
    again = load_shard(asked, 0, tmp_path / "0.h5", [*range(len(asked.traced.columns))])
    assert again.members.tolist() == found.members.tolist()
    assert again.statuses.tolist() == found.statuses.tolist()
    assert again.figures.tobytes() == found.figures.tobytes()
    assert again.sentences == found.sentences
    assert again.traces.tobytes() == found.traces.tobytes()
    assert [file.name for file in tmp_path.glob("*.part")] == []


def test_the_same_shard_is_the_same_file(tmp_path):
    asked = made(tmp_path, "failing and refused")
    for name in ("a.h5", "b.h5"):
        save_shard(march_shard(asked, 0), tmp_path / name, asked.hash)
    assert (tmp_path / "a.h5").read_bytes() == (tmp_path / "b.h5").read_bytes()


def test_a_shard_is_given_up_when_the_study_is_stopped(tmp_path):
    for way in ("grid", "grid without traces"):
        with pytest.raises(GivenUpError):
            march_shard(made(tmp_path, way), 0, lambda: True)


@pytest.fixture
def shard_file(tmp_path):
    asked = study(tmp_path, GRID)
    save_shard(march_shard(asked, 0), tmp_path / "0.h5", asked.hash)
    return tmp_path / "0.h5", asked


def spoil_bytes(file):
    raw = bytearray(file.read_bytes())
    with h5py.File(file) as inside:
        offset = inside["figures"].id.get_chunk_info(0).byte_offset
    raw[offset + 8] ^= 1
    file.write_bytes(raw)


def replace_in(file, name, values):
    with h5py.File(file, "a") as inside:
        del inside[name]
        inside[name] = values


DAMAGES = {
    "cut": lambda file: file.write_bytes(file.read_bytes()[:-1000]),
    "empty": lambda file: file.write_bytes(b""),
    "text": lambda file: file.write_text("no shard"),
    "another file": lambda file: h5py.File(file, "w").close(),
    "one bit": spoil_bytes,
    "other figures": lambda file: replace_in(file, "figures", np.zeros(9)),
    "a status of nothing": lambda file: replace_in(file, "statuses", np.full(9, 77)),
    "too few": lambda file: replace_in(file, "statuses", np.zeros(3, dtype=np.int64)),
}


@pytest.mark.parametrize("damage", DAMAGES)
def test_a_damaged_shard_is_named_with_a_remedy(shard_file, damage):
    file, asked = shard_file
    DAMAGES[damage](file)
    with pytest.raises(ResultsError) as caught:
        load_shard(asked, 0, file, [])
    assert str(caught.value).startswith(f"{file}: is damaged: --resume does it again")


def test_traces_of_another_length_are_damage(tmp_path):
    asked = made(tmp_path, "grid")
    save_shard(march_shard(asked, 0), tmp_path / "0.h5", asked.hash)
    replace_in(tmp_path / "0.h5", "traces", np.zeros((9, 1, 3)))
    with pytest.raises(ResultsError, match="is damaged: --resume does it again"):
        load_shard(asked, 0, tmp_path / "0.h5", [0])


def test_a_shard_of_another_study_is_named_with_a_remedy(shard_file):
    file, asked = shard_file
    another = dataclasses.replace(asked, hash="another")
    with pytest.raises(ResultsError, match=r"0\.h5: belongs to another study: --resume does it again"):
        load_shard(another, 0, file, [])


def test_a_shard_under_the_name_of_another_is_named_with_a_remedy(tmp_path):
    asked = study(tmp_path, sample(FILLS.replace("steps = 3\n", ""), 40))
    save_shard(march_shard(asked, 0), tmp_path / "1.h5", asked.hash)
    with pytest.raises(ResultsError, match=r"1\.h5: is another shard under this name: --resume"):
        load_shard(asked, 1, tmp_path / "1.h5", [])


def test_a_study_read_again_marches_the_same(tmp_path):
    asked = made(tmp_path, "sample over cycles")
    again = load_study(tmp_path / "study.toml")
    assert march_shard(asked, 1).figures.tobytes() == march_shard(again, 1).figures.tobytes()
