"""Read a table of members: a CSV file with a column for each key and a row for each member."""

from __future__ import annotations

import csv
import hashlib
import io
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from ullage.errors import Fault, ScenarioError
from ullage.scenario.source import read_file

MOST_BYTES = 50_000_000
MOST_COLUMNS = 200


@dataclass(frozen=True)
class MemberTable:
    """Cells of a table as they are written.

    Parameters
    ----------
    name : str
        Name of the file.
    keys : tuple of str
        Heads of the columns.
    rows : list of tuple of str
        Cells, a row a member.
    lines : list of int
        Line of each row.
    digest : str
        Hash of the file.
    """

    name: str
    keys: tuple[str, ...]
    rows: list[tuple[str, ...]]
    lines: list[int]
    digest: str

    def fault(self, row: int, key: str, text: str) -> Fault:
        """Return the fault of a cell."""
        return Fault(self.name, self.lines[row], key, text)


def read_member_table(path: Path) -> MemberTable:
    """Read a table of members.

    Parameters
    ----------
    path : Path
        CSV file in UTF-8, columns parted by commas; the first line has the keys. Empty lines do not count.

    Returns
    -------
    MemberTable
        Its cells.

    Raises
    ------
    ScenarioError
        With every fault of its shape: no head, a key twice, no rows, rows of another length, empty cells.
    """
    name = str(path)
    text = read_file(path, MOST_BYTES)
    reader = csv.reader(io.StringIO(text, newline=""), skipinitialspace=True, strict=True)
    lines: list[int] = []
    cells: list[tuple[str, ...]] = []
    try:
        for row in reader:
            if any(cell.strip() for cell in row):
                lines.append(reader.line_num)
                cells.append(tuple(cell.strip() for cell in row))
    except csv.Error as error:
        raise ScenarioError([Fault(name, reader.line_num, "", f"not a CSV file: {error}")]) from None
    if len(cells) < 2:
        raise ScenarioError(
            [Fault(name, None, "", "has no members: the first line has the keys, the others the values")]
        )
    table = MemberTable(name, cells[0], cells[1:], lines[1:], hashlib.sha256(text.encode()).hexdigest()[:16])
    if faults := [*_faults(table, lines[0])]:
        raise ScenarioError(faults)
    return table


def _faults(table: MemberTable, head: int) -> Iterator[Fault]:
    if len(table.keys) > MOST_COLUMNS:
        yield Fault(table.name, head, "", f"has more than {MOST_COLUMNS} columns")
        return
    if len(table.keys) == 1 and ";" in table.keys[0]:
        yield Fault(table.name, head, "", "has semicolons between its columns: write commas")
    for place, key in enumerate(table.keys):
        if not key:
            yield Fault(table.name, head, "", f"column {place + 1} has no key")
        elif key in table.keys[:place]:
            yield Fault(table.name, head, key, "is given twice")
    for number, row in enumerate(table.rows):
        if len(row) != len(table.keys):
            text = f"has {len(row)} cells, the first line has {len(table.keys)}"
            yield table.fault(number, "", text)
        elif "" in row:
            yield table.fault(number, table.keys[row.index("")], "has an empty cell: every member needs a value")
