"""Study files in a folder of their own, beside the scenario of a race of two minutes."""

from pathlib import Path

from support import truck
from ullage.errors import ScenarioError
from ullage.study.load import load_study
from ullage.study.plan import Study

SHORT = {"duty.segment.0.duration": "2 min", "duty.sample_interval": "2 s"}
HEAD = """\
format = 1
title = "study of a test (invented data)"
scenario = "truck.toml"
"""
CAPS = '[[axis]]\nkey = "cap.relief_pressure"\nvalues = ["4 psi", "10 psi", "16 psi"]\n'
FILLS = '[[axis]]\nkey = "reservoir.fill"\nlow = 0.7\nhigh = 0.9\nsteps = 3\n'
GRID = CAPS + FILLS
# hot oil, the cap off, and water that boils in it: much of it blows the tank empty; a fuller tank has no air space
BOILING = {
    "start.temperature": "120 degC",
    "reservoir.fill": 0.5,
    "air.model": "equilibrium",
    "event": [
        {"action": "cap off", "time": "5 s"},
        {"action": "fault on", "fault": "water got in", "time": "10 s", "volume": "200 mL"},
    ],
}
MIXED = (
    '[[axis]]\nkey = "event.1.volume"\nvalues = ["200 mL", "1 mL"]\n'
    '[[axis]]\nkey = "reservoir.fill"\nvalues = [0.5, 0.95, 0.6]\n'
)


def write_study(folder: Path, text: str = GRID, changes=None, head: str = HEAD) -> Path:
    """Write a study file and the scenario that it names, and return the study file."""
    (folder / "truck.toml").write_text(truck({**SHORT, **(changes or {})}).to_toml(), encoding="utf-8")
    file = folder / "study.toml"
    file.write_text(head + text, encoding="utf-8")
    return file


def study(folder: Path, text: str = GRID, changes=None) -> Study:
    """Return a study of the short race."""
    return load_study(write_study(folder, text, changes))


def sample(axes: str, members: int, method: str = "sobol", seed: int = 1) -> str:
    """Return the text of a sample."""
    return f'{axes}\n[sampling]\nmethod = "{method}"\nmembers = {members}\nseed = {seed}\n'


def faults(file: Path) -> list[tuple[int | None, str, str]]:
    """Return line, key and sentence of all that is wrong with a study file."""
    try:
        load_study(file)
    except ScenarioError as error:
        return [(fault.line, fault.key, fault.text) for fault in error.faults]
    return []
