"""The study file as it is written: which scenario, what is varied and how, which traces are kept."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Any, Literal

from pydantic import Field

from ullage.hints import did_you_mean
from ullage.results.variables import SUMMARY_FIGURES, VARIABLES
from ullage.scenario.checks import Found, Rule, rule
from ullage.scenario.fields import Spec, quantity

FORMAT = 1
MOST_MEMBERS = 100_000_000
LARGEST_HYPERCUBE = 2_000_000  # it is drawn as a whole
MOST_LEVELS = 5_000

Distribution = Literal["uniform", "log uniform", "normal", "lognormal", "triangular"]
Method = Literal["grid", "random", "latin hypercube", "sobol"]
STUDY_RULES: list[Rule] = []


class Axis(Spec):
    """What is varied: a key over values or a range, or some keys together over rows of values."""

    key: str | None = Field(default=None, description="dotted key of the scenario")
    keys: tuple[str, ...] = Field(default=(), description="dotted keys that change together")
    values: tuple[Any, ...] = Field(default=(), description="values as a scenario file writes them; rows for `keys`")
    low: Any = Field(default=None, description="lower end of a range")
    high: Any = Field(default=None, description="upper end of a range")
    steps: int | None = Field(
        default=None, strict=True, ge=2, le=MOST_LEVELS, description="levels of a range in a grid"
    )
    distribution: Distribution | None = Field(default=None, description="how an uncertain value spreads over the range")

    @property
    def names(self) -> tuple[str, ...]:
        """The keys that it varies."""
        return (self.key,) if self.key is not None else self.keys

    @property
    def rows(self) -> tuple[tuple[Any, ...], ...]:
        """The listed values, one for each key."""
        return tuple((value,) for value in self.values) if self.key is not None else self.values


class Sampling(Spec):
    """How members are drawn from the axes."""

    method: Method = Field(default="grid", description="every combination, or a sample")
    members: int | None = Field(
        default=None, strict=True, ge=1, le=MOST_MEMBERS, description="size of a sample; a grid has as many as it has"
    )
    seed: int = Field(default=1, strict=True, ge=0, description="seed of a sample")


class Traces(Spec):
    """Which courses over race time are kept beside the figures."""

    variables: tuple[str, ...] = Field(description="names of variables of a run")
    interval: float = quantity("time", "1 s", "24 h", "60 s", "a row each")
    members: tuple[int, ...] | None = Field(default=None, description="which members; all if absent")


class StudySpec(Spec):
    """A study file."""

    format: Annotated[int, Field(strict=True, ge=FORMAT, le=FORMAT)] = Field(description="format of the file")
    title: str = Field(description="what the study asks")
    scenario: str = Field(description="scenario file, its path counted from the study file")
    change: dict[str, Any] = Field(default={}, description="values laid over the scenario, by dotted key")
    axis: tuple[Axis, ...] = ()
    table: str | None = Field(default=None, description="CSV file with a column a key and a row a member, not axes")
    sampling: Sampling = Sampling()
    traces: Traces | None = None


@rule(STUDY_RULES, "axis", "table")
def _axes_or_table(spec: StudySpec) -> Iterator[Found]:
    if not spec.axis and spec.table is None:
        yield ("axis",), 'missing: what is varied, [[axis]], or a table of members, table = "members.csv"'
    if spec.axis and spec.table is not None:
        yield ("table",), "stands beside [[axis]]: a study has one or the other"


@rule(STUDY_RULES, "axis.key", "axis.keys", each="axis")
def _keys(spec: StudySpec) -> Iterator[Found]:
    seen: dict[str, int] = {}
    for place, axis in enumerate(spec.axis):
        if (axis.key is None) == (not axis.keys):
            yield ("axis", place), "needs `key`, or `keys` for some that change together"
        for key in dict.fromkeys(axis.names):
            if seen.setdefault(key, place) != place or axis.names.count(key) > 1:
                yield ("axis", place), f"varies {key} a second time"


@rule(STUDY_RULES, "axis.key", "axis.keys", "axis.values", "axis.low", "axis.high", each="axis")
def _values_or_range(spec: StudySpec) -> Iterator[Found]:
    for place, axis in enumerate(spec.axis):
        ranged = axis.low is not None or axis.high is not None
        if ranged == bool(axis.values):
            both = "has `values` and a range: give one of them"
            yield ("axis", place), both if ranged else "needs `values`, or `low` and `high`"
        elif ranged and (axis.low is None or axis.high is None):
            yield ("axis", place), "a range needs `low` and `high`"
        elif ranged and axis.keys:
            yield ("axis", place), "keys that change together need `values`, a row for each"
        if len(axis.values) > MOST_LEVELS:
            yield ("axis", place, "values"), f"are more than {MOST_LEVELS}; give a table of members"


@rule(STUDY_RULES, "axis.keys", "axis.values", each="axis")
def _rows(spec: StudySpec) -> Iterator[Found]:
    for place, axis in enumerate(spec.axis):
        for index, row in enumerate(axis.values if axis.keys and axis.key is None else ()):
            if not isinstance(row, list | tuple) or len(row) != len(axis.keys):
                yield ("axis", place, "values", index), f"needs {len(axis.keys)} values, one for each of `keys`"


@rule(STUDY_RULES, "axis.values", "axis.low", "axis.high", each="axis")
def _plain(spec: StudySpec) -> Iterator[Found]:
    text = "needs plain values: text in quotes, numbers, true or false"
    for place, axis in enumerate(spec.axis):
        together = bool(axis.keys) and axis.key is None
        for index, value in enumerate(axis.values):
            row = value if together and isinstance(value, list | tuple) else (value,)
            if not all(isinstance(item, str | int | float) for item in row):
                yield ("axis", place, "values", index), text
        for name, end in (("low", axis.low), ("high", axis.high)):
            if end is not None and not isinstance(end, str | int | float):
                yield ("axis", place, name), text


@rule(STUDY_RULES, "axis.steps", "axis.distribution", "axis.low", "axis.values", "sampling.method", each="axis")
def _levels(spec: StudySpec) -> Iterator[Found]:
    grid = spec.sampling.method == "grid"
    for place, axis in enumerate(spec.axis):
        ranged = not axis.values
        if axis.steps is not None and not (ranged and grid):
            yield ("axis", place, "steps"), "counts the levels of a range in a grid; it has no meaning here"
        if axis.distribution is not None and not ranged:
            yield ("axis", place, "distribution"), "belongs to a range; listed values are equally likely"
        if grid and axis.distribution not in (None, "uniform", "log uniform"):
            yield ("axis", place, "distribution"), 'needs a sample: [sampling] method = "sobol"'


@rule(STUDY_RULES, "sampling", "table")
def _members(spec: StudySpec) -> Iterator[Found]:
    sampling = spec.sampling
    if spec.table is not None and (sampling.method != "grid" or sampling.members is not None):
        yield ("sampling",), "has no meaning beside a table of members"
    elif sampling.method == "grid" and sampling.members is not None:
        yield ("sampling", "members"), "is that of a sample; a grid has every combination"
    elif sampling.method != "grid" and sampling.members is None:
        yield ("sampling", "members"), "missing: how many members the sample has"
    elif sampling.method == "latin hypercube" and (sampling.members or 0) > LARGEST_HYPERCUBE:
        text = f'is over {LARGEST_HYPERCUBE}, and a hypercube is drawn as a whole: take method = "sobol"'
        yield ("sampling", "members"), text


@rule(STUDY_RULES, "traces.variables", "traces.members")
def _traces(spec: StudySpec) -> Iterator[Found]:
    if spec.traces is None:
        return
    if not spec.traces.variables:
        yield ("traces", "variables"), 'is empty: name what is traced, such as "oil_temperature"'
    for place, name in enumerate(spec.traces.variables):
        if name in SUMMARY_FIGURES:
            yield ("traces", "variables", place), "is a figure of every member; its course cannot bear the same name"
        elif name not in VARIABLES:
            yield ("traces", "variables", place), f"is no variable of a run{did_you_mean(name, VARIABLES)}"
    if spec.traces.members == ():
        yield ("traces", "members"), "is empty: leave it out to trace all members"
    for place, member in enumerate(spec.traces.members or ()):
        if member < 0:
            yield ("traces", "members", place), "must be a member's number, from 0"
