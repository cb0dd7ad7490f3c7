"""Laws against published standards."""

import pytest

from outside import PUBLISHED, Check
from ullage.physics import oil

ZERO = 273.15
D1250 = "API MPMS 11.1 / ASTM D1250, lubricating oils (Table 54D)"

CHECKS = [
    Check(
        "oil.density",
        "at 100 degC, oils of 850, 870, 880 and 900 kg/m3 at 15 degC",
        lambda: [oil.density(ZERO + 100.0, at_15) for at_15 in (850.0, 870.0, 880.0, 900.0)],
        (795.76, 815.78, 825.79, 845.81),
        "kg/m3",
        D1250,
        PUBLISHED,
        "printed to 0.01",
        abs=0.01,
    ),
]


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_law_gives_the_value_of_the_standard(check):
    assert check.misses() == []
