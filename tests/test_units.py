import math

import pint
import pytest

from ullage.units import KINDS, SMALL_KINDS, UnitError, factor, is_gauge, level_of, parse, show

PSI, INHG = 6894.757293168361, 3386.389  # pound-force per square inch; conventional mercury


@pytest.fixture(scope="module")
def registry():
    return pint.UnitRegistry()


@pytest.mark.parametrize(
    ("unit", "si", "spelled"),
    [
        ("psi", "Pa", "psi"),
        ("inHg", "Pa", "inch_Hg"),
        ("bar", "Pa", "bar"),
        ("cm2/s", "m2/s", "centimeter ** 2 / second"),
        ("mbar", "Pa", "millibar"),
        ("kPa", "Pa", "kilopascal"),
        ("atm", "Pa", "standard_atmosphere"),
        ("gpm", "m3/s", "gallon / minute"),
        ("L/min", "m3/s", "liter / minute"),
        ("lpm", "m3/s", "liter / minute"),
        ("ft3/min", "m3/s", "foot ** 3 / minute"),
        ("in3/rev", "m3/rad", "inch ** 3 / revolution"),
        ("hp", "W", "horsepower"),
        ("BTU/h", "W", "international_british_thermal_unit / hour"),
        ("rpm", "rad/s", "revolution / minute"),
        ("mm2/s", "m2/s", "millimeter ** 2 / second"),
        ("gn", "m/s2", "standard_gravity"),
        ("ft/s2", "m/s2", "foot / second ** 2"),
        ("cSt", "m2/s", "centistokes"),
        ("ft*lbf", "N*m", "foot * pound_force"),
        ("N·m", "N*m", "newton * meter"),
        ("lb/ft3", "kg/m3", "pound / foot ** 3"),
        ("mph", "m/s", "mile / hour"),
        ("km/h", "m/s", "kilometer / hour"),
        ("qt", "m3", "quart"),
        ("cm²", "m2", "centimeter ** 2"),
        ("BTU/degF", "J/K", "international_british_thermal_unit / delta_degF"),
        ("1/degF", "1/K", "1 / delta_degF"),
        ("degF", "K", "delta_degF"),
        ("um", "m", "micrometer"),
        ("day", "s", "day"),
    ],
)
def test_factor_is_that_of_the_standard_registry(registry, unit, si, spelled):
    expected = registry.Quantity(1.0, spelled).to_base_units().magnitude
    # pint's standard registry in kg, m, s, K, rad; inHg is rounded to seven digits in the trade, others are exact.
    assert factor(unit, si) == pytest.approx(expected, rel=2e-7 if unit == "inHg" else 1e-12)


@pytest.mark.parametrize(
    ("unit", "si", "expected"),
    [
        ("psi", "Pa", 4.4482216152605 / 0.0254**2),  # international pound, standard gravity
        ("inHg", "Pa", INHG),
        ("gal", "m3", 231.0 * 0.0254**3),  # US gallon, 231 cubic inches
        ("hp", "W", 550.0 * 0.3048 * 4.4482216152605),  # 550 ft lbf/s
        ("BTU", "J", 1055.05585262),  # International Table
        ("rpm", "rad/s", math.pi / 30.0),
        ("mi", "m", 1609.344),
        ("cc", "m3", 1e-6),
        ("gn", "m/s2", 9.80665),  # General Conference on Weights and Measures, 1901
    ],
)
def test_factor_is_that_of_its_definition(unit, si, expected):
    assert factor(unit, si) == pytest.approx(expected, rel=1e-14)  # rounding


@pytest.mark.parametrize(
    ("text", "kind", "expected"),
    [
        ("16 psi", "pressure difference", 16.0 * PSI),
        ("2 inHg", "pressure difference", 2.0 * INHG),
        ("1.5bar", "pressure difference", 1.5e5),
        ("  1e2   kPa ", "pressure difference", 1e5),
        ("3.17 gpm", "flow", 3.17 * 231.0 * 0.0254**3 / 60.0),
        ("12 L/min", "flow", 2e-4),
        ("1500 rpm", "rotation", 50.0 * math.pi),
        ("32 mm2/s", "viscosity", 32e-6),
        ("32 cSt", "viscosity", 32e-6),
        ("-0.5 gn", "acceleration", -4.903325),
        ("10 m/s²", "acceleration", 10.0),
        ("10 m/s/s", "acceleration", 10.0),
        ("5e-10 m2/s", "diffusivity", 5e-10),
        ("212 degF", "temperature", 373.15),
        ("-40 °F", "temperature", 233.15),
        ("-40 degC", "temperature", 233.15),
        ("300 K", "temperature", 300.0),
        ("18 degF", "temperature difference", 10.0),
        ("10 degC", "temperature difference", 10.0),
        ("2 h 31 min", "time", 9060.0),
        ("2h31min5s", "time", 9065.0),
        ("1 day 1 s", "time", 86401.0),
        ("1.5 h", "time", 5400.0),
        ("0.5 ms", "time", 5e-4),
        ("100 Hz", "frequency", 100.0),
        ("2 kHz", "frequency", 2000.0),
        ("50 1/s", "frequency", 50.0),
        ("80 %", "number", 0.8),
        ("0.8", "number", 0.8),
        ("-1e-3", "number", -1e-3),
        (".5 in", "short length", 0.0127),
        ("7e-4 /K", "expansion", 7e-4),
        ("4e-4 1/degF", "expansion", 7.2e-4),
        ("2 qt", "volume", 2.0 * 231.0 * 0.0254**3 / 4.0),
    ],
)
def test_text_is_read_in_si(text, kind, expected):
    assert parse(text, kind) == pytest.approx(expected, rel=1e-13)  # rounding of exact definitions


@pytest.mark.parametrize(
    ("text", "with_ambient", "without"),
    [
        ("5 psig", 9e4 + 5.0 * PSI, 5.0 * PSI),
        ("16 psia", 16.0 * PSI, 16.0 * PSI),
        ("0.3 barg", 1.2e5, 0.3e5),
        ("1.2 bara", 1.2e5, 1.2e5),
        ("20 kPag", 1.1e5, 2e4),
        ("20 kPaa", 2e4, 2e4),
        ("2 inHg vac", 9e4 - 2.0 * INHG, -2.0 * INHG),
        ("2 inHg gauge", 9e4 + 2.0 * INHG, 2.0 * INHG),
        ("26 inHg abs", 26.0 * INHG, 26.0 * INHG),
        ("-0.1 barg", 8e4, -1e4),
    ],
)
def test_pressure_level_is_read_with_and_without_ambient(text, with_ambient, without):
    assert parse(text, "pressure level", 9e4) == pytest.approx(with_ambient, rel=1e-13)  # rounding
    assert parse(text, "pressure level") == pytest.approx(without, rel=1e-13)
    assert is_gauge(text) == (with_ambient != without)


def test_level_is_split_from_its_unit():
    assert level_of("psig") == ("psi", "gauge")
    assert level_of("bara") == ("bar", "abs")
    assert level_of("inHg vac") == ("inHg", "vac")
    assert level_of("kPa abs") == ("kPa", "abs")


@pytest.mark.parametrize("unit", ["psi", "bar", "inHg gage", "psi vac abs", ""])
def test_level_that_is_not_said_is_refused(unit):
    with pytest.raises(UnitError, match="which pressure level"):
        level_of(unit)
    with pytest.raises(UnitError, match="which pressure level"):
        is_gauge(f"5 {unit}")


@pytest.mark.parametrize(
    ("text", "kind", "message"),
    [
        ("5 cfm", "flow", "unknown unit 'cfm'"),
        ("99 C", "temperature", "'C'.*degC"),
        ("210 F", "temperature", "'F'.*degF"),
        ("99 C", "temperature difference", "'C'"),
        ("1,000 psi", "pressure difference", "psi"),
        ("1,5 bar", "pressure difference", "bar"),
        ("16", "pressure difference", "no unit.*16 psi"),
        ("16", "pressure level", "no unit"),
        ("90", "temperature", "no unit.*degC"),
        ("16 psig", "pressure difference", "difference is wanted"),
        ("2 inHg vac", "pressure difference", "difference is wanted"),
        ("16 psi", "pressure level", "'psi' does not say which pressure level"),
        ("5 g", "acceleration", "'g' is not a unit of this kind"),
        ("5 m/s", "acceleration", "'m/s' is not a unit of this kind"),
        ("5 gpm", "pressure difference", "'gpm' is not a unit of this kind"),
        ("5 psi", "flow", "'psi' is not a unit of this kind"),
        ("5 gpmg", "flow", "unknown unit 'gpmg'"),
        ("16 PSI", "pressure difference", "unknown unit 'PSI'"),
        ("16 psi 3", "pressure difference", "psi 3"),
        ("5 gpm abs", "pressure level", "'gpm' is not a unit of this kind"),
        ("2 h 31", "time", "h 31"),
        ("2 h 31 psi", "time", "psi"),
        ("3 %", "flow", "%"),
        ("3 psi", "number", "plain number"),
        ("1e400 psi", "pressure difference", "not a finite number"),
        ("1e400", "number", "not a finite number"),
        ("nan psi", "pressure difference", "not a number with a unit"),
        ("inf psi", "pressure difference", "not a number with a unit"),
        ("psi", "pressure difference", "not a number with a unit"),
        ("", "pressure difference", "not a number with a unit"),
        ("   ", "time", "not a number with a unit"),
    ],
)
def test_text_that_is_no_quantity_of_the_kind_is_refused(text, kind, message):
    with pytest.raises(UnitError, match=message):
        parse(text, kind)


@pytest.mark.parametrize(
    ("text", "kind"),
    [("1e308 MPa", "pressure difference"), ("1e308 bara", "pressure level"), ("1e400 s", "time")],
)
def test_number_that_overflows_in_si_is_refused(text, kind):
    with pytest.raises(UnitError, match="finite"):
        parse(text, kind)


# A prefix belongs to the length, before it is squared or cubed (International System of Units, brochure).
@pytest.mark.parametrize(
    ("text", "kind", "expected"),
    [("1 km2", "area", 1e6), ("1 km3", "volume", 1e9), ("1 Mm2", "area", 1e12), ("1 min2", "area", 2.54e-5**2)],
)
def test_prefixed_square_or_cube_is_right_or_refused(text, kind, expected):
    try:
        value = parse(text, kind)
    except UnitError:
        value = None
    assert value is None or value == pytest.approx(expected, rel=1e-13)  # rounding


@pytest.mark.parametrize(
    ("value", "kind", "units", "expected"),
    [
        (16.0 * PSI, "pressure difference", "us", "16 psi"),
        (110316.0, "pressure difference", "metric", "110.3 kPa"),
        (373.15, "temperature", "us", "212 degF"),
        (373.15, "temperature", "metric", "100 degC"),
        (10.0, "temperature difference", "us", "18 degF"),
        (2e-4, "flow", "metric", "12 L/min"),
        (2e-4, "flow", "us", "3.17 gpm"),
        (50.0 * math.pi, "rotation", "metric", "1500 rpm"),
        (32e-6, "viscosity", "metric", "32 mm2/s"),
        (0.8, "number", "metric", "0.8"),
        (123456.0, "time", "metric", "123500 s"),
        (0.0, "flow", "metric", "0 L/min"),
        (2e-5, "volume", "metric", "20 mL"),
        (2e-5, "volume", "us", "1.22 in3"),
        (1e-4, "volume", "metric", "0.1 L"),
        (0.0, "volume", "us", "0 qt"),
        (2e-5, "air speed", "metric", "72 mm/h"),
        (2e-5, "air speed", "us", "2.835 in/h"),
        (0.01, "air speed", "metric", "0.01 m/s"),
        (2e-10, "compliance", "metric", "20 mL/bar"),
        (2e-10, "compliance", "us", "0.08415 in3/psi"),
        (4.0, "conductance", "us", "7.583 BTU/h/degF"),
    ],
)
def test_value_is_shown_with_its_unit_and_four_digits(value, kind, units, expected):
    assert show(value, kind, units) == expected


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind != "pressure level"])
def test_shown_text_reads_back(kind, units):
    # Four digits are shown: half a unit of the fourth, 5e-4 of the shown number at most; a temperature has an offset.
    assert parse(show(351.75, kind, units), kind) == pytest.approx(351.75, rel=5e-4)


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize(("kind", "below"), [(kind, below) for kind, (below, _) in SMALL_KINDS.items()])
def test_small_value_is_shown_in_a_smaller_unit_that_reads_back(kind, below, units):
    small, large = show(0.99 * below, kind, units), show(1.01 * below, kind, units)
    assert small.split()[1] != large.split()[1]
    # four digits are shown
    assert parse(small, kind) == pytest.approx(0.99 * below, rel=5e-4)
    assert parse(large, kind) == pytest.approx(1.01 * below, rel=5e-4)
