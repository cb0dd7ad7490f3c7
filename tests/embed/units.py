"""A unit of co-simulation and a host for it: FMPy loads the binary, values go by name, messages are kept."""

import contextlib
from pathlib import Path
from typing import Any, NamedTuple

import fmpy
import numpy as np
import pytest
from fmpy.fmi1 import FMICallException
from fmpy.fmi2 import FMU2Slave, defaultCallbacks, fmi2CallbackFunctions, fmi2CallbackLoggerTYPE, fmi2Discard, fmi2Error

import ullage as ul
from support import truck
from ullage.embed.fmi import export_unit
from ullage.kernel.state import NODES

EVERY_KEY = {
    "title": 'every key "100 %", \\ (invented data)',
    "fluid.cold_temperature": "-20 degC",
    "fluid.cold_viscosity": "1200 mm2/s",
    "pump.relief_pressure": "100 bar",
    "pump.flow_point.speed": "1500 rpm",
    "pump.flow_point.pressure": "50 bar",
    "pump.flow_point.flow": "38 L/min",
    "pump.flow_point.viscosity": "15 mm2/s",
    "pump.torque_point.speed": "1500 rpm",
    "pump.torque_point.pressure": "50 bar",
    "pump.torque_point.torque": "27 N*m",
    "pump.torque_point.viscosity": "15 mm2/s",
    "cooler.fan_air_speed": "6 m/s",
    "cooler.fan_on_temperature": "60 degC",
    "cooler.fan_off_temperature": "55 degC",
    "weather.temperature": "10 degC",
    "cooler.thermostat_open_temperature": "45 degC",
    "cooler.thermostat_shut_temperature": "40 degC",
    "start.temperature": "5 degC",
    "start.trapped_air": "100 mL",
}

# short, and every part of the circuit has something to do: cold and hot oil, both valves of the cap, fan, thermostat
DRIVE = (
    (1.0, {"engine_speed": 400.0, "vehicle_speed": 0.0, "steering_load": 12e6, "water_content": 4e-4}),
    (20.0, {"steering_position": 0.8, "steering_load": 8e6}),
    (0.05, {"cap_on": False}),
    (1.0, {"cap_on": True, "forward_acceleration": 8.0, "left_acceleration": -6.0}),
    (600.0, {"upward_acceleration": 3.0, "vehicle_speed": 2.0}),
    (0.05, {"cap_on": False, "ground_roughness": 4.0}),
    (10.0, {"cap_on": True, "forward_acceleration": 0.0, "left_acceleration": 0.0, "vehicle_speed": 20.0}),
    (10.0, {"recharge_pressure": 1.3e5, "leak_area": 1e-7, "core_blockage": 0.3}),
    (10.0, {"recharge_pressure": 0.0, "in_water": True, "engine_speed": 100.0, "steering_load": 0.0}),
    (200.0, {"in_water": False, "fan_forced": True, "relief_stuck": 1.0, "bore_share": 0.7}),
    (60.0, {"fan_forced": False, "relief_stuck": 0.0, "leak_area": 0.0, "drain_flow": 0.08, "elevation": 1200.0}),
    (60.0, {"drain_flow": 0.0, "engine_on": False, "steering_position": -0.5}),
    (600.0, {"top_up_flow": 1e-4}),
    (400.0, {"engine_on": True, "engine_speed": 300.0, "vehicle_speed": 30.0, "ambient_temperature": 255.0}),
    (2.5, {"steering_load": 2e6, "mark_fills": 1.0}),
)


class UnitFile(NamedTuple):
    """An exported unit, unpacked."""

    scenario: ul.Scenario
    path: Path
    folder: Path
    description: Any
    variables: dict[str, Any]

    @property
    def binary(self):
        (found,) = (self.folder / "binaries").glob("*/*")
        return found

    def named(self, causality, *kinds):
        return [
            name
            for name, variable in self.variables.items()
            if variable.causality == causality and (not kinds or variable.type in kinds)
        ]


def exported(scenario, folder) -> UnitFile:
    """Export a scenario and unpack the unit into a folder."""
    path = Path(export_unit(scenario, folder / "unit.fmu").path)
    unpacked = Path(fmpy.extract(path, folder / "unpacked"))
    description = fmpy.read_model_description(path)
    return UnitFile(scenario, path, unpacked, description, {v.name: v for v in description.modelVariables})


class Instance:
    """One instance of a unit: values by name, its messages, and where it stands."""

    def __init__(self, file, name="truck", logs=True):
        self.file, self.said, self.time = file, [], 0.0
        self.slave = FMU2Slave(
            guid=file.description.guid,
            unzipDirectory=file.folder,
            modelIdentifier=file.description.coSimulation.modelIdentifier,
            instanceName=name,
        )
        self.callbacks = fmi2CallbackFunctions(
            fmi2CallbackLoggerTYPE(self._hear), defaultCallbacks.allocateMemory, defaultCallbacks.freeMemory
        )
        self.slave.instantiate(callbacks=self.callbacks, loggingOn=logs)

    def _hear(self, _environment, name, status, category, message):
        self.said.append((name.decode(), status, category.decode(), message.decode()))

    def reference(self, name):
        return self.file.variables[name].valueReference

    def set(self, **values):
        self.set_all(values)

    def set_all(self, values):
        for name, value in values.items():
            kind = self.file.variables[name].type
            getattr(self.slave, f"set{kind}")([self.reference(name)], [value])

    def get(self, name):
        return getattr(self.slave, f"get{self.file.variables[name].type}")([self.reference(name)])[0]

    def begin(self, parameters=None, start=0.0):
        """Go through the initialization with some parameters and inputs."""
        self.time = start
        self.slave.setupExperiment(startTime=start)
        self.slave.enterInitializationMode()
        self.set_all(parameters or {})
        self.slave.exitInitializationMode()
        return self

    def slope(self, **slopes):
        references = [self.reference(name) for name in slopes]
        self.slave.setRealInputDerivatives(references, [1] * len(slopes), list(slopes.values()))

    def step(self, seconds, **values):
        self.set_all(values)
        self.slave.doStep(self.time, seconds)
        self.time += seconds

    def outputs(self):
        """Return every output by name."""
        found = {}
        for kind in ("Real", "Integer"):
            names = self.file.named("output", kind)
            found |= zip(names, getattr(self.slave, f"get{kind}")([self.reference(n) for n in names]), strict=True)
        return found


def outputs_of(stepper, names):
    """Return the outputs of a stepper by the names that a unit has for them."""
    row, found = stepper.outputs, {}
    for name in names:
        field, _, node = name.partition(".")
        found[name] = row[field][NODES.index(node)] if node else row[field]
    return found


def differing(found, expected):
    """Return what is not the same to the last bit."""
    return {
        name: (value, expected[name])
        for name, value in found.items()
        if np.float64(value).tobytes() != np.float64(expected[name]).tobytes()
    } | dict.fromkeys(expected.keys() - found.keys())


def assert_same(instance, stepper):
    found = instance.outputs()
    assert differing(found, outputs_of(stepper, found)) == {}


@contextlib.contextmanager
def refused(instance, *words, status=fmi2Error):
    """Check that a call is refused, and with one message that holds words."""
    heard = len(instance.said)
    with pytest.raises(FMICallException) as caught:
        yield
    assert caught.value.status == status
    (said,) = instance.said[heard:]
    assert said[1:3] == (status, {fmi2Error: "logStatusError", fmi2Discard: "logStatusDiscard"}[status])
    assert [word for word in words if word not in said[3]] == [], said[3]


def every_key():
    """Return a truck that has every key which can be a parameter."""
    return truck(EVERY_KEY)
