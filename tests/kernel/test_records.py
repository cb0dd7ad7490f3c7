"""Records of parameters, state and outputs, and the channel table."""

import numpy as np
import pytest

from support import channel_table
from ullage.kernel.outputs import OUTPUT_DTYPE
from ullage.kernel.params import CHANNELS, FIELDS, forcing_between, parameter_record
from ullage.kernel.state import QUADRATURES, Scratch, State, copied, empty_record, filled_record, record_dtype


def test_a_parameter_record_has_every_field_and_refuses_missing_or_unknown_ones():
    values = {name: float(place) for place, name in enumerate(FIELDS)}
    record = parameter_record(values)
    assert [getattr(record, name) for name in FIELDS] == list(values.values())
    del values["density_15"]
    with pytest.raises(ValueError, match="density_15"):
        parameter_record(values)
    with pytest.raises(ValueError, match="colour"):
        parameter_record({**values, "density_15": 870.0, "colour": 1.0})


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
