import ctypes
import math

import pytest
from fmpy.fmi1 import FMICallException
from fmpy.fmi2 import FMU2Slave, fmi2CallbackFunctions, fmi2Discard, fmi2Error

from embed.units import DRIVE, differing, refused

pytestmark = pytest.mark.export


@pytest.mark.parametrize(
    ("name", "value", "words"),
    [
        ("cap.relief_pressure", 1e7, ("cap.relief_pressure is 1e+07 Pa", "6894.76 to 275790 is accepted")),
        ("reservoir.fill", -0.1, ("reservoir.fill is -0.1", "0.3 to 0.97 is accepted")),
        ("feed_line.bore", math.nan, ("feed_line.bore is nan m",)),
        ("start.temperature", math.inf, ("start.temperature is inf K",)),
        ("engine_speed", -1.0, ("engine_speed is -1 rad/s", "0 to 1570.8 is accepted")),
        ("vehicle_speed", -math.inf, ("vehicle_speed is -inf m/s",)),
        ("relief_stuck", 0.5, ("relief_stuck is 0.5", "a whole number is wanted")),
        ("oil_mass", 5.0, ("oil_mass is an output",)),
    ],
)
def test_value_that_cannot_be_is_refused_in_words_and_the_old_one_stays(instances, name, value, words):
    instance = instances()
    instance.slave.setupExperiment()
    instance.slave.enterInitializationMode()
    before = instance.get(name)
    # an input can be set again; with another parameter it would be another truck
    status = fmi2Discard if name in ("engine_speed", "vehicle_speed", "relief_stuck") else fmi2Error
    with refused(instance, *words, status=status):
        instance.set_all({name: value})
    assert instance.get(name) == before


def test_value_is_within_its_range_even_by_rounding(instances):
    instance = instances()
    instance.set(engine_speed=-1e-9, drain_flow=-1e-12, fan_share=1.0 + 1e-12)
    assert [instance.get(name) for name in ("engine_speed", "drain_flow", "fan_share")] == [0.0, 0.0, 1.0]


def test_parameters_are_set_before_the_end_of_the_initialization_and_not_after(instances):
    instance = instances()
    instance.set_all({"cap.relief_pressure": 9e4})
    instance.begin({"reservoir.fill": 0.7})
    for name in ("cap.relief_pressure", "reservoir.fill"):
        with refused(instance, f"{name} is a parameter", "before the end of the initialization"):
            instance.set_all({name: instance.get(name)})
    assert [instance.get(name) for name in ("cap.relief_pressure", "reservoir.fill")] == [9e4, 0.7]


def test_outputs_are_not_known_before_the_initialization(instances):
    instance = instances()
    with refused(instance, "from the initialization on"):
        instance.get("oil_mass")
    with refused(instance, "from the initialization on"):
        instance.get("cap_state")


@pytest.mark.parametrize("kind", ["Real", "Integer", "Boolean", "String"])
@pytest.mark.parametrize("way", ["get", "set"])
def test_reference_that_is_unknown_or_of_another_type_is_refused(unit_file, instances, kind, way):
    instance = instances().begin()
    others = {each.valueReference: each.name for each in unit_file.variables.values() if each.type != kind}
    others |= {reference: str(reference) for reference in (len(unit_file.variables), 2**31, 2**32 - 1)}
    values = [["" if kind == "String" else 0]] if way == "set" else []
    kept = instance.outputs()
    for reference, named in others.items():
        with refused(instance, named):
            getattr(instance.slave, f"{way}{kind}")([reference], *values)
    getattr(instance.slave, f"{way}{kind}")([], *([[]] if values else []))
    assert differing(instance.outputs(), kept) == {}


@pytest.mark.parametrize(
    ("point", "seconds", "words"),
    [
        (0.0, -1.0, "a step of -1 s"),
        (0.0, math.nan, "a step of nan s"),
        (0.0, math.inf, "a step of inf s"),
        (1.0, 1.0, "the step begins at 1 s, the unit stands at 0 s"),
        (math.nan, 1.0, "the step begins at nan s"),
        (-math.inf, 1.0, "the step begins at -inf s"),
    ],
)
def test_step_that_cannot_be_made_is_refused_and_nothing_has_happened(instances, point, seconds, words):
    instance = instances().begin()
    kept = instance.outputs()
    with refused(instance, words):
        instance.slave.doStep(point, seconds)
    assert differing(instance.outputs(), kept) == {}
    instance.step(1.0)


def test_calls_out_of_their_order_are_refused(instances):
    instance = instances()
    slave = instance.slave
    with refused(instance, "not been initialized"):
        slave.doStep(0.0, 1.0)
    with refused(instance, "not being initialized"):
        slave.exitInitializationMode()
    for start in (math.nan, math.inf):
        with refused(instance, "start time"):
            slave.setupExperiment(startTime=start)
    slave.enterInitializationMode()
    with refused(instance, "not been initialized"):
        slave.doStep(0.0, 1.0)
    for call in (slave.enterInitializationMode, slave.setupExperiment):
        with refused(instance, "initializ"):
            call()
    slave.exitInitializationMode()
    for call in (slave.enterInitializationMode, slave.exitInitializationMode, slave.setupExperiment):
        with refused(instance, "initializ"):
            call()
    instance.step(1.0)


def test_slope_that_leads_out_of_range_is_refused_and_nothing_has_happened(instances):
    instance = instances().begin()
    kept = instance.outputs(), instance.get("vehicle_speed"), instance.get("engine_speed")
    instance.slope(vehicle_speed=-10.0, engine_speed=1.0)
    words = ("vehicle_speed would be", "at the end of the step", "0 to 111.111 is accepted")
    with refused(instance, *words, status=fmi2Discard):
        instance.step(10.0)
    assert (differing(instance.outputs(), kept[0]), instance.get("vehicle_speed")) == ({}, kept[1])
    instance.step(0.5)  # a shorter step goes along both slopes
    assert instance.get("vehicle_speed") == pytest.approx(kept[1] - 5.0, rel=1e-14)  # one product and one sum
    assert instance.get("engine_speed") == pytest.approx(kept[2] + 0.5, rel=1e-14)


def test_slope_of_what_has_none_is_refused(unit_file, instances):
    instance = instances().begin()
    slave, speed = instance.slave, instance.reference("engine_speed")
    for name in ("cap_on", "fan_share", "oil_mass", "cap.relief_pressure"):
        with refused(instance, str(instance.reference(name)), "no input that changes within a step"):
            instance.slope(**{name: 1.0})
    with refused(instance, "no input"):
        slave.setRealInputDerivatives([len(unit_file.variables)], [1], [1.0])
    for order, value in ((2, 1.0), (0, 1.0), (1, math.nan), (1, math.inf)):
        with refused(instance, "engine_speed", "finite first derivative"):
            slave.setRealInputDerivatives([speed], [order], [value])
    with refused(instance, "derivatives of outputs"):
        slave.getRealOutputDerivatives([instance.reference("oil_mass")], [1])
    with refused(instance, "directional derivatives"):
        slave.getDirectionalDerivative([instance.reference("oil_mass")], [speed], [1.0])


def test_unit_that_runs_out_of_oil_says_when_and_what_to_do_and_goes_on_from_a_state_alone(instances):
    instance = instances().begin()
    instance.step(10.0)
    state, kept = instance.slave.getFMUstate(), instance.outputs()
    instance.set(drain_flow=0.1)
    with refused(instance, "run out of oil", "lower the fill"):
        instance.step(3600.0)
    at = float(instance.said[-1][3].split()[1])
    assert 20.0 < at < 100.0  # some 6 kg in the tank at 0.1 kg/s
    with refused(instance, "has ended"):
        instance.slave.doStep(at, 1.0)
    with refused(instance, "has ended"):
        instance.set(drain_flow=0.0)
    instance.slave.setFMUstate(state)
    assert differing(instance.outputs(), kept) == {}
    instance.time = 10.0
    instance.step(1.0)


def test_parameters_that_cannot_be_those_of_one_circuit_are_refused_at_the_end_of_the_initialization(instances):
    instance = instances()
    instance.slave.enterInitializationMode()
    instance.set_all({"cooler.fan_on_temperature": 300.0, "cooler.fan_off_temperature": 350.0})
    with refused(instance, "outputs are not known", "at odds with each other"):
        instance.get("oil_mass")
    with refused(instance, "at odds with each other"):
        instance.slave.exitInitializationMode()
    instance.slave.reset()
    instance.begin().step(1.0)


@pytest.mark.parametrize(("guid", "kind", "words"), [("0", 1, "guid"), (None, 1, "guid"), ("", 0, "co-simulation")])
def test_instance_that_cannot_be_is_none_and_its_logger_knows_why(unit_file, instances, guid, kind, words):
    instance = instances()
    guid = unit_file.description.guid if guid == "" else guid
    made = instance.slave.fmi2Instantiate(
        b"x", kind, guid and guid.encode(), b"", ctypes.byref(instance.callbacks), False, False
    )
    assert made is None
    ((name, status, _, message),) = instance.said
    assert (name, status) == ("x", 3)
    assert words in message


@pytest.mark.parametrize("callbacks", [None, fmi2CallbackFunctions()], ids=["none", "empty"])
def test_host_without_callbacks_hears_nothing_and_nothing_breaks(unit_file, callbacks):
    slave = FMU2Slave(
        guid=unit_file.description.guid,
        unzipDirectory=unit_file.folder,
        modelIdentifier=unit_file.description.coSimulation.modelIdentifier,
    )
    reference = None if callbacks is None else ctypes.byref(callbacks)
    slave.component = slave.fmi2Instantiate(None, 1, slave.guid.encode(), None, reference, False, True)
    slave.enterInitializationMode()
    slave.exitInitializationMode()
    slave.doStep(0.0, 1.0)
    with pytest.raises(FMICallException):
        slave.doStep(0.0, 1.0)
    slave.freeInstance()


def test_switches_are_told_to_hosts_that_want_them(instances):
    quiet, talking = instances(logs=False).begin(), instances(logs=True).begin()
    for seconds, values in DRIVE[:-2]:
        quiet.step(seconds, **values)
        talking.step(seconds, **values)
    assert quiet.said == []
    assert {said[:3] for said in talking.said} == {("truck", 0, "logEvents")}
    assert [said[3] for said in talking.said if "s fan on (1 in this step)" in said[3]] != []
    quiet.slave.setDebugLogging(True, ["logEvents"])
    talking.slave.setDebugLogging(False, ["logStatusError"])
    talking.slave.setDebugLogging(False, [])
    heard = len(talking.said)
    for instance in (quiet, talking):
        instance.step(*DRIVE[-2][:1], **DRIVE[-2][1])
    assert len(quiet.said) > 0 == len(talking.said) - heard
    with refused(talking, "a step of"):
        talking.slave.doStep(talking.time, -1.0)  # what is wrong is always said
