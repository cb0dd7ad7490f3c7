"""What can go wrong, said in sentences with a remedy.

Compiled kernels return a status code, a time and nothing else. `failure_sentence` is the one table that turns the
code into words. Everything a user can meet derives from `UllageError`.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    import xarray

STATUS_DONE = 0
STATUS_OIL_STEP = 1
STATUS_GAS_STEP = 2
STATUS_NOT_A_NUMBER = 3
STATUS_OIL_GONE = 4
STATUS_TOO_MANY_STEPS = 5
STATUS_REFUSED = 6
STATUS_AT_ODDS = 7

COMMAND_LINE = "--set"

_LONGEST_VALUE = 60
_MOST_BITS = 128

_SENTENCES = {
    STATUS_DONE: ("done", ""),
    STATUS_OIL_STEP: (
        "the oil temperatures change faster than the smallest step can follow",
        "look for a node with almost no oil and metal, or a load far above the relief setting",
    ),
    STATUS_GAS_STEP: (
        "the headspace pressure changes faster than the smallest step can follow",
        "look for a tank that is full to the neck with a stiff wall; give `reservoir.compliance` or a lower fill",
    ),
    STATUS_NOT_A_NUMBER: (
        "a quantity of the circuit stopped being a number",
        "check viscosities, conductances and volumes near the limits of their ranges",
    ),
    STATUS_OIL_GONE: (
        "the reservoir has run out of oil",
        "cap, neck or a leak let out more than it held: lower the fill, mend the leak, look for water in hot oil",
    ),
    STATUS_TOO_MANY_STEPS: (
        "the race needs more steps than the limit allows",
        "shorten the sample interval or look for a valve that chatters",
    ),
    STATUS_REFUSED: ("refused by the checks of a scenario", "change what is varied, or take it as not allowed"),
    STATUS_AT_ODDS: (
        "parameters are at odds with each other",
        "look for a tank without air, oil that is not thinner when it is hot, a fan or thermostat that ends above where"
        " it begins, a point of the pump's data sheet that it cannot have; `ullage check` names it in a scenario",
    ),
}


STATUSES = tuple(_SENTENCES)


class UllageError(Exception):
    """Base of every error that this library raises on purpose."""


class Fault(NamedTuple):
    """One thing that is wrong with a scenario; its `str` is the sentence with its place.

    Attributes
    ----------
    file : str
        Name of the file, `COMMAND_LINE` for a value changed there, or "" for data from Python.
    line : int or None
        Line of the file, from 1, if there is one.
    key : str
        Dotted path of the key, or "" for the file as a whole.
    text : str
        What was found, and what is allowed.
    """

    file: str
    line: int | None
    key: str
    text: str

    def __str__(self) -> str:
        """Return place and sentence in signs that every terminal can print."""
        if self.file == COMMAND_LINE:
            return printable(f"{self.file} {self.key}: {self.text}")
        place = f"{self.file}:{self.line}" if self.line else self.file
        return printable(": ".join(part for part in (place, self.key, self.text) if part))


class ScenarioError(UllageError):
    """A scenario that cannot be used.

    Parameters
    ----------
    faults : iterable of Fault
        Everything that is wrong, each with its place, what was found and what is allowed.
    """

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = list(faults)
        super().__init__("\n".join(str(fault) for fault in self.faults))

    @property
    def sentence(self) -> str:
        """The first fault by its key, and how many more there are, on one line."""
        more = f", and {len(self.faults) - 1} more" if len(self.faults) > 1 else ""
        return f"{self.faults[0]._replace(file='', line=None)}{more}"

    def __reduce__(self) -> tuple[type[ScenarioError], tuple[list[Fault]]]:
        return ScenarioError, (self.faults,)


class SimulationError(UllageError):
    """A march that could not be finished.

    Parameters
    ----------
    status : int
        Status code of the march.
    time : float
        Race time at which it stopped [s].
    partial : xarray.Dataset or None
        Results up to that time.

    Attributes
    ----------
    reason, remedy : str
        Why it stopped, and what to look at.
    """

    def __init__(self, status: int, time: float, partial: xarray.Dataset | None = None) -> None:
        self.status = status
        self.time = time
        self.partial = partial
        self.reason, self.remedy = failure_sentence(status)
        super().__init__(f"at {time:.1f} s {self.reason}: {self.remedy}")

    def __reduce__(self) -> tuple[type[SimulationError], tuple[int, float, xarray.Dataset | None]]:
        return SimulationError, (self.status, self.time, self.partial)


def failure_sentence(status: int) -> tuple[str, str]:
    """Return reason and remedy of a march status code.

    Parameters
    ----------
    status : int
        One of the `STATUS_...` codes.

    Returns
    -------
    tuple of str
        Reason and remedy, without a full stop.
    """
    return _SENTENCES[status]


def printable(text: str) -> str:
    """Return text with every control character, line end and lone surrogate written as its escape."""
    if text.isprintable():
        return text
    return "".join(sign if sign.isprintable() else sign.encode("unicode_escape").decode() for sign in text)


def quoted(value: Any) -> str:
    """Return a value as a scenario file would hold it, on one short line.

    Parameters
    ----------
    value : object
        Anything that can stand in a TOML tree or comes from Python in its place.

    Returns
    -------
    str
        Text in double quotes, cut if it is long; numbers, dates and truth values as they are; else what it is.
    """
    if isinstance(value, str):
        cut = value if len(value) <= _LONGEST_VALUE else f"{value[:_LONGEST_VALUE]}..."
        return printable(f'"{cut}"')
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int) and value.bit_length() > _MOST_BITS:
        return "a very large number"
    if isinstance(value, int | float | datetime.date | datetime.time):
        return str(value)
    if isinstance(value, list | tuple):
        return "an array"
    return "a table" if isinstance(value, dict) else f"a value of type {type(value).__name__}"
