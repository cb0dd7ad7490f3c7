"""Records of parameters, state and outputs, and the channel table."""

import numpy as np
import pytest

from support import channel_table
from ullage.kernel.outputs import OUTPUT_DTYPE
from ullage.kernel.params import CHANNELS, FIELDS, PARAMETER_DTYPE, Parameters, forcing_between
from ullage.kernel.state import (
    QUADRATURES,
    Scratch,
    State,
    copied,
    empty_array,
    empty_record,
    filled_record,
    record_array,
    record_dtype,
)


def test_a_record_in_an_array_is_a_view_of_its_memory_and_empty_ones_do_not_share_theirs():
    memory = np.arange(float(len(FIELDS)))
    record = record_array(Parameters, memory)[0]
    assert [getattr(record, name) for name in FIELDS] == memory.tolist()
    record.density_15 = 870.0
    assert memory[0] == 870.0
    one, other = empty_array(Parameters), empty_array(Parameters)
    one[0].density_15 = 870.0
    assert (one["density_15"].tolist(), other["density_15"].tolist()) == ([870.0], [0.0])
    assert one.dtype == PARAMETER_DTYPE


def test_a_state_record_keeps_arrays_and_copies_do_not_share_memory():
    state = empty_record(State)
    state.temperature[:] = 300.0
    other = copied(state)
    other.temperature[0] = 400.0
    other.air_mass = 1.0
    assert state.temperature[0] == 300.0
    assert state.air_mass == 0.0


def test_a_state_has_the_values_given_in_all_places_of_an_array_and_is_zero_elsewhere():
    state = filled_record(State, {"temperature": 300.0, "cap_on": 1, "oil_mass": 9.5})
    assert (list(state.temperature), state.cap_on, state.oil_mass) == ([300.0] * 4, 1, 9.5)
    rest = set(record_dtype(State).names) - {"temperature", "cap_on", "oil_mass"}
    assert all(np.all(state[name] == 0) for name in rest)
    assert filled_record(State, {}).oil_mass == 0.0  # memory of its own


def test_quadratures_are_in_the_state_and_in_the_outputs():
    assert set(QUADRATURES) <= set(record_dtype(State).names)
    assert set(QUADRATURES) <= set(OUTPUT_DTYPE.names)


def test_scratch_holds_matrices_of_four():
    assert empty_record(Scratch).middle_matrix.shape == (4, 4)
    assert empty_record(Scratch).end_power.shape == (5,)


def test_channels_are_linear_between_rows_and_the_cap_is_that_of_the_interval():
    time = np.array([0.0, 10.0])
    table = channel_table(time, engine_speed=np.array([100.0, 200.0]), cap_on=np.array([0.0, 1.0]))
    forcing = forcing_between(table, 0, 0.25)
    assert forcing.engine_speed == pytest.approx(125.0, rel=1e-15)
    assert forcing.cap_on == 0.0
    assert forcing._fields == CHANNELS
