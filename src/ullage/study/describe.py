"""What a study will be: its size, what it varies, its first members, what the checks refuse, and what it costs."""

from __future__ import annotations

import contextlib
import os
import textwrap
import time
from collections import Counter
from collections.abc import Iterator
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ullage.errors import STATUS_DONE, ScenarioError, SimulationError
from ullage.results.trace import trace_race
from ullage.scenario.compile import compile_problem
from ullage.scenario.describe import warnings_of
from ullage.study.axes import Listed, Spread, Value
from ullage.study.plan import Study
from ullage.study.shard import figure_dtype, refusals
from ullage.units import clock

_WIDTH = 100
_SHOWN = 5  # values of an axis that are named one by one
_FIRST = 3  # members that are shown
_TRIED = 1000  # members that are held against the checks
_OPENED = "the cap is taken off; how hot the oil is then a study does not judge: it burns and injects"
_TEXT = 60  # bytes of text a member


def study_facts(study: Study) -> dict[str, Any]:
    """Return what identifies a study and its size, as JSON takes it."""
    return {
        "study_hash": study.hash,
        "scenario_hash": study.scenario.hash,
        "members": study.members,
        "shards": study.shards,
        "duty_cycles": study.cycles,
        "keys": study.design.keys,
    }


def describe_study(study: Study) -> str:
    """Describe a study on one screen.

    Parameters
    ----------
    study : Study
        The study. Its scenario is simulated once, to tell how long a race takes here.

    Returns
    -------
    str
        Lines of text.
    """
    lines = [study.title, *_sizes(study), *_axes(study), *_first(study), *_refused(study), *_cost(study)]
    return "\n".join(textwrap.fill(line, _WIDTH, subsequent_indent="    ", break_on_hyphens=False) for line in lines)


def _sizes(study: Study) -> Iterator[str]:
    design = study.design
    drawn = f", seed {design.seed}" if design.method not in ("grid", "table") else ""
    yield f"scenario: {study.scenario.spec.title}"
    yield f"{study.members:,} members ({design.method}{drawn}) over {_count(study.cycles, 'duty cycle')}"
    if design.method == "sobol" and study.members & (study.members - 1):
        lower = 1 << (study.members.bit_length() - 1)
        yield f"note: a Sobol sequence is even at powers of two only: {lower:,} or {2 * lower:,} members"


def _axes(study: Study) -> Iterator[str]:
    for axis in study.design.axes:
        if study.design.method == "table":
            yield f"varied by a table of members: {', '.join(axis.keys)}"
        else:
            yield f"varied: {' with '.join(axis.keys)}: {_values(axis)}"


def _values(axis: Listed | Spread) -> str:
    if isinstance(axis, Spread):
        held = "all" if axis.distribution in ("uniform", "log uniform", "triangular") else "95 %"
        return f"{axis.distribution}, {held} within {axis.low:g} to {axis.high:g} {axis.unit}".rstrip()
    texts = [" with ".join(map(str, row)) for row in axis.rows]
    if len(texts) > _SHOWN:
        return f"{len(texts)} values, {texts[0]}, {texts[1]} ... {texts[-1]}"
    return "; ".join(texts)


def _first(study: Study) -> Iterator[str]:
    numbers = np.arange(min(_FIRST, study.members))
    yield "first members:"
    for number, values in enumerate(study.design.values(numbers)):
        pairs = (f"{key} {_rounded(value)}" for key, value in zip(study.design.keys, values, strict=True))
        yield f"  {number}: {', '.join(pairs)}"


def _rounded(value: Value) -> str:
    """Return a value as it is shown: a drawn number has more digits than anybody reads."""
    number, unit, *_ = *str(value).split(" ", 1), ""
    try:
        return f"{float(number):.4g} {unit}".rstrip()
    except ValueError:
        return str(value)


def _refused(study: Study) -> Iterator[str]:
    numbers = _tried(study)
    found = refusals(study, numbers)
    tried = "all members" if len(numbers) == study.members else f"{len(numbers):,} members"
    yield f"checked {tried}: {len(found):,} refused" + (" (they become rows with the reason)" if found else "")
    if found:
        number, sentence = next(iter(found.items()))
        yield f"  such as {number}: {sentence}"
    yield from warned_lines(study)


def _tried(study: Study) -> NDArray[np.int64]:
    """Return the members that are held against the checks: all over a grid, the first of a sample."""
    step = max(1, study.members // _TRIED) if study.design.method in ("grid", "table") else 1
    return np.arange(0, study.members, step)[:_TRIED]


def warned_lines(study: Study) -> list[str]:
    """Say how many members go beyond a rating by what they are asked, which no figure tells."""
    numbers, found = _tried(study), Counter[str]()
    for values in study.design.values(numbers):
        with contextlib.suppress(ScenarioError):
            spec = study.variants.spec(values)
            found.update(warning.short for warning in warnings_of(spec, "metric"))
            if any(event.action == "cap off" for event in spec.event):
                found[_OPENED] += 1
    of = f"{len(numbers):,}" + ("" if len(numbers) == study.members else " looked at")
    return [f"warning: in {count:,} of {of} {short}" for short, count in found.items()]


def _cost(study: Study) -> Iterator[str]:
    problem = compile_problem(study.scenario.spec)
    trace_race(problem)
    begun = time.perf_counter()
    trace = trace_race(problem)
    seconds = time.perf_counter() - begun
    if trace.status != STATUS_DONE:
        yield f"the scenario itself fails: {SimulationError(trace.status, float(trace.state.time))}"
    cores = os.cpu_count() or 1
    whole = seconds * study.members / cores
    yield f"cost: {1e3 * seconds:.3g} ms a race here, in all {clock(whole)} (h:min:s) on {_count(cores, 'thread')}"
    traced = len(study.traced.members) * len(study.traced.columns) * len(study.traced.times) * 8
    size = study.members * (figure_dtype().itemsize + _TEXT) + traced
    yield f"{_count(study.shards, 'shard')}, {size / 1e6:,.1f} MB, {traced / 1e6:,.1f} MB of it traces"


def _count(number: int, what: str) -> str:
    return f"{number:,} {what}{'' if number == 1 else 's'}"
