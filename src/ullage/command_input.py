"""What the command is given: a scenario file or standard input, and values to change."""

from __future__ import annotations

import sys
from typing import Any

from ullage.errors import COMMAND_LINE, Fault, ScenarioError, quoted
from ullage.scenario.load import Scenario, load_scenario
from ullage.scenario.source import MOST_BYTES, read_toml, text_of


def scenario_of(file: str, changes: tuple[str, ...]) -> Scenario:
    """Read a scenario and change it as a command asks.

    Parameters
    ----------
    file : str
        A file, or - for standard input.
    changes : tuple of str
        Texts KEY=VALUE.

    Returns
    -------
    Scenario
        The checked scenario.

    Raises
    ------
    ScenarioError
        With every fault found.
    """
    scenario = Scenario.from_toml(_standard_input(), "standard input") if file == "-" else load_scenario(file)
    return scenario.replace(_changes(changes), bare_numbers=False, name=COMMAND_LINE) if changes else scenario


def _standard_input() -> str:
    name = "standard input"
    if sys.stdin is None:
        raise ScenarioError([Fault(name, None, "", "cannot be read: it is closed")])
    try:
        return text_of(sys.stdin.buffer.read(MOST_BYTES + 1), name)
    except OSError as error:
        raise ScenarioError([Fault(name, None, "", f"cannot be read: {error.strerror}")]) from None


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
