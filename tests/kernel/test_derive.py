import math

import numpy as np
import pytest

from support import truck
from ullage.kernel.derive import hole_area, prepare
from ullage.kernel.filling import InitialGas
from ullage.kernel.params import FIELDS, Parameters
from ullage.kernel.settings import AIR_EQUILIBRIUM, AIR_FROZEN, SETTINGS, Settings
from ullage.kernel.state import State, empty_array, record_array
from ullage.scenario.circuit import initial_gas
from ullage.scenario.settings import settings_of

# every law is at work: a fan, a thermostat, a cold point, flow control
WHOLE = truck(
    {
        "cooler.fan_air_speed": "3 m/s",
        "cooler.fan_on_temperature": "80 degC",
        "cooler.fan_off_temperature": "70 degC",
        "cooler.thermostat_open_temperature": "70 degC",
        "cooler.thermostat_shut_temperature": "60 degC",
        "fluid.cold_temperature": "-20 degC",
        "fluid.cold_viscosity": "900 mm2/s",
        "cap.weep_diameter": "0.2 mm",
        "pump.belt_slip": 0.02,
        "pump.rating_elevation": "0 m",
        "steering_gear.work_share": 0.1,
        "steering_gear.rod_volume": "50 mL",
        "reservoir.outlet_forward": "5 cm",
        "reservoir.outlet_left": "5 cm",
        "feed_line.pump_forward": "1 m",
        "feed_line.pump_left": "1 m",
        "fluid.solubility_slope": "0.001 1/K",
    }
).spec
FLOW_POINT = {"speed": 150.0, "pressure": 5e6, "flow": 5.8e-4, "viscosity": 3e-5}
TORQUE_POINT = {"speed": 150.0, "pressure": 5e6, "torque": 26.0, "viscosity": 3e-5}


def settings(**changes):
    """Return the settings of the whole truck with some numbers changed, in an array."""
    found = record_array(Settings, np.array(settings_of(WHOLE).tolist()))
    for name, value in changes.items():
        found[name] = value
    return found


def derived(of, gas=None):
    """Return the parameters of settings as a dict; the oil in the circuit is that of the whole truck."""
    parameters = empty_array(Parameters)
    for name in FIELDS:
        parameters[name] = math.nan
    prepare(of, gas or initial_gas(WHOLE), parameters, empty_array(State))
    return dict(zip(FIELDS, parameters[0].tolist(), strict=True))


def moved(**changes):
    """Return the parameters that differ once some settings have changed."""
    before, after = derived(settings()), derived(settings(**changes))
    return {name for name in FIELDS if before[name] != after[name]}


# what does not go over into one parameter of its own
SEVERAL = {
    "fluid_viscosity_40": {
        "viscosity_constant",
        "viscosity_slope",
        "cold_viscosity_constant",
        "cold_viscosity_slope",
    },
    "fluid_viscosity_100": {"viscosity_constant", "viscosity_slope"},
    "fluid_density_15": {"density_15", "heat_constant", "heat_slope"},
    "fluid_cold_temperature": {"cold_viscosity_constant", "cold_viscosity_slope"},
    "fluid_cold_viscosity": {"cold_viscosity_constant", "cold_viscosity_slope"},
    "cap_relief_pressure": {"relief_crack", "relief_full", "relief_reseat"},
    "cap_reseat_drop": {"relief_reseat", "vacuum_reseat"},
    "cap_vacuum_pressure": {"vacuum_crack", "vacuum_full", "vacuum_reseat"},
    "cap_discharge_coefficient": {"relief_area", "weep_area", "vacuum_area", "breather_area", "neck_area"},
    "tolerance_factor": {"temperature_tolerance", "pressure_tolerance", "mass_tolerance"},
}
# how the circuit is filled, and the engine bay, are no parameters of the march
NONE = {
    "fluid_water_content",
    "reservoir_fill_temperature",
    "weather_pressure_offset",
    "start_temperature",
    "start_elevation",
    "start_headspace_pressure",
    "start_air_saturation",
    "start_trapped_air",
    "start_headspace_gauge",
    "surroundings_bay_offset",
    "surroundings_stop_rise",
    "surroundings_bay_settling_time",
    "surroundings_block_temperature",
    "surroundings_block_warming_time",
    "surroundings_block_cooling_time",
    "surroundings_wet_factor",
}
CODES_AND_POINTS = {name for name in SETTINGS if "_point_" in name} | {
    "cap_kind",
    "pump_bypass_routing",
    "pump_relief_location",
    "air_model",
    "feed_inertia",
}


def test_every_parameter_is_written():
    for model in (AIR_FROZEN, AIR_EQUILIBRIUM):
        found = derived(settings(air_model=model))
        assert [name for name in FIELDS if math.isnan(found[name])] == []


@pytest.mark.parametrize("name", [name for name in SETTINGS if name not in CODES_AND_POINTS])
def test_a_setting_moves_its_own_parameters_and_no_others(name):
    value = float(settings()[name][0])
    found = moved(**{name: 1.001 * value + (0.001 if value == 0.0 else 0.0)})
    if name in NONE or name in SEVERAL:
        assert found == SEVERAL.get(name, set())
    else:
        assert len(found) == 1


def test_no_parameter_follows_two_settings_unless_said():
    alone = [name for name in SETTINGS if name not in {*CODES_AND_POINTS, *NONE, *SEVERAL}]
    owners = [next(iter(moved(**{name: 1.001 * float(settings()[name][0]) + 1e-9}))) for name in alone]
    twice = {owner for owner in owners if owners.count(owner) > 1}
    assert twice == set()


@pytest.mark.parametrize(
    ("name", "code", "found"),
    [
        ("cap_kind", 1.0, {"cap_kind"}),
        ("pump_bypass_routing", 1.0, {"bypass_to_reservoir"}),
        ("pump_relief_location", 2.0, {"relief_place"}),
        ("feed_inertia", 1.0, {"inertia_length"}),
        (
            "air_model",
            AIR_FROZEN,
            {"transfer_velocity", "air_diffusivity", "tank_release_rate", "line_release_rate"},
        ),
    ],
)
def test_a_choice_moves_what_it_is_about(name, code, found):
    assert moved(**{name: code}) == found


@pytest.mark.parametrize(
    ("point", "values", "parameter"),
    [("flow_point", FLOW_POINT, "slip_coefficient"), ("torque_point", TORQUE_POINT, "friction")],
)
def test_a_point_of_the_data_sheet_goes_before_the_coefficient_until_it_is_taken_out(point, values, parameter):
    given = {f"pump_{point}_{name}": value for name, value in values.items()}
    assert moved(**given) == {parameter}
    coefficient = {f"pump_{parameter}": 2.0 * float(settings()[f"pump_{parameter}"][0])}
    assert derived(settings(**given)) == derived(settings(**given, **coefficient))
    taken_out = dict.fromkeys(given, math.nan)
    assert derived(settings(**taken_out, **coefficient))[parameter] == coefficient[f"pump_{parameter}"]


def test_air_in_equilibrium_follows_the_oil_that_is_there():
    gas = InitialGas(293.15, 1e-3, 1e5, 8.7, 1e-3, 0.0)
    found = derived(settings(air_model=AIR_EQUILIBRIUM, fluid_density_15=870.0, reservoir_surface_area=0.02), gas)
    # 10 L of oil, of which a tenth of a second's worth passes 0.02 m2: 10 /s * 0.01 m3 / 0.02 m2
    assert found["transfer_velocity"] == pytest.approx(5.0, rel=1e-14)  # rounding


def test_a_pump_of_28_cm3_delivers_28_cm3_a_turn():
    assert 2.0 * math.pi * derived(settings())["displacement"] == pytest.approx(28e-6, rel=1e-15)  # rounding


def test_a_round_hole_lets_through_its_area_times_the_discharge_coefficient():
    assert hole_area(0.6, 2e-3) == pytest.approx(0.6 * 3.141592653589793e-6, rel=1e-15)  # rounding


def test_deriving_leaves_the_settings_alone_and_two_of_them_apart():
    one, other = settings(), settings(reservoir_volume=9e-3)
    before = one.tobytes()
    first = derived(one)
    assert derived(other)["tank_volume"] == 9e-3
    assert one.tobytes() == before
    assert derived(one) == first
