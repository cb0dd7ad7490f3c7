"""Oil, air space and pressure cap of an off-road power-steering reservoir, simulated over a whole race.

Nothing heavy loads until a name is used.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ullage.advise.cap_opening import compare_cap_opening
    from ullage.api import bracket_air, simulate
    from ullage.embed.objective import objective
    from ullage.embed.race_rows import race_inputs
    from ullage.embed.stepper import StateError, Stepper
    from ullage.errors import ScenarioError, SimulationError, UllageError
    from ullage.results.display import to_display
    from ullage.results.store import ResultsError, open_results, save_results
    from ullage.scenario.load import Scenario, load_scenario
    from ullage.study.ledger import StudyError
    from ullage.study.load import load_study
    from ullage.study.plan import Study
    from ullage.study.run import run_study

__version__ = "0.1.0"

_HOME = {
    "ResultsError": "ullage.results.store",
    "Scenario": "ullage.scenario.load",
    "ScenarioError": "ullage.errors",
    "SimulationError": "ullage.errors",
    "StateError": "ullage.embed.stepper",
    "Stepper": "ullage.embed.stepper",
    "Study": "ullage.study.plan",
    "StudyError": "ullage.study.ledger",
    "UllageError": "ullage.errors",
    "bracket_air": "ullage.api",
    "compare_cap_opening": "ullage.advise.cap_opening",
    "load_scenario": "ullage.scenario.load",
    "load_study": "ullage.study.load",
    "objective": "ullage.embed.objective",
    "open_results": "ullage.results.store",
    "race_inputs": "ullage.embed.race_rows",
    "run_study": "ullage.study.run",
    "save_results": "ullage.results.store",
    "simulate": "ullage.api",
    "to_display": "ullage.results.display",
}

__all__ = [
    "ResultsError",
    "Scenario",
    "ScenarioError",
    "SimulationError",
    "StateError",
    "Stepper",
    "Study",
    "StudyError",
    "UllageError",
    "bracket_air",
    "compare_cap_opening",
    "load_scenario",
    "load_study",
    "objective",
    "open_results",
    "race_inputs",
    "run_study",
    "save_results",
    "simulate",
    "to_display",
]


def __getattr__(name: str) -> object:
    if name not in _HOME:
        raise AttributeError(f"module 'ullage' has no attribute '{name}'")
    found: object = getattr(importlib.import_module(_HOME[name]), name)
    return found


def __dir__() -> list[str]:
    return sorted([*globals(), *__all__])
