"""What can go wrong, said in sentences with a remedy.

Compiled kernels return a status code, a time and nothing else. `failure_sentence` is the one table that turns the
code into words. Everything a user can meet derives from `UllageError`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import xarray

STATUS_DONE = 0
STATUS_OIL_STEP = 1
STATUS_GAS_STEP = 2
STATUS_NOT_A_NUMBER = 3
STATUS_OIL_GONE = 4
STATUS_TOO_MANY_STEPS = 5

_SENTENCES = {
    STATUS_DONE: ("the race ran to its end", ""),
    STATUS_OIL_STEP: (
        "the oil temperatures change faster than the smallest step can follow",
        "look for a node with almost no oil and metal, or a load far above the relief setting",
    ),
    STATUS_GAS_STEP: (
        "the headspace pressure changes faster than the smallest step can follow",
        "look for a tank that is full to the neck with a stiff wall; give `reservoir.compliance` or a lower fill",
    ),
    STATUS_NOT_A_NUMBER: (
        "a quantity of the circuit stopped being a number",
        "check viscosities, conductances and volumes near the limits of their ranges",
    ),
    STATUS_OIL_GONE: (
        "the reservoir has run out of oil",
        "the cap or neck let out more oil than the reservoir held: lower the fill or mend the cap",
    ),
    STATUS_TOO_MANY_STEPS: (
        "the race needs more steps than the limit allows",
        "shorten the sample interval or look for a valve that chatters",
    ),
}


class UllageError(Exception):
    """Base of every error that this library raises on purpose."""


class ScenarioError(UllageError):
    """A scenario that cannot be used.

    Parameters
    ----------
    faults : list of str
        One sentence a fault, each with its place, what was found and what is allowed. All faults of the file.
    """

    def __init__(self, faults: list[str]) -> None:
        self.faults = list(faults)
        super().__init__("\n".join(self.faults))


class SimulationError(UllageError):
    """A march that could not be finished.

    Parameters
    ----------
    status : int
        Status code of the march.
    time : float
        Race time at which it stopped [s].
    partial : xarray.Dataset or None
        Results up to that time.

    Attributes
    ----------
    remedy : str
        What to look at.
    """

    def __init__(self, status: int, time: float, partial: xarray.Dataset | None = None) -> None:
        self.status = status
        self.time = time
        self.partial = partial
        reason, self.remedy = failure_sentence(status)
        super().__init__(f"at {time:.1f} s {reason}: {self.remedy}")


def failure_sentence(status: int) -> tuple[str, str]:
    """Return reason and remedy of a march status code.

    Parameters
    ----------
    status : int
        One of the `STATUS_...` codes.

    Returns
    -------
    tuple of str
        Reason and remedy, without a full stop.
    """
    return _SENTENCES[status]
