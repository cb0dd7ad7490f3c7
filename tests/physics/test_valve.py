import math

import numpy as np
import pytest

from ullage.physics import valve

AREA = 0.62 * math.pi * 1e-6  # bore of 2 mm, discharge coefficient 0.62
AMBIENT = 101325.0


def test_choked_gas_flow_does_not_depend_on_the_downstream_pressure():
    flows = [valve.gas_orifice_flow(AREA, 3e5, p, 300.0) for p in (1e3, 5e4, 1.0e5, 1.58e5)]
    # Only the laminar factor moves, by (20 / 1.4e5)^2 / 4 = 5e-9.
    assert flows == pytest.approx([flows[0]] * 4, rel=1e-8)


def test_gas_flow_is_continuous_where_it_chokes():
    edge = valve.CRITICAL_RATIO * 2e5
    below, above = (valve.gas_orifice_flow(AREA, 2e5, edge + shift, 300.0) for shift in (-1e-3, 1e-3))
    assert above == pytest.approx(below, rel=1e-8)  # both branches meet with the same slope, zero


def test_gas_flow_rises_with_the_difference_and_is_zero_without_one():
    flows = [valve.gas_orifice_flow(AREA, AMBIENT + dp, AMBIENT, 300.0) for dp in np.geomspace(0.01, 3e5, 60)]
    assert np.all(np.diff(flows) > 0.0)
    assert valve.gas_orifice_flow(AREA, AMBIENT, AMBIENT, 300.0) == 0.0
    assert valve.gas_orifice_flow(AREA, AMBIENT - 500.0, AMBIENT, 300.0) == 0.0


@pytest.mark.parametrize("law", ["gas", "liquid"])
def test_flow_is_proportional_to_a_small_difference(law):
    def flow(dp):
        if law == "gas":
            return valve.gas_orifice_flow(AREA, AMBIENT + dp, AMBIENT, 300.0)
        return valve.liquid_orifice_flow(AREA, dp, 850.0)

    # The factor leaves the line by (dp / 20 Pa)^2 / 4 = 6e-4 at 1 Pa; rounding of the ratio of pressures adds 1e-9.
    assert flow(1.0) / flow(0.5) == pytest.approx(2.0, rel=1e-3)
    assert flow(0.01) / flow(0.005) == pytest.approx(2.0, rel=1e-6)
    # Far above 20 Pa it follows the root of the difference.
    assert flow(800.0) / flow(200.0) == pytest.approx(2.0, rel=6e-3)  # 1 % of the square at 200 Pa, a fourth of it


@pytest.mark.parametrize("difference", [5.0, 20.0, 60.0])
def test_an_orifice_passes_the_flow_without_the_factor_times_the_factor(difference):
    # far above 20 Pa the factor is one: the liquid follows the root of the difference from there
    far = 1e6
    liquid = valve.liquid_orifice_flow(AREA, far, 850.0) * math.sqrt(difference / far)
    found = valve.liquid_orifice_flow(AREA, difference, 850.0)
    assert found == pytest.approx(liquid * (1.0 + (20.0 / difference) ** 2) ** -0.25, rel=1e-9)
    # air does not expand over so small a difference: density times the speed of a liquid of that density
    density = (AMBIENT + difference) / (287.05 * 300.0)
    gas = AREA * math.sqrt(2.0 * density * difference)
    found = valve.gas_orifice_flow(AREA, AMBIENT + difference, AMBIENT, 300.0)
    # expansion is worth three quarters of the difference over the pressure: 4e-4
    assert found == pytest.approx(gas * (1.0 + (20.0 / difference) ** 2) ** -0.25, rel=5e-4)


def test_laminar_factor_goes_from_zero_to_one():
    assert valve.laminar_factor(0.0) == 0.0
    # (1 + (20 Pa / dp)^2)^(-1/4) at dp = 20 Pa is the fourth root of a half, by arithmetic.
    assert valve.laminar_factor(20.0) == pytest.approx(0.5**0.25, rel=1e-14)
    assert 1.0 - 1e-4 < valve.laminar_factor(1000.0) < 1.0
    assert np.all(np.diff([valve.laminar_factor(dp) for dp in np.geomspace(1e-3, 1e4, 50)]) > 0.0)


def test_no_liquid_flows_without_a_difference():
    assert valve.liquid_orifice_flow(1e-4, 0.0, 850.0) == 0.0
    assert valve.liquid_orifice_flow(1e-4, -5e3, 850.0) == 0.0


def test_lift_of_a_spring_valve_is_linear_between_reseat_and_full():
    # Hooke's law: half way between two pressures is half the lift. Reseating 5 to 15 % lower is common, from memory.
    assert valve.lift_share(100e3, 90e3, 110e3) == pytest.approx(0.5, rel=1e-14)
    assert valve.lift_share(105e3, 90e3, 110e3) == pytest.approx(0.75, rel=1e-14)


def test_lift_stays_between_its_least_value_and_one():
    assert valve.lift_share(200e3, 90e3, 110e3) == 1.0
    # the least lift is 3 % of the full one, engineering judgement
    assert valve.lift_share(90e3, 90e3, 110e3) == 0.03
    assert valve.lift_share(-5e3, 90e3, 110e3) == 0.03
