import tomllib

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

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


HARD = '''\
title = "a # [b] = {c}"  # [d]
'quoted key'.x = 'it # [e]'
"a.b" = 1
list = [
  1, "two, ] three", [4,
  5], # six ]
  """
seven = 8
""", {nine = 10, ten.eleven = [
    12]},
]
stop = [ {name = "one", after_lap = 1},
  # { name = "none" },
  {name = "two"} ]
[pump.flow_point] # before its own table
flow = "1 L/min"
[ pump ]
fill.share = 3
[[weather.point]]
[weather.point.deep]
x = """""five quotes"""""
y = \'\'\'\'one quote\'\'\'\'
z = "\\"[not.a.table]\\""
'''


@pytest.mark.parametrize(
    ("path", "line"),
    [
        (("quoted key", "x"), 2),
        (("a.b",), 3),
        (("list",), 4),
        (("list", 0), 5),
        (("list", 1), 5),
        (("list", 2, 0), 5),
        (("list", 2, 1), 6),
        (("list", 3), 7),
        (("list", 4), 9),
        (("list", 4, "nine"), 9),
        (("list", 4, "ten", "eleven", 0), 10),
        (("stop", 0, "name"), 12),
        (("stop", 0, "after_lap"), 12),
        (("stop", 1), 14),
        (("stop", 1, "name"), 14),
        (("pump",), 17),
        (("pump", "flow_point"), 15),
        (("pump", "flow_point", "flow"), 16),
        (("pump", "fill"), 18),
        (("pump", "fill", "share"), 18),
        (("weather",), 19),
        (("weather", "point", 0), 19),
        (("weather", "point", 0, "deep"), 20),
        (("weather", "point", 0, "deep", "y"), 22),
        (("weather", "point", 0, "deep", "z"), 23),
    ],
)
def test_line_is_found_in_arrays_inline_tables_and_behind_misleading_text(path, line):
    assert key_lines(HARD)[path] == line


def places_of_scalars(tree, place=()):
    """Go through the places of a tree that hold no table and no array."""
    if isinstance(tree, dict | list):
        for key, value in tree.items() if isinstance(tree, dict) else enumerate(tree):
            yield from places_of_scalars(value, (*place, key))
    else:
        yield place


@pytest.mark.parametrize("text", [TEXT, HARD])
def test_every_value_has_a_line_and_nothing_else_has(text):
    leaves = set(places_of_scalars(tomllib.loads(text)))
    lines = key_lines(text)
    assert leaves <= set(lines)
    inner = {place[:length] for place in leaves for length in range(len(place) + 1)}
    assert set(lines) - inner <= {("stop",), ("list",)}


@settings(deadline=None, max_examples=200, derandomize=True)
@given(st.text(alphabet="ab1 .=,[]{}\"'\\#\n", max_size=60))
@example('a = "' + "\\")
@example("a = '''")
def test_any_text_has_lines_within_it(text):
    assert all(1 <= line <= text.count("\n") + 1 for line in key_lines(text).values())
