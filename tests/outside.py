"""A value of ours beside one from outside: how near it must come and why, and who vouches for it."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

# how the outside value is known
PUBLISHED = "published"  # constants or answer seen in a public text, and recomputed
LIBRARY = "library"  # a public library carries the correlation and gave the value; its source was not seen
DERIVED = "derived"  # exact mathematics or a solution of its own, no source needed
MEMORY = "from memory"  # formula or printed answer remembered, its source not seen
PRACTICE = "common practice"  # custom of the trade, not physics

WHOLE_JOB = "whole job"


class Between(NamedTuple):
    """A band that an outside source gives instead of a value."""

    low: float
    high: float


class Comparison(NamedTuple):
    """One value of ours, what stands outside (none for a band) and the limits it must keep."""

    ours: float
    expected: float | None
    low: float
    high: float

    def holds(self) -> bool:
        return self.low <= self.ours <= self.high

    def deviation(self) -> float:
        """Return the distance from the outside value or the middle of the band, over what is allowed."""
        if math.inf in (self.high, -self.low):
            return 0.0 if self.holds() else math.inf
        middle, half = 0.5 * (self.low + self.high), 0.5 * (self.high - self.low)
        return abs(self.ours - middle) / half if half > 0.0 else float(self.ours != middle)


Values = float | Sequence[float]


@dataclass(frozen=True, eq=False)
class Check:
    """One row: the laws it exercises (`oil.density`, several with commas) or the whole job.

    `expected` holds values, a call that gets them from another library or solution, or a band. `rel` and `abs` are what
    is allowed, the larger of both; `why` is the reason for it. `source` names the work, and after a colon the place in
    it or the library that carries it.
    """

    law: str
    claim: str
    ours: Callable[[], Values]
    expected: Values | Callable[[], Values] | Between
    unit: str
    source: str
    evidence: str
    why: str
    rel: float = 0.0
    abs: float = 0.0

    def __str__(self) -> str:
        return f"{self.law}: {self.claim}"

    @cached_property
    def comparisons(self) -> list[Comparison]:
        """Our values beside those from outside, computed once."""
        ours = _listed(self.ours())
        if isinstance(self.expected, Between):
            return [Comparison(value, None, *self.expected) for value in ours]
        expected = _listed(self.expected() if callable(self.expected) else self.expected)
        limits = [max(self.abs, self.rel * abs(value)) for value in expected]
        return [
            Comparison(value, there, there - allowed, there + allowed)
            for value, there, allowed in zip(ours, expected, limits, strict=True)
        ]

    def misses(self) -> list[str]:
        """Return what is out of its limits, in words; nothing if the check holds."""
        return [
            f"{c.ours:.8g} {self.unit} is not within {c.low:.8g} to {c.high:.8g} ({self.source})"
            for c in self.comparisons
            if not c.holds()
        ]


def _listed(values: Values) -> list[float]:
    return [float(value) for value in values] if isinstance(values, Sequence) else [float(values)]


def sources(checks: Sequence[Check]) -> int:
    """Return the number of works named, up to the colon; all that was derived here is one, and all that is custom."""
    own = {check.evidence for check in checks if check.evidence in (DERIVED, PRACTICE)}
    return len(own | {check.source.partition(":")[0] for check in checks if check.evidence not in own})


def last_line(checks: Sequence[Check]) -> str:
    """Return the count of checks, of the values in them and of their sources."""
    values = sum(len(check.comparisons) for check in checks)
    return f"outside checks: {len(checks)} rows, {values} values, {sources(checks)} sources"
