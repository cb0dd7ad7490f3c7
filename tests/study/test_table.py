import pytest

from ullage.errors import ScenarioError
from ullage.study import table
from ullage.study.table import read_member_table

GOOD = "reservoir.fill,cap.relief_pressure\n0.8,4 psi\n0.9,5 psi\n"
ROWS = [("0.8", "4 psi"), ("0.9", "5 psi")]


def read(folder, text):
    (folder / "m.csv").write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_member_table(folder / "m.csv")


def faults(folder, text):
    with pytest.raises(ScenarioError) as caught:
        read(folder, text)
    assert all(fault.file == str(folder / "m.csv") for fault in caught.value.faults)
    return [(fault.line, fault.key, fault.text) for fault in caught.value.faults]


@pytest.mark.parametrize(
    ("text", "lines"),
    [
        (GOOD, [2, 3]),
        ("\ufeff" + GOOD, [2, 3]),
        (GOOD.replace("\n", "\r\n"), [2, 3]),
        (GOOD.replace("\n", "\r"), [2, 3]),
        (GOOD.rstrip(), [2, 3]),
        (GOOD.replace("4 psi", '"4 psi"').replace("0.9", '"0.9"'), [2, 3]),
        (GOOD.replace(",", " , "), [2, 3]),
        ("\n" + GOOD.replace("0.9", "\n , \n0.9") + "\n\n", [3, 6]),
    ],
    ids=["plain", "mark", "crlf", "cr", "no last line end", "quotes", "blanks", "empty lines"],
)
def test_a_table_has_its_cells_however_it_is_written(tmp_path, text, lines):
    found = read(tmp_path, text)
    assert found.keys == ("reservoir.fill", "cap.relief_pressure")
    assert found.rows == ROWS
    assert found.lines == lines


def test_the_digest_is_that_of_the_text(tmp_path):
    digest = read(tmp_path, GOOD).digest
    assert read(tmp_path, GOOD.replace("5", "6")).digest != digest
    assert read(tmp_path, "\ufeff" + GOOD).digest == digest


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("", [(None, "", "has no members: the first line has the keys, the others the values")]),
        ("a,b\n", [(None, "", "has no members: the first line has the keys, the others the values")]),
        (
            "a,b\n1\n1,2\n1,2,3\n",
            [(2, "", "has 1 cells, the first line has 2"), (4, "", "has 3 cells, the first line has 2")],
        ),
        ("a,b\n1,\n\n,2\n", [(2, "b", "has an empty cell: every member needs a value"),
                             (4, "a", "has an empty cell: every member needs a value")]),
        ("a,b,a\n1,2,3\n", [(1, "a", "is given twice")]),
        ("a,,c\n1,2,3\n", [(1, "", "column 2 has no key")]),
        ("a,a\n1\n1,\n", [(1, "a", "is given twice"), (2, "", "has 1 cells, the first line has 2"),
                          (3, "a", "has an empty cell: every member needs a value")]),
        ('a\n"1\n2\n', [(3, "", "not a CSV file: unexpected end of data")]),
        (b"a\n1\n\xe9\n", [(3, "", "is not UTF-8 text: it holds the byte 0xe9")]),
        (b"a\n1\0\n", [(2, "", "is not a text file: it holds a zero byte")]),
        ("a\n".encode("utf-16"), [(None, "", "is UTF-16 text: save it as UTF-8")]),
        (",".join(f"k{n}" for n in range(201)) + "\n" + ",".join("1" * 201), [(1, "", "has more than 200 columns")]),
        ("a\n" + "x" * 200_000, [(2, "", "not a CSV file: field larger than field limit (131072)")]),
    ],
)  # fmt: skip
def test_every_fault_of_a_table_is_named_with_its_line(tmp_path, text, expected):
    assert faults(tmp_path, text) == expected


def test_a_quoted_cell_keeps_its_line_end(tmp_path):
    assert read(tmp_path, 'a,b\n"sea\nled",2\n').rows == [("sea\nled", "2")]


def test_a_table_that_is_too_large_is_refused(tmp_path, monkeypatch):
    monkeypatch.setattr(table, "MOST_BYTES", 20)
    assert faults(tmp_path, GOOD)[0][2].startswith("is larger than")


def test_a_table_that_is_not_there_is_said(tmp_path):
    with pytest.raises(ScenarioError, match="cannot be read: no such file or directory"):
        read_member_table(tmp_path / "none.csv")
