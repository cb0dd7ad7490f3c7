"""Where the rows of a log begin: mark between columns, line of headers, row of units, all found by what is wanted."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Collection, Iterator, Mapping, Sequence
from itertools import islice
from typing import NamedTuple

from ullage.duty.log_columns import TIME, Wanted, is_unit
from ullage.duty.log_faults import LogFaults
from ullage.hints import did_you_mean

DELIMITERS = (",", ";", "\t", "|", " ")
LONGEST_LINE = 65_536
_NAMES = {"tab": "\t", "space": " "}
_HEAD = 1 << 20
_MOST_LINES = 500
_MOST_TEXT_ROWS = 5
_LINE = re.compile(rb"[^\r\n]*(?:\r\n|\r|\n|\Z)")
_NUMBER = re.compile(r"[-+]?(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)(?:[eE][-+]?[0-9]+)?")
_DATE = r"[0-9]{4}[-/][0-9-/]{3,5}[T ]+|[0-9]{1,2}\.[0-9]{1,2}\.[0-9]{4}[T ]+"
_CLOCK = re.compile(rf"(?:{_DATE})?[0-9]{{1,2}}:[0-9]{{1,2}}:[0-9].*", re.IGNORECASE)
_BRACKETS = re.compile(r"(.*?)\s*(?:\(([^()]*)\)|\[([^\[\]]*)\])")


class Head(NamedTuple):
    """What stands before the rows.

    `places` holds the column of the file for each that is wanted, `units` what the file says of its unit, if anything,
    `width` the number of columns. Rows begin at byte `begin` on line `first_line`; `first_time` is the first time.
    """

    delimiter: str
    places: Mapping[str, int]
    units: Mapping[str, str]
    width: int
    begin: int
    first_line: int
    header_line: int
    first_time: str
    notes: tuple[str, ...]

    @property
    def is_clock(self) -> bool:
        """Whether the time column holds clock times."""
        return _CLOCK.fullmatch(self.first_time) is not None


class _Line(NamedTuple):
    """A line of text, or several that quotes hold together: number of the first, where it begins, its text."""

    number: int
    begin: int
    text: str


class _Header(NamedTuple):
    """Which line holds the headers (-1: none), for a mark between columns."""

    delimiter: str
    place: int
    headers: list[str]


def find_head(data: bytes, wanted: Mapping[str, Wanted], delimiter: str, faults: LogFaults) -> Head:
    """Find where the rows begin.

    Parameters
    ----------
    data : bytes
        UTF-8 text.
    wanted : mapping
        Columns by name of channel.
    delimiter : str
        Mark between columns, "tab" or "space"; "" finds it.
    faults : LogFaults
        Where faults go.

    Returns
    -------
    Head
        What stands before the rows.

    Raises
    ------
    RecordingError
        If wanted columns are not there.
    """
    lines = [line for line in islice(_lines(data, faults), _MOST_LINES) if line.text.strip()]
    if not lines:
        faults.stop(1, "has no line of headers")
    marks = (_NAMES.get(delimiter, delimiter),) if delimiter else DELIMITERS
    has_headers = any(isinstance(want.header, str) for want in wanted.values())
    header = (_headed if has_headers else _unheaded)(lines, marks, wanted)
    number = lines[max(header.place, 0)].number
    places = _places(header.headers, number, wanted, faults)
    rows = [(line, cells_of(line.text, header.delimiter)) for line in lines[header.place + 1 :]]
    first = next((row for row, (_, cells) in enumerate(rows) if _has_numbers(cells, places.values())), len(rows))
    if first == len(rows) or first > _MOST_TEXT_ROWS:
        faults.stop(number, "has no numbers under the headers; is the mark between columns right?")
    units, notes = _units(header.headers, places, wanted, rows[:first])
    if has_headers and header.place > 0:
        notes.insert(0, f"the headers are on line {number}; what stands above them was left out")
    begin, times = (
        rows[first][0],
        (row[places[TIME]] for _, row in rows[first:] if len(row) > places.get(TIME, 1 << 20)),
    )
    width = len(header.headers) or max(1 + max(places.values()), *(len(cells) for _, cells in rows[first:]))
    time = next((cell for cell in times if cell), "")
    return Head(header.delimiter, places, units, width, begin.begin, begin.number, number, time, tuple(notes))


def cells_of(text: str, delimiter: str) -> list[str]:
    """Return the cells of a line without blanks around them; empty ones at the end do not count."""
    plain = re.sub(r"\r\n?", "\n", text)
    plain = plain.replace("\t", " ").strip(" ") if delimiter == " " else plain
    row = next(csv.reader(io.StringIO(plain), delimiter=delimiter, skipinitialspace=True), [])
    cells = [" ".join(cell.split()) for cell in row]
    while cells and not cells[-1]:
        cells.pop()
    return cells


def line_end(data: bytes, place: int, line: int, faults: LogFaults) -> int:
    """Return where a line ends that begins at a place; one that is too long is a fault."""
    found = _LINE.match(data, place)
    end = found.end() if found else len(data)
    if end - place > LONGEST_LINE + 2:
        faults.stop(line, f"is longer than {LONGEST_LINE} bytes")
    return end


def _lines(data: bytes, faults: LogFaults) -> Iterator[_Line]:
    """Go through the lines at the beginning of a text; one with an open quote goes on, if it is closed soon."""
    number, place = 1, 0
    while place < min(len(data), _HEAD):
        ends = [place]
        while len(ends) <= _MOST_TEXT_ROWS + 1 and ends[-1] < len(data):
            ends.append(line_end(data, ends[-1], number + len(ends) - 1, faults))
            if data.count(b'"', place, ends[-1]) % 2 == 0:
                break
        count = len(ends) - 1 if data.count(b'"', place, ends[-1]) % 2 == 0 else 1
        yield _Line(number, place, data[place : ends[count]].decode(errors="replace").rstrip("\r\n"))
        number, place = number + count, ends[count]


def _headed(lines: Sequence[_Line], marks: Sequence[str], wanted: Mapping[str, Wanted]) -> _Header:
    """Return the first line that holds all headers that are wanted, else the one that holds most.

    Of several marks the one that parts the lines below into as many columns counts.
    """
    named = [want.header for want in wanted.values() if isinstance(want.header, str)]
    best, most = _Header(marks[0], 0, []), (-1, -1, -1)
    for place, line in enumerate(lines):
        below = lines[place + 1 : place + 1 + _MOST_TEXT_ROWS]
        for mark in marks:
            headers = cells_of(line.text, mark)
            alike = sum(1 for row in below if len(cells_of(row.text, mark)) == len(headers))
            score = sum(1 for header in named if _found(header, headers)), alike, min(len(headers), 2)
            best, most = (_Header(mark, place, headers), score) if score > most else (best, most)
        if most[0] == len(named):
            break
    return best


def _unheaded(lines: Sequence[_Line], marks: Sequence[str], wanted: Mapping[str, Wanted]) -> _Header:
    """Return what stands above the first numbers where they are wanted, for the mark that finds most lines of them."""
    places = [int(want.header) - 1 for want in wanted.values()]
    best, most = _Header(marks[0], -1, []), -1
    for mark in marks:
        rows = [cells_of(line.text, mark) for line in lines]
        good = [row for row, cells in enumerate(rows) if _has_numbers(cells, places)]
        if len(good) > most:
            above = good[0] - 1 if good else -1
            above -= 1 if above >= 0 and _unit_row(rows[above], dict(zip(wanted, places, strict=True)), wanted) else 0
            best, most = _Header(mark, above, []), len(good)
    return best


def _found(header: str, headers: Sequence[str]) -> list[int]:
    """Return where a header is: in full, or if it is nowhere in full, without a unit in brackets."""
    plain = " ".join(header.split())
    whole = [place for place, text in enumerate(headers) if text == plain]
    return whole or [place for place, text in enumerate(headers) if _parted(text)[0] == plain]


def _parted(header: str) -> tuple[str, str]:
    """Split a header into its name and the unit in brackets behind it, or ""."""
    found = _BRACKETS.fullmatch(header)
    return (found[1], (found[2] or found[3] or "").strip()) if found else (header, "")


def _has_numbers(cells: Sequence[str], places: Collection[int]) -> bool:
    """Return whether a row holds a number or a clock time at one of some places."""
    texts = [cells[place] for place in places if place < len(cells)]
    return any(_NUMBER.fullmatch(text) or _CLOCK.fullmatch(text) for text in texts)


def _places(headers: list[str], line: int, wanted: Mapping[str, Wanted], faults: LogFaults) -> dict[str, int]:
    """Return where the wanted columns are; a number of a column counts from 1."""
    places = {}
    for name, want in wanted.items():
        if isinstance(want.header, int):
            places[name] = want.header - 1
            if headers and want.header > len(headers):
                faults.add(line, f"{want.label}: missing; there are {len(headers)} columns")
            continue
        found = _found(want.header, headers)
        if len(found) > 1:
            text = f"is there {len(found)} times: give its number, such as column = {found[0] + 1}"
            faults.add(line, f"{want.label}: {text}")
        elif not found:
            hint = did_you_mean(want.header, [header[:40] for header in headers])
            there = ", ".join(f"'{header[:40]}'" for header in headers[:20])
            more = f" and {len(headers) - 20} more" if len(headers) > 20 else ""
            faults.add(line, f"{want.label}: missing{hint}; there are: {there}{more}")
        else:
            places[name] = found[0]
    faults.check()
    return places


def _unit_row(cells: Sequence[str], places: Mapping[str, int], wanted: Mapping[str, Wanted]) -> dict[str, str]:
    """Return what a row says of the units of wanted columns, if one of them reads as a unit."""
    units = {name: _parted(cells[place])[1] or cells[place] for name, place in places.items() if place < len(cells)}
    return units if any(is_unit(unit, wanted[name].kind) for name, unit in units.items()) else {}


def _units(
    headers: list[str], places: Mapping[str, int], wanted: Mapping[str, Wanted], rows: list[tuple[_Line, list[str]]]
) -> tuple[dict[str, str], list[str]]:
    """Return what headers and rows without numbers say of units, and which rows say nothing."""
    units = {name: _parted(headers[place])[1] for name, place in places.items() if place < len(headers)}
    notes = []
    for line, cells in rows:
        if said := _unit_row(cells, places, wanted):
            units |= {name: unit for name, unit in said.items() if unit}
        else:
            notes.append(f"line {line.number} below the headers holds no numbers and was left out")
    return {name: unit for name, unit in units.items() if unit}, notes
