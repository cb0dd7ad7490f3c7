"""Spreads against distributions of scipy.stats, which were written by others, and what is written is what is used."""

import math

import numpy as np
import pytest
from scipy import stats

from ullage.scenario.duty_spec import ScenarioSpec
from ullage.scenario.fields import quantity_of_key, read_quantity
from ullage.study.axes import Listed, RangeError, Spread, spread_of
from ullage.study.spec import Axis
from ullage.study.values import column

LOW, HIGH = 2.0, 8.0
MIDDLE = 5.0
Z = stats.norm.ppf(0.975)
CUT = stats.truncnorm(-3.0, 3.0)
# twelve digits are written: half a unit of the twelfth is 5e-12 of the number at most
WRITTEN = 5e-12
SHARES = np.linspace(0.001, 0.999, 499)
# JCGM 100:2008 4.3.7 (rectangular) and 4.3.9 (triangular); a normal spread is cut at three sigma
LAWS = {
    "uniform": lambda share: stats.uniform(LOW, HIGH - LOW).ppf(share),
    "log uniform": lambda share: stats.loguniform(LOW, HIGH).ppf(share),
    "triangular": lambda share: stats.triang(0.5, LOW, HIGH - LOW).ppf(share),
    "normal": lambda share: MIDDLE + (HIGH - LOW) / (2.0 * Z) * CUT.ppf(share),
    "lognormal": lambda share: 4.0 * np.exp(math.log(HIGH / LOW) / (2.0 * Z) * CUT.ppf(share)),
}


def spread(distribution="uniform", low=LOW, high=HIGH, unit="", whole=False):
    return Spread(("reservoir.fill",), low, high, unit, whole, distribution)


def numbers(found):
    return np.array([float(str(value).split()[0]) for (value,) in found])


@pytest.mark.parametrize("distribution", LAWS)
def test_quantiles_are_those_of_the_distribution(distribution):
    found = numbers(spread(distribution).drawn(SHARES))
    # 1e-10: the last digits of the quantiles of a cut normal in SciPy
    np.testing.assert_allclose(found, LAWS[distribution](SHARES), rtol=WRITTEN + 1e-10)


@pytest.mark.parametrize(
    ("distribution", "mean", "variance"),
    [
        ("uniform", MIDDLE, (HIGH - LOW) ** 2 / 12.0),  # JCGM 100:2008 4.3.7: a^2/3 with a half the width
        ("triangular", MIDDLE, (HIGH - LOW) ** 2 / 24.0),  # JCGM 100:2008 4.3.9: a^2/6
        ("log uniform", (HIGH - LOW) / math.log(4.0), 30.0 / math.log(4.0) - (6.0 / math.log(4.0)) ** 2),
        ("normal", MIDDLE, ((HIGH - LOW) / (2.0 * Z)) ** 2 * CUT.var()),
    ],
)
def test_moments_of_a_large_sample_are_those_of_the_distribution(distribution, mean, variance):
    found = numbers(spread(distribution).drawn((np.arange(20_000) + 0.5) / 20_000))
    # middles of equal shares: the error falls with the square of their number; the ends of the normal are steepest
    assert found.mean() == pytest.approx(mean, rel=1e-6)
    assert found.var() == pytest.approx(variance, rel=1e-4)


@pytest.mark.parametrize("distribution", ["normal", "lognormal"])
def test_low_to_high_holds_95_percent_and_nothing_lies_beyond_three_sigma(distribution):
    found = numbers(spread(distribution).drawn((np.arange(20_000) + 0.5) / 20_000))
    held = np.mean((found >= LOW) & (found <= HIGH))
    # cut at three sigma the share within grows by 0.27 % of itself; one member in 20,000 may fall on an edge
    assert held == pytest.approx(0.95 / 0.9973002, abs=1e-4)
    ends = numbers(spread(distribution).extremes())
    scale = np.log if distribution == "lognormal" else np.array
    sigma = (scale(HIGH) - scale(LOW)) / (2.0 * Z)
    np.testing.assert_allclose(np.diff(scale(ends)), 6.0 * sigma, rtol=1e-10)
    assert found.min() > ends[0]
    assert found.max() < ends[1]


@pytest.mark.parametrize("distribution", ["uniform", "log uniform", "triangular"])
def test_low_to_high_holds_all(distribution):
    np.testing.assert_allclose(numbers(spread(distribution).extremes()), [LOW, HIGH], rtol=WRITTEN)
    found = numbers(spread(distribution).drawn(SHARES))
    assert np.all((found > LOW) & (found < HIGH))


@pytest.mark.parametrize("distribution", LAWS)
def test_a_greater_share_is_a_greater_value(distribution):
    assert np.all(np.diff(numbers(spread(distribution).drawn(SHARES))) > 0.0)


def test_whole_numbers_are_equally_likely_with_both_ends():
    found = [value for (value,) in spread(low=3.0, high=7.0, whole=True).drawn((np.arange(1000) + 0.5) / 1000)]
    assert {type(value) for value in found} == {int}
    assert {value: found.count(value) for value in found} == dict.fromkeys(range(3, 8), 200)
    assert spread(low=3.0, high=7.0, whole=True).extremes() == [(3,), (7,)]


def test_listed_rows_are_equally_likely():
    listed = Listed(("a", "b"), ((1, "x"), (2, "y"), (3, "z"), (4, "w")))
    found = listed.drawn((np.arange(1000) + 0.5) / 1000)
    assert {row: found.count(row) for row in listed.rows} == dict.fromkeys(listed.rows, 250)
    assert listed.drawn(np.array([0.0, 0.25, 1.0])) == [(1, "x"), (2, "y"), (4, "w")]


@pytest.mark.parametrize(
    ("key", "low", "high", "unit"),
    [
        ("cap.relief_pressure", 4.0, 24.0, "psi"),
        ("reservoir.compliance", 6e-11, 2.5e-9, "m3/Pa"),
        ("start.temperature", -30.0, 40.0, "degC"),
        ("reservoir.fill", 0.7, 0.9, ""),
    ],
)
def test_the_text_of_a_drawn_value_is_what_is_used(key, low, high, unit):
    drawn = Spread((key,), low, high, unit, False, "uniform").drawn(np.random.default_rng(5).random(200))
    found = column(key, [value for (value,) in drawn])
    quantity = quantity_of_key(ScenarioSpec, key)
    for value, text in zip(found.values.tolist(), found.texts.tolist(), strict=True):
        read = read_quantity(text.decode(), quantity, from_file=True)
        assert getattr(read, "pascal", read) == value
        assert len(text) <= Spread((key,), low, high, unit, False, "uniform").text_width(0)


@pytest.mark.parametrize("number", [-1.23456789012e-300, 1e300, 123456789012.0, -0.1])
def test_no_text_of_a_number_is_longer_than_its_width(number):
    made = spread(low=number, high=number, unit="m3/Pa")
    ((text,),) = made.drawn(np.array([0.0]))
    assert len(text) <= made.text_width(0)


def test_levels_are_evenly_spaced_with_both_ends():
    levels = spread(low=0.7, high=0.95).levels(26).rows
    assert len(levels) == 26
    assert [levels[0], levels[1], levels[-1]] == [("0.7",), ("0.71",), ("0.95",)]
    ratios = numbers(spread("log uniform", low=1.0, high=1000.0).levels(4).rows)
    np.testing.assert_allclose(ratios, [1.0, 10.0, 100.0, 1000.0], rtol=WRITTEN)


def test_levels_of_whole_numbers_are_whole_and_none_is_there_twice():
    laps = spread(low=2.0, high=5.0, whole=True)
    assert laps.levels(None).rows == ((2,), (3,), (4,), (5,))
    assert laps.levels(2).rows == ((2,), (5,))
    assert laps.levels(50).rows == ((2,), (3,), (4,), (5,))


def test_levels_of_a_range_without_steps_are_refused():
    with pytest.raises(RangeError, match="needs `steps`"):
        spread().levels(None)


def test_rows_with_the_same_values_of_a_key_have_the_same_code():
    listed = Listed(("a", "b"), ((1, "x"), (2, "x"), (1, "y"), (2, "x")))
    assert listed.codes(["a"]).tolist() == [0, 1, 0, 1]
    assert listed.codes(["b"]).tolist() == [0, 0, 1, 0]
    assert listed.codes(["a", "b"]).tolist() == [0, 1, 2, 1]


def ranged(low, high, distribution=None):
    return Axis.model_validate({"key": "a.b", "low": low, "high": high, "distribution": distribution})


def test_a_range_keeps_the_unit_in_which_it_is_written():
    assert spread_of(ranged("4 psi", "24 psi"), False) == Spread(("a.b",), 4.0, 24.0, "psi", False, "uniform")
    assert spread_of(ranged(0.1, 1, "normal"), False) == Spread(("a.b",), 0.1, 1.0, "", False, "normal")
    assert spread_of(ranged(1, 3), True) == Spread(("a.b",), 1.0, 3.0, "", True, "uniform")


@pytest.mark.parametrize(
    ("axis", "whole", "sentence"),
    [
        (ranged("4 psi", "1 bar"), False, "need one unit for both ends"),
        (ranged("4 psi", 5), False, "need one unit for both ends"),
        (ranged("5 psi", "5 psi"), False, '`low` is "5 psi", not below `high`, "5 psi"'),
        (ranged(2, 1), False, "`low` is 2, not below `high`, 1"),
        (ranged(1.5, 3), True, "takes whole numbers only"),
        (ranged(1, 3, "normal"), True, "whole numbers can only be uniform"),
        (ranged(0, 3, "lognormal"), False, "a lognormal spread needs a `low` over zero, got 0"),
        (ranged(-1, 3, "log uniform"), False, "a log uniform spread needs a `low` over zero, got -1"),
        (ranged("sealed", "vented"), False, "a range needs a number with one unit at each end"),
        (ranged(True, 3), False, "a range needs a number"),
        (ranged(float("nan"), 3), False, "a range needs a number"),
        (ranged(0, float("inf")), False, "a range needs a number"),
        (ranged([1], 3), False, "a range needs a number"),
    ],
)
def test_a_range_that_is_none_is_refused(axis, whole, sentence):
    with pytest.raises(RangeError) as caught:
        spread_of(axis, whole)
    assert sentence in str(caught.value)
