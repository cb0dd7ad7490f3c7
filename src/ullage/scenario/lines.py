"""Where a key stands in a TOML text."""

from __future__ import annotations

import re

Path = tuple[str | int, ...]

_TABLE = re.compile(r"\s*\[(\[?)\s*([^\[\]#]+?)\s*\]?\]\s*(?:#.*)?")
_KEY = re.compile(
    r"\s*((?:[A-Za-z0-9_-]+|\"[^\"]*\"|'[^']*')(?:\s*\.\s*(?:[A-Za-z0-9_-]+|\"[^\"]*\"|'[^']*'))*)\s*=\s*(.*)"
)


def key_lines(text: str) -> dict[Path, int]:
    """Find the line of every table and key.

    Parameters
    ----------
    text : str
        A TOML document.

    Returns
    -------
    dict
        Line number, from 1, by path; an element of an array of tables has its index in the path.
    """
    lines: dict[Path, int] = {}
    counts: dict[Path, int] = {}
    table: Path = ()
    fence = ""
    for number, line in enumerate(text.replace("\r\n", "\n").split("\n"), 1):
        if fence:
            fence = "" if fence in line else fence
            continue
        if header := _TABLE.fullmatch(line):
            table = _resolved(_names(header[2]), counts)
            if header[1]:
                counts[table] = counts.get(table, -1) + 1
                table = (*table, counts[table])
            lines.setdefault(table, number)
        elif key := _KEY.match(line):
            path = (*table, *_names(key[1]))
            lines.setdefault(path, number)
            _inline(key[2], path, number, lines)
            fence = _open_fence(key[2])
    return lines


def line_of(path: Path, lines: dict[Path, int]) -> int | None:
    """Return the line of a path, or of the nearest table around it, or None.

    Parameters
    ----------
    path : tuple
        Keys and indices.
    lines : dict
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


def _names(text: str) -> Path:
    return tuple(part.strip().strip("\"'") for part in re.findall(r"\"[^\"]*\"|'[^']*'|[^.\s]+", text))


def _resolved(names: Path, counts: dict[Path, int]) -> Path:
    """Put the current index behind every outer array of tables."""
    path: Path = ()
    for place, name in enumerate(names):
        path = (*path, name)
        if path in counts and place < len(names) - 1:
            path = (*path, counts[path])
    return path


def _inline(value: str, path: Path, number: int, lines: dict[Path, int]) -> None:
    if value.startswith("{"):
        for name in re.findall(r"[{,]\s*([A-Za-z0-9_-]+)\s*=", value):
            lines.setdefault((*path, name), number)


def _open_fence(value: str) -> str:
    for fence in ('"""', "'''"):
        if value.startswith(fence) and fence not in value[3:]:
            return fence
    return ""
