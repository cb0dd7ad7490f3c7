import pytest

from ullage.duty.log_columns import _SPELLED, Wanted, column_of, is_unit, unit_named
from ullage.hints import CUSTOMARY
from ullage.units import UnitError, parse


@pytest.mark.parametrize(
    ("text", "kind", "unit"),
    [
        ("RPM", "rotation", "rpm"),
        ("1/min", "rotation", "rpm"),
        ("KPH", "speed", "kph"),
        ("Km/H", "speed", "km/h"),
        ("MPH", "speed", "mph"),
        ("BAR", "pressure difference", "bar"),
        ("PSI", "pressure difference", "psi"),
        ("PSIG", "pressure level", "psig"),
        ("C", "temperature", "degC"),
        ("° F", "temperature", "degF"),
        ("G", "acceleration", "gn"),
        ("FT", "length", "ft"),
        ("Sec", "time", "sec"),
        ("", "number", "1"),
        ("%", "number", "%"),
    ],
)
def test_unit_is_known_as_loggers_spell_it(text, kind, unit):
    assert unit_named(text, kind) == unit


@pytest.mark.parametrize(("kind", "spelled"), _SPELLED.items())
def test_spellings_are_in_small_letters_and_of_their_kind(kind, spelled):
    for text, unit in spelled.items():
        assert text == text.lower()
        assert is_unit(unit, kind)


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("psi", "pressure level"),
        ("bar", "pressure level"),
        ("rpm", "speed"),
        ("Hz", "rotation"),
        ("psig", "temperature"),
        ("", "time"),
        ("degC", "number"),
        ("1/s", "rotation"),
    ],
)
def test_unit_of_another_kind_is_refused_with_what_is_wanted(text, kind):
    with pytest.raises(UnitError, match=" is wanted, such as "):
        unit_named(text, kind)


@pytest.mark.parametrize("kind", ["length", "speed", "rotation", "time", "temperature", "pressure difference", "flow"])
def test_column_means_what_the_same_text_means_in_a_scenario(kind):
    for unit in CUSTOMARY[kind].units:
        column = column_of(Wanted("x", unit, kind), unit_named(unit, kind))
        assert 3.0 * column.factor + column.zero == pytest.approx(parse(f"3 {unit}", kind), rel=1e-14)  # rounding


def test_limits_of_a_level_are_over_ambient_or_absolute_with_its_unit():
    want = Wanted("feed", "", "pressure level", "-1 barg", "2 barg")
    assert column_of(want, "psig")[4:6] == (-1e5, 2e5)
    assert column_of(want, "psia")[4:6] == (101325.0 - 1e5, 101325.0 + 2e5)
