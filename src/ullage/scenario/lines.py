"""Where a key stands in a TOML text."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from ullage.scenario.limits import DEEPEST, MOST_VALUES, Place

# Possessive, so that no text makes the search go back and forth.
_TOKEN = re.compile(
    r'''
      (?P<blank>[ \t\r]++|\#[^\n]*+)
    | (?P<end>\n)
    | (?P<text>"""(?:[^"\\]++|\\.|"{1,2}(?!"))*+"{3,5}|\'\'\'(?:[^']++|'{1,2}(?!'))*+'{3,5}
              |"(?:[^"\\\n]++|\\[^\n])*+"|'[^'\n]*+')
    | (?P<sign>[\[\]{},=.])
    | (?P<word>[^\s"'\#\[\]{},=.]++)
    | (?P<other>.)
    ''',
    re.VERBOSE | re.DOTALL,
)


def key_lines(text: str) -> dict[Place, int]:
    """Find the line of every table, key and element.

    Parameters
    ----------
    text : str
        A TOML document. A text that is none is read as far as it makes sense, and never more than the limits allow.

    Returns
    -------
    dict
        Line number, from 1, by path; an element of an array has its index in the path. A table that is only named
        on the way to another has the line where that is done first.
    """
    lines: dict[Place, int] = {}
    named: dict[Place, int] = {}
    for path, line in key_places(text):
        lines.setdefault(path, line)
        for length in range(1, len(path)):
            named.setdefault(path[:length], line)
        if len(path) > DEEPEST or len(lines) > MOST_VALUES:
            break
    return {**named, **lines}


def line_of(path: Place, lines: Mapping[Place, int]) -> int | None:
    """Return the line of a path, or of the nearest table around it, or None.

    Parameters
    ----------
    path : tuple
        Keys and indices.
    lines : mapping
        From `key_lines`.

    Returns
    -------
    int or None
        Line number, from 1.
    """
    while path:
        if path in lines:
            return lines[path]
        path = path[:-1]
    return None


def key_places(text: str) -> Iterator[tuple[Place, int]]:
    """Go through the keys, table headers and elements of a TOML text, each with its line, in the order of the text."""
    reader = _Reader()
    line = 1
    for token in _TOKEN.finditer(text):
        path = reader.read(str(token.lastgroup), token[0])
        if path is not None:
            yield path, line
        line += token[0].count("\n")


@dataclass
class _Frame:
    """An open table or array: its path, the index of an array, and the path of the value that is being read."""

    path: Place
    index: int | None = None
    value: Place | None = None


@dataclass
class _Reader:
    """What has been read so far: open tables and arrays, counts of array tables, and the key that is being read."""

    frames: list[_Frame] = field(default_factory=lambda: [_Frame(())])
    counts: dict[Place, int] = field(default_factory=dict)
    brackets: int = 0
    names: list[str] = field(default_factory=list)

    def read(self, kind: str, token: str) -> Place | None:
        """Take a token; return the path of what begins with it, if anything does."""
        frame = self.frames[-1]
        if kind == "sign":
            return self._sign(token, frame)
        if kind in ("text", "word"):
            return self._word(token, frame)
        if kind == "end" and len(self.frames) == 1:
            frame.value, self.brackets = None, 0
            self.names.clear()
        return None

    def _word(self, token: str, frame: _Frame) -> Place | None:
        if frame.value is not None:
            return None
        if frame.index is not None:
            return self._element(frame)
        self.names.append(token.strip(token[0]) if token[0] in "\"'" else token)
        return (*frame.path, *self.names) if len(self.names) > DEEPEST else None

    def _sign(self, token: str, frame: _Frame) -> Place | None:
        if token == "=" and frame.value is None and frame.index is None:
            frame.value = (*frame.path, *self.names)
            self.names.clear()
            return frame.value
        if token in "[{":
            return self._open(token, frame)
        if token == "]" and self.brackets:
            return self._header()
        if len(self.frames) > 1 and token in "]}":
            self.frames.pop()
        elif len(self.frames) > 1 and token == ",":
            frame.value = None
            frame.index = None if frame.index is None else frame.index + 1
            self.names.clear()
        return None

    def _open(self, token: str, frame: _Frame) -> Place | None:
        started = self._element(frame) if frame.value is None and frame.index is not None else None
        if frame.value is not None:
            self.frames.append(_Frame(frame.value, 0 if token == "[" else None))
        elif token == "[" and len(self.frames) == 1:
            self.brackets += 1
        return started

    def _element(self, frame: _Frame) -> Place:
        frame.value = (*frame.path, frame.index or 0)
        return frame.value

    def _header(self) -> Place:
        """Begin a table; put the current index behind every outer array of tables."""
        table: Place = ()
        for place, name in enumerate(self.names):
            table = (*table, name)
            if table in self.counts and place < len(self.names) - 1:
                table = (*table, self.counts[table])
        if self.brackets > 1:
            self.counts[table] = self.counts.get(table, -1) + 1
            table = (*table, self.counts[table])
        self.frames, self.brackets = [_Frame(table)], 0
        self.names.clear()
        return table
