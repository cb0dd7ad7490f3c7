"""Laws of bubbles against papers, measurements and textbooks."""

import math

import pytest

from outside import MEMORY, PUBLISHED, Check
from ullage.physics import bubbles

CENGEL_LUMP = "Cengel, Heat Transfer: Example 4-1"
INCROPERA_LUMP = "Incropera et al., Fundamentals of Heat and Mass Transfer: Example 5.1"
SCHILLER = "Schiller and Naumann (1933): drag of spheres"
SPHERES = "measured drag of spheres, as listed in a public course on drag"


def sphere(reynolds, drag):
    """Return the diameter of a bubble that rises at a Reynolds number with a drag coefficient in oil of 10 mm2/s."""
    return math.cbrt(0.75 * drag * (reynolds * 1e-5) ** 2 / 9.80665)


def rising(reynolds, drag):
    """Return the Reynolds number that the law gives to that bubble."""
    diameter = sphere(reynolds, drag)
    return bubbles.rise_velocity(diameter, 1e-5) * diameter / 1e-5


FORMULA_DRAG = {re: 24.0 / re * (1.0 + 0.15 * re**0.687) for re in (0.1, 1.0, 10.0, 100.0)}
MEASURED_AT = (0.1585, 0.4786, 3.02, 7.015, 15.49, 57.54, 144.5, 264.9, 512.9)
MEASURED_DRAG = (169.8, 58.88, 10.86, 5.623, 3.388, 1.479, 0.9204, 0.7194, 0.5623)


CHECKS = [
    Check(
        "bubbles.share_of_equilibrium",
        "a junction of 1 mm, 8500 kg/m3, 320 J/(kg K), 210 W/(m2 K) has followed by 99 % after 9.941 s",
        lambda: bubbles.share_of_equilibrium(6.0 * 210.0 / (8500.0 * 320.0 * 1e-3), 9.941),
        0.99,
        "1",
        CENGEL_LUMP,
        PUBLISHED,
        "time recomputed to four digits, printed 10 s",
        abs=5e-6,
    ),
    Check(
        "bubbles.share_of_equilibrium",
        "a junction with a time constant of 1 s goes from 25 to 199 degC in gas of 200 degC in 5.2 s",
        lambda: 25.0 + 175.0 * bubbles.share_of_equilibrium(1.0, 5.2),
        199.0,
        "degC",
        INCROPERA_LUMP,
        MEMORY,
        "time printed to 0.1 s",
        abs=0.06,
    ),
    Check(
        "bubbles.rise_velocity",
        "Reynolds number of bubbles that have 0.1, 1, 10 and 100 with the drag of the formula",
        lambda: [rising(re, drag) for re, drag in FORMULA_DRAG.items()],
        tuple(FORMULA_DRAG),
        "1",
        SCHILLER,
        PUBLISHED,
        "three steps of Newton's method leave 1e-5",
        rel=2e-5,
    ),
    Check(
        "bubbles.rise_velocity",
        "Reynolds number of bubbles that have 0.16 to 513 with the drag measured there",
        lambda: [rising(re, drag) for re, drag in zip(MEASURED_AT, MEASURED_DRAG, strict=True)],
        MEASURED_AT,
        "1",
        SPHERES,
        PUBLISHED,
        "measurements scatter by 8 % about any formula",
        rel=0.08,
    ),
]


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_law_gives_the_value_of_the_handbook(check):
    assert check.misses() == []
