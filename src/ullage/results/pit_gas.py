"""What the choices at a stop do to the gas at the pump, under three assumptions on the air, and how far to trust it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
import xarray as xr

from ullage.results.pit_table import choice_name
from ullage.results.verdict import duration_text

# own choice: gas that differs by less than a minute and a twentieth is the same; a span of the three assumptions over
# which no number is told
SAME_GAS, SAME_SHARE = 60.0, 0.05
NO_ANSWER = 3.0

_THREE = "the three assumptions on how fast air moves"


class MoreGas(NamedTuple):
    """Gas at the pump that a choice has more than the cap left shut [s]: least and most of the three, and what it is.

    `known` is whether the three agree: more, less, or the same.
    """

    least: float
    most: float
    differs: bool
    known: bool


def more_gas(data: xr.Dataset, label: str) -> MoreGas:
    """Return what gas at the pump a choice has more than the cap left shut, from the stop to the finish.

    Parameters
    ----------
    data : xarray.Dataset
        Result of `compare_cap_opening`.
    label : str
        The choice.

    Returns
    -------
    MoreGas
        Not a number for a choice that could not be finished.
    """
    gas = data.cavitation_exposure_by_air_model
    shut = gas.sel(choice="shut").values
    more = gas.sel(choice=label).values - shut
    differs = np.abs(more) > np.maximum(SAME_GAS, SAME_SHARE * shut)
    return MoreGas(float(more.min()), float(more.max()), bool(differs.any()), len({*np.sign(more[differs])}) < 2)


def gas_sentences(data: xr.Dataset) -> Iterator[str]:
    """Go through the sentences on gas at the pump from the stop to the finish, each choice against the cap left shut.

    Parameters
    ----------
    data : xarray.Dataset
        Result of `compare_cap_opening`.
    """
    shut = data.cavitation_exposure_by_air_model.sel(choice="shut").values
    if not np.isfinite(shut).all():
        return
    if not data.time_turning.sel(choice="shut") > 0.0:
        yield "The pump does not turn after the stop: there is no gas to tell of."
        return
    found = {choice_name(str(label)): more_gas(data, str(label)) for label in data.choice.values if label != "shut"}
    found = {name: more for name, more in found.items() if np.isfinite(more.least)}
    apart = [f"{name} {_span(more)}" for name, more in found.items() if more.differs and more.known]
    if apart:
        yield f"Gas at the pump to the finish, against the cap left shut, over {_THREE}: {', '.join(apart)}."
    same = [name for name, more in found.items() if not more.differs]
    if same:
        yield f"Gas at the pump hardly differs from the cap left shut: {', '.join(same)}."
    unclear = [name for name, more in found.items() if not more.known]
    if unclear:
        yield f"More gas or less than with the cap left shut, this model cannot tell: {', '.join(unclear)}."
    yield from _trust(shut)


def _span(more: MoreGas) -> str:
    less = more.most < -more.least
    low, high = (-more.most, -more.least) if less else (more.least, more.most)
    start = "hardly any" if low < SAME_GAS else duration_text(low)
    return f"{start} to {duration_text(high)} {'less' if less else 'more'}"


def _trust(shut: np.ndarray) -> Iterator[str]:
    low, high = float(shut.min()), float(shut.max())
    if high < SAME_GAS:
        yield f"With the cap left shut there is hardly any gas at the pump under {_THREE}."
    elif high > NO_ANSWER * max(low, SAME_GAS):
        yield (
            f"Left shut alone it is {duration_text(low)} to {duration_text(high)} over the three: read choices against "
            "each other, how much the pump really gets this model cannot tell."
        )
