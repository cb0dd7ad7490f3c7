import numpy as np
import pytest

from ullage.physics import tank


def test_air_pressure_is_continuous_where_the_tank_is_full():
    at = tank.air_pressure(50.0, 0.0, 1e-12)
    # Slope there is -1 / (2 C): 1e-9 m3 is worth 500 Pa of 7 MPa, curvature 0.02 Pa.
    assert tank.air_pressure(50.0, 1e-9, 1e-12) == pytest.approx(at - 500.0, rel=1e-8)
    assert tank.air_pressure(50.0, -1e-9, 1e-12) == pytest.approx(at + 500.0, rel=1e-8)


def test_air_pressure_falls_with_volume_between_boyle_and_hooke():
    values = [tank.air_pressure(50.0, v, 1e-12) for v in np.linspace(-2e-4, 1e-3, 101)]
    assert np.all(np.diff(values) < 0.0)
    # Boyle where the space is large, Hooke where the tank is overfull; the other term is worth 1e-4 at these places.
    assert tank.air_pressure(50.0, 1e-3, 1e-12) == pytest.approx(50.0 / 1e-3, rel=1e-4)
    assert tank.air_pressure(1e-3, -2e-4, 1e-12) == pytest.approx(2e-4 / 1e-12, rel=1e-4)


def test_a_part_has_its_volume_at_20_degc():
    assert tank.expanded_volume(1e-3, 7.1e-5, 293.15) == 1e-3
