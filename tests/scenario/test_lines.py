import pytest

from ullage.scenario.lines import key_lines, line_of

TEXT = '''format = 1
title = """
[not.a.table]
fill = 3
"""
cap.kind = "sealed"

[reservoir]  # the tank
volume = "1 L"   # one
"fill" = 0.8
other = { a = 1, b = { c = 2 } }

[[duty.segment]]
name = "one"
duration = "1 min"

  [[duty.segment]]
  name = \'\'\'
duration = "9 min"
\'\'\'
  duration = "2 min"
  [duty.segment.extra]
  deep = 1

[[event]]
time = "1 s"
[[event]]
time = "2 s"
[pump]
flow_point.speed = "1 rpm"
flow_point . flow = "1 L/min"
'''


@pytest.mark.parametrize(
    ("path", "line"),
    [
        (("format",), 1),
        (("title",), 2),
        (("cap", "kind"), 6),
        (("reservoir",), 8),
        (("reservoir", "volume"), 9),
        (("reservoir", "fill"), 10),
        (("reservoir", "other", "b"), 11),
        (("duty", "segment", 0), 13),
        (("duty", "segment", 0, "duration"), 15),
        (("duty", "segment", 1), 17),
        (("duty", "segment", 1, "name"), 18),
        (("duty", "segment", 1, "duration"), 21),
        (("duty", "segment", 1, "extra", "deep"), 23),
        (("event", 0, "time"), 26),
        (("event", 1, "time"), 28),
        (("pump", "flow_point", "speed"), 30),
        (("pump", "flow_point", "flow"), 31),
    ],
)
def test_line_of_a_key_is_where_it_stands(path, line):
    assert key_lines(TEXT)[path] == line


def test_text_in_a_multi_line_string_is_no_key():
    lines = key_lines(TEXT)
    assert ("not", "a", "table") not in lines
    assert ("fill",) not in lines


@pytest.mark.parametrize(
    ("path", "line"),
    [
        (("reservoir", "rating"), 8),
        (("duty", "segment", 1, "vehicle_speed"), 17),
        (("event", 1, "stop", "x"), 27),
        (("reservoir", "other", "a", "b"), 11),
        (("cooler", "blockage"), None),
        ((), None),
    ],
)
def test_key_that_is_not_there_has_the_line_of_what_is_around_it(path, line):
    assert line_of(path, key_lines(TEXT)) == line


def test_line_ends_of_other_systems_count_the_same():
    assert key_lines(TEXT.replace("\n", "\r\n")) == key_lines(TEXT)


@pytest.mark.parametrize("sign", ["\u2028", "\u2029", "\x85"])
def test_only_line_ends_of_toml_count(sign):
    # TOML ends a line at LF or CR LF only; an editor counts the same way.
    assert key_lines(f'title = "a{sign}b"\nformat = 1\n')[("format",)] == 2


def test_array_over_several_lines_has_the_line_of_its_key():
    lines = key_lines('[weather]\npoint = [\n  { time = "0 s" },\n  { time = "1 s" },\n]\noffset = 1\n')
    assert [lines[("weather", "point", place, "time")] for place in (0, 1)] == [3, 4]
    assert lines[("weather", "point")] == 2
    assert lines[("weather", "offset")] == 6
