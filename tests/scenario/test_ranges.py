import pytest

from ullage.scenario.ranges import range_in_unit_of

PSI, BAR = 6894.757293168361, 1e5


@pytest.mark.parametrize(
    ("text", "low", "high", "kind", "expected"),
    [
        ("9 bar", 1.0 * PSI, 40.0 * PSI, "pressure difference", "0.06895 bar to 2.757 bar"),
        ("300 psi", 1.0 * PSI, 40.0 * PSI, "pressure difference", "1 psi to 40 psi"),
        ("99 degC", 253.15, 323.15, "temperature", "-20 degC to 50 degC"),
        ("99 degF", 273.15, 323.15, "temperature", "32 degF to 122 degF"),
        ("0 K", 273.15, 323.15, "temperature", "273.2 K to 323.1 K"),
        ("99 inHg vac", -0.5 * BAR, 4.0 * BAR, "pressure level", "-14.76 inHg gauge to 118.1 inHg gauge"),
        ("120 %", 0.3, 0.97, "number", "30 % to 97 %"),
        ("2", 0.3, 0.97, "number", "0.3 to 0.97"),
        ("-9 ft", -0.5, 1.5, "length", "-1.64 ft to 4.921 ft"),
        ("0.1 h", 1.0, 60.0, "time", "0.0002778 h to 0.01666 h"),
        ("2 h 3 min", 1.0, 60.0, "time", ""),
    ],
)
def test_limits_are_in_the_unit_of_the_value_and_rounded_inwards(text, low, high, kind, expected):
    assert range_in_unit_of(text, low, high, kind) == expected
