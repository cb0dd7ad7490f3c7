import numpy as np
import pytest

from support import truck
from ullage.api import simulate
from ullage.results.display import shown_value, to_display

# Exact by definition: international foot and pound, standard gravity, US gallon of 231 cubic inches.
PSI = 0.45359237 * 9.80665 / 0.0254**2
GALLON = 231.0 * 0.0254**3
MILE = 5280.0 * 12.0 * 0.0254


@pytest.fixture(scope="module")
def data():
    return simulate(truck({"event": [{"action": "cap off", "time": "8 min"}]}))


CONVERSIONS = [
    ("metric", "oil_temperature", "degC", lambda si: si - 273.15),
    ("us", "oil_temperature", "degF", lambda si: si * 1.8 - 459.67),
    ("us", "headspace_temperature", "degF", lambda si: si * 1.8 - 459.67),
    ("metric", "headspace_pressure", "kPa", lambda si: si / 1e3),
    ("us", "headspace_gauge_pressure", "psi", lambda si: si / PSI),
    ("us", "seal_margin", "psi", lambda si: si / PSI),
    ("metric", "pump_flow", "L/min", lambda si: si * 6e4),
    ("us", "pump_flow", "gal/min", lambda si: si * 60.0 / GALLON),
    ("metric", "headspace_volume", "L", lambda si: si * 1e3),
    ("us", "headspace_volume", "qt", lambda si: si * 4.0 / GALLON),
    ("metric", "distance", "km", lambda si: si / 1e3),
    ("us", "distance", "mile", lambda si: si / MILE),
    ("us", "pump_speed", "rpm", lambda si: si * 30.0 / np.pi),
    ("metric", "pump_viscosity", "mm2/s", lambda si: si * 1e6),
    ("us", "pump_viscosity", "cSt", lambda si: si * 1e6),
    ("us", "oil_level", "1", lambda si: si),
    ("us", "shaft_power", "W", lambda si: si),
    ("us", "cap_state", "1", lambda si: si),
    ("us", "event_time", "s", lambda si: si),
]


@pytest.mark.parametrize(("system", "name", "unit", "convert"), CONVERSIONS)
def test_quantity_is_shown_in_the_unit_of_its_system(data, system, name, unit, convert):
    shown = to_display(data, system)[name]
    assert shown.attrs["units"] == unit
    assert shown.attrs["long_name"] == data[name].attrs["long_name"]
    assert shown.dims == data[name].dims
    # Exact factors: rounding, of temperatures near 300 K and of zeros.
    assert shown.values == pytest.approx(convert(data[name].values), rel=1e-12, abs=1e-12)


@pytest.mark.parametrize("system", ["metric", "us"])
def test_original_is_left_alone_and_nothing_is_lost(data, system):
    before = data.copy(deep=True)
    shown = to_display(data, system)
    assert data.identical(before)
    assert set(shown.variables) == set(data.variables)
    assert set(shown.coords) == set(data.coords)
    assert shown.attrs == data.attrs


@pytest.mark.parametrize("name", ["pump_flow", "oil_level", "event_count"])
def test_what_is_shown_has_its_own_memory(data, name):
    assert not np.shares_memory(to_display(data, "us")[name].values, data[name].values)


def test_metric_is_the_default(data):
    assert to_display(data).identical(to_display(data, "metric"))


def test_showing_twice_changes_nothing_more(data):
    assert to_display(to_display(data, "us"), "us").identical(to_display(data, "us"))


@pytest.mark.parametrize(
    ("value", "units", "system", "expected"),
    [
        (373.15, "K", "us", (212.0, "degF")),
        (0.0, "K", "metric", (-273.15, "degC")),
        (1e5, "Pa", "metric", (100.0, "kPa")),
        (PSI, "Pa", "us", (1.0, "psi")),
        (MILE, "m", "us", (1.0, "mile")),
        (5.0, "kg", "us", (5.0, "kg")),
    ],
)
def test_single_value_is_shown(value, units, system, expected):
    number, unit = shown_value(value, units, system)
    assert (number, unit) == (pytest.approx(expected[0], rel=1e-12), expected[1])  # exact factors, rounding


@pytest.mark.parametrize("units", ["US", "imperial", ""])
def test_units_that_are_not_known_are_refused_by_name(data, units):
    with pytest.raises(ValueError, match=f"units is '{units}'; 'metric' or 'us' is allowed"):
        to_display(data, units=units)
