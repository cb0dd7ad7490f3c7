"""Read TOML with the slips of a hand that seldom writes it: each is a fault, and the reading goes on behind it."""

from __future__ import annotations

import re
import tomllib
from typing import Any, NamedTuple

from ullage.errors import Fault, ScenarioError, quoted
from ullage.scenario.limits import Place
from ullage.scenario.lines import key_places

MOST_SLIPS = 20

_BARE = re.compile(r"[A-Za-z0-9_-]{1,60}")
_LINE_AND_COLUMN = re.compile(r"line ([0-9]+), column ([0-9]+)\)")
_LONG_NUMBER = re.compile(r"[0-9_]{4000}")
_PLAIN = re.compile(r"""(\s*([A-Za-z0-9_.-]+)\s*=\s*)([^\s"'\[{#][^"'#]*?)\s*(#.*)?""")
_TRUTH = {"yes": "true", "no": "false", "true": "true", "false": "false"}
_OPEN_TEXT = re.compile(r"""(\s*[A-Za-z0-9_.-]+\s*=\s*"[^"#]*?)\s*(#.*)?""")
_OPEN_TABLE = re.compile(r"\s*(\[{1,2})\s*([A-Za-z0-9_.-]+)\s*\]?\s*(#.*)?")
_SINGLE = re.compile(r"""\s*[A-Za-z0-9_.-]+\s*=\s*(?!"{3}|'{3})["'0-9A-Za-z+-].*""")


class _Slip(NamedTuple):
    """What is wrong with a line, and what the line should be; None if nobody knows."""

    fault: Fault
    line: str | None


def read_tree(text: str, name: str) -> tuple[dict[str, Any], tuple[Fault, ...]]:
    """Read a TOML text.

    Parameters
    ----------
    text : str
        TOML text.
    name : str
        Name of the file, for the faults.

    Returns
    -------
    tuple
        The tree as it was meant, and the slips in it.

    Raises
    ------
    ScenarioError
        If it is no TOML and nobody can tell what was meant; with the slips before that.
    """
    lines = text.split("\n")
    faults: list[Fault] = []
    while True:
        try:
            return tomllib.loads("\n".join(lines)), tuple(faults)
        except tomllib.TOMLDecodeError as error:
            slip = _slip(lines, name, str(error))
        except ValueError:
            line = text.count("\n", 0, _LONG_NUMBER.search(text).start()) + 1  # type: ignore[union-attr]
            slip = _Slip(Fault(name, line, "", "not a TOML file: a number has too many digits"), None)
        faults.append(slip.fault)
        if slip.line is None or len(faults) == MOST_SLIPS:
            raise ScenarioError(faults)
        lines[(slip.fault.line or 1) - 1] = slip.line


def _slip(lines: list[str], name: str, message: str) -> _Slip:
    reason, _, where = message.rpartition(" (at ")
    match = _LINE_AND_COLUMN.fullmatch(where)
    text = "\n".join(lines)
    number = int(match[1]) if match else text.rstrip("\n").count("\n") + 1
    written = lines[number - 1]
    if twice := _given_twice(text, number):
        place, first = twice
        fault = Fault(name, number, key_text(place), f"is given twice; first on line {first}")
        return _Slip(fault, f"# {written}" if _SINGLE.fullmatch(written) else None)
    key = _key_on(text, number)
    if plain := _PLAIN.fullmatch(written):
        truth = _TRUTH.get(plain[3].lower())
        if truth is not None:
            return _Slip(Fault(name, number, key, f"write {plain[2]} = {truth}"), f"{plain[1]}{truth}")
        fault = Fault(name, number, key, f"text stands in quotes: {plain[2]} = {quoted(plain[3])}")
        return _Slip(fault, f'{plain[1]}"{plain[3]}"')
    if cut := _OPEN_TEXT.fullmatch(written):
        return _Slip(Fault(name, number, key, "the text has no closing quote"), f'{cut[1]}"')
    if (table := _OPEN_TABLE.fullmatch(written)) and written.count("[") != written.count("]"):
        header = f"{table[1]}{table[2]}{']' * len(table[1])}"
        return _Slip(Fault(name, number, "", f"the name of a table stands in brackets: {header}"), header)
    column = f"column {match[2]}" if match else "end of the text"
    return _Slip(Fault(name, number, "", f"not a TOML file: {reason[:200]} ({column})"), None)


def _key_on(text: str, number: int) -> str:
    """Return the dotted key that stands on a line, or ""."""
    return next((key_text(place) for place, line in key_places(text) if line == number), "")


def _given_twice(text: str, number: int) -> tuple[Place, int] | None:
    """Return the key on a line that was given before, and where."""
    first: dict[Place, int] = {}
    for place, line in key_places(text):
        if first.setdefault(place, line) != line and line == number:
            return place, first[place]
    return None


def key_text(place: Place) -> str:
    """Write a place as a dotted key; a part that is no plain word stands in quotes."""
    return ".".join(str(part) if _BARE.fullmatch(str(part)) else quoted(str(part)) for part in place)
