"""Laws of heat and of first-order processes against exact mathematics, each by a way of its own."""

import math

import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from outside import DERIVED, Check
from ullage.physics import air, bubbles, cooler

SERIES = "temperature between two resistances, by a heat balance"
CELLS = "cross-flow core cut into 60 x 60 cells, by heat balances"
VAPOUR = "heat exchanger with one side at constant temperature, by integration"
LUMP = "one lump of oil, its heat balance integrated by SciPy"
LAYER = "one layer of oil, its balance of air integrated by SciPy"


def through_wall(oil_side, air_side):
    wall = brentq(lambda t: oil_side * (100.0 - t) - air_side * t, 0.0, 100.0, xtol=1e-12)
    return air_side * wall / 100.0


def cut_into_cells(units, ratio, cells=60):
    """Return the effectiveness of a core whose cells exchange heat at the mean of their inlets and outlets."""
    hot, warmed = units / cells, units * ratio / cells
    air = [0.0] * cells
    outlet = 0.0
    for _ in range(cells):
        oil_in = 1.0
        for i in range(cells):
            rate = (oil_in - air[i]) / (1.0 + 0.5 * (hot + warmed))
            oil_in, air[i] = oil_in - hot * rate, air[i] + warmed * rate
        outlet += oil_in / cells
    return 1.0 - outlet


def approach(rate, start, times):
    """Return what a quantity that changes with a rate comes to at some times."""
    found = solve_ivp(rate, (0.0, times[-1]), [start], t_eval=times, rtol=1e-11, atol=1e-14)
    return [float(value) for value in found.y[0]]


CHECKS = [
    Check(
        "cooler.core_conductance",
        "oil and air sides of 60 and 15, 500 and 500, 15 and 900 W/K",
        lambda: [cooler.core_conductance(a, b) for a, b in ((60.0, 15.0), (500.0, 500.0), (15.0, 900.0))],
        lambda: [through_wall(a, b) for a, b in ((60.0, 15.0), (500.0, 500.0), (15.0, 900.0))],
        "W/K",
        SERIES,
        DERIVED,
        "tolerance of the root",
        rel=1e-11,
    ),
    Check(
        "cooler.crossflow_effectiveness",
        "1, 2 and 4 transfer units at capacity ratios 0.3, 0.6 and 1, from heat balances",
        lambda: [cooler.crossflow_effectiveness(n, r) for n in (1.0, 2.0, 4.0) for r in (0.3, 0.6, 1.0)],
        lambda: [cut_into_cells(n, r) for n in (1.0, 2.0, 4.0) for r in (0.3, 0.6, 1.0)],
        "1",
        CELLS,
        DERIVED,
        "the approximation is off by up to 1.7 %",
        rel=0.017,
    ),
    Check(
        "cooler.crossflow_effectiveness",
        "0.05, 0.3, 1, 2, 5 and 10 transfer units with one side at constant temperature",
        lambda: [cooler.crossflow_effectiveness(n, 0.0) for n in (0.05, 0.3, 1.0, 2.0, 5.0, 10.0)],
        lambda: [1.0 - math.exp(-n) for n in (0.05, 0.3, 1.0, 2.0, 5.0, 10.0)],
        "1",
        VAPOUR,
        DERIVED,
        "exact, rounding",
        rel=1e-13,
    ),
    Check(
        "bubbles.share_of_equilibrium",
        "3 kg of oil of 2000 J/(kg K) heated by 1500 W, losing 25 W/K: rise after 1, 2, 7.167 and 20 min",
        lambda: [60.0 * bubbles.share_of_equilibrium(25.0 / 6000.0, t) for t in (60.0, 120.0, 430.02, 1200.0)],
        lambda: approach(lambda _, rise: (1500.0 - 25.0 * rise) / 6000.0, 0.0, (60.0, 120.0, 430.02, 1200.0)),
        "K",
        LUMP,
        DERIVED,
        "tolerance of the integration",
        rel=1e-9,
    ),
    Check(
        "air.uptake_rate, bubbles.share_of_equilibrium",
        "6 L of oil under 300 cm2 that take up air at 2e-5 m/s, from 60 to 100 g/m3: after 10 min, 1 h and 6 h",
        lambda: [
            0.06 + 0.04 * bubbles.share_of_equilibrium(air.uptake_rate(2e-5, 0.03, 6e-3), t)
            for t in (600.0, 3600.0, 21600.0)
        ],
        lambda: approach(lambda _, held: 2e-5 * 0.03 * (0.1 - held) / 6e-3, 0.06, (600.0, 3600.0, 21600.0)),
        "kg/m3",
        LAYER,
        DERIVED,
        "tolerance of the integration",
        rel=1e-9,
    ),
]


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_law_agrees_with_the_closed_form(check):
    assert check.misses() == []
