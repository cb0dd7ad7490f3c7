import pytest

from ullage.physics import atmosphere

# ISO 2533 / ICAO standard atmosphere by geometric altitude: pressure [Pa], temperature [K], density [kg/m3].
TABLE = [
    (0.0, 101325.0, 288.150, 1.22500),
    (500.0, 95461.3, 284.900, 1.16727),
    (1000.0, 89876.3, 281.651, 1.11166),
    (1500.0, 84559.7, 278.402, 1.05810),
    (2000.0, 79501.4, 275.154, 1.00655),
    (3000.0, 70121.2, 268.659, 0.90925),
    (4000.0, 61660.4, 262.166, 0.81935),
]


@pytest.mark.parametrize(("elevation", "pressure", "temperature", "density"), TABLE)
def test_pressure_and_density_are_those_of_the_standard_atmosphere(elevation, pressure, temperature, density):
    # Rounded exponent and gas constant: 5e-6 in pressure, half a unit of the last digit in density.
    assert atmosphere.pressure(elevation) == pytest.approx(pressure, rel=5e-6)
    assert atmosphere.air_density(pressure, temperature) == pytest.approx(density, rel=2e-5)


def test_elevation_is_geometric_not_geopotential():
    # ISO 2533: 3000 m read as geopotential would give 70 108.5 Pa, 0.018 % lower.
    assert atmosphere.pressure(3000.0) - 70108.5 == pytest.approx(12.7, abs=0.4)  # 5e-6 of 70 kPa


@pytest.mark.parametrize(("elevation", "absolute"), [(0.0, 190957.0), (1500.0, 174192.0), (3000.0, 159753.0)])
def test_a_cap_of_13_psi_lifts_at_less_absolute_pressure_on_a_mountain(elevation, absolute):
    # ISO 2533 plus 13 psi of 6894.757 Pa; printed to 1 Pa.
    assert atmosphere.pressure(elevation) + 13.0 * 6894.757 == pytest.approx(absolute, rel=1e-5)
