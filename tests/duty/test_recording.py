import hashlib
import os
import re

import numpy as np
import pytest

from ullage.duty import recording
from ullage.duty.recording import LONGEST_LINE, MOST_FAULTS, Column, RecordingError, read_recording

TIME = Column("t", "s", 1.0, 0.0, -np.inf, np.inf, "")
RPM = Column("rpm", "rpm", np.pi / 30.0, 0.0, 0.0, 1048.0, "0 rpm to 10000 rpm")
SPEED = Column("GPS speed", "km/h", 1.0 / 3.6, 0.0, 0.0, 70.0, "0 km/h to 250 km/h")
COLUMNS = {"time": TIME, "engine_speed": RPM, "vehicle_speed": SPEED}
CLEAN = "t,rpm,other,GPS speed\n100.5,3000,x,36\n101.0,3300,,39.6\n101.7,3000,x,36\n"


@pytest.fixture
def read(tmp_path):
    """Return a function that reads bytes or text as a recording."""

    def of(content, columns=COLUMNS):
        path = tmp_path / "lap.csv"
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        return read_recording(path, columns)

    return of


@pytest.fixture
def faults(read):
    """Return a function that gives the faults of a recording as (line, sentence)."""

    def of(content, columns=COLUMNS):
        with pytest.raises(RecordingError) as caught:
            read(content, columns)
        found = [re.fullmatch(r".*lap\.csv(?::(\d+))?: (.+)", text) for text in map(str, caught.value.faults)]
        return [(int(match[1] or 0), match[2]) for match in found]

    return of


def test_channels_are_si_and_time_starts_at_zero(read):
    lap = read(CLEAN)
    assert lap.time == pytest.approx([0.0, 0.5, 1.2], abs=1e-12)  # differences of times near 100 s
    assert lap.channels["engine_speed"] == pytest.approx(np.array([100.0, 110.0, 100.0]) * np.pi, rel=1e-14)
    assert lap.channels["vehicle_speed"] == pytest.approx([10.0, 11.0, 10.0], rel=1e-14)  # rounding
    assert set(lap.channels) == {"engine_speed", "vehicle_speed"}


@pytest.mark.parametrize(
    "content",
    [
        b"\xef\xbb\xbf" + CLEAN.encode(),
        CLEAN.replace("\n", "\r\n"),
        CLEAN.replace("GPS speed", '"GPS speed"').replace("3300", '"3300"'),
        CLEAN.replace("t,rpm", " t , rpm ").replace("3300", " 3.3e3 "),
        CLEAN.replace("\n101.0", "\n\n101.0") + "\n\n",
        CLEAN.rstrip("\n"),
    ],
    ids=["byte-order mark", "line ends", "quoted", "spaces", "empty lines", "no last line end"],
)
def test_harmless_ways_to_write_the_same_lap_read_the_same(read, content):
    plain, found = read(CLEAN), read(content)
    assert np.array_equal(found.time, plain.time)
    assert all(np.array_equal(found.channels[name], plain.channels[name]) for name in plain.channels)


def test_digest_is_that_of_the_bytes_and_makes_equal(read):
    lap = read(CLEAN)
    assert lap.digest == hashlib.sha256(CLEAN.encode()).hexdigest()
    assert lap == read(CLEAN)
    assert lap != read(CLEAN.replace("x", "y"))


@pytest.mark.parametrize(
    ("old", "new", "line", "words"),
    [
        (
            "t,rpm",
            "t,rmp",
            1,
            "column 'rpm': missing (did you mean 'rmp'?); there are: 't', 'rmp', 'other', 'GPS speed'",
        ),
        ("other", "rpm", 1, "column 'rpm': is there 2 times"),
        ("3300", "fast", 3, "column 'rpm': 'fast' is not a number (a point for decimals, no unit)"),
        ("3300", '"3,3"', 3, "column 'rpm': '3,3' is not a number"),
        ("3300", "3_300", 3, "column 'rpm': '3_300' is not a number"),
        ("3300", "٣٣٠٠", 3, "is not a number"),
        ("3300", "", 3, "column 'rpm': '' is empty"),
        ("3300", "nan", 3, "column 'rpm': 'nan' is not a finite number"),
        ("3300", "1e999", 3, "is not a finite number"),
        ("3300", "12000", 3, "column 'rpm': '12000' rpm is outside 0 rpm to 10000 rpm"),
        ("3300", "-1", 3, "column 'rpm': '-1' rpm is outside"),
        ("101.0", "100.5", 3, "column 't': time must increase, but 100.5 follows 100.5 s"),
        ("101.0", "99", 3, "column 't': time must increase, but 99 follows 100.5 s"),
        ("101.0", "inf", 3, "column 't': 'inf' is not a finite number"),
        ("3300,", "3300,,", 3, "5 cells under 4 headers"),
        ("3300,,", "3300,", 3, "3 cells under 4 headers"),
        ("101.0,3300,,39.6\n101.7,3000,x,36\n", "", 0, "has fewer than two rows"),
        ("101.0,3300,,39.6\n101.7", "100.51", 0, "lasts 0.01 s"),
        ("t,rpm,other,GPS speed\n", "\n", 1, "has no line of headers"),
        ("3300", "33\x0000", 3, "holds a NUL byte"),
        ("3300", '33"00', 3, "is not a number"),
        ("3300", '"3300', 4, "is no comma-separated text"),
        ("x,36\n101.0", "x,36\r101.0", 2, "is no comma-separated text"),
        ("3300", "3" * LONGEST_LINE, 3, "is longer than 65536 characters"),
    ],
)
def test_fault_has_its_line_its_column_and_what_was_found(faults, old, new, line, words):
    assert old in CLEAN
    found = faults(CLEAN.replace(old, new))
    assert [place for place, _ in found] == [line]
    assert words in found[0][1]


@pytest.mark.parametrize(
    ("content", "words"),
    [(b"", "no line of headers"), (b"t,rpm\n\xff\xfe1\n", "not UTF-8"), (bytes(range(256)) * 9, "NUL byte")],
    ids=["empty", "not UTF-8", "binary"],
)
def test_what_is_no_text_is_one_fault(faults, content, words):
    found = faults(content)
    assert words in found[-1][1]


@pytest.mark.parametrize("mark", [";", "\t", "|"])
def test_other_marks_between_columns_are_one_fault_with_a_remedy(faults, mark):
    ((_, text),) = faults(CLEAN.replace(",", mark))
    assert text == f"columns are separated by {mark!r}: save it with commas, and points for decimals"


def test_header_in_other_letters_is_a_near_miss(faults):
    ((_, text),) = faults(CLEAN.replace("rpm", "RPM"))
    assert text.startswith("column 'rpm': missing (did you mean 'RPM'?)")


def test_lap_that_is_too_short_is_refused_at_the_limit(read):
    assert len(read("t,rpm,other,GPS speed\n0,900,,3\n0.1,900,,3\n").time) == 2


def test_all_faults_come_at_once_in_the_order_of_the_lines(faults):
    text = CLEAN.replace("3300,,39.6", "fast,,-1").replace("101.7", "90").replace("GPS speed", "speed")
    found = faults(
        text, {**COLUMNS, "vehicle_speed": SPEED, "steering_load": Column("bar", "bar", 1e5, 0.0, 0, 2.5e7, "")}
    )
    assert [line for line, _ in found] == [1, 1, 3, 4]


def test_twenty_faults_are_told_and_the_rest_counted(faults):
    rows = "".join(f"{second},bad,,1\n" for second in range(50))
    found = faults("t,rpm,other,GPS speed\n" + rows)
    assert [line for line, _ in found[:-1]] == list(range(2, 2 + MOST_FAULTS))
    assert found[-1] == (0, "and 30 more")


def test_what_is_no_file_is_not_opened(tmp_path):
    os.mkfifo(tmp_path / "pipe.csv")  # opening it would wait for ever
    for name, words in (("", "is not a file"), ("pipe.csv", "is not a file"), ("absent.csv", "cannot be read")):
        with pytest.raises(RecordingError, match=words):
            read_recording(tmp_path / name, COLUMNS)
    with pytest.raises(RecordingError, match="cannot be read"):
        read_recording(tmp_path / "a\0b", COLUMNS)
    with pytest.raises(RecordingError, match="is not a file"):
        read_recording(type(tmp_path)("/dev/zero"), COLUMNS)


def test_file_over_the_limit_is_not_read(tmp_path):
    path = tmp_path / "lap.csv"
    with path.open("wb") as stream:
        stream.truncate(recording.LARGEST_FILE + 1)  # takes no room on the disk
    with pytest.raises(RecordingError, match="is larger than 200 MB"):
        read_recording(path, COLUMNS)


def test_more_rows_than_the_limit_are_a_fault(faults, monkeypatch):
    monkeypatch.setattr(recording, "MOST_ROWS", 2)
    assert faults(CLEAN)[-1][1].startswith("is row 3; ")
