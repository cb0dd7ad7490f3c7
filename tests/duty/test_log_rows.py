import subprocess
import sys
from unittest import mock

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from ullage.duty import log_rows
from ullage.duty.log_faults import LogFaults, RecordingError
from ullage.duty.log_rows import Layout, RowReader

NUMBERS = st.one_of(
    st.floats().map(repr),
    st.floats(-1e9, 1e9).map("{:.3f}".format),
    st.integers(-(10**19), 10**19).map(str),
    st.from_regex(r"[-+]?([0-9]{1,20}\.?[0-9]{0,20}|\.[0-9]{1,20})([eE][-+]?[0-9]{1,2})?", fullmatch=True),
)
WORDS = st.sampled_from(
    [
        "",
        "-",
        "nan",
        "NaN",
        "nAn",
        "true",
        "False",
        "1_0",
        "0x10",
        "1e",
        "e5",
        ".",
        "1.2.3",
        "1 2",
        "٣",
        "1,5",
        "inf",
        " 7 ",
        "\t7",
        "#DIV/0!",
        "3 rpm",
        "1\x0b",
        "\ufeff1",
        "--1",
        "- 5",
        '"3,3"',
        '"4"',
        '3"',
        "13:05:22",
        "1d5",
    ]
)


def read(text, delimiter=";", width=2, clock=-1, piece=1 << 22):
    """Return numbers by column and line of what is read of rows, or the faults."""
    layout = Layout(delimiter, width, {place: f"column {place + 1}" for place in range(width)}, clock, 0)
    with mock.patch.object(log_rows, "_PIECE", piece):
        try:
            columns, lines, notes = RowReader(text.encode(), 0, 1, layout, LogFaults("log")).read()
        except RecordingError as error:
            return [str(fault) for fault in error.faults]
    return columns, lines.tolist(), notes


def by_cells(text, **layout):
    """Return what is read cell by cell."""
    with mock.patch.object(RowReader, "_plain", return_value=None):
        return read(text, **layout)


def assert_same(one, other):
    """Assert that two readings agree."""
    if isinstance(one, list) or isinstance(other, list):
        assert one == other
        return
    assert one[1:] == other[1:]
    for place, numbers in one[0].items():
        # pandas rounds numbers of 17 digits and more, or far from one, a little off
        assert np.allclose(numbers, other[0][place], rtol=1e-15, atol=0.0, equal_nan=True)


@settings(max_examples=300, deadline=None)
@given(
    st.lists(st.lists(st.one_of(NUMBERS, WORDS), min_size=1, max_size=4), min_size=1, max_size=12),
    st.sampled_from([",", ";", "\t", "|", " "]),
    st.sampled_from(["\n", "\r\n", "\r", "\n\n", "\n \n"]),
    st.sampled_from([1, 2, 3]),
    st.sampled_from([256, 1 << 22]),  # more than a line
)
@example([["True"], ["False"]], ";", "\n", 1, 1 << 22)
@example([["\ufeff1"]], ",", "\n", 1, 256)
@example([["1.5"], ["2,5"]], ";", "\n", 1, 256)
@example([["1", "", ""], ["1", "", ""]], ";", "\n", 1, 256)
def test_pieces_of_any_size_read_as_cell_by_cell(rows, delimiter, line_end, width, size):
    text = line_end.join(delimiter.join(row) for row in rows) + line_end
    assert_same(
        read(text, delimiter=delimiter, width=width, piece=size), by_cells(text, delimiter=delimiter, width=width)
    )


@given(st.lists(NUMBERS, min_size=1))
def test_number_is_that_of_float(numbers):
    columns, lines, _ = read("".join(f"{number};1\n" for number in numbers))
    # pandas rounds numbers of 17 digits and more, or far from one, a little off
    assert np.allclose(columns[0], [float(number) for number in numbers], rtol=1e-15, atol=0.0, equal_nan=True)
    assert lines == [*range(1, len(numbers) + 1)]


@pytest.mark.parametrize("number", ["3000", "0.01", "-12.345", "+7", ".5", "5.", "1e3", "2.5E-4", "0.123456789012345"])
def test_number_of_a_logger_is_that_of_float_to_the_last_bit(number):
    assert read(f"{number};1\n")[0][0][0] == float(number)


def test_plain_rows_do_not_go_cell_by_cell():
    with mock.patch.object(RowReader, "_cell_by_cell", side_effect=AssertionError):
        for text in ("1;2\n\n3;\n", "1,5;2\r\n3;NaN\r\n", "1;2;;\n3;4;;\n", "1;2\n3;-"):
            assert len(read(text)[1]) == 2
        assert len(read(' 1  2\n\t3   "4" \n', delimiter=" ")[1]) == 2
        assert read('"1";"2"\n3;"4"\n')[0][1].tolist() == [2.0, 4.0]
        assert read("2026-05-02 00:00:01;7\n", clock=0)[0][0].tolist() == [20575 * 86400.0 + 1.0]


def test_decimal_sign_of_one_piece_holds_for_the_others():
    assert read("1;2\n" * 9 + "1.234;5\n" + "1,5;2\n", piece=8) == [
        "log:11: has decimal points and decimal commas: write all numbers in one way, without marks for thousands"
    ]


def test_quoted_cell_may_go_on_in_the_next_piece():
    columns, lines, _ = read('1;"2"\n3;4;"\n\n"\n5;6\n'.replace(';"\n\n"', ""), piece=6)
    assert (columns[1].tolist(), lines) == ([2.0, 4.0, 6.0], [1, 2, 3])
    layout = Layout(";", 3, {0: "a", 2: "c"}, -1, 0)
    with mock.patch.object(log_rows, "_PIECE", 6):
        columns, lines, _ = RowReader(b'1;"x\n\ny";2\n\n3;z;4\n', 0, 1, layout, LogFaults("log")).read()
    assert (columns[2].tolist(), lines.tolist()) == ([2.0, 4.0], [1, 5])


def test_pandas_is_loaded_when_a_log_is_read_and_not_before(tmp_path):
    code = """
import pathlib, sys
from ullage.duty.log_columns import Wanted
from ullage.duty.recording import read_recording
before = "pandas" in sys.modules
path = pathlib.Path(sys.argv[1])
path.write_text("t,rpm\\n0,1\\n1,1\\n")
read_recording(path, {"time": Wanted("t", "s", "time"), "engine_speed": Wanted("rpm", "rpm", "rotation")})
print(before, "pandas" in sys.modules)
"""
    run = [sys.executable, "-W", "error", "-c", code, str(tmp_path / "lap.csv")]
    assert subprocess.run(run, capture_output=True, text=True, check=True).stdout.split() == ["False", "True"]
