"""Where a scenario comes from: reading its file, and the place of a fault in it."""

from __future__ import annotations

import os
import re
import stat
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from ullage.errors import Fault, ScenarioError, quoted
from ullage.scenario.limits import Place, too_large
from ullage.scenario.lines import key_lines, line_of
from ullage.scenario.syntax import key_text, read_tree

MOST_BYTES = 5_000_000
LONE_SURROGATE = re.compile("[\ud800-\udfff]")


@dataclass(frozen=True)
class Source:
    """Where the values of a scenario were written.

    Attributes
    ----------
    name : str
        Name of the file, or "".
    lines : mapping
        Line by path.
    changes : mapping
        Paths that were changed after the file was read, and what to call the change in a fault.
    faults : tuple of Fault
        What was wrong with the text itself.
    """

    name: str = ""
    lines: Mapping[Place, int] = field(default_factory=dict)
    changes: Mapping[Place, str] = field(default_factory=dict)
    faults: tuple[Fault, ...] = ()

    def changed(self, places: Iterable[Place], name: str) -> Source:
        """Return the source of a scenario in which the values at some places were changed."""
        return replace(self, changes={**self.changes, **dict.fromkeys(places, name)})

    def fault(self, place: Place, text: str) -> Fault:
        """Return the fault at a place, with the file and line, or the change, from which it comes."""
        key = key_text(place)
        line = line_of(place, self.lines)
        for changed, name in self.changes.items():
            if changed == place[: len(changed)] or (line is None and place == changed[: len(place)]):
                return Fault(name, None, key, text)
        return Fault(self.name, line, key, text)


def read_file(path: str | Path, most_bytes: int = MOST_BYTES) -> str:
    """Read the text of a scenario file, or of a file that it comes with.

    Parameters
    ----------
    path : str or Path
        A regular file.
    most_bytes : int
        How large it may be.

    Returns
    -------
    str
        Its text.

    Raises
    ------
    ScenarioError
        If it cannot be read, is no regular file, is too large, or is no text.
    """
    name = str(path)
    try:
        kind = os.stat(path).st_mode
        if stat.S_ISREG(kind):
            with open(path, "rb") as file:
                return text_of(file.read(most_bytes + 1), name, most_bytes)
        reason = "it is a folder" if stat.S_ISDIR(kind) else "it is not a regular file (- reads a pipe)"
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
    except ValueError as error:
        reason = str(error)
    raise ScenarioError([Fault(name or '""', None, "", f"cannot be read: {reason}")])


def text_of(raw: bytes, name: str, most_bytes: int = MOST_BYTES) -> str:
    """Return the text of the bytes of a file.

    Parameters
    ----------
    raw : bytes
        At most one byte more than `most_bytes` need to be read.
    name : str
        Name of the file, for the fault.
    most_bytes : int
        How large it may be.

    Returns
    -------
    str
        Its text.

    Raises
    ------
    ScenarioError
        If it is too large or no text.
    """
    line: int | None = None
    if len(raw) > most_bytes:
        reason = f"is larger than {most_bytes // 1_000_000} MB"
    elif raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        reason = "is UTF-16 text: save it as UTF-8"
    elif b"\0" in raw:
        reason, line = "is not a text file: it holds a zero byte", _line(raw, raw.index(b"\0"))
    else:
        try:
            return raw.decode("utf-8-sig")
        except UnicodeDecodeError as error:
            line = _line(raw, error.start)
            reason = f"is not UTF-8 text: it holds the byte 0x{raw[error.start]:02x}"
    raise ScenarioError([Fault(name, line, "", reason)])


def _line(raw: bytes, place: int) -> int:
    return raw.count(b"\n", 0, place) + 1


def read_toml(text: str, name: str) -> tuple[dict[str, Any], Source]:
    """Read a TOML text.

    Parameters
    ----------
    text : str
        TOML text.
    name : str
        Name of the file, for the fault.

    Returns
    -------
    tuple
        The tree, and where its values stand.

    Raises
    ------
    ScenarioError
        If it is empty, too large, or no TOML.
    """
    name = name or "scenario"
    if len(text) > MOST_BYTES:
        raise ScenarioError([Fault(name, None, "", f"is larger than {MOST_BYTES // 1_000_000} MB")])
    if found := LONE_SURROGATE.search(text):
        line = text.count("\n", 0, found.start()) + 1
        raise ScenarioError([Fault(name, line, "", f"holds {quoted(found[0])}, which is no sign of a text")])
    if not text.strip():
        raise ScenarioError([Fault(name, None, "", "is empty")])
    source = Source(name, key_lines(text))
    if large := too_large(source.lines):
        raise ScenarioError([source.fault(*large)])
    tree, faults = read_tree(text, name)
    return tree, replace(source, faults=faults)
