import csv
import hashlib
import io
import os
import re

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from ullage.duty import log_rows, log_text, recording
from ullage.duty.log_clean import MOST_MISSING, MOST_SPIKES
from ullage.duty.log_columns import Wanted
from ullage.duty.log_faults import MOST_FAULTS, RecordingError
from ullage.duty.log_head import LONGEST_LINE
from ullage.duty.recording import Form, read_recording

TIME = Wanted("t", "s", "time")
RPM = Wanted("rpm", "rpm", "rotation", "0 rpm", "10000 rpm")
SPEED = Wanted("GPS speed", "km/h", "speed", "0 km/h", "250 km/h")
LOAD = Wanted("load", "bar", "pressure difference", "0 bar", "250 bar")
COLUMNS = {"time": TIME, "engine_speed": RPM, "vehicle_speed": SPEED}
TWO = {"time": TIME, "engine_speed": RPM}
CLEAN = "t,rpm,other,GPS speed\n100.5,3000,x,36\n101.0,3300,,39.6\n101.7,3000,x,36\n"


def table(rows, header="t,rpm"):
    """Return comma-separated text."""
    return "\n".join([header, *(",".join(str(cell) for cell in row) for row in rows)]) + "\n"


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    return tmp_path_factory.mktemp("log") / "lap.csv"


@pytest.fixture(scope="module")
def read(path):
    """Return a function that reads bytes or text as a recording."""

    def of(content, columns=COLUMNS, **form):
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        return read_recording(path, columns, Form(**form))

    return of


@pytest.fixture(scope="module")
def faults(read):
    """Return a function that gives the faults of a recording as (line, sentence)."""

    def of(content, columns=COLUMNS, **form):
        with pytest.raises(RecordingError) as caught:
            read(content, columns, **form)
        found = [re.fullmatch(r".*lap\.csv(?::(\d+))?: (.+)", text) for text in map(str, caught.value.faults)]
        return [(int(match[1] or 0), match[2]) for match in found]

    return of


def rpm_of(lap):
    """Return the engine speed as it was written."""
    return lap.channels["engine_speed"] * 30.0 / np.pi


def test_channels_are_si_and_time_starts_at_zero(read):
    lap = read(CLEAN)
    assert lap.time == pytest.approx([0.0, 0.5, 1.2], abs=1e-12)  # differences of times near 100 s
    assert lap.channels["engine_speed"] == pytest.approx(np.array([100.0, 110.0, 100.0]) * np.pi, rel=1e-14)
    assert lap.channels["vehicle_speed"] == pytest.approx([10.0, 11.0, 10.0], rel=1e-14)  # rounding
    assert set(lap.channels) == {"engine_speed", "vehicle_speed"}
    assert lap.notes == ()


HARMLESS = {
    "byte-order mark": b"\xef\xbb\xbf" + CLEAN.encode(),
    "line ends of two signs": CLEAN.replace("\n", "\r\n"),
    "old line ends": CLEAN.replace("\n", "\r"),
    "quoted": CLEAN.replace("GPS speed", '"GPS speed"').replace("3300", '"3300"'),
    "spaces": CLEAN.replace("t,rpm", " t , rpm ").replace("3300", " 3.3e3 "),
    "empty lines": CLEAN.replace("\n101.0", "\n\n  \n101.0") + "\n\n",
    "no last line end": CLEAN.rstrip("\n"),
    "mark at the end of rows": CLEAN.replace("\n", ",\n"),
    "mark at the end of rows but not of headers": CLEAN.replace("\n", ",\n").replace("speed,", "speed"),
    "quoted header over two lines": CLEAN.replace("other", '"some\nother"'),
    "quoted text over two lines": CLEAN.replace("3000,x", '3000,"x\ny"'),
    "units in round brackets": CLEAN.replace("t,rpm,", "t (s),rpm(RPM),").replace("speed", "speed (KPH)"),
    "units in square brackets": CLEAN.replace("rpm,", "rpm [1/min],").replace("speed", "speed [km/h]"),
    "row of units": CLEAN.replace("speed\n", "speed\ns,rpm,,km/h\n"),
    "tabs": CLEAN.replace(",", "\t"),
    "bars": CLEAN.replace(",", "|"),
    "semicolons": CLEAN.replace(",", ";"),
    "runs of spaces": CLEAN.replace("GPS speed", '"GPS speed"').replace(",,", ",x,").replace(",", "   "),
}


@pytest.mark.parametrize("content", HARMLESS.values(), ids=HARMLESS.keys())
def test_harmless_ways_to_write_the_same_lap_read_the_same_without_a_note(read, content):
    plain, found = read(CLEAN), read(content)
    assert np.array_equal(found.time, plain.time)
    assert all(np.array_equal(found.channels[name], plain.channels[name]) for name in plain.channels)
    assert found.notes == ()


NOTED = {
    "UTF-16": (b"\xff\xfe" + CLEAN.encode("utf-16-le"), "the file is UTF-16 text"),
    "UTF-16, other order": (b"\xfe\xff" + CLEAN.encode("utf-16-be"), "the file is UTF-16 text"),
    "Windows-1252": (
        CLEAN.replace("other", "°C").encode("cp1252"),
        "the file is no UTF-8 text and was read as Windows-1252",
    ),
    "commas for decimals": (CLEAN.replace(",", ";").replace(".", ","), "decimals are written with commas"),
    "lines above": ("Log of, Friday\n\n" + CLEAN, "the headers are on line 3; what stands above them was left out"),
    "line of text": (
        CLEAN.replace("speed\n", "speed\nCAN,CAN,,GPS\n"),
        "line 2 below the headers holds no numbers and was left out",
    ),
    "cut-off line": (CLEAN + "102.1,30", "line 5, the last one, is no whole row and was left out"),
    "other unit in the file": (
        CLEAN.replace("speed\n", "speed (mph)\n"),
        'vehicle_speed: taken in km/h as told, though the file says "mph"',
    ),
    "row twice": (CLEAN + "101.7,3000,x,36\n", "1 row there twice, left out"),
}


@pytest.mark.parametrize(("content", "note"), NOTED.values(), ids=NOTED.keys())
def test_what_is_not_quite_plain_reads_the_same_with_a_note(read, content, note):
    plain, found = read(CLEAN), read(content)
    assert np.array_equal(found.time, plain.time)
    assert all(np.array_equal(found.channels[name], plain.channels[name]) for name in plain.channels)
    assert found.notes == (note,)


def test_unit_comes_from_the_mapping_else_from_a_row_of_units_else_from_the_header(read):
    columns = {name: want._replace(unit="") for name, want in COLUMNS.items()}
    lap = read("t (h),rpm,GPS speed (mph)\ns,rpm,\n0,3000,10\n1,3000,10\n", columns)
    assert [lap.columns[name].unit for name in ("engine_speed", "vehicle_speed")] == ["rpm", "mph"]
    assert lap.time[-1] == 1.0  # the row of units says seconds
    assert lap.channels["vehicle_speed"] == pytest.approx([4.4704, 4.4704], rel=1e-12)  # 1609.344 m / 3600 s


@pytest.mark.parametrize(
    ("header", "words"),
    [
        ("rpm", "column 'rpm': the file does not say its unit; a shaft speed is wanted, such as \"4000 rpm\""),
        ("rpm (crank)", "column 'rpm': the unit in the file: unknown unit 'crank'"),
        ("rpm (km/h)", "column 'rpm': the unit in the file: 'km/h' is not a unit of this kind"),
    ],
)
def test_unit_that_nobody_says_is_a_fault(faults, header, words):
    ((line, text),) = faults(f"t,{header}\n0,1\n1,1\n", {"time": TIME, "engine_speed": RPM._replace(unit="")})
    assert line == 1
    assert text.startswith(words)
    assert text.endswith('; give unit = "..."')


LEVEL = Wanted("feed", "", "pressure level", "-1 barg", "20 barg")


@pytest.mark.parametrize(
    ("unit", "pascal", "gauge"),
    [("psig", 6894.757293168361, True), ("PSIA", 20 * 6894.757293168361, False), ("inHg vac", -3386.389, True)],
)
def test_pressure_level_is_gauge_or_absolute_as_its_unit_says(read, unit, pascal, gauge):
    value = 20 if unit == "PSIA" else 1
    lap = read(f"t,feed ({unit})\n0,{value}\n1,{value}\n", {"time": TIME, "feed": LEVEL})
    assert lap.channels["feed"] == pytest.approx([pascal, pascal], rel=1e-12)  # rounding
    assert lap.columns["feed"].gauge is gauge


def test_bare_psi_is_no_pressure_level(faults):
    ((_, text),) = faults("t,feed (psi)\n0,1\n1,1\n", {"time": TIME, "feed": LEVEL})
    assert "'psi' does not say which pressure level (did you mean 'psig'?)" in text


def test_temperature_has_the_zero_of_its_unit(read):
    want = Wanted("oil", "", "temperature", "-40 degC", "200 degC")
    for unit, value in (("C", 100.0), ("°F", 212.0), ("K", 373.15)):
        lap = read(f"t,oil [{unit}]\n0,{value}\n1,{value}\n", {"time": TIME, "oil": want})
        assert lap.channels["oil"] == pytest.approx([373.15, 373.15], abs=1e-10)  # rounding


def test_digest_is_that_of_the_bytes_and_makes_equal(read):
    lap = read(CLEAN)
    assert lap.digest == hashlib.sha256(CLEAN.encode()).hexdigest()
    assert lap == read(CLEAN)
    assert lap != read(CLEAN.replace("x", "y"))


def test_same_bytes_are_read_once_and_other_bytes_or_wishes_again(read, path):
    lap = read(CLEAN)
    before = path.stat()
    assert read(CLEAN) is lap
    changed = CLEAN.replace("3300", "3301")  # as long as before, at the same time
    path.write_text(changed)
    os.utime(path, ns=(before.st_atime_ns, before.st_mtime_ns))
    assert rpm_of(read_recording(path, COLUMNS, Form()))[1] == pytest.approx(3301.0)
    assert read(CLEAN, longest_gap=5.0) is not lap
    assert not lap.time.flags.writeable
    assert not lap.channels["engine_speed"].flags.writeable


def test_only_the_last_recordings_are_kept(read):
    for number in range(10):
        read(CLEAN.replace("3300", f"33{number}0"))
    assert len(recording._recordings) == recording._KEPT


def test_one_large_recording_is_kept_alone(read, monkeypatch):
    monkeypatch.setattr(recording, "_MOST_NUMBERS", 10)
    laps = [read(CLEAN.replace("3300", f"33{number}1")) for number in range(3)]  # nine numbers each
    assert list(recording._recordings.values()) == laps[-1:]


@pytest.mark.parametrize(
    ("old", "new", "line", "words"),
    [
        (
            "t,rpm",
            "t,rmp",
            1,
            "column 'rpm': missing (did you mean 'rmp'?); there are: 't', 'rmp', 'other', 'GPS speed'",
        ),
        ("t,rpm", "t,RPM", 1, "column 'rpm': missing (did you mean 'RPM'?)"),
        ("other", "rpm", 1, "column 'rpm': is there 2 times: give its number, such as column = 2"),
        ("3300", "fast", 3, "column 'rpm': \"fast\" is not a number (a point for decimals, no unit)"),
        ("3300", '"3,3"', 3, "column 'rpm': \"3,3\" is not a number"),
        ("3300", "3_300", 3, "column 'rpm': \"3_300\" is not a number"),
        ("3300", "٣٣٠٠", 3, "is not a number"),
        ("3300", "=B2+300", 3, "is not a number"),
        ("3300", "#DIV/0!", 3, "is not a number"),
        ("3300", "3300 rpm", 3, "is not a number"),
        ("3300,", "3300,,", 3, "5 cells under 4 headers"),
        ("3300,,", "3300,", 3, "3 cells under 4 headers"),
        ("101.0,3300,,39.6\n101.7,3000,x,36\n", "", 0, "has fewer than two rows"),
        ("101.0,3300,,39.6\n101.7", "100.51", 0, "lasts 0.01 s"),
        ("t,rpm,other,GPS speed\n", "\n", 2, "column 't': missing"),
        ("3300", "33\x0000", 3, "holds a NUL byte"),
        ("3300", '33"00', 3, "is not a number"),
        ("3300", '"33"00', 3, "opens a quote that is never closed, or has more behind a closed one"),
        ("3300", '"3300', 3, "opens a quote that is never closed"),
        ("3300", '"3300' + "\n" * 200_000, 3, "opens a quote that is never closed"),
        ("3300", "3" * LONGEST_LINE, 3, "is longer than 65536 bytes"),
        ("101.0", "1:02", 3, "column 't': \"1:02\" is not a number"),
    ],
)
def test_fault_has_its_line_its_column_and_what_was_found(faults, old, new, line, words):
    assert old in CLEAN
    found = faults(CLEAN.replace(old, new))
    assert found[0][0] == line
    assert words in found[0][1]


HOSTILE = {
    "empty": (b"", "has no line of headers"),
    "blank lines": (b"\n \n\r\n", "has no line of headers"),
    "only headers": (b"t,rpm,GPS speed\n", "has no numbers under the headers"),
    "binary": (bytes(range(256)) * 9, "NUL byte"),
    "binary without NUL": (bytes(range(1, 256)) * 9, "is neither UTF-8 nor Windows-1252 text"),
    "UTF-16 without a mark": (CLEAN.encode("utf-16-le"), "UTF-16 without its mark"),
    "half of a UTF-16 file": (b"\xff\xfe" + CLEAN.encode("utf-16-le")[:-1], "begins like UTF-16 text, but is none"),
    "100,000 columns": (b"," * 100_000 + b"\n" + CLEAN.encode(), "is longer than 65536 bytes"),
    "20,000 columns": (b"t,rpm" + b",a" * 20_000 + b"\n0,1\n", "there are: 't', 'rpm', 'a'"),
    "mixed marks": (
        b"t;rpm;GPS speed\n0,1,2\n1,2,3\n",
        "has no numbers under the headers; is the mark between columns right?",
    ),
    "points and commas": (
        b"t;rpm;GPS speed\n0,5;3000.5;1\n1;3000;1\n",
        "has decimal points and decimal commas",
    ),
    "dates with and without": (
        b"t;rpm;GPS speed\n2026-05-02 01:00:00;3000;1\n01:00:01;3000;1\n",
        "has clock times with a date and without",
    ),
    "no such day": (b"t;rpm;GPS speed\n2026-02-29 01:00:00;3000;1\n", '"2026-02-29 01:00:00" is no clock time such as'),
}


@pytest.mark.parametrize(("content", "words"), HOSTILE.values(), ids=HOSTILE.keys())
def test_hostile_text_is_a_fault(faults, content, words):
    assert any(words in text for _, text in faults(content))


def test_lap_that_is_too_short_is_refused_at_the_limit(read):
    assert len(read("t,rpm,other,GPS speed\n0,900,,3\n0.1,900,,3\n").time) == 2


def test_twenty_faults_are_told_and_the_rest_counted(faults):
    rows = "".join(f"{second},bad,,1\n" for second in range(50))
    found = faults("t,rpm,other,GPS speed\n" + rows)
    assert [line for line, _ in found[:-1]] == list(range(2, 2 + MOST_FAULTS))
    assert found[-1] == (0, "and 30 more")


def test_faults_of_all_pieces_of_a_text_are_counted(faults, monkeypatch):
    monkeypatch.setattr(log_rows, "_PIECE", 40)
    rows = "".join(f"{second},bad,,1\n" for second in range(1000))
    assert faults("t,rpm,other,GPS speed\n" + rows)[-1] == (0, f"and {1000 - MOST_FAULTS} more")


def test_what_is_no_file_is_not_opened(tmp_path):
    os.mkfifo(tmp_path / "pipe.csv")  # opening it would wait for ever
    for name, words in (("", "is not a file"), ("pipe.csv", "is not a file"), ("absent.csv", "cannot be read")):
        with pytest.raises(RecordingError, match=words):
            read_recording(tmp_path / name, COLUMNS)
    with pytest.raises(RecordingError, match="cannot be read"):
        read_recording(tmp_path / "a\0b", COLUMNS)
    with pytest.raises(RecordingError, match="is not a file"):
        read_recording(type(tmp_path)("/dev/zero"), COLUMNS)


def test_file_over_the_limit_is_refused(tmp_path, monkeypatch):
    monkeypatch.setattr(log_text, "LARGEST_FILE", 2_000_000)
    path = tmp_path / "lap.csv"
    with path.open("wb") as stream:
        stream.truncate(2_000_001)  # takes no room on the disk
    with pytest.raises(RecordingError, match="is larger than 2 MB"):
        read_recording(path, COLUMNS)


@pytest.mark.parametrize(
    "content", [CLEAN, CLEAN.replace("x", '"x"'), CLEAN.replace("x", '""'), CLEAN[:-20] + "\n" * 9]
)
def test_more_lines_than_the_limit_are_a_fault(faults, monkeypatch, content):
    monkeypatch.setattr(log_rows, "MOST_LINES", 3)
    assert faults(content) == [(0, "has more than 3 lines: take fewer a second, or cut it to one lap")]


# time


@pytest.mark.parametrize(
    ("stamps", "begins_at"),
    [
        (["23:59:58.5", "23:59:59.75", "00:00:01"], None),
        (["2026-05-02 23:59:58.5", "2026-05-02 23:59:59.75", "2026-05-03 00:00:01"], 1777766398.5),
        (["2026/05/02 23:59:58.5", "2026/05/02 23:59:59.75", "2026/05/03 00:00:01"], 1777766398.5),
        (["02.05.2026 23:59:58.5", "02.05.2026 23:59:59.75", "3.5.2026 00:00:01"], 1777766398.5),
        (["2026-05-02T23:59:58.5Z", "2026-05-03T01:59:59.75+02:00", "2026-05-02T19:00:01-0500"], 1777766398.5),
    ],
)
def test_clock_counts_from_its_first_row_past_midnight(read, stamps, begins_at):
    lap = read(table(zip(stamps, [3000] * 3, strict=True)), TWO)
    assert lap.time == pytest.approx([0.0, 1.25, 2.5], abs=1e-9)  # seconds of a day in doubles
    assert lap.begins_at == begins_at  # of datetime(2026, 5, 2, 23, 59, 58, 500000, UTC).timestamp()


@pytest.mark.parametrize("stamp", ["05/02/2026 13:05:22.1", "12:34.5", "1:05:22 PM"])
def test_clock_that_nobody_can_tell_is_one_sentence_that_says_how_to_write_it(faults, stamp):
    ((line, text), *more) = faults(table([(stamp, 3000), (stamp, 3100)]), {**TWO, "time": TIME._replace(unit="")})
    assert line == 2
    assert text.startswith(f"column 't': \"{stamp}\" is no clock time such as 13:05:22.1, 2026-05-02")
    assert len(more) <= 1  # a clock with something behind it is a fault of each row


def test_commas_that_could_part_thousands_are_told(read):
    told = "if they part thousands, every number is a thousandth of it"
    assert told in " ".join(read("t;rpm\n0;3,000\n1;3,100\n", TWO).notes)
    assert told not in " ".join(read("t;rpm\n0;3,000\n1;3100,5\n", TWO).notes)
    assert told not in " ".join(read("t;rpm\n0;3000\n1;3100\n", TWO).notes)


def test_line_below_the_rows_that_is_none_is_left_out_with_a_note(read):
    lap = read(CLEAN + "End of log\n")
    assert len(lap.time) == 3
    assert lap.notes == ("line 5, the last one, is no whole row and was left out",)


def test_end_behind_the_file_is_told(read):
    assert read(CLEAN, end=900.0).notes == ("the file ends 1.2 s after its first row, before end",)


def test_what_is_taken_off_a_column_is_taken_off_in_si(read):
    load = read(table([(0, 8.0), (1, 30.0)], "t,load"), {"time": TIME, "steering_load": LOAD._replace(less=7e5)})
    assert load.channels["steering_load"] == pytest.approx([1e5, 23e5])


def test_clock_may_have_decimal_commas_and_needs_no_unit(read):
    text = "t;rpm\n13:05:22,10;3000\n13:05:22,35;3100,5\n"
    lap = read(text, {"time": TIME._replace(unit=""), "engine_speed": RPM})
    assert lap.time == pytest.approx([0.0, 0.25], abs=1e-9)
    assert rpm_of(lap)[1] == pytest.approx(3100.5)


def test_sample_rate_stands_in_place_of_a_time_column(read):
    lap = read("rpm\n" + "3000\n" * 101, {"engine_speed": RPM}, sample_rate=50.0)
    assert lap.time == pytest.approx(np.arange(101) / 50.0, abs=1e-12)


def test_columns_may_be_given_by_number_with_headers_and_without(read):
    wanted = {"time": TIME._replace(header=1), "engine_speed": RPM._replace(header=3)}
    plain = read("t,x,rpm\n0,9,3000\n1,9,3300\n", {"time": TIME, "engine_speed": RPM})
    for text in ("0,9,3000\n1,9,3300\n", "0;9;3000\n1;9;3300\n", "a,b\ns,,rpm\n0,9,3000\n1,9,3300\n"):
        lap = read(text, wanted)
        assert np.array_equal(lap.time, plain.time)
        assert np.array_equal(lap.channels["engine_speed"], plain.channels["engine_speed"])
    mixed = read("t,rpm,rpm\n0,9,3000\n1,9,3300\n", {"time": TIME, "engine_speed": RPM._replace(header=3)})
    assert np.array_equal(mixed.channels["engine_speed"], plain.channels["engine_speed"])


def test_number_of_a_column_that_is_not_there_is_a_fault(faults):
    wanted = {"time": TIME, "engine_speed": RPM._replace(header=7)}
    assert faults("t,rpm\n0,1\n1,2\n", wanted) == [(1, "column 7: missing; there are 2 columns")]


def test_begin_and_end_cut_out_a_part_whose_time_starts_at_zero(read):
    rows = [(second + 7.0, 3000 + second) for second in range(100)]
    lap = read(table(rows), TWO, begin=10.0, end=20.0)
    assert np.array_equal(lap.time, np.arange(11.0))
    assert rpm_of(lap) == pytest.approx(np.arange(3010.0, 3021.0))


def test_what_lies_outside_of_the_part_that_is_used_is_not_held_against_it(read, faults):
    rows = [(second, 3000 if second < 50 else 99999) for second in range(100)] + [(200, 3000)]
    assert faults(table(rows), TWO)
    assert read(table(rows), TWO, end=49.0).notes == ()


# dirt


def steady(count=100, step=0.1):
    """Return rows of a steady engine."""
    return [[round(row * step, 6), 3000 + row] for row in range(count)]


def test_rows_out_of_order_are_sorted(read):
    rows = steady()
    rows[5], rows[6], rows[7] = rows[7], rows[5], rows[6]
    lap = read(table(rows), TWO)
    assert np.array_equal(lap.time, read(table(steady()), TWO).time)
    assert rpm_of(lap) == pytest.approx(3000.0 + np.arange(100))
    assert lap.notes == ("2 rows out of order, sorted",)


def test_time_that_goes_back_further_than_the_longest_gap_is_two_recordings(faults):
    rows = steady() + steady()
    ((line, text),) = faults(table(rows), TWO, longest_gap=5.0)
    assert line == 102
    assert text == "time goes back by 9.9 s: these are two recordings; cut the file here"


def test_equal_rows_count_once_and_others_of_one_time_are_averaged(read):
    rows = [(0, 3000), (1, 3100), (1, 3100), (2, 3200), (2, 3400), (3, 3300)]
    lap = read(table(rows), TWO)
    assert np.array_equal(lap.time, np.arange(4.0))
    assert rpm_of(lap) == pytest.approx([3000.0, 3100.0, 3300.0, 3300.0])
    assert lap.notes[0] == "1 row there twice, left out"
    assert lap.notes[1].startswith("2 rows share their time with others, 2 to a time as a rule, and were averaged")


def test_coarse_clock_is_averaged_and_says_how_many_rows_share_a_time(read):
    rows = [(f"13:05:{row // 10:02d}", 3000 + row) for row in range(100)]
    lap = read(table(rows), TWO)
    assert rpm_of(lap) == pytest.approx(3004.5 + 10.0 * np.arange(10))
    (note,) = lap.notes
    assert note.startswith("100 rows share their time with others, 10 to a time as a rule")
    assert note.endswith("give sample_rate in place of time")


def test_gaps_up_to_the_longest_are_told_and_longer_ones_are_faults(read, faults):
    rows = [row for row in steady(300) if not 5.0 < row[0] < 9.2 and not 15.0 < row[0] < 15.4]
    assert read(table(rows), TWO).notes == ("2 gaps, longest 4.2 s, filled linearly",)
    ((line, text),) = faults(table(rows), TWO, longest_gap=4.0)
    assert rows[line - 2][0] == 9.2
    assert text.startswith("comes 4.2 s after the row before: cut the file there, use a part of it (begin, end)")


def test_rows_far_apart_may_be_further_apart_than_the_longest_gap(read, faults):
    rows = [(0, 3000), (10, 3000), (20, 3000), (30, 3000), (70, 3000), (80, 3000)]
    assert read(table(rows), TWO).notes == ("1 gap, longest 40 s, filled linearly",)
    assert "comes 60 s after" in faults(table([*rows, (140, 3000)]), TWO)[0][1]


@pytest.mark.parametrize("mark", ["", "NaN", "nan", "NA", "n/a", "-", "null"])
def test_missing_cells_are_filled_linearly_and_held_at_the_ends(read, mark):
    rows = steady()
    for row in (0, 40, 41, 42, 99):
        rows[row][1] = mark
    lap = read(table(rows), TWO)
    expected = 3000.0 + np.arange(100)
    expected[[0, -1]] = expected[[1, -2]]
    assert rpm_of(lap) == pytest.approx(expected)
    assert lap.notes == ("engine_speed: 5 missing values, longest 0.4 s, filled linearly",)


def test_channel_that_is_silent_for_longer_than_the_longest_gap_is_a_fault(faults):
    rows = steady(1000)
    for row in rows[300:420]:
        row[1] = ""
    ((line, text),) = faults(table(rows), TWO)
    assert line == 302
    assert text.startswith("engine_speed: holds nothing for 12.1 s from here on")


def test_channel_of_a_slow_sensor_is_a_straight_line_between_its_values(read):
    rows = [[row / 10, 3000 + row if row % 10 == 0 else ""] for row in range(1001)]
    lap = read(table(rows), TWO)
    assert rpm_of(lap) == pytest.approx(3000.0 + np.arange(1001))
    assert lap.notes == ("engine_speed: a value every 10 rows, straight lines between",)


def test_channel_with_a_fifth_missing_is_a_fault(read, faults):
    def without(count):
        rows = steady(1000)
        for row in np.random.default_rng(1).choice(np.arange(1, 999), count, replace=False):
            rows[row][1] = ""
        return table(rows)

    assert len(read(without(int(1000 * MOST_MISSING)), TWO).notes) == 1
    ((_, text),) = faults(without(int(1000 * MOST_MISSING) + 1), TWO)
    assert text == "engine_speed: 201 of 1000 values are missing: is it the right column, and is the unit, rpm, right?"


def test_values_a_little_outside_are_set_to_the_limit(read):
    rows = [[row / 10, 900, -1.5 if row in (10, 20) else 0] for row in range(100)]
    lap = read(table(rows, "t,rpm,GPS speed"))
    assert np.all(lap.channels["vehicle_speed"] == 0.0)
    assert lap.notes == ("vehicle_speed: 2 values a little outside 0 km/h to 250 km/h, set to the limit",)


@pytest.mark.parametrize("spike", [99999, -9999, "1e999", "inf", 9000])
def test_spike_is_filled_as_a_gap(read, spike):
    rows = steady()
    rows[50][1] = spike
    lap = read(table(rows), TWO)
    assert rpm_of(lap) == pytest.approx(3000.0 + np.arange(100))
    assert lap.notes == ("engine_speed: 1 spike left out",)


def test_peak_that_the_channel_can_make_stays(read):
    rows = steady()
    rows[50][1], rows[51][1] = 3500, 3500  # two rows, and 500 rpm in 0.1 s
    rows[70][1] = 3500
    assert rpm_of(read(table(rows), TWO))[[50, 51, 70]] == pytest.approx(3500.0)


def test_peaks_of_a_pressure_are_real(read):
    rows = [[row / 100, 200 if row == 50 else 5] for row in range(100)]
    lap = read(table(rows, "t,load"), {"time": TIME, "steering_load": LOAD})
    assert lap.channels["steering_load"].max() == 200e5
    assert lap.notes == ()


def test_more_than_five_per_cent_of_spikes_ask_about_the_unit(read, faults):
    def with_spikes(count):
        rows = steady()
        for row in range(1, 2 * count, 2):
            rows[row][1] = 60000
        return table(rows)

    few = int(100 * MOST_SPIKES)
    assert read(with_spikes(few), TWO).notes == (f"engine_speed: {few} spikes left out",)
    ((line, text),) = faults(with_spikes(few + 1), TWO)
    assert line == 3
    where = "line 3: 60000 rpm, outside 0 rpm to 10000 rpm"
    assert text == f"engine_speed: 6 of 100 values cannot be ({where}): is the unit, rpm, right?"


def test_rows_without_a_time_are_left_out(read, faults):
    rows = steady()
    rows[3][0] = rows[77][0] = ""
    assert "2 rows without a time, left out" in read(table(rows), TWO).notes
    for row in rows[30:60]:
        row[0] = "NaN"
    assert "32 rows of 100 have no time, this one first" in faults(table(rows), TWO)[0][1]


def test_channel_without_any_number_is_a_fault(faults):
    ((_, text),) = faults(table([[row, 1, ""] for row in range(9)], "t,rpm,GPS speed"))
    assert text == "vehicle_speed: holds no numbers: is it the right column?"


# any text at all

WORDS = b't rpm load , ; | . - ( ) 0 1 3000 e9 13:05:22 2026-05-02 T Z nan 1e999 \xff \xb0 \0 "'.split()
FRAGMENTS = st.sampled_from([*WORDS, b"GPS speed", b"\t", b" ", b"\n", b"\r", b"9" * 30])


@settings(max_examples=300, deadline=None)
@given(st.one_of(st.binary(max_size=200), st.lists(FRAGMENTS, max_size=60).map(b"".join)), st.booleans())
@example(b"t,rpm,GPS speed\n0,1,1\n\t\n1,1,1\n", True)
def test_any_bytes_are_a_recording_or_a_recording_error(path, content, headed):
    path.write_bytes(b"t,rpm,GPS speed\n" * headed + content)
    try:
        lap = read_recording(path, COLUMNS)
    except RecordingError:
        return
    assert np.all(np.diff(lap.time) > 0.0)
    assert all(np.isfinite(numbers).all() for numbers in lap.channels.values())


DIALECTS = st.tuples(
    st.sampled_from([",", ";", "\t", "|", " "]),
    st.sampled_from(["\n", "\r\n", "\r"]),
    st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "cp1252"]),
    st.booleans(),
)


@settings(max_examples=200, deadline=None)
@given(
    st.lists(st.tuples(st.floats(0.0, 1e6), st.floats(-1e30, 1e30)), min_size=2, max_size=30),
    DIALECTS,
    st.sampled_from(["r", ".6f", ".3e"]),
)
def test_clean_table_reads_back_the_same_in_any_dialect(path, numbers, dialect, form):
    delimiter, line_end, encoding, commas = dialect
    shown = [[repr(value) if form == "r" else format(value, form) for value in row] for row in numbers]
    stream = io.StringIO()
    writer = csv.writer(stream, delimiter=delimiter, lineterminator=line_end)
    writer.writerow(["t", "engine (°)", "load"])
    for second, row in enumerate(shown):
        cells = [str(second), *row]
        writer.writerow([cell.replace(".", ",") for cell in cells] if commas and delimiter != "," else cells)
    path.write_bytes(stream.getvalue().encode(encoding))
    plain = Wanted("engine", "1", "number", "-1", "1")
    wanted = {
        "time": TIME,
        "share": plain._replace(header=2, low="", high=""),
        "load": plain._replace(header=3, low=""),
    }
    lap = read_recording(path, wanted)
    assert np.array_equal(lap.time, np.arange(float(len(numbers))))
    # pandas rounds numbers of 17 digits, or far from one, a little off
    assert lap.channels["share"] == pytest.approx([float(row[0]) for row in shown], rel=1e-15, abs=0.0)
    assert lap.channels["load"] == pytest.approx([float(row[1]) for row in shown], rel=1e-15, abs=0.0)
