"""A commented scenario to start from, and the schema that lets an editor check it."""

from __future__ import annotations

import json
from importlib.resources import files
from pathlib import Path

from ullage.errors import Fault, ScenarioError
from ullage.scenario.json_schema import scenario_schema

SCHEMA_FILE = "ullage-scenario.schema.json"


def starter_text() -> str:
    """Return the text of the starter scenario: complete, commented, invented data."""
    return (files("ullage.scenario") / "starter.toml").read_text(encoding="utf-8")


def write_starter(path: str | Path) -> None:
    """Write the starter scenario and, beside it, the JSON Schema that its first line names.

    Parameters
    ----------
    path : str or Path
        File to be made, ending in .toml. It must not exist; a schema beside it is replaced.

    Raises
    ------
    ScenarioError
        If the name does not end in .toml, the file exists, its folder does not, or it cannot be written.
    """
    file = Path(path)
    if file.suffix != ".toml":
        raise _refused(path, "the name must end in .toml, such as truck.toml")
    try:
        if file.exists():
            raise _refused(path, "is there already and is left as it is; give another name")
        if not file.parent.is_dir():
            raise _refused(path, f"there is no folder '{file.parent}'; make it first")
        (file.parent / SCHEMA_FILE).write_text(json.dumps(scenario_schema(), indent=1) + "\n", encoding="utf-8")
        with file.open("x", encoding="utf-8") as new:
            new.write(starter_text())
    except OSError as error:
        raise _refused(path, f"cannot be written: {error.strerror}") from None


def _refused(path: str | Path, reason: str) -> ScenarioError:
    return ScenarioError([Fault(str(path), None, "", reason)])
