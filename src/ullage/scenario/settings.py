"""The numbers of a specification, as the record from which parameters and initial state are made."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from operator import attrgetter
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray

from ullage.duty.profile import Spread
from ullage.kernel.filling import Filling
from ullage.kernel.params import (
    CAP_SEALED,
    CAP_VENTED,
    RELIEF_IN_PUMP,
    RELIEF_IN_RESERVOIR,
    RELIEF_IN_STEERING_GEAR,
)
from ullage.kernel.settings import (
    AIR_EQUILIBRIUM,
    AIR_FROZEN,
    AIR_KINETIC,
    BYPASS_TO_INLET,
    BYPASS_TO_RESERVOIR,
    SETTINGS,
    Settings,
)
from ullage.kernel.state import record_array
from ullage.physics.atmosphere import pressure
from ullage.scenario.duty_spec import ScenarioSpec
from ullage.scenario.fields import Level, Spec, nested_spec
from ullage.scenario.presets import GRADES, Grade
from ullage.scenario.race import race_pieces
from ullage.scenario.spec import Fluid, Pump

CODES: dict[str, dict[str | None, float]] = {
    "cap_kind": {"sealed": CAP_SEALED, "vented": CAP_VENTED},
    "pump_bypass_routing": {None: BYPASS_TO_INLET, "inlet": BYPASS_TO_INLET, "reservoir": BYPASS_TO_RESERVOIR},
    "pump_relief_location": {
        "pump": RELIEF_IN_PUMP,
        "steering_gear": RELIEF_IN_STEERING_GEAR,
        "reservoir": RELIEF_IN_RESERVOIR,
    },
    "air_model": {"frozen": AIR_FROZEN, "kinetic": AIR_KINETIC, "equilibrium": AIR_EQUILIBRIUM},
}

_Find = Callable[[ScenarioSpec], float | None]

_AT_AMBIENT = Level(0.0, gauge=True)
_FAST_SAMPLES = 0.1 + 1e-9  # longest step of channels that show how a column of oil speeds up [s]


def _keys(model: type[Spec], table: str) -> Iterator[tuple[str, str]]:
    """Go through the keys of a table and of the tables in it: field and dotted key."""
    for name in model.model_fields:
        key = f"{table}{name}"
        if inner := nested_spec(model, name):
            yield from _keys(inner, f"{key}.")
        else:
            yield key.replace(".", "_"), key


_KEYS = dict(_keys(ScenarioSpec, ""))
SETTING_KEYS = {field: _KEYS[field] for field in SETTINGS if field in _KEYS}
"""Dotted key by field of `Settings`; a field that has none is no key.

`quantity_of_key(ScenarioSpec, key)` says what a key accepts, a pressure level over 101,325 Pa. Those in `CODES` are
choices.
"""


def fluid_grade(fluid: Fluid) -> Grade:
    """Return viscosities and density of the oil: its own values, else those of its preset."""
    base = GRADES[fluid.preset] if fluid.preset else Grade(0.0, 0.0, 0.0)
    return Grade(
        fluid.viscosity_40 or base.viscosity_40,
        fluid.viscosity_100 or base.viscosity_100,
        fluid.density_15 or base.density_15,
    )


def start_temperature(spec: ScenarioSpec) -> float:
    """Return the temperature of oil, metal and air space at the start [K]: as given, else ambient."""
    if spec.start.temperature is not None:
        return spec.start.temperature
    points = spec.weather.point
    return points[0].temperature if points else spec.weather.temperature


def start_level(spec: ScenarioSpec) -> Level:
    """Return the pressure of the air space at the start: as given, else ambient."""
    return spec.start.headspace_pressure or _AT_AMBIENT


def settings_of(spec: ScenarioSpec, tolerance_factor: float = 1.0) -> Settings:
    """Return the numbers of a specification on which its parameters and its initial state depend.

    Parameters
    ----------
    spec : ScenarioSpec
        A checked specification.
    tolerance_factor : float
        Factor on the tolerances; 1 is the default accuracy.

    Returns
    -------
    numpy record
        One float64 field a number, SI units.
    """
    return cast("Settings", settings_array(spec, tolerance_factor)[0])


def settings_array(spec: ScenarioSpec, tolerance_factor: float) -> NDArray[Any]:
    """Return the same in an array of its own."""
    numbers = _read_settings(spec)
    numbers[_TOLERANCE] = tolerance_factor
    return record_array(Settings, np.array(numbers, np.float64))


def filling_of(spec: ScenarioSpec) -> Filling:
    """Return those of the settings that say what is in the circuit at the start."""
    return Filling(*_read_filling(spec))


def _shows_how_flow_grows(spec: ScenarioSpec) -> bool:
    """Return whether samples, and what is recorded, are close enough together; drawn speeds are not."""
    if spec.duty.sample_interval > _FAST_SAMPLES:
        return False
    if recording := spec.duty.recording:
        return recording.log.usual_step <= _FAST_SAMPLES
    return not any(isinstance(piece.stretch.variation, Spread) for piece in race_pieces(spec)[0])


def _least_inlet_pressure(pump: Pump) -> float:
    return pump.minimum_inlet_pressure.absolute(pressure(pump.rating_elevation or 0.0))


def _within(key: str) -> _Find:
    """Return how a value is found in a table that may stay out."""
    table, _, name = key.rpartition(".")
    find, read = attrgetter(table), attrgetter(name)
    return lambda spec: None if (given := find(spec)) is None else read(given)


# how a field is found that does not hold the value of a key in its table as it is
_FIND: dict[str, _Find] = {
    "fluid_viscosity_40": lambda spec: fluid_grade(spec.fluid).viscosity_40,
    "fluid_viscosity_100": lambda spec: fluid_grade(spec.fluid).viscosity_100,
    "fluid_density_15": lambda spec: fluid_grade(spec.fluid).density_15,
    "reservoir_rating": lambda spec: spec.reservoir.rating.pascal,
    "cap_kind": lambda spec: CODES["cap_kind"][spec.cap.kind],
    "pump_minimum_inlet_pressure": lambda spec: _least_inlet_pressure(spec.pump),
    "pump_bypass_routing": lambda spec: CODES["pump_bypass_routing"][spec.pump.bypass_routing],
    "pump_relief_location": lambda spec: CODES["pump_relief_location"][spec.pump.relief_location],
    "pump_seal_rating": lambda spec: spec.pump.seal_rating.pascal,
    "air_model": lambda spec: CODES["air_model"][spec.air.model],
    "start_temperature": start_temperature,
    "start_headspace_pressure": lambda spec: start_level(spec).pascal,
    "start_headspace_gauge": lambda spec: 1.0 if start_level(spec).gauge else 0.0,
    "feed_inertia": lambda spec: 1.0 if _shows_how_flow_grows(spec) else 0.0,
} | {field: _within(key) for field, key in SETTING_KEYS.items() if key.count(".") > 1}
_TOLERANCE = SETTINGS.index("tolerance_factor")


class _Reader:
    """Reads the numbers of some fields; those of keys that stand in a table come first among them."""

    def __init__(self, fields: Sequence[str]) -> None:
        keys = [SETTING_KEYS[field] for field in fields if SETTING_KEYS.get(field, "").count(".") == 1]
        self._in_tables: Callable[[ScenarioSpec], tuple[Any, ...]] = attrgetter(*keys)
        self._elsewhere = (None,) * (len(fields) - len(keys))
        self._find = [(place, _FIND[field]) for place, field in enumerate(fields) if field in _FIND]

    def __call__(self, spec: ScenarioSpec) -> list[Any]:
        numbers = [*self._in_tables(spec), *self._elsewhere]
        for place, find in self._find:
            numbers[place] = find(spec)
        return numbers


_read_settings, _read_filling = _Reader(SETTINGS), _Reader(Filling._fields)
