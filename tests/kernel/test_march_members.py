"""Members of a batch on hand-made channels: none reads or writes another, none costs memory."""

import numba
import numpy as np
import pytest
from numba.core.runtime import _nrt_python, rtsys

from support import bench, channel_table, start_at
from ullage.errors import STATUS_DONE, STATUS_NOT_A_NUMBER, STATUS_OIL_GONE
from ullage.kernel.batch import march_members
from ullage.kernel.modes import SWITCHES
from ullage.kernel.outputs import OUTPUT_DTYPE
from ullage.kernel.params import PARAMETER_DTYPE
from ullage.kernel.state import Scratch, State, empty_record, record_dtype


class Races:
    """A batch of alike trucks, warm, on a table of one row a second."""

    def __init__(self, count, seconds=60):
        b = bench({"cap.relief_pressure": "1 psi"})
        start_at(b.state, b.parameters, 330.0, 107000.0)
        self.parameters = np.array([b.parameters] * count, dtype=PARAMETER_DTYPE).view(np.recarray)
        self.states = np.array([b.state] * count, dtype=record_dtype(State)).view(np.recarray)
        self.statuses = np.full(count, STATUS_DONE)
        self.time = np.arange(seconds + 1.0)
        self.channels = channel_table(self.time, engine_speed=400.0, steering_load=3e6)
        self.scratch = empty_record(Scratch)
        self.log = np.zeros((1, len(SWITCHES), 2))
        self.row = np.recarray(1, dtype=OUTPUT_DTYPE)
        self.no_rows = np.full(len(self.time), -1)

    def march(self, members):
        records = self.parameters, self.states, self.statuses
        scratch = self.no_rows, self.row, self.log, self.scratch
        march_members(np.array(members, dtype=np.int64), *records, self.time, self.channels, *scratch)


def test_last_state_is_that_of_a_march_with_rows():
    races, alone = Races(1), bench({"cap.relief_pressure": "1 psi"})
    start_at(alone.state, alone.parameters, 330.0, 107000.0)
    races.march([0])
    _, log, status = alone.run(races.time, races.channels)
    assert races.states[0].tobytes() == alone.state.tobytes()
    assert races.statuses[0] == status == STATUS_DONE
    assert alone.state.relief_openings == log[:, 0, 0].sum() > 0


def test_only_the_members_named_are_read_and_written():
    races = Races(5)
    races.parameters.tank_outside[:] = [1.0, 2.0, 3.0, 4.0, 5.0]
    before = races.states.copy()
    races.march([3, 1])
    untouched = [0, 2, 4]
    assert races.states[untouched].tobytes() == before[untouched].tobytes()
    assert races.states[[1, 3]].time.tolist() == [60.0, 60.0]
    assert races.states[1].tobytes() != races.states[3].tobytes()


def test_member_that_fails_leaves_those_after_it_in_the_same_scratch_untouched():
    races, sound = Races(3), Races(3)
    races.states[1].oil_mass = 0.9 * 3.5e-3 * 830.0  # less than the passages hold
    sound.march([0, 1, 2])
    races.march([0, 1, 2])
    assert races.statuses.tolist() == [STATUS_DONE, STATUS_OIL_GONE, STATUS_DONE]
    assert races.states[[0, 2]].tobytes() == sound.states[[0, 2]].tobytes()


def test_member_that_has_failed_before_is_not_marched_and_has_no_extremes():
    races = Races(1)
    races.statuses[0] = STATUS_NOT_A_NUMBER
    races.march([0])
    assert (races.statuses[0], races.states[0].time) == (STATUS_NOT_A_NUMBER, 0.0)
    assert not np.isfinite(races.states[0].peak_oil_temperature).any()


@pytest.mark.skipif(bool(numba.config.DISABLE_JIT), reason="plain Python: nothing to count")
@pytest.mark.parametrize("members", [1, 30])
@pytest.mark.parametrize("seconds", [30, 300])
def test_members_and_seconds_allocate_nothing(members, seconds):
    Races(1).march([0])  # compiled and loaded
    races = Races(members, seconds)
    places = np.arange(members)
    _nrt_python.memsys_enable_stats()
    before = rtsys.get_allocation_stats().alloc
    races.march(places)
    after = rtsys.get_allocation_stats().alloc
    _nrt_python.memsys_disable_stats()
    assert races.states.time.tolist() == [float(seconds)] * members
    assert after - before <= 10  # each array argument is wrapped once on entry
