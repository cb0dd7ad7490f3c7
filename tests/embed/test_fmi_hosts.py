"""What hosts do that is not wrong, and what they must not be told after something went wrong."""

import stat
import zipfile

import pytest
from fmpy import simulate_fmu

from embed.units import exported, refused
from support import truck
from ullage.embed.fmi import export_unit
from ullage.embed.fmi_variables import unit_variables
from ullage.embed.unit_object import ExportError
from ullage.scenario.compile import compile_unit

pytestmark = pytest.mark.export


@pytest.fixture(scope="module")
def plain_file(tmp_path_factory):
    return exported(truck(), tmp_path_factory.mktemp("plain"))


def test_step_that_is_left_out_or_made_twice_is_refused(instances):
    instance = instances().begin(start=100.0)
    instance.step(0.01)
    for point in (100.0, 100.02, 100.01 + 2e-6):
        with refused(instance, "the unit stands at 100.01 s"):
            instance.slave.doStep(point, 0.01)
    instance.step(0.01)


def test_stop_time_that_a_host_has_given_is_its_end(instances):
    instance = instances()
    with refused(instance, "stop time of 1 s is before the start time of 2 s"):
        instance.slave.setupExperiment(startTime=2.0, stopTime=1.0)
    instance.slave.setupExperiment(startTime=2.0, stopTime=3.0)
    instance.slave.enterInitializationMode()
    instance.slave.exitInitializationMode()
    instance.time = 2.0
    for _ in range(10):
        instance.step(0.1)  # misses 3 s by rounding
    with refused(instance, "the step ends at 3.1 s, after the stop time of 3 s"):
        instance.step(0.1)
    instance.slave.reset()
    instance.begin()
    instance.step(10.0)  # nothing of it is left


def test_fmpy_stops_at_the_time_that_it_has_given(unit_file):
    found = simulate_fmu(str(unit_file.path), stop_time=0.7, output_interval=0.1, output=["oil_mass"])
    assert found["time"][-1] == pytest.approx(0.7)


def test_outputs_that_were_never_computed_are_not_given(instances):
    ended, failed = instances(), instances()
    ended.slave.terminate()
    failed.slave.enterInitializationMode()
    failed.set_all({"cooler.fan_on_temperature": 300.0, "cooler.fan_off_temperature": 350.0})
    with refused(failed, "at odds"):
        failed.slave.exitInitializationMode()
    for instance in (ended, failed):
        for name in ("oil_mass", "cap_state"):
            with refused(instance, "known from the initialization on"):
                instance.get(name)


def test_state_of_a_unit_with_other_variables_is_known_as_such(unit_file, plain_file, instances):
    one, other = instances().begin(), instances(plain_file).begin()
    assert len(plain_file.variables) < len(unit_file.variables)
    for owner, reader in ((one, other), (other, one)):
        data = owner.slave.serializeFMUstate(owner.slave.getFMUstate())
        with refused(reader, "another unit"):
            reader.slave.deSerializeFMUstate(data)


@pytest.mark.parametrize(("level", "elevation"), [("-0.6 barg", "3500 m"), ("1 barg", "-400 m")])
def test_start_value_of_a_level_far_from_the_sea_is_accepted(level, elevation):
    scenario = truck({"pump.minimum_inlet_pressure": level, "pump.rating_elevation": elevation})
    variables = unit_variables(compile_unit(scenario.spec))
    given = [variable for variable in variables if variable.causality != "output"]
    assert [variable.name for variable in given if not variable.low <= variable.start <= variable.high] == []


def test_inertia_is_there_or_not(instances):
    instance = instances()
    with refused(instance, "feed_inertia is 0.5", "whole number"):
        instance.set(feed_inertia=0.5)
    instance.set(feed_inertia=1.0)


def test_who_unpacks_a_unit_lets_all_load_it(unit_file):
    with zipfile.ZipFile(unit_file.path) as archive:
        modes = [member.external_attr >> 16 for member in archive.infolist()]
    assert all(mode & stat.S_IROTH and mode & stat.S_IXOTH for mode in modes)


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        ("elevation", None),
        ("feed_line.bore", "mm"),
        ("cap.relief_area", "mm2"),
        ("oil_temperature.pump", "degC"),
        ("engine_speed", "rpm"),
        ("pump_flow", "L/min"),
        ("cap.relief_pressure", "kPa"),
        ("cooler.rated_air_speed", None),
    ],
)
def test_each_value_is_shown_in_the_unit_of_its_kind(unit_file, name, shown):
    assert unit_file.variables[name].displayUnit == shown


def test_compiler_that_cannot_be_read_or_says_nothing_is_told(tmp_path, monkeypatch):
    monkeypatch.setenv("CC", 'cc "')
    with pytest.raises(ExportError, match=r"CC is .* names no compiler"):
        export_unit(truck(), tmp_path / "unit.fmu")
    monkeypatch.setenv("CC", "false")
    with pytest.raises(ExportError, match="failed: it left with code 1"):
        export_unit(truck(), tmp_path / "unit.fmu")
