"""The march as a whole: splitting, jumps, events, failures, balances."""

import numba
import numpy as np
import pytest
from numba.core.runtime import _nrt_python, rtsys

from support import bench, channel_table, start_at
from ullage.errors import STATUS_DONE, STATUS_NOT_A_NUMBER, STATUS_OIL_GONE
from ullage.kernel.march import march
from ullage.kernel.modes import empty_log
from ullage.kernel.outputs import OUTPUT_DTYPE
from ullage.kernel.params import CHANNEL_INDEX
from ullage.kernel.setting import begin
from ullage.kernel.state import Scratch, State, copied, empty_record, record_dtype
from ullage.results.balance import audit


def race(end=300, opened=None, **values):
    """Return a race with varying channels; the cap is off between two times, with a jump at both."""
    time = np.arange(0.0, end + 1.0)
    if opened:
        time = np.sort(np.concatenate([time, opened]))
    driven = {
        "engine_speed": 400.0 + 100.0 * np.sin(time / 9.0),
        "steering_load": 20e5 + 15e5 * np.sin(time / 4.0),
        "vehicle_speed": 15.0,
        "bay_temperature": 320.0,
        "block_temperature": 350.0,
    }
    channels = channel_table(time, **{**driven, **values})
    if opened:
        first = np.flatnonzero(time == opened[0])[1]
        last = np.flatnonzero(time == opened[1])[0]
        channels[first : last + 1, CHANNEL_INDEX["cap_on"]] = 0.0
    return time, channels


def warm_bench(changes=None, factor=1.0):
    b = bench(changes, factor)
    start_at(b.state, b.parameters, 340.0, 150e3)
    return b


def in_one_go(b, time, channels):
    """Return the bench and the rows of a race that is not split."""
    whole = b()
    out, _, status = whole.run(time, channels)
    assert status == STATUS_DONE
    return whole, out


def moved_by_a_split(b, time, channels, split, whole, out):
    """Run a race in two, and return every output and every part of the end that differs from one go in any bit."""
    halves = b()
    before, _, _ = halves.run(time, channels, rows=(0, split))
    halves.state = copied(halves.state)
    after, _, _ = halves.run(time, channels, rows=(split, len(time) - 1))
    rows = np.flatnonzero(np.diff(time, prepend=-1.0) > 0.0)
    first, second = rows[rows <= split], rows[rows > split]

    def same(name):
        joined = np.concatenate([before[name][first], after[name][second]])
        return np.array_equal(joined, out[name][rows], equal_nan=True)

    moved = [name for name in OUTPUT_DTYPE.names if not same(name)]
    ends = [[getattr(one.state, name) for one in (halves, whole)] for name in record_dtype(State).names]
    return moved + [
        name
        for name, end in zip(record_dtype(State).names, ends, strict=True)
        if not np.array_equal(*end, equal_nan=True)
    ]


@pytest.mark.parametrize("split", [3, 100, 101, 102, 131, 299])
def test_a_race_split_in_two_is_the_same_to_the_last_bit(split):
    opened = race(opened=(100.0, 130.0))
    assert moved_by_a_split(warm_bench, *opened, split, *in_one_go(warm_bench, *opened)) == []


def rough_race():
    """Return a race over jumps, ten rows a second, in which fault follows fault, with jumps where they begin."""
    starts = [10.0, 20.0, 25.0, 30.0, 40.0]
    time = np.sort(np.concatenate([np.arange(0, 601) / 10.0, starts]))
    channels = channel_table(
        time,
        engine_speed=400.0 + 100.0 * np.sin(time),
        steering_load=20e5 + 15e5 * np.sin(time / 4.0),
        steering_position=np.sin(time / 3.0),
        vehicle_speed=15.0,
        forward_acceleration=6.0 * np.sin(time / 1.7),
        left_acceleration=4.0 * np.sin(time / 2.3),
        upward_acceleration=10.5 * np.sin(1.9 * time),  # airborne where it is below -0.8 g
        bay_temperature=320.0,
    )
    faults = {
        10.0: {"leak_area": 1e-7, "strainer_factor": 40.0},
        20.0: {"water_content": 5e-4, "drain_flow": 5e-3, "relief_stuck": 1.0},
        25.0: {"cap_on": 0.0},
        30.0: {"mark_fills": 1.0},
        40.0: {"cap_on": 1.0, "vacuum_stuck": -1.0, "relief_stuck": 0.0, "core_blockage": 0.8, "bore_share": 0.6},
    }
    for start, changed in faults.items():
        for name, value in changed.items():
            channels[np.flatnonzero(time == start)[1] :, CHANNEL_INDEX[name]] = value
    return time, channels


def rough_bench():
    b = bench(
        {"return_line.entrainment": 0.002, "reservoir.outlet_forward": "0.1 m", "feed_line.pump_forward": "0.6 m"}
    )
    b.parameters.inertia_length = b.parameters.feed_length
    b.state.trapped_air = 5e-5
    start_at(b.state, b.parameters, 340.0, 150e3)
    return b


@pytest.fixture(scope="module")
def rough():
    """Return the rough race in one go."""
    return in_one_go(rough_bench, *rough_race())


@pytest.mark.parametrize("split", [1, 101, 254, 304, 305, 306, 500])
def test_a_race_with_bubbles_jumps_and_faults_split_in_two_is_the_same_to_the_last_bit(split, rough):
    assert moved_by_a_split(rough_bench, *rough_race(), split, *rough) == []
    out = rough[1]
    # it has all of that in it
    assert out.free_air_mass.max() > 1e-5
    assert out.inlet_void_fraction.max() > 0.3
    assert out.trapped_air_mass[-1] < 0.9 * out.trapped_air_mass[0]
    assert out.oil_lost[-1] > 0.1


def test_balances_close_over_jumps_and_faults(rough):
    b, out = rough
    time = rough_race()[0]
    balances = audit(b.parameters, out[np.flatnonzero(np.diff(time, prepend=-1.0) > 0.0)])
    assert balances.oil < 1e-10
    assert balances.air < 1e-10
    assert balances.energy < 1e-6


def test_halving_the_rows_does_not_change_the_race():
    time, channels = race()
    coarse, _, _ = warm_bench().run(time, channels)
    fine_time = np.linspace(0.0, 300.0, 601)
    fine_channels = np.column_stack([np.interp(fine_time, time, column) for column in channels.T])
    fine, _, _ = warm_bench().run(fine_time, fine_channels)
    # half the accuracy that is promised, 0.02 K and 50 Pa
    np.testing.assert_allclose(fine.oil_temperature[::2], coarse.oil_temperature, atol=0.01)
    np.testing.assert_allclose(fine.headspace_pressure[::2], coarse.headspace_pressure, atol=25.0)


def test_rows_far_apart_are_marched_in_steps_that_resolve_them():
    time = np.array([0.0, 600.0, 1200.0])
    steady = {"engine_speed": 450.0, "steering_load": 40e5, "vehicle_speed": 10.0}
    coarse, _, _ = warm_bench().run(time, channel_table(time, **steady))
    every = np.linspace(0.0, 1200.0, 1201)
    fine, _, _ = warm_bench().run(every, channel_table(every, **steady))
    # 0.1 K a step is allowed; steps of a stiff node are far better than that
    np.testing.assert_allclose(coarse.oil_temperature[1:], fine.oil_temperature[[600, 1200]], atol=0.1)
    np.testing.assert_allclose(coarse.headspace_pressure[1:], fine.headspace_pressure[[600, 1200]], atol=100.0)


def test_jumps_of_load_are_taken_where_they_are():
    time = np.array([0.0, 10.0, 10.0, 20.0])
    channels = channel_table(time, engine_speed=400.0, vehicle_speed=10.0)
    channels[:, CHANNEL_INDEX["steering_load"]] = [5e5, 5e5, 60e5, 60e5]
    b = warm_bench()
    out, _, _ = b.run(time, channels)
    # the row at the jump shows the load before it
    assert out.supply_pressure[1] < 20e5
    assert out.supply_pressure[3] > 60e5
    light, heavy = out.shaft_power[1], out.shaft_power[3]
    expected = 10.0 * (light + heavy)
    # power drifts by some per cent as the oil warms within each half
    assert out.shaft_work[3] == pytest.approx(expected, rel=0.03)


def test_an_opening_of_no_length_changes_nothing():
    time, channels = race(60)
    twice = np.sort(np.concatenate([time, [30.0, 30.0]]))
    repeated = np.repeat(channels, 1 + 2 * (time == 30.0), axis=0)
    repeated[np.flatnonzero(twice == 30.0)[1], CHANNEL_INDEX["cap_on"]] = 0.0
    plain, _, _ = warm_bench().run(time, channels)
    event, _, _ = warm_bench().run(twice, repeated)
    # only the restart of the oil rates differs, within 1e-4 K
    np.testing.assert_allclose(event.oil_temperature[-1], plain.oil_temperature[-1], atol=1e-3)
    assert event.air_vented[-1] == plain.air_vented[-1] == 0.0


def test_opening_hot_vents_most_of_the_pressure_and_refitting_does_not_bring_it_back():
    time, channels = race(opened=(100.0, 130.0))
    out, _, _ = warm_bench().run(time, channels)
    shut, _, _ = warm_bench().run(*race())
    at = {second: np.flatnonzero(time == second)[0] for second in (100.0, 110.0, 160.0)}
    assert out.headspace_gauge_pressure[at[100.0]] > 40e3
    assert abs(out.headspace_gauge_pressure[at[110.0]]) < 50.0
    assert out.headspace_gauge_pressure[at[160.0]] < 0.3 * shut.headspace_gauge_pressure[160]
    assert out.air_vented[-1] > 0.2 * out.headspace_air_mass[0]


def test_engine_off_cools_and_closes_its_balances():
    time, channels = race(600, engine_speed=0.0, steering_load=0.0, vehicle_speed=0.0)
    b = warm_bench()
    out, _, status = b.run(time, channels)
    assert status == STATUS_DONE
    assert out.shaft_work[-1] == 0.0
    assert np.all(np.diff(out.oil_temperature[1:, 0]) < 0.0)
    balances = audit(b.parameters, out)
    assert balances.oil < 1e-10
    assert balances.air < 1e-10
    assert balances.energy < 1e-6


def test_balances_close_with_oil_lost_topped_up_and_the_tank_liquid_full():
    changes = {"reservoir.fill": 0.93, "reservoir.splash_volume": "50 mL"}
    time, channels = race(600, opened=(200.0, 260.0), water_content=0.0003)
    pouring = (time > 210.0) & (time < 230.0)
    channels[pouring, CHANNEL_INDEX["top_up_flow"]] = 0.05
    b = bench(changes)
    rows = np.flatnonzero(np.diff(time, prepend=-1.0) > 0.0)
    out, _, status = b.run(time, channels)
    assert status == STATUS_DONE
    assert out.oil_lost[-1] > 0.05
    assert out.oil_added[-1] > 0.9
    balances = audit(b.parameters, out[rows])
    assert balances.oil < 1e-10
    assert balances.air < 1e-10
    assert balances.energy < 1e-6


def test_a_nearly_full_sealed_tank_is_several_times_steeper():
    time = np.arange(0.0, 400.0)
    channels = channel_table(time, engine_speed=450.0, steering_load=30e5, vehicle_speed=20.0)
    gauge = {}
    for fill in (0.80, 0.93):
        b = bench({"reservoir.fill": fill, "cap.relief_pressure": "40 psi", "fluid.bunsen_coefficient": 0.05})
        out, _, status = b.run(time, channels)
        assert status == STATUS_DONE
        gauge[fill] = np.interp(310.0, out.oil_temperature[:, 0], out.headspace_gauge_pressure)
    # the air space is a third, the expansion some 1.2 times
    assert gauge[0.93] > 2.5 * gauge[0.80]


def test_a_circuit_without_oil_fails_with_its_status():
    b = warm_bench()
    b.state.oil_mass = 0.9 * 3.5e-3 * 830.0
    _, _, status = b.run(*race(20))
    assert status == STATUS_OIL_GONE
    assert b.state.time < 20.0


def test_a_channel_that_is_not_a_number_fails_with_its_status():
    time, channels = race(20)
    channels[10, CHANNEL_INDEX["bay_temperature"]] = np.nan
    b = warm_bench()
    _, _, status = b.run(time, channels)
    assert status == STATUS_NOT_A_NUMBER
    assert b.state.time <= 11.0


def test_the_march_allocates_nothing():
    if numba.config.DISABLE_JIT:
        assert not hasattr(march, "signatures")  # plain Python: nothing to count
        return
    time, channels = race(60, opened=(20.0, 30.0))
    warm_bench().run(time, channels)  # compiled and loaded
    b = warm_bench()
    out = np.recarray(len(time), dtype=OUTPUT_DTYPE)
    log, scratch = empty_log(0.0, 60.0), empty_record(Scratch)
    begin(b.parameters, b.state, channels, out, log)
    rows = np.full(len(time), -1)
    _nrt_python.memsys_enable_stats()
    before = rtsys.get_allocation_stats().alloc
    march(b.parameters, b.state, scratch, time, channels, 0, len(time) - 1, rows, out, log)
    after = rtsys.get_allocation_stats().alloc
    _nrt_python.memsys_disable_stats()
    # each array argument is wrapped once on entry, however long the race
    assert after - before <= 8


def test_a_ram_of_unequal_areas_compresses_the_air_space_with_work():
    b = bench({"steering_gear.rod_volume": "160 mL"})
    b.parameters.gas_oil_conductance = b.parameters.gas_wall_conductance = 0.0
    b.parameters.bunsen = 1e-12
    start_at(b.state, b.parameters, 293.15, 101325.0)
    b.state.dissolved_air = 0.0
    time = np.linspace(0.0, 1.0, 11)
    out, _, _ = b.run(time, channel_table(time, steering_position=np.linspace(0.5, -0.5, 11)))
    ratio = out.headspace_volume[0] / out.headspace_volume[-1]
    assert ratio > 1.03
    # adiabatic: nothing but work reaches the air; 10 Pa a step of 6 kPa
    assert out.headspace_pressure[-1] == pytest.approx(out.headspace_pressure[0] * ratio**1.4, rel=2e-4)
