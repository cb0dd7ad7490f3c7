"""Stand-in."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from ullage.scenario.duty_spec import ScenarioSpec
from ullage.scenario.load import Scenario


class Variants:
    """Scenarios that differ from one in the values of some keys."""

    def __init__(self, scenario: Scenario, keys: Sequence[str]) -> None:
        self.scenario = scenario
        self.keys = tuple(keys)

    def spec(self, values: Sequence[Any]) -> ScenarioSpec:
        """Return the specification."""
        return self.scenario.replace(dict(zip(self.keys, values, strict=True)), bare_numbers=False).spec
