import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from ullage.duty.log_cells import COMMAS, ODD, POINTS, READ, number, survey

NUMBERS = st.one_of(
    st.floats(allow_nan=False, allow_infinity=False).map(repr),
    st.floats(-1e9, 1e9).map("{:.3f}".format),
    st.floats(-1e9, 1e9).map("{:.17g}".format),
    st.integers(-(10**19), 10**19).map(str),
    st.from_regex(r"[-+]?([0-9]{1,20}\.?[0-9]{0,20}|\.[0-9]{1,20})([eE][-+]?[0-9]{1,3})?", fullmatch=True).map(
        lambda text: text if text.isascii() else "0"
    ),
)


def read(text, commas=False):
    """Return what is read of a whole text."""
    data = np.frombuffer(text.encode(), dtype=np.uint8)
    return number(data, 0, len(data), commas)


@settings(deadline=None)  # compiles
@given(NUMBERS)
@example("9007199254740993")  # 2^53 + 1, a tie
@example("0.30000000000000004")
@example("-0.0")
@example("123456789012345678e-22")
def test_number_is_that_of_float_to_the_last_bit_or_left_to_it(text):
    value, found, _ = read(text)
    if found == READ:
        assert (value, str(value)[0] == "-") == (float(text), str(float(text))[0] == "-")


@pytest.mark.parametrize("text", ["3000", "0.01", "-12.345", "+7", ".5", "5.", "1e3", "2.5E-4", "0.12345678901234567"])
def test_numbers_of_loggers_are_not_left_to_float(text):
    assert read(text)[:2] == (float(text), READ)


@pytest.mark.parametrize("text", ["", "-", ".", "e5", "1e", "1e+", "1.2.3", "1,5", "0x10", "1 2", "1_0", "nan", "--1"])
def test_what_is_no_number_is_odd(text):
    assert read(text)[1] == ODD


def test_decimal_sign_is_told():
    assert [read(text, commas=True)[2] for text in ("15", "1.5", "1,5")] == [0, POINTS, COMMAS]
    assert read("1,5", commas=True)[0] == 1.5


@pytest.mark.parametrize("line_end", ["\n", "\r\n", "\r"])
def test_lines_that_hold_something_are_counted_and_the_first_that_is_too_long_is_found(line_end):
    data = np.frombuffer(line_end.join(["ab", "", "  ", "abc", "abcd", "x"]).encode(), dtype=np.uint8)
    assert survey(data, 3) == (4, 5)
    assert survey(data, 4) == (4, 0)
