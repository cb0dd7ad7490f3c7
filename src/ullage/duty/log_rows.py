"""Rows of a log as numbers: plain pieces of text by pandas, others cell by cell."""

from __future__ import annotations

import csv
import importlib
import io
import math
import re
from collections.abc import Iterator, Mapping, Sequence
from itertools import repeat
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from ullage.duty.log_clock import DAY, clock_time
from ullage.duty.log_faults import LogFaults
from ullage.duty.log_head import LONGEST_LINE, line_end
from ullage.duty.profile import Array
from ullage.errors import quoted

MOST_LINES = 5_000_000
_PIECE = 1 << 22
_MISSING = frozenset(("", "nan", "na", "n/a", "#n/a", "-nan", "null", "none", "nil", "-", "--", "---", "?"))
_MISSING_WORDS = [*_MISSING, *map(str.upper, _MISSING), *map(str.capitalize, _MISSING), "NaN", "-NaN"]
# pandas would take a column of the words for ones and zeros, and drop a byte order mark where a piece begins
_NOT_PLAIN = (b'"', b"\v", b"\f", b"true", b"false", b"\xef\xbb\xbf")
_NO_NUMBER = "is not a number (a point for decimals, no unit)"
NO_CLOCK = "is no clock time such as 13:05:22.1, 2026-05-02 13:05:22.1 or 02.05.2026 13:05:22.1"
_BY_COMMAS = "decimals are written with commas"
_OR_THOUSANDS = "; all have three digits behind them: if they part thousands, every number is a thousandth of it"
_NO_THOUSANDS = re.compile(rb",(?![0-9]{3}(?![0-9]))")
_TWO_SIGNS = "has decimal points and decimal commas: write all numbers in one way, without marks for thousands"

Lines = NDArray[np.int64]


class Layout(NamedTuple):
    """How rows are written.

    `used` holds what the wanted columns are called in a fault, by number from 0; `clock` is the one of clock times, or
    -1, which are counted from day `origin` since 1970.
    """

    delimiter: str
    width: int
    used: Mapping[int, str]
    clock: int
    origin: int


class Rows(NamedTuple):
    """Numbers by wanted column and row (not a number: missing), and the line of each row."""

    values: Array
    lines: Lines


def _piece_end(data: bytes, begin: int) -> int:
    """Return where a piece of whole lines ends; a line end of two signs is not parted."""
    most = begin + _PIECE
    if most >= len(data):
        return len(data)
    return max(data.rfind(b"\n", begin, most), data.rfind(b"\r", begin, most - 1)) + 1 or most


def _without_quotes(text: bytes, mark: bytes) -> bytes:
    """Return a text without quotes, if they only stand around whole cells, none empty and none with a mark in it."""
    parts = text.split(b'"')
    inside, outside, edges = b"".join(parts[1::2]), parts[::2], (mark, b"\r", b"\n")
    if len(parts) == 1 or len(parts) % 2 == 0 or b'""' in text or any(edge in inside for edge in (*edges, b"\t")):
        return text
    before, after = {outside[0][-1:] or mark, *outside[1:-1]}, {*outside[1:-1], outside[-1][:1] or mark}
    whole = all(part.endswith(edges) for part in before) and all(part.startswith(edges) for part in after)
    return b"".join(parts) if whole else text


class RowReader:
    """Reads the rows of a text.

    Parameters
    ----------
    data : bytes
        UTF-8 text.
    begin, line : int
        Where the first row stands, and its line.
    layout : Layout
        How rows are written.
    faults : LogFaults
        Where faults go.
    """

    def __init__(self, data: bytes, begin: int, line: int, layout: Layout, faults: LogFaults) -> None:
        self._data, self._layout, self._faults = data, layout, faults
        self._place, self._line = begin, line  # of what comes next
        self._signs = "." if layout.delimiter == "," else ".,"  # decimal signs that are still possible
        self._dated: set[bool] = set()
        self._thousands = True  # whether all commas in numbers could part thousands
        self._notes: list[str] = []

    def read(self) -> tuple[dict[int, Array], Lines, list[str]]:
        """Return the numbers of each wanted column, the line of each row, and what is to be said of them.

        Raises
        ------
        RecordingError
            With the faults of the rows.
        """
        pieces: list[Rows] = []
        while self._place < len(self._data):
            end = _piece_end(self._data, self._place)
            pieces.append(self._plain(end) or self._cell_by_cell(end))
        self._faults.check()
        if len(self._dated) == 2:
            self._faults.stop(0, "has clock times with a date and without: write all in one way")
        columns = {
            place: np.concatenate([piece.values[slot] for piece in pieces])
            for slot, place in enumerate(self._layout.used)
        }
        commas = [_BY_COMMAS + (_OR_THOUSANDS if self._thousands else "")] if self._signs == "," else []
        return columns, np.concatenate([piece.lines for piece in pieces]), commas + self._notes

    def _go_on(self, place: int, lines: int) -> None:
        """Take note of where the next row begins."""
        self._place, self._line = place, self._line + lines
        if self._line > MOST_LINES + 1:
            self._faults.stop(0, f"has more than {MOST_LINES} lines: take fewer a second, or cut it to one lap")

    def _plain(self, end: int) -> Rows | None:
        """Read a piece in which every row is whole and every wanted cell a number or missing, else nothing."""
        piece = _without_quotes(self._data[self._place : end], self._layout.delimiter.encode())
        texts = piece.splitlines()
        if self._layout.delimiter == " ":
            texts = [b" ".join(text.split()) for text in texts]
            piece = b"\n".join(texts)
        filled = self._whole_rows(piece, texts) if max(map(len, texts)) <= LONGEST_LINE else None
        if filled is None:
            return None
        frames = {sign: frame for sign in self._signs if (frame := self._parsed(piece, sign)) is not None}
        if not frames:
            return None
        frame = next(iter(frames.values()))
        columns = [self._clock_times(frame[place]) if place == self._layout.clock else frame[place] for place in frame]
        if len(frame) != len(filled) or any(column is None for column in columns):
            return None
        self._signs = "".join(frames)
        self._thousands = self._thousands and not _NO_THOUSANDS.search(piece)
        rows = Rows(np.array(columns, dtype=np.float64), self._line + np.array(filled, dtype=np.int64))
        self._go_on(end, len(texts))
        return rows

    def _whole_rows(self, piece: bytes, texts: list[bytes]) -> Sequence[int] | None:
        """Return which lines hold something, if all of them have a cell under each header and nothing behind."""
        small, mark = piece.lower(), self._layout.delimiter.encode()
        if any(word in small for word in _NOT_PLAIN):
            return None
        counts = set(map(bytes.count, texts, repeat(mark)))
        filled: Sequence[int] = range(len(texts))
        if 0 in counts:
            filled = [number for number, text in enumerate(texts) if text.strip(b" \t")]
            counts = {texts[number].count(mark) for number in filled}
        behind = max(counts, default=0) + 1 - self._layout.width
        if len(counts) != 1 or behind < 0:
            return None
        if behind and not all(texts[number].endswith(mark * behind) for number in filled):
            return None
        return filled

    def _parsed(self, piece: bytes, sign: str) -> Any:
        """Return the wanted columns of a piece as pandas reads them, or nothing if it cannot."""
        pandas = importlib.import_module("pandas")  # takes its time to load, and most scenarios have no log
        try:
            return pandas.read_csv(
                io.BytesIO(piece),
                sep=self._layout.delimiter,
                decimal=sign,
                header=None,
                index_col=False,
                usecols=[*self._layout.used],
                dtype={place: object if place == self._layout.clock else np.float64 for place in self._layout.used},
                na_values=_MISSING_WORDS,
                keep_default_na=False,
                skipinitialspace=True,
                quoting=csv.QUOTE_NONE,
                engine="c",
                low_memory=False,
            )
        except ValueError:
            return None

    def _clock_times(self, cells: Any) -> list[float] | None:
        """Return clock times [s], or nothing if a cell is none."""
        try:
            return [self._clock_time(cell) if isinstance(cell, str) else math.nan for cell in cells]
        except ValueError:
            return None

    def _clock_time(self, cell: str) -> float:
        day, seconds = clock_time(cell)
        self._dated.add(day is not None)
        return seconds if day is None else (day - self._layout.origin) * DAY + seconds

    def _cell_by_cell(self, end: int) -> Rows:
        """Read the rows of a piece one by one; the last one may end behind it."""
        values: list[list[float]] = []
        lines: list[int] = []
        numbers: list[int] = []  # of the lines of a row
        rows = csv.reader(
            self._rows_of_text(numbers), delimiter=self._layout.delimiter, skipinitialspace=True, strict=True
        )
        try:
            for cells in rows:
                if self._is_row(cells, numbers[0]):
                    values.append([self._value(place, cells[place].strip(), numbers[0]) for place in self._layout.used])
                    lines.append(numbers[0])
                numbers.clear()
                if self._place >= end:
                    break
        except csv.Error:
            self._faults.stop(numbers[0], "opens a quote that is never closed, or has more behind a closed one")
        columns = np.array(values, dtype=np.float64).reshape(len(values), len(self._layout.used))
        return Rows(columns.T, np.array(lines, dtype=np.int64))

    def _rows_of_text(self, numbers: list[int]) -> Iterator[str]:
        """Go through the lines that hold something, from the next one on, and add their numbers to a list."""
        tabs = self._layout.delimiter == "\t"
        while self._place < len(self._data):
            begin, line = self._place, self._line
            self._go_on(line_end(self._data, begin, line, self._faults), 1)
            text = self._data[begin : self._place].decode()
            if text.strip(" \r\n" if tabs else " \t\r\n"):
                numbers.append(line)
                yield text.replace("\t", " ") if self._layout.delimiter == " " else text

    def _is_row(self, cells: list[str], line: int) -> bool:
        """Return whether a row has as many cells as there are headers, else say so."""
        count, width = len(cells), self._layout.width
        if count >= width and not any(cell.strip() for cell in cells[width:]):
            return True
        if count < width and not self._data[self._place :].strip():
            self._notes.append(f"line {line}, the last one, is no whole row and was left out")
        else:
            self._faults.add(line, f"{count} cell{'' if count == 1 else 's'} under {width} headers")
        return False

    def _value(self, place: int, cell: str, line: int) -> float:
        """Return the number in a cell; what is none is a fault."""
        if cell.lower() in _MISSING:
            return math.nan
        is_clock = place == self._layout.clock
        try:
            return self._clock_time(cell) if is_clock else self._number(cell, line)
        except ValueError:
            remedy = NO_CLOCK if is_clock else _NO_NUMBER
            self._faults.add(line, f"{self._layout.used[place]}: {quoted(cell)} {remedy}")
            return math.nan

    def _number(self, cell: str, line: int) -> float:
        """Return what `float` reads, with a decimal comma too; digits of other scripts are none."""
        if "_" in cell or not cell.isascii():
            raise ValueError
        value = float(cell if self._layout.delimiter == "," else cell.replace(",", "."))
        sign = "," if "," in cell else "." if "." in cell else ""
        if sign and sign not in self._signs:
            self._faults.stop(line, _TWO_SIGNS)
        self._signs = sign or self._signs
        self._thousands = self._thousands and not _NO_THOUSANDS.search(cell.encode())
        return value
