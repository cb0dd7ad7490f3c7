import os

import pytest

from ullage.errors import ScenarioError
from ullage.scenario.source import MOST_BYTES, Source, key_text, read_file, read_toml, text_of


def sentence(call, *arguments):
    """Return the sentence of the one fault that a call raises."""
    with pytest.raises(ScenarioError) as caught:
        call(*arguments)
    (fault,) = caught.value.faults
    return str(fault)


@pytest.mark.parametrize(
    ("raw", "expected"),
    [
        (b"a = 1\n\0", "f:2: is not a text file: it holds a zero byte"),
        (b"a = 1\n# caf\xe9", "f:2: is not UTF-8 text: it holds the byte 0xe9"),
        ("a = 1".encode("utf-16"), "f: is UTF-16 text: save it as UTF-8"),
        (b"#" * (MOST_BYTES + 1), "f: is larger than 5 MB"),
    ],
    ids=["zero", "latin", "utf-16", "large"],
)
def test_bytes_that_are_no_text_are_refused(raw, expected):
    assert sentence(text_of, raw, "f") == expected


def test_largest_file_is_read_and_a_mark_of_the_encoding_is_left_out():
    assert len(text_of(b"#" * MOST_BYTES, "f")) == MOST_BYTES
    assert text_of(b"\xef\xbb\xbfa = 1", "f") == "a = 1"


@pytest.mark.parametrize("text", ["", " \n\t\r\n"])
def test_empty_text_is_said_to_be_empty(text):
    assert sentence(read_toml, text, "f") == "f: is empty"


def test_text_from_python_is_no_larger_than_a_file():
    assert sentence(read_toml, "#" * (MOST_BYTES + 1), "") == "scenario: is larger than 5 MB"


def test_only_regular_files_are_opened(tmp_path):
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)  # nobody writes into it: opening it would wait for ever
    other = "cannot be read: it is not a regular file (- reads a pipe)"
    assert sentence(read_file, pipe) == f"{pipe}: {other}"
    assert sentence(read_file, "/dev/zero") == f"/dev/zero: {other}"
    assert sentence(read_file, tmp_path) == f"{tmp_path}: cannot be read: it is a folder"
    assert sentence(read_file, tmp_path / "no") == f"{tmp_path / 'no'}: cannot be read: no such file or directory"
    assert sentence(read_file, "") == '"": cannot be read: no such file or directory'
    assert sentence(read_file, "a\0b") == "a\\x00b: cannot be read: embedded null byte"


def test_file_larger_than_the_limit_is_not_read_to_its_end(tmp_path):
    path = tmp_path / "large.toml"
    with open(path, "wb") as file:
        file.truncate(10**12)  # a hole: a terabyte that takes no room on the disk, and would in memory
    assert sentence(read_file, path) == f"{path}: is larger than 5 MB"


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("a = 1\n# \ud800", 'f:2: holds "\\ud800", which is no sign of a text'),
        ("a = 1\nb = ", "f:2: not a TOML file: Invalid value (end of the text)"),
        ("[a]\nb = 1\n[c]\n[a]\n", "f:4: a: is given twice; first on line 1"),
        ("x = 1\na = " + "[" * 9999, "f:2: a.0: is nested more than 20 deep"),
        ("a = " + "{a = " * 9999, "f:1: a.a: is nested more than 20 deep"),
        ("x = 1\n" + "a." * 9999 + "b = 1", "f:2: a.a: is nested more than 20 deep"),
        ("x = 1\n[" + "a." * 9999 + "b]", "f:2: a.a: is nested more than 20 deep"),
        ("a = [" + "1, " * 5001 + "]", "f:1: a: has more than 5000 elements"),
        ("".join(f"a{number} = 1\n" for number in range(50_001)), "f: more than 50000 values"),
        ("a = 1\nb = " + "9" * 5000, "f:2: not a TOML file: a number has too many digits"),
    ],
    ids=range(10),
)
def test_text_that_is_no_toml_or_too_much_of_it_is_refused_with_its_line(text, expected):
    assert sentence(read_toml, text, "f") == expected


def test_tree_at_the_limits_is_read():
    tree, _ = read_toml("a = [" + "1, " * 5000 + "]\nb = " + "[" * 18 + "]" * 18, "")
    assert len(tree["a"]) == 5000


@pytest.mark.parametrize(
    ("place", "expected"),
    [
        (("a", "b"), "f:7: a.b: x"),
        (("a", "c"), "f:3: a.c: x"),
        (("a", "new"), "--set a.new: x"),
        (("a", "new", "deep"), "--set a.new.deep: x"),
        (("made",), "--set made: x"),
        (("other",), "f: other: x"),
    ],
)
def test_fault_comes_from_the_change_or_from_the_line(place, expected):
    source = Source("f", {("a",): 3, ("a", "b"): 7})
    assert str(source.changed([("a", "new"), ("made", "on", "the", "way")], "--set").fault(place, "x")) == expected


@pytest.mark.parametrize(
    ("place", "expected"),
    [
        (("a", 1, "b-c"), "a.1.b-c"),
        (("a.b", ""), '"a.b".""'),
        (('say "x"', "two\nlines", "\ud800"), '"say "x""."two\\nlines"."\\ud800"'),
        (("x" * 5000,), f'"{"x" * 60}..."'),
    ],
)
def test_key_is_dotted_and_short_whatever_its_name(place, expected):
    assert key_text(place) == expected
