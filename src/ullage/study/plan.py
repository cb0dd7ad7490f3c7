"""A study that has passed every check: a scenario, what is varied, and how its members are cut into shards."""

from __future__ import annotations

import contextlib
import functools
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from ullage.errors import ScenarioError
from ullage.scenario.load import Scenario
from ullage.scenario.race import race_pieces
from ullage.scenario.variants import Variants
from ullage.study.design import Design
from ullage.study.spec import Traces
from ullage.study.traces import NO_TRACES, TracePlan, trace_plan

_SMALLEST_SHARD, _LARGEST_SHARD = 16, 1024
_TRIED = 256  # members of a duty cycle that are looked at for one that the checks accept
_SHARDS = 128  # that a study has, unless they would be too small or too large


class StudySource(NamedTuple):
    """What a study is made from: the text of its file, the file's name, and what was changed on top of it.

    Files that it names are looked for beside `name`. `changes` are values of the scenario by dotted key.
    """

    text: str
    name: str
    changes: Mapping[str, Any]


@dataclass(frozen=True, eq=False)
class Study:
    """A study that has passed every check: a scenario, and what is varied.

    Attributes
    ----------
    title : str
        What it asks.
    scenario : Scenario
        The scenario from which members differ; without its study of a stop.
    design : Design
        Which values each member has.
    traces : Traces or None
        Which courses over race time are kept.
    cycle_keys : tuple of str
        Keys that change what the truck drives through: members that differ in them need a duty cycle of their own.
    source : StudySource
        Where it comes from.
    hash : str
        Hash of study, scenario and the files that they read, and of the equations: 16 hexadecimal digits.
    """

    title: str
    scenario: Scenario
    design: Design
    traces: Traces | None
    cycle_keys: tuple[str, ...]
    source: StudySource
    hash: str

    @property
    def members(self) -> int:
        """How many races it has."""
        return self.design.members

    @functools.cached_property
    def variants(self) -> Variants:
        """The scenarios of its members."""
        return Variants(self.scenario, self.design.keys)

    @functools.cached_property
    def cycles(self) -> int:
        """How many different duty cycles its members drive."""
        return 1 if not self.cycle_keys else int(self.design.codes(self.cycle_keys).max()) + 1

    @property
    def shard_size(self) -> int:
        """How many members are marched and written as one."""
        return min(max(_SMALLEST_SHARD, -(-self.members // _SHARDS)), _LARGEST_SHARD)

    @property
    def shards(self) -> int:
        """How many shards it has."""
        return -(-self.members // self.shard_size)

    @functools.cached_property
    def order(self) -> NDArray[np.int64]:
        """Members in the order of the shards: those with the same duty cycle stand together."""
        return np.argsort(self.design.codes(self.cycle_keys), kind="stable")

    @functools.cached_property
    def traced(self) -> TracePlan:
        """What is traced."""
        return NO_TRACES if self.traces is None else trace_plan(self.traces, self.members, self.duration)

    @functools.cached_property
    def duration(self) -> float:
        """The longest race of a member [s]."""
        codes = self.design.codes(self.cycle_keys)
        order = np.argsort(codes, kind="stable")
        groups = np.split(order, np.flatnonzero(np.diff(codes[order])) + 1) if self.cycle_keys else [order]
        return max(map(self._duration_of, groups), default=0.0)

    def _duration_of(self, members: NDArray[np.int64]) -> float:
        """Return how long the race of members with the same duty cycle is [s]: of the first that the checks accept."""
        for values in self.design.values(members[:_TRIED]):
            with contextlib.suppress(ScenarioError):
                return race_pieces(self.variants.spec(values))[0][-1].end
        return 0.0

    def shard_members(self, shard: int) -> NDArray[np.int64]:
        """Return the numbers of the members in a shard."""
        first, end = shard * self.shard_size, min((shard + 1) * self.shard_size, self.members)
        return self.order[first:end] if self.cycle_keys else np.arange(first, end)
