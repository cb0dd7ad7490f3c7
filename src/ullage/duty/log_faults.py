"""Faults of a log, each with file and line."""

from __future__ import annotations

from typing import NoReturn

from ullage.errors import Fault, UllageError

MOST_FAULTS = 20
MOST_COUNTED = 100_000


class RecordingError(UllageError):
    """A file that is no recording.

    Parameters
    ----------
    faults : list of Fault
        Everything that is wrong with it, each with file and line.
    """

    def __init__(self, faults: list[Fault]) -> None:
        self.faults = faults
        super().__init__("\n".join(str(fault) for fault in faults))


class LogFaults:
    """Faults of a file in order: the first in words, the rest counted."""

    def __init__(self, name: str) -> None:
        self._name = name
        self._found: list[Fault] = []
        self._more = 0

    def add(self, line: int, text: str) -> None:
        """Add a fault of a line, from 1; 0 is the whole file."""
        if len(self._found) < MOST_FAULTS:
            self._found.append(Fault(self._name, line or None, "", text))
            return
        self._more += 1
        if self._more == MOST_COUNTED:
            raise self._error()

    def stop(self, line: int, text: str) -> NoReturn:
        """Add a fault after which the rest of the file means nothing, and raise them all."""
        self.add(line, text)
        raise self._error()

    def check(self) -> None:
        """Raise all faults, if there are any."""
        if self._found:
            raise self._error()

    def _error(self) -> RecordingError:
        more = [Fault(self._name, None, "", f"and {self._more} more")] if self._more else []
        return RecordingError(self._found + more)
