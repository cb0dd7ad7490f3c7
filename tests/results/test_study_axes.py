import math

import numpy as np
import pytest

from study_data import study
from ullage.results.study_axes import (
    axes_of,
    base_value,
    figure_values,
    hottest_oil,
    in_shown_unit,
    key_words,
    member_text,
    value_text,
)

BASE = """
[reservoir]
fill = "82 %"
rating = "30 psig"
[cap]
kind = "sealed"
relief_pressure = "16 psi"
[[duty.segment]]
name = "whoops"
steering_load = "18 bar"
"""


def test_values_are_shown_in_the_unit_of_their_kind():
    shown, unit = in_shown_unit(np.array([110316.0]), "cap.relief_pressure", "us")
    assert unit == "psi"
    assert shown[0] == pytest.approx(16.0, rel=1e-4)  # 16 psi is 110316 Pa to five digits
    # a bore is a length, but no road: millimetres
    assert in_shown_unit(np.array([0.0222]), "feed_line.bore", "metric")[1] == "mm"
    assert in_shown_unit(np.array([0.8]), "reservoir.fill", "us") == (pytest.approx([80.0]), "%")


def test_temperatures_are_shown_from_their_own_zero():
    shown, unit = in_shown_unit(np.array([273.15, 373.15]), "start.temperature", "us")
    assert unit == "degF"
    np.testing.assert_allclose(shown, [32.0, 212.0], atol=1e-9)  # freezing and boiling water, to rounding


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("reservoir.fill", 0.82),
        ("cap.relief_pressure", 16 * 6894.757),
        ("duty.segment.whoops.steering_load", 18e5),
        ("air.transfer_velocity", 2e-5),  # by its default
    ],
)
def test_the_scenarios_own_value_is_read_from_its_text_or_the_default(key, value):
    data = study({"reservoir.fill": [0.7, 0.8]})
    data.attrs["scenario_toml"] = BASE
    assert base_value(data, key) == pytest.approx(value, rel=1e-6)  # units to seven digits


@pytest.mark.parametrize("key", ["cap.kind", "reservoir.rating", "no.such_key", "pump.displacement"])
def test_a_value_that_is_no_plain_number_or_not_given_is_unknown(key):
    data = study({"reservoir.fill": [0.7, 0.8]})
    data.attrs["scenario_toml"] = BASE
    assert math.isnan(base_value(data, key))


def test_keys_have_words_of_the_trade_or_their_own():
    assert key_words("cap.relief_pressure") == "cap rating"
    assert key_words("pump.slip_coefficient") == "pump slip coefficient"


def test_a_member_is_named_with_its_first_values():
    inputs = {"reservoir.fill": [0.7, 0.8], "cap.kind": ["sealed", "vented"], "pump.friction": [0.05, 0.06]}
    data = study({**inputs, "cooler.preheat": [5.0, 10.0]})
    expected = "member 1: cold fill mark 80 %, cap kind vented, pump friction 0.06 and 1 more"
    assert member_text(data, 1, "us") == expected
    assert value_text(data, "cap.kind", 0, "us") == "sealed"
    assert axes_of(data)[0].keys == ("reservoir.fill",)


def test_the_hottest_oil_is_that_of_the_hottest_place():
    data = study({"reservoir.fill": [0.7, 0.8]})
    data.peak_oil_temperature[1, 2] = 399.0
    assert hottest_oil(data).tolist() == [360.0, 399.0]
    assert figure_values(data, "peak_oil_temperature").tolist() == [360.0, 399.0]
