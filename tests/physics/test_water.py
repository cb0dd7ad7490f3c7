import math

import numpy as np
import pytest

from ullage.physics import water


def test_saturation_pressure_ends_at_the_critical_point_and_rises_on_the_way():
    # Wagner and Pruss (2002): 647.096 K and 22.064 MPa; the series is zero there.
    assert water.saturation_pressure(647.096) == pytest.approx(22.064e6, rel=1e-12)
    assert water.saturation_pressure(700.0) == water.saturation_pressure(647.096)
    assert np.all(np.diff([water.saturation_pressure(t) for t in np.linspace(240.0, 647.0, 200)]) > 0.0)


def test_saturation_content_has_its_anchor_and_its_typical_slope():
    assert water.saturation_content(293.15, 1e-4) == 1e-4
    # Exponent of 3000 K, a typical value for mineral oil, from memory: some 2.5 times from 20 to 50 degC.
    slope = math.log(water.saturation_content(353.15, 1e-4) / 1e-4) / (1.0 / 293.15 - 1.0 / 353.15)
    assert slope == pytest.approx(3000.0, rel=1e-10)  # rounding of a quotient of logarithms
    assert water.saturation_content(323.15, 1e-4) / 1e-4 == pytest.approx(2.5, rel=0.05)  # one-digit rule


def test_dry_oil_has_no_vapour_pressure():
    assert water.vapour_pressure(313.15, 0.0, 1e-4) == 0.0


def test_vapour_pressure_is_continuous_where_free_water_begins():
    full = water.saturation_content(353.15, 1e-4)
    below, above = (water.vapour_pressure(353.15, full * factor, 1e-4) for factor in (1.0 - 1e-9, 1.0 + 1e-9))
    assert above == pytest.approx(below, rel=2e-9)  # two billionths of content apart


def test_vapour_pressure_of_a_given_content_rises_with_temperature():
    # The vapour pressure of water rises faster than the solubility in oil (some 5000 K against 3000 K).
    assert np.all(np.diff([water.vapour_pressure(t, 5e-5, 1e-4) for t in np.linspace(273.16, 400.0, 60)]) > 0.0)


@pytest.mark.parametrize("temperature", [263.15, 293.15, 353.15])
def test_free_water_is_what_the_oil_cannot_dissolve(temperature):
    full = water.saturation_content(temperature, 1e-4)
    assert water.free_water(temperature, 0.999 * full, 1e-4) == 0.0
    assert water.free_water(temperature, 3.0 * full, 1e-4) == pytest.approx(2.0 * full, rel=1e-12)
    assert water.free_water(temperature, 0.0, 1e-4) == 0.0


def test_oil_that_is_clear_hot_turns_milky_cold():
    content = water.saturation_content(333.15, 1e-4)
    assert water.free_water(343.15, content, 1e-4) == 0.0
    cold = [water.free_water(t, content, 1e-4) for t in np.linspace(273.15, 333.15, 30)]
    assert np.all(np.diff(cold) < 0.0)
