import math
import typing

import pytest

from support import SCENARIOS, truck
from ullage.kernel.settings import SETTINGS, Settings
from ullage.kernel.state import empty_record, record_dtype
from ullage.physics.atmosphere import pressure
from ullage.scenario.duty_spec import ScenarioSpec
from ullage.scenario.fields import Level, nested_spec, quantity_of, quantity_of_key
from ullage.scenario.load import load_scenario
from ullage.scenario.parameters import make_parameters
from ullage.scenario.settings import CODES, SETTING_KEYS, settings_of

TABLES = (
    "fluid",
    "reservoir",
    "cap",
    "pump",
    "steering_gear",
    "return_line",
    "cooler",
    "feed_line",
    "surroundings",
    "air",
    "start",
    "weather",
)
# quantities that are no settings, and why
NO_SETTINGS = {
    "cap.leak_diameter": "its flow area is a channel, as that of a leak which comes and goes",
    "cooler.blockage": "a channel: mud comes and is washed off",
    "pump.rating_elevation": "only says which absolute pressure pump.minimum_inlet_pressure is",
    "weather.temperature": "a channel; the start takes its temperature from it where it has none of its own",
}
NO_KEYS = ("start_headspace_gauge", "feed_inertia", "tolerance_factor")
RESOLVED = {
    "fluid_viscosity_40",
    "fluid_viscosity_100",
    "fluid_density_15",
    "start_temperature",
    "start_headspace_pressure",
}


def quantities(table):
    """Return the dotted keys of the quantities of a table and of the points in it; arrays are none of them."""
    model = nested_spec(ScenarioSpec, table)
    found = [f"{table}.{name}" for name in model.model_fields if quantity_of(model, name)]
    for name, field in model.model_fields.items():
        inner = nested_spec(model, name)
        if inner and typing.get_origin(field.annotation) is not tuple:
            found += [f"{table}.{name}.{key}" for key in inner.model_fields]
    return found


def value_of(spec, key):
    """Return the value of a dotted key, None where its table is out."""
    for name in key.split("."):
        spec = None if spec is None else getattr(spec, name)
    return spec


@pytest.mark.parametrize("table", TABLES)
def test_every_quantity_is_a_setting_or_says_why_not(table):
    keys = set(SETTING_KEYS.values())
    assert [key for key in quantities(table) if (key in keys) == (key in NO_SETTINGS)] == []


def test_every_setting_is_a_key_or_named_here():
    assert [name for name in SETTINGS if name not in SETTING_KEYS] == [*NO_KEYS]
    assert record_dtype(Settings).names == SETTINGS
    assert len({*SETTING_KEYS.values()}) == len(SETTING_KEYS)


def test_every_key_says_what_it_accepts_and_every_choice_has_a_code():
    for field, key in SETTING_KEYS.items():
        assert (quantity_of_key(ScenarioSpec, key) is None) == (field in CODES)
    for field, codes in CODES.items():
        table, name = SETTING_KEYS[field].split(".")
        kinds = [nested_spec(ScenarioSpec, table).model_fields[name].annotation]
        while not isinstance(kinds[0], str):
            kinds = [kind for outer in kinds for kind in typing.get_args(outer)]
        assert {code for code in codes if code} == set(kinds)
        assert sorted({*codes.values()}) == [float(place) for place in range(len(kinds))]


@pytest.mark.parametrize("path", SCENARIOS, ids=lambda path: path.stem)
def test_a_setting_is_the_number_of_its_key_or_none(path):
    spec = load_scenario(path).spec
    settings = settings_of(spec)
    for field, key in SETTING_KEYS.items():
        value, found = value_of(spec, key), getattr(settings, field)
        if field in CODES:
            assert found == CODES[field][value]
        elif value is None and field not in RESOLVED:
            assert math.isnan(found)
        elif value is not None and not isinstance(value, Level):
            assert found == value


def test_an_oil_by_its_grade_and_a_start_at_ambient_have_numbers():
    settings = settings_of(truck({"weather.temperature": "31 degC"}).spec)
    # the generic fluid of presets.py
    assert [settings.fluid_viscosity_40, settings.fluid_viscosity_100, settings.fluid_density_15] == [
        34e-6,
        7.3e-6,
        870.0,
    ]
    assert settings.start_temperature == pytest.approx(304.15, rel=1e-15)  # rounding
    assert (settings.start_headspace_pressure, settings.start_headspace_gauge) == (0.0, 1.0)


@pytest.mark.parametrize(("level", "pascal", "gauge"), [("0.5 barg", 5e4, 1.0), ("1.2 bara", 1.2e5, 0.0)])
def test_pressure_of_the_start_is_kept_as_it_is_written(level, pascal, gauge):
    settings = settings_of(truck({"start.headspace_pressure": level, "start.elevation": "1 km"}).spec)
    assert settings.start_headspace_pressure == pytest.approx(pascal, rel=1e-14)  # rounding of the unit
    assert settings.start_headspace_gauge == gauge


def test_ratings_are_over_ambient_and_the_least_inlet_pressure_is_absolute():
    changes = {"reservoir.rating": "2 barg", "pump.seal_rating": "1.5 barg"}
    inlet = {"pump.minimum_inlet_pressure": "-0.4 barg", "pump.rating_elevation": "1 km"}
    settings = settings_of(truck({**changes, **inlet}).spec)
    assert (settings.reservoir_rating, settings.pump_seal_rating) == (2e5, 1.5e5)
    assert settings.pump_minimum_inlet_pressure == pytest.approx(pressure(1000.0) - 4e4, rel=1e-14)  # rounding
    absolute = settings_of(truck({"pump.minimum_inlet_pressure": "55 kPaa"}).spec)
    assert absolute.pump_minimum_inlet_pressure == pytest.approx(55e3, rel=1e-14)  # rounding


@pytest.mark.parametrize(("interval", "inertia"), [("0.1 s", 1.0), ("1 s", 0.0)])
def test_what_is_no_key_comes_from_the_race_and_the_caller(interval, inertia):
    settings = settings_of(truck({"duty.sample_interval": interval}).spec, 0.01)
    assert (settings.feed_inertia, settings.tolerance_factor) == (inertia, 0.01)


def test_records_of_settings_have_memory_of_their_own():
    spec = truck().spec
    one, other = settings_of(spec), settings_of(spec)
    one.reservoir_volume = 0.0
    assert other.reservoir_volume == 7.6e-3 == make_parameters(spec, 1.0).tank_volume
    assert empty_record(Settings).reservoir_volume == 0.0
