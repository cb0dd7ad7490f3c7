"""A batch is its races, one by one: the same numbers to the last bit, whoever marches them and in whatever order."""

import dataclasses
import signal
import threading
import tracemalloc

import numpy as np
import pytest
from test_summary import PUBLISHED

import ullage.results.batch
from support import truck
from ullage.api import simulate
from ullage.errors import STATUS_DONE, STATUS_NOT_A_NUMBER, STATUS_OIL_GONE, STATUSES, failure_sentence
from ullage.kernel.params import FIELDS, PARAMETER_DTYPE
from ullage.kernel.state import NODES, copied
from ullage.results.batch import Batch, Group, batch_of, batch_with, march_batch, member_figures
from ullage.results.summary import summarise
from ullage.results.trace import trace_race
from ullage.results.variables import SUMMARY_FIGURES
from ullage.scenario.compile import compile_problem, compile_problems

PIT = {"duty.segment.0.duration": "2 min", "duty.stop": [{"name": "pit", "after_lap": 1, "duration": "2 min"}]}
OPENED = [{"action": "cap off", "time": "130 s"}, {"action": "cap on", "time": "200 s"}]
LEAKING = [{"action": "fault on", "fault": "lost oil", "time": "1 min", "volume": "2 L"}]
CHANGES = [
    {},
    {"cap.relief_pressure": "1 psi", "start.headspace_pressure": "6 kPag", "reservoir.fill": 0.9},
    {"event": OPENED, "start.temperature": "70 degC"},
    {"event": OPENED, "cap.relief_pressure": "9 psi"},
    {"cap.kind": "vented"},
    {"air.model": "frozen", "reservoir.fill": 0.85},
    {"air.model": "equilibrium"},
    {"start.temperature": "-30 degC", "weather.temperature": "-30 degC"},
    {"event": [{"action": "engine off", "time": "0 s"}]},
    {"event": LEAKING},
    {"cap.relief_pressure": "13 psi"},
]
FAILING, STANDING = 9, 8


def few_litres(problem):
    """Return a race that starts with too little oil for what it will lose."""
    state = copied(problem.state)
    state.oil_mass -= 4.0
    return dataclasses.replace(problem, state=state)


@pytest.fixture(scope="module")
def scenarios():
    return [truck({**PIT, **changes}) for changes in CHANGES]


@pytest.fixture(scope="module")
def problems(scenarios):
    found = list(compile_problems(scenario.spec for scenario in scenarios))
    found[FAILING] = few_litres(found[FAILING])
    return found


@pytest.fixture(scope="module")
def batch(problems):
    return batch_of(problems)


@pytest.fixture(scope="module")
def marched(batch):
    return march_batch(batch, workers=1)


def same(one, other):
    return one.states.tobytes() == other.states.tobytes() and one.statuses.tolist() == other.statuses.tolist()


def test_members_end_as_their_races_do_alone(problems, marched):
    for place, problem in enumerate(problems):
        trace = trace_race(problem)
        assert marched.states[place].tobytes() == trace.state.tobytes()
        assert marched.statuses[place] == trace.status
    expected = [STATUS_DONE] * len(problems)
    expected[FAILING] = STATUS_OIL_GONE
    assert marched.statuses.tolist() == expected
    assert 60.0 < marched.states[FAILING].time < 130.0


def test_figures_are_those_of_each_run_to_the_last_bit(scenarios, marched):
    data = member_figures(marched)
    for place, scenario in enumerate(scenarios):
        if place == FAILING:
            continue
        figures, member = summarise(simulate(scenario)), data.isel(member=place)
        peaks = figures.pop("peak_oil_temperature")
        assert dict(zip(NODES, member.peak_oil_temperature.values.tolist(), strict=True)) == peaks
        for name in set(data.data_vars) - {"peak_oil_temperature"}:
            value = member[name].item()
            assert (None if value != value else value) == figures[name], name


def test_every_member_tells_the_published_figures(marched):
    data = member_figures(marched)
    assert set(PUBLISHED) <= set(data.data_vars)
    for name, variable in data.data_vars.items():
        assert variable.dims == (("member", "node") if name == "peak_oil_temperature" else ("member",))
        assert variable.attrs["long_name"] == SUMMARY_FIGURES[name].long_name
        assert variable.attrs.get("units", "") == SUMMARY_FIGURES[name].units
    assert data.relief_openings.dtype.kind == "i"
    assert data.relief_openings.values.max() > 0
    assert data.status.dtype.kind == "U"
    assert data.status.values[FAILING] == "the reservoir has run out of oil"
    assert set(np.delete(data.status.values, FAILING)) == {"done"}
    assert np.isnan(data.lowest_feed_gauge_pressure.values[STANDING])
    assert np.isfinite(np.delete(data.lowest_feed_gauge_pressure.values, STANDING)).all()


def test_every_status_has_its_sentence(marched):
    failed = dataclasses.replace(marched, statuses=np.array([*STATUSES, *[0] * (len(CHANGES) - len(STATUSES))]))
    texts = member_figures(failed).status.values[: len(STATUSES)].tolist()
    assert texts == [failure_sentence(status)[0] for status in STATUSES]


@pytest.mark.parametrize("workers", [1, 2, 3, 8])
@pytest.mark.parametrize("slice_size", [1, 2, 64])
def test_threads_and_slices_change_nothing(batch, marched, workers, slice_size):
    assert same(march_batch(batch, workers=workers, slice_size=slice_size), marched)


@pytest.mark.parametrize("seed", range(4))
def test_order_changes_nothing(problems, marched, seed):
    order = np.random.default_rng(seed).permutation(len(problems))
    shuffled = march_batch(batch_of([problems[place] for place in order]), workers=2, slice_size=3)
    assert shuffled.states.tobytes() == marched.states[order].tobytes()
    assert shuffled.statuses.tolist() == marched.statuses[order].tolist()


def test_batch_keeps_its_initial_states(batch, problems):
    assert all(
        state.tobytes() == problem.state.tobytes() for state, problem in zip(batch.states, problems, strict=True)
    )


def test_members_with_the_same_channels_are_a_group(batch):
    together = [group.members.tolist() for group in batch.groups]
    # what stands in the bay starts as warm as the oil
    assert together == [[0, 1, 4, 5, 6, 10], [2], [3], [7], [8], [9]]


def test_sound_members_end_the_same_beside_one_that_fails(problems, marched):
    sound = [place for place in range(len(problems)) if place != FAILING]
    without = march_batch(batch_of([problems[place] for place in sound]), workers=2)
    assert without.states.tobytes() == marched.states[sound].tobytes()


def test_one_race_with_other_parameters_is_the_other_race(problems):
    records = np.array([problems[0].parameters, problems[10].parameters], dtype=PARAMETER_DTYPE).view(np.recarray)
    varied = march_batch(batch_with(problems[0], records))
    assert same(varied, march_batch(batch_of([problems[0], problems[10]])))


def test_a_parameter_that_is_not_a_number_gives_a_status_and_no_figures(problems):
    records = np.array([problems[0].parameters] * (len(FIELDS) + 1), dtype=PARAMETER_DTYPE).view(np.recarray)
    for place, name in enumerate(FIELDS):
        records[name][place] = np.nan
    marched = march_batch(batch_with(problems[0], records))
    assert marched.statuses.tolist() == [STATUS_NOT_A_NUMBER] * len(FIELDS) + [STATUS_DONE]
    assert marched.states[-1].tobytes() == trace_race(problems[0]).state.tobytes()
    data = member_figures(marched)
    for name in ("peak_oil_temperature", "highest_oil_level", "lowest_feed_gauge_pressure", "peak_oil_time"):
        assert np.isnan(data[name].values[:-1]).all()
        assert np.isfinite(data[name].values[-1]).all()


def test_batch_without_members_has_no_rows():
    records = np.empty(0, dtype=PARAMETER_DTYPE).view(np.recarray)
    data = member_figures(march_batch(batch_with(compile_problem(truck().spec), records)))
    assert data.sizes["member"] == 0
    assert member_figures(march_batch(batch_of([]))).sizes["member"] == 0


def test_several_threads_may_march_batches_at_once(batch, marched):
    found, start = [], threading.Barrier(4)

    def work():
        start.wait(timeout=60)
        found.extend(march_batch(batch, workers=2, slice_size=2) for _ in range(5))

    threads = [threading.Thread(target=work) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(found) == 20
    assert all(same(one, marched) for one in found)


def test_progress_counts_members_to_the_last(batch):
    told = []
    march_batch(batch, workers=2, slice_size=2, progress=lambda done, members: told.append((done, members)))
    assert [members for _, members in told] == [11] * len(told)
    assert [done for done, _ in told] == sorted({done for done, _ in told})
    assert told[-1] == (11, 11)


def test_interrupt_ends_the_batch_between_slices(problems, monkeypatch):
    counted, heard = [], threading.Event()
    march = ullage.results.batch.march_members

    def counting(members, *rest):
        counted.append(len(members))
        if sum(counted) > 1:
            heard.wait(timeout=60)
        march(members, *rest)

    def interrupt(*_):
        heard.set()
        signal.raise_signal(signal.SIGINT)

    monkeypatch.setattr(ullage.results.batch, "march_members", counting)
    many = batch_of([problems[0]] * 500)
    before = threading.active_count()
    with pytest.raises(KeyboardInterrupt):
        march_batch(many, workers=1, slice_size=1, progress=interrupt)
    assert 1 <= sum(counted) < 500  # not the whole batch: the thread goes on until the signal is heard
    assert threading.active_count() == before


def test_memory_does_not_grow_with_the_length_of_the_race():
    peaks = []
    for duration in ("2 min", "20 min"):
        problem = compile_problem(truck({"duty.segment.0.duration": duration}).spec)
        records = np.repeat(np.array([problem.parameters], dtype=PARAMETER_DTYPE), 20).view(np.recarray)
        batch = batch_with(problem, records)
        march_batch(batch, workers=1)
        tracemalloc.start()
        march_batch(batch, workers=1)
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
    rows = 8 * 18 * 60  # bytes of the eighteen minutes of table rows that are told that nothing is kept
    assert peaks[1] < peaks[0] + rows + 4096  # a page for Python's own objects


def test_groups_may_interleave(problems, marched):
    batch = batch_of(problems)
    groups = tuple(Group(group.table, group.members[::-1].copy()) for group in reversed(batch.groups))
    assert same(march_batch(Batch(batch.parameters, batch.states, groups), slice_size=2), marched)


@pytest.mark.parametrize("wrong", [{"workers": 0}, {"workers": -1}, {"slice_size": 0}, {"slice_size": -1}])
def test_a_batch_without_a_thread_or_a_slice_is_refused_and_not_called_done(batch, wrong):
    (name,) = wrong
    with pytest.raises(ValueError, match=f"{name} is {wrong[name]}.* from 1 on"):
        march_batch(batch, **wrong)


def test_an_empty_batch_has_figures_of_no_member():
    assert member_figures(march_batch(batch_of([]))).sizes["member"] == 0


def test_every_other_record_of_an_array_makes_a_batch(problems):
    records = np.array([problems[place].parameters for place in (0, 4, 10)], dtype=PARAMETER_DTYPE).view(np.recarray)
    together = march_batch(batch_with(problems[0], records[::2]))
    assert same(together, march_batch(batch_of([problems[0], problems[10]])))


@pytest.mark.parametrize("members", [[0], [0, 1, 1], [0, 2]])
def test_a_member_that_is_not_in_just_one_group_is_refused_and_not_called_done(problems, members):
    two = batch_of(problems[:2])
    with pytest.raises(ValueError, match="one group"):
        march_batch(Batch(two.parameters, two.states, (Group(problems[0].table, np.array(members)),)))
