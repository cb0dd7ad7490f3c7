"""Building blocks of tests: a small truck as a dict, and a march on hand-made channels."""

import copy
import functools
import json
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from ullage.kernel.hydraulics import hydraulics
from ullage.kernel.intake import supply, tank_oil
from ullage.kernel.march import march
from ullage.kernel.modes import empty_log
from ullage.kernel.outputs import OUTPUT_DTYPE
from ullage.kernel.params import CHANNEL_INDEX, CHANNELS, Forcing
from ullage.kernel.setting import begin, settle
from ullage.kernel.state import Scratch, State, copied, empty_record
from ullage.kernel.stores import densities, headspace_volume, node_masses
from ullage.physics import air, oil, tank
from ullage.scenario.compile import compile_problem
from ullage.scenario.load import Scenario

_DELIVERED = sorted((Path(__file__).parents[1] / "scenarios").glob("*.toml"))
STUDIES = [path for path in _DELIVERED if "scenario" in tomllib.loads(path.read_text(encoding="utf-8"))]
SCENARIOS = [path for path in _DELIVERED if path not in STUDIES]

TRUCK = {
    "format": 1,
    "title": "test truck (invented data)",
    "fluid": {"preset": "ATF"},
    "reservoir": {"volume": "7.6 L", "fill": 0.8},
    "cap": {"kind": "sealed", "relief_pressure": "16 psi"},
    "pump": {
        "displacement": "28 cm3",
        "drive_ratio": 0.7,
        "controlled_flow": "38 L/min",
        "bypass_routing": "inlet",
    },
    "duty": {
        "segment": [
            {"duration": "10 min", "vehicle_speed": "60 km/h", "engine_speed": "4000 rpm", "steering_load": "15 bar"}
        ]
    },
}


def truck(changes=None) -> Scenario:
    """Return the test truck with some values changed by dotted key."""
    scenario = Scenario.from_dict(copy.deepcopy(TRUCK))
    return scenario.replace(changes) if changes else scenario


@dataclass
class Bench:
    """A march on hand-made channels: parameters and state may be changed before `run`."""

    parameters: Any
    state: Any

    def run(self, time, channels, rows=None):
        """March over all rows, or over a range of them, and return outputs, log and status."""
        first, last = rows or (0, len(time) - 1)
        out = np.recarray(len(time), dtype=OUTPUT_DTYPE)
        log = empty_log(time[0], time[-1])
        if first == 0:
            begin(self.parameters, self.state, channels, out, log)
        kept = np.arange(len(time))
        kept[1:][np.diff(time) <= 0.0] = -1
        scratch = empty_record(Scratch)
        status = march(self.parameters, self.state, scratch, time, channels, first, last, kept, out, log)
        return out, log, status


def bench(changes=None, tolerance_factor=1.0) -> Bench:
    """Return a bench with the record and the initial state of the test truck."""
    problem = _compiled_truck(json.dumps(changes or {}), tolerance_factor)
    return Bench(problem.parameters.copy(), copied(problem.state))


@functools.lru_cache(maxsize=32)
def _compiled_truck(changes, tolerance_factor):
    return compile_problem(truck(json.loads(changes)).spec, tolerance_factor)


SOUND = {
    "ambient_pressure": 101325.0,
    "ambient_temperature": 293.15,
    "bay_temperature": 293.15,
    "block_temperature": 293.15,
    "top_up_temperature": 293.15,
    "cap_on": 1.0,
    "strainer_factor": 1.0,
    "fan_share": 1.0,
    "bore_share": 1.0,
    "ground_roughness": 1.0,
    "wetting": 1.0,
}


def instant(**values) -> Forcing:
    """Return the channels of an instant; those not named are a standing sound truck at 20 degC, engine off, cap on."""
    return Forcing(**{**dict.fromkeys(CHANNELS, 0.0), **SOUND, **values})


def channel_table(time, **values):
    """Return a channel table; channels not named are those of `instant`."""
    table = np.zeros((len(time), len(CHANNELS)))
    for name, value in {**SOUND, **values}.items():
        table[:, CHANNEL_INDEX[name]] = value
    return table


def masses_at(parameters, steering_position, oil_mass, temperature):
    """Return the oil in each node at these temperatures."""
    return node_masses(parameters, steering_position, oil_mass, temperature, densities(parameters, temperature))


def clear_volume(parameters, reservoir_mass, temperature):
    """Return the volume above the oil of a tank at a temperature, at reference pressure."""
    density = oil.density(temperature, parameters.density_15)
    return headspace_volume(parameters, reservoir_mass, temperature, density)


def start_at(state: State, parameters, temperature: float, pressure: float) -> None:
    """Bring oil, metal and air space of a dry circuit to a temperature and pressure; the air in the oil stays."""
    state.temperature[:] = temperature
    in_tank = masses_at(parameters, 0.0, state.oil_mass, state.temperature).reservoir
    yielded = tank.total_compliance(parameters.tank_compliance, state.oil_mass, temperature, parameters.density_15)
    volume = clear_volume(parameters, in_tank, temperature) + yielded * (pressure - 101325.0)
    state.air_heat = pressure * volume / air.GAS_CONSTANT - (state.free_air + state.trapped_air) * temperature
    state.air_mass = state.air_heat / temperature
    settle(parameters, state, instant(), in_tank)


class Circuit:
    """Pump and lines at one temperature under a pressure; parameters and state may be changed.

    `free` is the volume of free air per volume of oil at that pressure, `line_gas` the share of the line that is gas.
    """

    def __init__(self, changes=None, temperature=363.15, pressure=2e5, free=0.0, line_gas=0.0):
        b = bench(changes)
        self.parameters, self.state, self.temperature = b.parameters, b.state, temperature
        start_at(self.state, self.parameters, temperature, pressure)
        tank_oil = self.state.reservoir_mass / oil.density(temperature, self.parameters.density_15)
        self.state.free_air = free * tank_oil * pressure / (air.GAS_CONSTANT * temperature)
        self.state.line_gas = line_gas
        start_at(self.state, self.parameters, temperature, pressure)

    def supply(self, **channels):
        return supply(
            self.parameters,
            self.state,
            instant(**channels),
            tank_oil(self.parameters, instant(**channels), self.temperature),
        )

    def flows(self, engine_speed, load, **channels):
        forcing = instant(engine_speed=engine_speed, steering_load=load, **channels)
        density = oil.density(self.temperature, self.parameters.density_15)
        before = self.supply(**channels)
        return hydraulics(self.parameters, forcing, before, density, self.temperature, self.temperature)
