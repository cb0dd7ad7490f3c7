"""What the command is given: a scenario file or standard input, and values to change."""

from __future__ import annotations

import re
import sys
import tomllib
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from ullage.errors import COMMAND_LINE, Fault, ScenarioError, quoted
from ullage.scenario.load import Scenario
from ullage.scenario.source import MOST_BYTES, read_file, read_toml, text_of

if TYPE_CHECKING:
    from ullage.study.plan import Study

_STANDARD_INPUT = "standard input"


class Given(NamedTuple):
    """The text of a file and its name, and texts KEY=VALUE of what is changed."""

    text: str
    name: str
    changes: tuple[str, ...]

    @property
    def is_study(self) -> bool:
        """Whether it is a study, by what only a study has, also where it is no proper TOML."""
        try:
            return not {"scenario", "axis"}.isdisjoint(tomllib.loads(self.text))
        except (ValueError, RecursionError):
            return re.search(r"(?m)^\s*(\[\[axis\]\]|scenario\s*=)", self.text) is not None

    def scenario(self) -> Scenario:
        """Return the scenario.

        Raises
        ------
        ScenarioError
            With every fault found.
        """
        if self.is_study:
            raise self._error("is a study, not a scenario: ullage study runs it, ullage check describes it")
        scenario = Scenario.from_toml(self.text, self.name, Path(self.name).parent)
        changes = _changes(self.changes)
        return scenario.replace(changes, bare_numbers=False, name=COMMAND_LINE) if changes else scenario

    def study(self) -> Study:
        """Return the study.

        Raises
        ------
        ScenarioError
            With every fault found.
        """
        if not self.is_study:
            raise self._error("is a scenario, not a study: ullage run simulates it; a study file names its `scenario`")
        sys.modules.pop("scipy.linalg.cython_blas", None)  # kept from short runs; samples need it
        from ullage.study.load import study_of
        from ullage.study.plan import StudySource

        return study_of(StudySource(self.text, self.name, _changes(self.changes)), COMMAND_LINE)

    def _error(self, text: str) -> ScenarioError:
        return ScenarioError([Fault(self.name, None, "", text)])


def given(file: str, changes: tuple[str, ...]) -> Given:
    """Read what the command is given.

    Parameters
    ----------
    file : str
        A file, or - for standard input.
    changes : tuple of str
        Texts KEY=VALUE.

    Returns
    -------
    Given
        Its text.

    Raises
    ------
    ScenarioError
        If it cannot be read.
    """
    if file != "-":
        return Given(read_file(file), file, changes)
    if sys.stdin is None:
        raise ScenarioError([Fault(_STANDARD_INPUT, None, "", "cannot be read: it is closed")])
    try:
        return Given(text_of(sys.stdin.buffer.read(MOST_BYTES + 1), _STANDARD_INPUT), _STANDARD_INPUT, changes)
    except OSError as error:
        raise ScenarioError([Fault(_STANDARD_INPUT, None, "", f"cannot be read: {error.strerror}")]) from None


def _changes(texts: tuple[str, ...]) -> dict[str, Any]:
    """Split every KEY=VALUE at its first `=`."""
    changes: dict[str, Any] = {}
    faults = []
    for text in texts:
        key, found, value = text.partition("=")
        if not found or not key.strip():
            faults.append(Fault(COMMAND_LINE, None, text or quoted(text), "write KEY=VALUE"))
        elif key.strip() in changes:
            faults.append(Fault(COMMAND_LINE, None, key.strip(), "is given twice"))
        changes[key.strip()] = _value(value)
    if faults:
        raise ScenarioError(faults)
    return changes


def _value(text: str) -> Any:
    """Return a value that is written as TOML, or the text if it is not."""
    try:
        tree, _ = read_toml(f"value = {text}", "")
    except ScenarioError:
        return text.strip()
    return tree["value"] if len(tree) == 1 else text.strip()
