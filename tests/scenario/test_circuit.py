import pytest

from support import truck
from ullage.duty.profile import ACCELERATIONS
from ullage.errors import ScenarioError
from ullage.physics import oil, tank
from ullage.physics.air import GAS_CONSTANT
from ullage.scenario.circuit import (
    hole_area,
    initial_gas,
    level_at,
    oil_left,
    start_over_ambient,
    weather_of,
)
from ullage.scenario.race import race_pieces
from ullage.scenario.settings import fluid_grade, start_temperature

# At 15 degC the density is the data-sheet value, 870 kg/m3, and no property law enters the mass at the mark.
COLD = {"reservoir.fill_temperature": "15 degC", "start.temperature": "15 degC"}
TANK = 7.6e-3 * (1.0 - 5.0 * 7.1e-5)
PASSAGES = 3.5e-3 * (1.0 - 5.0 * 4e-5)


def gas(changes=None):
    """Return the air space at the start of the test truck."""
    return initial_gas(truck(changes).spec)


def test_oil_mass_at_the_mark_fills_the_passages_and_the_share_of_the_tank():
    assert gas(COLD).oil_mass == pytest.approx(870.0 * (0.8 * TANK + PASSAGES), rel=1e-14)  # rounding


def test_oil_mass_does_not_depend_on_the_start_but_on_the_fill():
    warm = gas({**COLD, "start.temperature": "90 degC", "start.elevation": "2 km"})
    assert warm.oil_mass == gas(COLD).oil_mass
    # Oil filled at 50 degC is thinner by some 0.072 % per kelvin, while metal grows by 0.007 %.
    hot = gas({**COLD, "reservoir.fill_temperature": "50 degC"})
    assert hot.oil_mass / warm.oil_mass == pytest.approx(1.0 - 35.0 * 6.6e-4, abs=2e-3)


def test_air_space_at_the_mark_is_what_the_oil_leaves():
    found = gas(COLD)
    assert found.headspace_volume == pytest.approx(0.2 * TANK, rel=1e-12)  # a difference of volumes five times larger
    assert (found.air_pressure, found.temperature) == (101325.0, 288.15)


def test_warm_oil_takes_air_space_by_its_expansion():
    lost = gas(COLD).headspace_volume - gas({**COLD, "start.temperature": "65 degC"}).headspace_volume
    # 9.5 L of oil at some 7.2e-4 less 5e-5 to 7e-5 of the metal per kelvin over 50 K; both rounded to 5 %.
    assert lost == pytest.approx(9.5e-3 * 50.0 * 6.6e-4, rel=0.05)


@pytest.mark.parametrize(
    ("level", "absolute"), [(None, 84560.0), ("0.5 barg", 134560.0), ("1.5 bara", 150000.0), ("2 psi vac", 70770.5)]
)
def test_start_pressure_is_ambient_or_as_given_over_the_atmosphere_of_the_start(level, absolute):
    changes = {**COLD, "start.elevation": "1500 m"} | ({"start.headspace_pressure": level} if level else {})
    found = gas(changes)
    assert found.air_pressure == pytest.approx(absolute, abs=1.0)  # ISO 2533 table, 84560 Pa at 1500 m, printed digits
    assert start_over_ambient(truck(changes).spec) == pytest.approx(absolute - 84560.0, abs=1.0)


def test_weather_moves_the_start_pressure():
    assert gas({"weather.pressure_offset": "-1 kPa"}).air_pressure == pytest.approx(100325.0, rel=1e-14)  # rounding


def test_pressed_air_space_is_larger_by_the_yield_of_wall_and_oil():
    grown = gas({**COLD, "start.headspace_pressure": "1 barg"}).headspace_volume - gas(COLD).headspace_volume
    # 2e-10 m3/Pa of the wall and 9.5 L of oil at 1.4 to 1.9 GPa, over 1 bar.
    assert 1e5 * (2e-10 + 9.5e-3 / 1.9e9) < grown < 1e5 * (2e-10 + 9.5e-3 / 1.4e9)


def test_water_vapour_takes_its_share_of_the_pressure():
    wet = gas({"fluid.water_content": 0.002, "start.temperature": "40 degC"})
    # Oil with free water: vapour pressure of pure water at 40 degC, 7384 Pa in the steam table (0.1 %).
    assert 101325.0 - wet.air_pressure == pytest.approx(7384.0, rel=1e-3)


def test_dissolved_air_is_the_share_of_saturation_at_ambient():
    full, half = gas(COLD), gas({**COLD, "start.air_saturation": 0.5})
    assert half.dissolved_air == pytest.approx(0.5 * full.dissolved_air, rel=1e-14)  # rounding
    high = gas({**COLD, "start.elevation": "1500 m", "start.headspace_pressure": "1 barg"})
    assert high.dissolved_air / full.dissolved_air == pytest.approx(84560.0 / 101325.0, rel=2e-5)  # printed digits
    # Bunsen: 0.09 volumes of air at 0 degC and one atmosphere, 1.293 kg/m3, in a volume of oil (0.5 % for rounding).
    assert full.dissolved_air == pytest.approx(0.09 * 1.293 * full.oil_mass / 870.0, rel=0.02)


def test_coldest_reservoir_is_what_the_passages_leave_at_minus_40():
    found = oil_left(truck().spec)
    assert 0.7 * 0.8 * 7.6e-3 < found.volume < 0.8 * 7.6e-3


def test_overflow_leaves_a_brimful_tank_less_the_splash_volume_of_oil_that_was_hot():
    small, large = (oil_left(truck({"reservoir.splash_volume": volume}).spec) for volume in ("10 mL", "110 mL"))
    assert small.volume == large.volume  # nothing has run over
    lost = small.mass_after_overflow - large.mass_after_overflow
    assert lost == pytest.approx(1e-4 * oil.density(oil.HIGHEST_TEMPERATURE, 870.0), rel=1e-12)  # a difference


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ({}, 293.15),
        ({"weather.temperature": "31 degC"}, 304.15),
        ({"start.temperature": "60 degC"}, 333.15),
        ({"weather.point": [{"time": "1 h", "temperature": "5 degC"}]}, 278.15),
    ],
)
def test_start_temperature_is_ambient_unless_given(changes, expected):
    assert start_temperature(truck(changes).spec) == pytest.approx(expected, rel=1e-14)  # rounding


def test_weather_points_stand_in_for_the_constant_temperature():
    points = [{"time": "0 s", "temperature": 280.0}, {"time": "10 min", "temperature": 300.0}]
    weather = weather_of(truck({"weather.point": points, "weather.pressure_offset": 100.0}).spec)
    assert (weather.times, weather.temperatures, weather.pressure_offset) == ((0.0, 600.0), (280.0, 300.0), 100.0)


def test_own_values_go_before_those_of_the_preset():
    grade = fluid_grade(truck({"fluid.viscosity_40": "30 mm2/s"}).spec.fluid)
    assert grade == pytest.approx((30e-6, 7.3e-6, 870.0), rel=1e-14)  # rounding


def test_segment_with_a_length_lasts_length_over_speed():
    changes = {"duty.segment.0.duration": None, "duty.segment.0.length": "9 km"}
    pieces, stops = race_pieces(truck(changes).spec)
    assert [piece.end for piece in pieces] == pytest.approx([540.0], rel=1e-14)  # 9 km at 60 km/h; rounding
    assert stops == []


def test_trapped_air_keeps_oil_out_and_stands_at_ambient_pressure_when_filled():
    found, full = gas({**COLD, "start.trapped_air": "0.5 L", "start.elevation": "1500 m"}), gas(COLD)
    assert full.oil_mass - found.oil_mass == pytest.approx(0.5e-3 * 870.0, rel=1e-12)  # a difference of 8 kg
    # ISO 2533 table, 84560 Pa at 1500 m, printed digits
    assert found.trapped_air == pytest.approx(84560.0 * 0.5e-3 / (GAS_CONSTANT * 288.15), rel=2e-5)
    assert full.trapped_air == 0.0


def test_tank_stands_at_its_mark_whatever_is_trapped():
    for temperature in ("15 degC", "90 degC"):
        spec = truck({"reservoir.fill_temperature": temperature, "start.trapped_air": "0.7 L"}).spec
        assert level_at(spec, spec.reservoir.fill_temperature) == pytest.approx(0.8, rel=1e-12)  # rounding


@pytest.mark.parametrize(("start", "pressed"), [("15 degC", None), ("60 degC", None), ("60 degC", "0.5 barg")])
def test_air_space_oil_and_trapped_air_fill_tank_and_passages(start, pressed):
    changes = {"start.temperature": start, "start.trapped_air": "0.4 L", "reservoir.fill": 0.7}
    found = gas(changes | ({"start.headspace_pressure": pressed} if pressed else {}))
    trapped = found.trapped_air * GAS_CONSTANT * found.temperature / found.air_pressure
    tank_room = tank.expanded_volume(7.6e-3, 7.1e-5, found.temperature)
    passages = tank.expanded_volume(3.5e-3, 4e-5, found.temperature)
    whole = found.headspace_volume + trapped + found.oil_mass / oil.density(found.temperature, 870.0)
    # wall and oil give way by some 2e-10 and 6e-12 m3/Pa: 10 mL at half a bar over ambient
    yielded = 1e-5 if pressed else 0.0
    assert whole == pytest.approx(tank_room + passages + yielded, abs=1e-12 + 0.4 * yielded)


def test_oil_filled_hot_is_less_by_its_expansion():
    # 870 kg/m3 shrinks by some 0.072 % per kelvin over 100 K, the density law is not linear: 10 % of that
    cold, hot = (gas({"reservoir.fill_temperature": value}).oil_mass for value in ("20 degC", "120 degC"))
    assert 1.0 - hot / cold == pytest.approx(1.0 - oil.density(393.15, 870.0) / oil.density(293.15, 870.0), rel=0.1)


def test_segment_has_the_accelerations_of_the_truck_and_a_stop_has_none():
    keys = {f"duty.segment.0.{name}": f"{value} gn" for name, value in zip(ACCELERATIONS, (0.4, -0.5, -1), strict=True)}
    pit = {"name": "pit", "after_lap": 1, "duration": "5 min"}
    driven, stands = race_pieces(truck({**keys, "duty.stop": [pit]}).spec)[0]
    # standard gravity, 9.80665 m/s2 by definition (General Conference on Weights and Measures, 1901)
    assert driven.stretch.acceleration == pytest.approx((0.4 * 9.80665, -0.5 * 9.80665, -9.80665), rel=1e-14)
    assert stands.stretch.acceleration == (0.0, 0.0, 0.0)


@pytest.mark.parametrize(("accepted", "refused"), [("10 gn", "10.1 gn"), ("-3 gn", "-3.1 gn")])
def test_landing_may_be_harder_than_a_drop(accepted, refused):
    assert truck({"duty.segment.0.upward_acceleration": accepted}).spec.format == 1
    with pytest.raises(ScenarioError, match="is outside -3 gn to 10 gn"):
        truck({"duty.segment.0.upward_acceleration": refused})


def test_hole_in_the_cap_lets_through_its_area_times_the_discharge_coefficient():
    cap = truck({"cap.discharge_coefficient": 0.6}).spec.cap
    assert hole_area(cap, 2e-3) == pytest.approx(0.6 * 3.141592653589793e-6, rel=1e-15)
