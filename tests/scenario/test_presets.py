import itertools

import pytest

from support import truck
from ullage.kernel.hydraulics import viscosity
from ullage.scenario.compile import compile_problem
from ullage.scenario.fields import quantity_of
from ullage.scenario.presets import GRADES
from ullage.scenario.spec import Fluid


def test_presets_are_public_grades_only():
    assert set(GRADES) == {"ISO VG 22", "ISO VG 32", "ISO VG 46", "ISO VG 68", "ATF"}


@pytest.mark.parametrize("name", [name for name in GRADES if name.startswith("ISO VG")])
def test_iso_grade_has_the_viscosity_in_its_name(name):
    assert GRADES[name].viscosity_40 == float(name.removeprefix("ISO VG ")) * 1e-6  # ISO 3448 mid-point


@pytest.mark.parametrize("name", GRADES)
def test_preset_lies_in_the_range_of_own_values(name):
    for field, value in GRADES[name]._asdict().items():
        low, high = quantity_of(Fluid, field).limits()
        assert low <= value <= high


def test_thicker_grades_are_thicker_hot_too_and_denser():
    grades = [GRADES[f"ISO VG {number}"] for number in (22, 32, 46, 68)]
    for lower, upper in itertools.pairwise(grades):
        assert all(a < b for a, b in zip(lower, upper, strict=True))


@pytest.mark.parametrize("name", GRADES)
def test_compiled_oil_has_the_viscosities_of_its_preset(name):
    parameters = compile_problem(truck({"fluid.preset": name}).spec).parameters
    for temperature, expected in ((313.15, GRADES[name].viscosity_40), (373.15, GRADES[name].viscosity_100)):
        # The line is laid through both points: rounding, enlarged by the double exponential.
        assert viscosity(parameters, temperature) == pytest.approx(expected, rel=1e-11)
