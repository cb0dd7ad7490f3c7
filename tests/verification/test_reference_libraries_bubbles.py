"""The rise of bubbles against laws of drag in a public library."""

import pytest
from fluids import drag

from outside import LIBRARY, Check
from ullage.physics import bubbles

STOKES = "Stokes, drag of a creeping sphere: Python library fluids"
BARATI = "Barati and others (2014), drag of a sphere: Python library fluids"
CLIFT = "Clift, Grace and Weber (1978), drag of a sphere: Python library fluids"
CHENG = "Cheng (2009), drag of a sphere: Python library fluids"

OIL = 841.5
# diameter [m] and viscosity [m2/s]: the ordinary bubble in hot and cold oil, and the corners of what is accepted
BUBBLES = [(0.05e-3, 1e-3), (0.3e-3, 15e-6), (0.3e-3, 4e-6), (1e-3, 1e-5), (2e-3, 8e-6), (2e-3, 2.5e-6)]


def rise(method):
    """Return the fall of spheres of twice the oil's density, whose weight in oil is the lift of a bubble."""
    return [float(drag.v_terminal(d, 2.0 * OIL, OIL, nu * OIL, Method=method)) for d, nu in BUBBLES]


CHECKS = [
    Check(
        "bubbles.stokes_velocity",
        "0.1 and 0.3 mm in 15 mm2/s: air of 1.2 kg/m3, and drops of 0.3 of the oil's density",
        lambda: [bubbles.stokes_velocity(d, 15e-6, ratio) for d in (1e-4, 3e-4) for ratio in (1.2 / OIL, 0.3)],
        lambda: [
            drag.v_terminal(d, OIL * (2.0 - ratio), OIL, 15e-6 * OIL, Method="Stokes")
            for d in (1e-4, 3e-4)
            for ratio in (1.2 / OIL, 0.3)
        ],
        "m/s",
        STOKES,
        LIBRARY,
        "the same formula, rounding",
        rel=1e-10,
    ),
    Check(
        "bubbles.rise_velocity",
        "bubbles of 0.01 and 0.02 mm in 15 mm2/s, that creep",
        lambda: [bubbles.rise_velocity(d, 15e-6) for d in (1e-5, 2e-5)],
        lambda: [drag.v_terminal(d, 2.0 * OIL, OIL, 15e-6 * OIL, Method="Stokes") for d in (1e-5, 2e-5)],
        "m/s",
        STOKES,
        LIBRARY,
        "inertia adds 1e-4 of drag",
        rel=1.5e-4,
    ),
    *[
        Check(
            "bubbles.rise_velocity",
            f"bubbles of 0.05 to 2 mm in 1000 to 2.5 mm2/s, by {source.partition(' (')[0]}",
            lambda: [bubbles.rise_velocity(*bubble) for bubble in BUBBLES],
            rise(method),
            "m/s",
            source,
            LIBRARY,
            "laws of drag differ among each other by 4 %",
            rel=0.05,
        )
        for method, source in (("Barati", BARATI), ("Clift", CLIFT), ("Cheng", CHENG))
    ],
]


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_law_gives_the_value_of_the_library(check):
    assert check.misses() == []
