"""The numbers of a specification, as the record from which parameters and initial state are made."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from operator import attrgetter
from typing import Any

from ullage.duty.profile import Spread
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
    settings_record,
)
from ullage.physics.atmosphere import pressure
from ullage.scenario.duty_spec import ScenarioSpec
from ullage.scenario.fields import Level, Spec, nested_spec
from ullage.scenario.presets import GRADES, Grade
from ullage.scenario.race import race_pieces
from ullage.scenario.spec import Fluid

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
"""Dotted key by field of `Settings`; `quantity_of_key(ScenarioSpec, key)` says what a key accepts.

A field that has none is no key; those in `CODES` are choices.
"""

_PLACES = {field: place for place, field in enumerate(SETTINGS)}
_IN_POINTS = {field: key.split(".") for field, key in SETTING_KEYS.items() if key.count(".") == 2}
# what stands in the tables themselves comes first in the record
_in_tables: Callable[[ScenarioSpec], tuple[Any, ...]] = attrgetter(*[*SETTING_KEYS.values()][: -len(_IN_POINTS)])


def settings_of(spec: ScenarioSpec, tolerance_factor: float = 1.0) -> Settings:
    """Return the numbers of a specification on which its parameters and its initial state depend.

    Parameters
    ----------
    spec : ScenarioSpec
        A checked specification.
    tolerance_factor : float
        Factor on all tolerances; 1 is the default accuracy.

    Returns
    -------
    numpy record
        One float64 field a number, SI units.
    """
    settings = filling_settings(spec)
    settings.tolerance_factor = tolerance_factor
    settings.feed_inertia = 1.0 if _shows_how_flow_grows(spec) else 0.0
    return settings


def filling_settings(spec: ScenarioSpec) -> Settings:
    """Return the same without what has to ask the race: enough to know how the circuit is filled."""
    numbers = [*_in_tables(spec)]
    numbers += [None] * (len(SETTINGS) - len(numbers))
    for field, number in _resolved(spec).items():
        numbers[_PLACES[field]] = number
    return settings_record(numbers)


def _resolved(spec: ScenarioSpec) -> dict[str, float]:
    """Return the fields that do not hold the value of their key as it is."""
    grade, pump = fluid_grade(spec.fluid), spec.pump
    start = spec.start.headspace_pressure or _AT_AMBIENT
    return {
        "fluid_viscosity_40": grade.viscosity_40,
        "fluid_viscosity_100": grade.viscosity_100,
        "fluid_density_15": grade.density_15,
        "reservoir_rating": spec.reservoir.rating.pascal,
        "cap_kind": CODES["cap_kind"][spec.cap.kind],
        "pump_minimum_inlet_pressure": pump.minimum_inlet_pressure.absolute(pressure(pump.rating_elevation or 0.0)),
        "pump_bypass_routing": CODES["pump_bypass_routing"][pump.bypass_routing],
        "pump_relief_location": CODES["pump_relief_location"][pump.relief_location],
        "pump_seal_rating": pump.seal_rating.pascal,
        "air_model": CODES["air_model"][spec.air.model],
        "start_temperature": start_temperature(spec),
        "start_headspace_pressure": start.pascal,
        "start_headspace_gauge": 1.0 if start.gauge else 0.0,
        **_points(spec),
    }


def _points(spec: ScenarioSpec) -> dict[str, float]:
    """Return what the data sheet of the pump says, where it is given."""
    found = {}
    for field, (table, point, name) in _IN_POINTS.items():
        if given := getattr(getattr(spec, table), point):
            found[field] = getattr(given, name)
    return found


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


def _shows_how_flow_grows(spec: ScenarioSpec) -> bool:
    """Return whether samples, and what is recorded, are close enough together; drawn speeds are not."""
    if spec.duty.sample_interval > _FAST_SAMPLES:
        return False
    if recording := spec.duty.recording:
        return recording.log.usual_step <= _FAST_SAMPLES
    return not any(isinstance(piece.stretch.variation, Spread) for piece in race_pieces(spec)[0])
