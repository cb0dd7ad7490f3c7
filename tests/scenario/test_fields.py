import math
import re
import typing

import pytest
from pydantic import BaseModel, ValidationError

from ullage.hints import CUSTOMARY, wanted
from ullage.scenario.duty_spec import ScenarioSpec, Segment, Start
from ullage.scenario.fields import Level, quantity_of, read_quantity
from ullage.scenario.spec import Cap, Cooler, Fluid, Reservoir
from ullage.units import KINDS, parse

STANDARD = 101325.0


def models(kind):
    """Return a specification and all that it holds."""
    found = {}
    waiting = [kind]
    while waiting:
        item = waiting.pop()
        if isinstance(item, type) and issubclass(item, BaseModel):
            if item not in found:
                found[item] = None
                waiting.extend(field.annotation for field in item.model_fields.values())
        else:
            waiting.extend(typing.get_args(item))
    return list(found)


FIELDS = [
    pytest.param(model, name, quantity, id=f"{model.__name__}.{name}")
    for model in models(ScenarioSpec)
    for name in model.model_fields
    if (quantity := quantity_of(model, name))
]


def reading(model, name, value, from_file=False):
    """Return the fault of one field, or the empty text; keys that are missing do not count."""
    try:
        model.model_validate({name: value}, context={"file": from_file})
    except ValidationError as error:
        return "".join(fault["msg"] for fault in error.errors() if fault["loc"] == (name,))
    return ""


def number(quantity, value):
    """Write a limit as the number that Python passes: a pressure level is absolute there."""
    return value + STANDARD if quantity.kind == "pressure level" else value


def test_schema_holds_the_quantities_of_all_parts():
    assert len(FIELDS) > 100
    assert {parameter.values[0].__name__ for parameter in FIELDS} >= {"Fluid", "TorquePoint", "Cap", "WeatherPoint"}


@pytest.mark.parametrize(("model", "name", "quantity"), FIELDS)
def test_both_limits_are_accepted_and_values_beyond_are_refused(model, name, quantity):
    low, high = quantity.limits()
    beyond = 1e-6 * max(abs(low), abs(high))  # a thousand times the slack that rounding of units is given
    assert low < high
    for value in (low, high):
        assert reading(model, name, number(quantity, value)) == ""
    for value in (low - beyond, high + beyond):
        fault = reading(model, name, number(quantity, value))
        assert fault.endswith(f" is outside {quantity.low} to {quantity.high}")


@pytest.mark.parametrize("quantity", [pytest.param(field.values[2], id=field.id) for field in FIELDS])
def test_value_that_is_outside_by_rounding_is_the_limit(quantity):
    low, high = quantity.limits()
    rounding = 5e-10 * max(abs(low), abs(high))
    for limit, value in ((low, low - rounding), (high, high + rounding)):
        read = read_quantity(number(quantity, value), quantity, from_file=False)
        if isinstance(read, Level):  # through an absolute pressure of up to 1e6 Pa: a few roundings of it
            assert read.over(STANDARD) == pytest.approx(limit, abs=1e-8)
        else:
            assert read == limit


@pytest.mark.parametrize(("model", "name", "quantity"), FIELDS)
def test_limits_that_a_fault_prints_are_accepted_in_every_unit(model, name, quantity):
    for unit in CUSTOMARY[quantity.kind].units:
        fault = reading(model, name, f"1e20 {unit}", from_file=True)
        low, high = re.fullmatch(r'"1e20 .*" is outside (.*) to (.*)', fault).groups()
        assert low.endswith(f" {unit.replace('vac', 'gauge')}")
        assert [reading(model, name, low, from_file=True), reading(model, name, high, from_file=True)] == ["", ""]


@pytest.mark.parametrize(("model", "name", "quantity"), FIELDS)
def test_limits_as_written_are_accepted_as_text(model, name, quantity):
    assert reading(model, name, quantity.low, from_file=True) == ""
    assert reading(model, name, quantity.high, from_file=True) == ""


@pytest.mark.parametrize(("model", "name", "quantity"), FIELDS)
def test_default_is_in_range_and_a_weak_value_has_one(model, name, quantity):
    field = model.model_fields[name]
    assert field.description == quantity.help
    assert len(quantity.help) > 3
    if quantity.default == "required":
        assert field.is_required()
        assert not quantity.weak
    elif quantity.default is None:
        assert field.get_default() is None
        assert not quantity.weak
    else:
        low, high = quantity.limits()
        assert low <= parse(quantity.default, quantity.kind) <= high


@pytest.mark.parametrize(("model", "name", "quantity"), FIELDS)
def test_bare_number_in_a_file_needs_a_unit_unless_it_is_a_plain_number(model, name, quantity):
    low, _ = quantity.limits()
    fault = reading(model, name, number(quantity, low), from_file=True)
    if quantity.kind == "number":
        assert fault == ""
    else:
        assert fault == f"{number(quantity, low)} has no unit; {wanted(quantity.kind)}"


@pytest.mark.parametrize(
    ("model", "name", "text", "expected"),
    [
        (Reservoir, "volume", "2 gal", 2 * 231 * 0.0254**3),
        (Reservoir, "fill", "80 %", 0.8),
        (Reservoir, "outlet_height", "-4 in", -0.1016),
        (Cap, "relief_pressure", "0.5 bar", 5e4),
        (Cooler, "preheat", "18 degF", 10.0),
        (Fluid, "cold_temperature", "-40 degF", 233.15),
        (Segment, "duration", "1 h 2 min 3 s", 3723.0),
        (Segment, "engine_speed", "3000 rpm", 100 * math.pi),
    ],
)
def test_text_with_a_unit_is_held_in_si(model, name, text, expected):
    required = {"fill": 0.5, "volume": 5e-3, "kind": "sealed", "engine_speed": 1.0}
    data = {key: value for key, value in required.items() if key in model.model_fields} | {name: text}
    assert getattr(model.model_validate(data), name) == pytest.approx(expected, rel=1e-14)  # rounding


@pytest.mark.parametrize("value", [True, [1.0], {"value": 1.0}, math.nan, math.inf])
def test_value_that_is_neither_text_nor_a_finite_number_is_refused(value):
    assert "is not" in reading(Reservoir, "volume", value)


@pytest.mark.parametrize("text", ["", "L", "nan L", "7,6 L", "7.6 buckets", "7.6 bar", "7.6"])
def test_text_that_is_no_volume_is_refused(text):
    assert reading(Reservoir, "volume", text) != ""


def test_pressure_difference_written_as_a_level_is_refused():
    expected = (
        """"16 psig": 'psig' is a pressure level (did you mean "16 psi"?); """
        """a pressure difference is wanted, such as "16 psi" or "1.1 bar\""""
    )
    assert reading(Cap, "relief_pressure", "16 psig") == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [("0.5 barg", Level(5e4, True)), ("1.5 bara", Level(1.5e5, False)), ("2 inHg vac", Level(-2 * 3386.389, True))],
)
def test_pressure_level_remembers_its_reference(text, expected):
    level = Start.model_validate({"headspace_pressure": text}).headspace_pressure
    assert level.gauge == expected.gauge
    assert level.pascal == pytest.approx(expected.pascal, rel=1e-14)  # rounding


def test_level_is_moved_by_the_ambient_pressure_if_it_is_gauge():
    assert (Level(5e4, True).absolute(9e4), Level(5e4, True).over(9e4)) == (1.4e5, 5e4)
    assert (Level(5e4, False).absolute(9e4), Level(5e4, False).over(9e4)) == (5e4, -4e4)


def test_field_that_is_no_quantity_says_so():
    assert quantity_of(Cap, "kind") is None
    assert quantity_of(Cap, "relief_pressure").kind in KINDS
