import math

import numpy as np
import pytest

from ullage.compiled import compiled
from ullage.numerics.roots import MOST_EVALUATIONS, make_root

LOW, HIGH, ROOT = 1e-6, 1e6, 3.0


# data: kind, root, evaluations seen. One compiled function serves all shapes.
@compiled
def shapes(x, data):
    data[2] += 1.0
    d = x - data[1]
    if data[0] == 0.0:
        residual = d
    elif data[0] == 1.0:
        residual = 1e6 * d
    elif data[0] == 2.0:
        residual = 1e-6 * d
    elif data[0] == 3.0:
        residual = d if d < 0.0 else 1e4 * d
    elif data[0] == 4.0:
        residual = math.log(x / data[1])
    elif data[0] == 5.0:
        residual = d * d * d
    else:
        residual = math.sqrt(d) if d >= 0.0 else -math.sqrt(-d)
    return residual, 10.0 * x, -1.0


root = make_root(shapes)
EASY, STEEP, FLAT, KINKED, LOGARITHM, CUBE, SQUARE_ROOT = (float(kind) for kind in range(7))


def find(kind, guess=1.0, slope=1.0, tolerance=1e-9, place=ROOT):
    data = np.array([kind, place, 0.0])
    start = min(max(guess, LOW), HIGH)
    first = shapes(start, data)
    data[2] = 0.0
    return root(start, first, slope, LOW, HIGH, tolerance, data), data[2]


@pytest.mark.parametrize("kind", [EASY, STEEP, FLAT, KINKED, LOGARITHM, CUBE, SQUARE_ROOT])
@pytest.mark.parametrize("guess", [0.0, LOW, 2.9, 1e3, 1e9])
@pytest.mark.parametrize("slope", [1e-8, 1.0, 1e8, -1.0])
def test_root_is_found_with_bad_guesses_and_bad_slopes(kind, guess, slope):
    # Residual tolerances worth 1e-6 of x or better in each shape; the steep one cannot be met below its rounding.
    tolerance = {STEEP: 1e-3, FLAT: 1e-14, CUBE: 1e-18, SQUARE_ROOT: 1e-4}.get(kind, 1e-9)
    (x, _, value, count), evaluations = find(kind, guess, slope, tolerance)
    assert x == pytest.approx(ROOT, rel=1e-6)
    assert abs(value[0]) <= tolerance
    # Bracket of twelve decades: some 6 halvings in the logarithm and 30 in x, a secant step after each at most.
    assert count < 60
    assert count == evaluations


@pytest.mark.parametrize("place", [2e-6, 1e-3, 1.0, 3e2, 9e5])
@pytest.mark.parametrize("kind", [EASY, KINKED, LOGARITHM])
def test_root_is_found_anywhere_in_a_wide_bracket(kind, place):
    tolerance = 1e-9 if kind == LOGARITHM else 1e-9 * place
    (x, _, _, count), _ = find(kind, guess=1.0, slope=1.0, tolerance=tolerance, place=place)
    assert x == pytest.approx(place, rel=1e-8)  # the tolerance is worth 1e-9 of the root or less
    assert 0 <= count < 60


def test_root_returns_the_tuple_and_the_slope_at_the_root():
    (x, slope, value, count), _ = find(STEEP, guess=1.0, slope=7.0, tolerance=1e-3)
    assert value == (1e6 * (x - ROOT), 10.0 * x, -1.0)
    assert slope == pytest.approx(1e6, rel=1e-6)  # secant of a line, rounding only
    # The slope handed on makes the next call immediate: secant step, at most one correction.
    (_, _, _, again), _ = find(STEEP, guess=2.0, slope=slope, tolerance=1e-3)
    assert again <= 2
    assert count > 2


def test_root_at_the_guess_takes_no_evaluation():
    (x, slope, _, count), evaluations = find(EASY, guess=ROOT, slope=5.0)
    assert (x, slope, count, evaluations) == (ROOT, 5.0, 0, 0.0)


def test_root_stops_when_the_bracket_closes_before_the_residual_is_met():
    # A logarithm need not be zero at any double: the bracket may close around the root instead.
    (x, _, _, count), _ = find(LOGARITHM, guess=1.0, slope=1.0, tolerance=0.0, place=math.pi)
    assert abs(x - math.pi) <= 4.0 * math.ulp(math.pi)
    assert 0 < count < MOST_EVALUATIONS
