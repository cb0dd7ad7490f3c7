"""Gas at the pump is told against the cap left shut and under three assumptions, or said not to be known."""

import numpy as np
import pytest
import xarray as xr

from ullage.results.pit_gas import gas_sentences

LABELS = ["shut", "refit", "left_off"]


def choices(shut, refit, left_off, turning=3600.0):
    """Return the gas of three choices [s], each by model of the air."""
    gas = np.array([shut, refit, left_off], dtype=float).T
    return xr.Dataset(
        {
            "cavitation_exposure_by_air_model": (("air_model", "choice"), gas),
            "time_turning": ("choice", [turning] * 3),
        },
        {"choice": LABELS, "air_model": ["frozen", "kinetic", "equilibrium"]},
    )


def told(*gas, **others):
    return " ".join(gas_sentences(choices(*gas, **others)))


def test_more_under_all_three_is_told_as_a_span():
    text = told((300, 400, 500), (400, 700, 900), (600, 900, 1100))
    assert "refit 100 s to 6.67 min more, left off 5 min to 10 min more" in text


def test_little_of_the_other_sign_is_hardly_any():
    assert "refit hardly any to 5 min more" in told((300, 400, 500), (250, 520, 800), (300, 400, 500))


def test_less_is_told_as_less():
    assert "refit 100 s to 3.33 min less" in told((900, 900, 900), (800, 700, 700), (900, 900, 900))


@pytest.mark.parametrize("other", [(310, 430, 520), (300, 400, 500), (290, 380, 480)])
def test_what_hardly_differs_is_said_to(other):
    assert "hardly differs from the cap left shut: refit, left off" in told((300, 400, 500), other, other)


def test_assumptions_that_contradict_each_other_are_no_answer():
    text = told((300, 400, 500), (500, 400, 300), (300, 400, 500))
    assert "this model cannot tell: refit." in text
    assert "hardly differs from the cap left shut: left off" in text


def test_wide_span_of_the_cap_left_shut_is_said_not_to_be_known():
    assert "how much the pump really gets this model cannot tell" in told((100, 400, 900), (200,) * 3, (200,) * 3)
    assert "cannot tell" not in told((500, 600, 700), (500, 600, 700), (500, 600, 700))


def test_no_gas_is_said():
    assert "hardly any gas" in told((0, 1, 2), (0, 1, 2), (0, 1, 2))


def test_a_pump_that_stands_has_none():
    assert told((0, 0, 0), (0, 0, 0), (0, 0, 0), turning=0.0).startswith("The pump does not turn")


def test_a_choice_that_was_stopped_is_passed_over():
    assert "refit" not in told((300, 400, 500), (np.nan,) * 3, (600, 900, 1100))
    assert told((np.nan,) * 3, (1, 2, 3), (1, 2, 3)) == ""
