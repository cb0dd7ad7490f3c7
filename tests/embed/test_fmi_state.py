import ctypes
import itertools
import math
from concurrent.futures import ThreadPoolExecutor

import pytest
from fmpy.fmi1 import FMICallException
from fmpy.fmi2 import fmi2FMUstate

import ullage as ul
from embed.units import DRIVE, assert_same, differing, every_key, exported, outputs_of, refused

pytestmark = pytest.mark.export

FIRST, REST = DRIVE[:7], DRIVE[7:]


def driven(instance, drive):
    for seconds, values in drive:
        instance.step(seconds, **values)
    return instance.outputs()


@pytest.fixture(scope="module")
def other_file(tmp_path_factory):
    return exported(every_key().replace({"reservoir.fill": 0.79}), tmp_path_factory.mktemp("other"))


def serialised(instance):
    state = instance.slave.getFMUstate()
    data = instance.slave.serializeFMUstate(state)
    instance.slave.freeFMUstate(state)
    return data


def test_instances_know_nothing_of_each_other(instances):
    one, other = instances().begin(), instances().begin({"reservoir.fill": 0.7}, start=50.0)
    alone = [instances().begin(), instances().begin({"reservoir.fill": 0.7}, start=50.0)]
    expected = [driven(alone[0], REST), driven(alone[1], FIRST)]
    for step, second in itertools.zip_longest(REST, FIRST):
        one.step(step[0], **step[1])
        if second:
            other.step(second[0], **second[1])
    assert differing(one.outputs(), expected[0]) == differing(other.outputs(), expected[1]) == {}


def test_instances_in_several_threads_know_nothing_of_each_other(instances):
    def end(instance, load):
        instance.set(steering_load=load)
        for _ in range(2000):
            instance.step(0.1)
        return instance.outputs()

    loads = [1e5 * number for number in range(8)]
    together = [instances().begin() for _ in loads]
    with ThreadPoolExecutor(4) as pool:
        found = [*pool.map(end, together, loads)]
    for load, outputs in zip(loads, found, strict=True):
        assert differing(outputs, end(instances().begin(), load)) == {}


def test_simulation_goes_on_from_a_state_to_the_last_bit(instances):
    instance = instances().begin()
    driven(instance, FIRST)
    state, data, time = instance.slave.getFMUstate(), serialised(instance), instance.time
    end = driven(instance, REST)
    instance.slave.setFMUstate(state)
    instance.time = time
    assert differing(driven(instance, REST), end) == {}
    another = instances()
    read = another.slave.deSerializeFMUstate(data, state=another.slave.getFMUstate())  # into one that is there
    another.slave.setFMUstate(read)
    another.time = time
    assert serialised(another) == data
    assert differing(driven(another, REST), end) == {}
    for owner, kept in ((instance, state), (another, read)):
        owner.slave.freeFMUstate(kept)
        assert kept.value is None


def test_slope_that_is_set_is_part_of_a_state(instances):
    instance = instances().begin()
    instance.slope(engine_speed=5.0)
    data = serialised(instance)
    instance.step(2.0)
    instance.slave.setFMUstate(instance.slave.deSerializeFMUstate(data))
    instance.time, expected = 0.0, instance.outputs()
    instance.step(2.0)
    assert instance.get("engine_speed") == pytest.approx(float(instance.file.variables["engine_speed"].start) + 10.0)
    assert differing(instance.outputs(), expected) != {}  # those before it began again


def test_state_that_is_not_its_own_is_refused_and_nothing_has_happened(instances, other_file):
    instance, other = instances().begin(), instances(other_file).begin()
    driven(instance, FIRST)
    kept = serialised(instance)
    damaged = bytearray(kept)
    damaged[2000] ^= 1
    for data, reason in (
        (bytes(damaged), "damaged"),
        (kept[:-1], "a part of it"),
        (kept[:10], "no state"),
        (b"x" * len(kept), "no state"),
        (serialised(other), "another unit"),
    ):
        with refused(instance, reason):
            instance.slave.deSerializeFMUstate(data)
    with refused(instance, "no state"):
        instance.slave.setFMUstate(fmi2FMUstate())
    assert serialised(instance) == kept


def test_states_are_refused_where_there_is_no_place_for_them(instances):
    instance = instances().begin()
    state = instance.slave.getFMUstate()
    size = ctypes.c_size_t()
    instance.slave.fmi2SerializedFMUstateSize(instance.slave.component, state, ctypes.byref(size))
    small = ctypes.create_string_buffer(size.value)
    with refused(instance, f"{size.value} bytes"):
        instance.slave.fmi2SerializeFMUstate(instance.slave.component, state, small, size.value - 1)
    with refused(instance, "bytes"):
        instance.slave.fmi2SerializeFMUstate(instance.slave.component, None, small, size.value)
    instance.slave.freeFMUstate(state)
    instance.slave.fmi2FreeFMUstate(instance.slave.component, None)


def test_reset_begins_anew_with_the_start_values(unit_file, instances):
    instance = instances().begin({"cap.relief_pressure": 9e4})
    driven(instance, FIRST)
    instance.slave.reset()
    assert instance.get("cap.relief_pressure") == float(unit_file.variables["cap.relief_pressure"].start)
    assert_same(instance.begin(), ul.Stepper(unit_file.scenario))


def test_unit_that_has_ended_can_be_read_and_reset_and_not_stepped(instances):
    instance = instances().begin()
    end = driven(instance, FIRST)
    instance.slave.terminate()
    assert differing(instance.outputs(), end) == {}
    with refused(instance, "has ended"):
        instance.step(1.0)
    with refused(instance, "engine_speed cannot be set", "has ended"):
        instance.set(engine_speed=1.0)
    instance.slave.reset()
    assert differing(driven(instance.begin(), FIRST), end) == {}


def test_outputs_are_there_while_the_unit_is_initialized(unit_file, instances):
    instance = instances()
    instance.slave.setupExperiment()
    instance.slave.enterInitializationMode()
    assert_same(instance, ul.Stepper(unit_file.scenario))
    changed = unit_file.scenario.replace({"reservoir.fill": 0.6})
    instance.set_all({"reservoir.fill": 0.6, "engine_speed": 200.0})
    stepper = ul.Stepper(changed)
    stepper.advance(0.0, engine_speed=200.0)
    assert instance.outputs()["oil_mass"] == stepper.outputs.oil_mass
    assert instance.outputs()["pump_speed"] == stepper.outputs.pump_speed
    instance.slave.exitInitializationMode()
    assert instance.outputs()["pump_speed"] == stepper.outputs.pump_speed


@pytest.mark.parametrize("start", [-3.7, 1000.0, 86400.0 * 20000])
def test_time_of_the_host_may_begin_anywhere(unit_file, instances, start):
    instance, stepper = instances().begin(start=start), ul.Stepper(unit_file.scenario)
    for number in range(2000):
        instance.slave.doStep(start + number * 0.01, 0.01)
        stepper.advance(0.01)
    assert_same(instance, stepper)
    time = instance.slave.getRealStatus(2)
    assert time == pytest.approx(start + 20.0, abs=1e-9 * max(1.0, abs(start)))


def test_steps_are_of_any_length_and_one_of_no_length_is_a_jump(unit_file, instances):
    lengths = (1e-9, 0.0, 0.013, 1.0 / 3.0, 7.0, 0.0, 1e-6, 3600.0, 1e5, 1.0)
    instance, stepper = instances().begin(), ul.Stepper(unit_file.scenario)
    for place, seconds in enumerate(lengths):
        speed = 100.0 + 10.0 * place
        instance.step(seconds, engine_speed=speed)
        stepper.advance(0.0, engine_speed=speed)
        stepper.advance(seconds)
        assert_same(instance, stepper)
    assert stepper.outputs.pump_speed == outputs_of(stepper, ["pump_speed"])["pump_speed"]


def test_communication_point_may_miss_by_rounding(unit_file, instances):
    instance, stepper = instances().begin(), ul.Stepper(unit_file.scenario)
    point = 0.0
    for _ in range(10000):
        instance.slave.doStep(point, 0.1)
        point += 0.1  # misses 1000 s by 1.6e-10 s
        stepper.advance(0.1)
    assert point != 1000.0
    assert instance.slave.getRealStatus(2) == pytest.approx(1000.0, abs=1e-6)  # what a host may miss by
    assert_same(instance, stepper)
    instance.slave.doStep(point, 1e-7)
    assert not math.isnan(instance.get("oil_mass"))


def test_host_that_adds_up_its_time_is_followed(unit_file, instances):
    instance, stepper = instances().begin(start=1.7e9), ul.Stepper(unit_file.scenario)
    for _ in range(1000):
        instance.step(0.001)  # some 4e-8 s are lost in a step
        stepper.advance(0.001)
    assert_same(instance, stepper)


def test_last_step_may_miss_the_stop_time_by_what_sums_of_steps_miss(instances):
    instance = instances()
    # a million sums of 0.1 s are 1.3e-6 s over 100000 s, ten million of 1 ms are 1.6e-6 s over 10000 s
    instance.slave.setupExperiment(stopTime=1.0 - 2e-6)
    instance.slave.enterInitializationMode()
    instance.slave.exitInitializationMode()
    for _ in range(10):
        instance.step(0.1)
    with refused(instance, "after the stop time"):
        instance.step(0.1)


def test_status_of_a_step_is_what_its_call_returned(instances):
    instance = instances().begin(start=5.0)
    instance.step(1.5)
    assert instance.slave.getRealStatus(2) == 6.5
    assert instance.slave.getBooleanStatus(3) == 0
    for ask in (
        instance.slave.getIntegerStatus,
        instance.slave.getBooleanStatus,
        instance.slave.getRealStatus,
    ):
        with pytest.raises(FMICallException) as caught:
            ask(0)
        assert caught.value.status == 2  # fmi2Discard
    assert {said[2] for said in instance.said} == {"logStatusDiscard"}
    with refused(instance, "none to be cancelled"):
        instance.slave.cancelStep()
