"""What the choices at a stop do to the gas at the pump, under three assumptions on the air, and how far to trust it."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import xarray as xr

from ullage.results.pit_table import choice_name
from ullage.results.verdict import duration_text

# own choice: gas that differs by less than a minute and a twentieth is the same; a span of the three assumptions over
# which no number is told
SAME_GAS, SAME_SHARE = 60.0, 0.05
NO_ANSWER = 3.0

_TOLD = ("refit", "top_up", "recharge", "left_off")
_THREE = "the three assumptions on how fast air moves"


def gas_sentences(data: xr.Dataset) -> Iterator[str]:
    """Go through the sentences on gas at the pump from the stop to the finish, each choice against the cap left shut.

    Parameters
    ----------
    data : xarray.Dataset
        Result of `compare_cap_opening`.
    """
    gas = data.cavitation_exposure_by_air_model
    shut = gas.sel(choice="shut").values
    if not np.isfinite(shut).all():
        return
    if not data.time_turning.sel(choice="shut") > 0.0:
        yield "The pump does not turn after the stop: there is no gas to tell of."
        return
    more: list[str] = []
    same: list[str] = []
    unclear: list[str] = []
    for label in _TOLD:
        if label not in data.choice.values or not np.isfinite(gas.sel(choice=label)).all():
            continue
        values = gas.sel(choice=label).values
        differs = np.abs(values - shut) > np.maximum(SAME_GAS, SAME_SHARE * shut)
        sign = np.sign(values - shut)[differs]
        name = choice_name(label)
        if not differs.any():
            same.append(name)
        elif len(set(sign)) > 1:
            unclear.append(name)
        else:
            more.append(f"{name} {_span(values - shut)} {'more' if sign[0] > 0.0 else 'less'}")
    yield from _told(more, same, unclear)
    yield from _trust(shut)


def _span(differences: np.ndarray) -> str:
    low, high = sorted((abs(float(differences[np.argmin(np.abs(differences))])), float(np.abs(differences).max())))
    return f"{duration_text(low)} to {duration_text(high)}"


def _told(more: list[str], same: list[str], unclear: list[str]) -> Iterator[str]:
    if more:
        yield f"Gas at the pump to the finish, against the cap left shut, over {_THREE}: {', '.join(more)}."
    if same:
        yield f"Gas at the pump hardly differs from the cap left shut: {', '.join(same)}."
    if unclear:
        yield f"More gas or less than with the cap left shut, this model cannot tell: {', '.join(unclear)}."


def _trust(shut: np.ndarray) -> Iterator[str]:
    low, high = float(shut.min()), float(shut.max())
    if high < SAME_GAS:
        yield f"With the cap left shut there is hardly any gas at the pump under {_THREE}."
    elif high > NO_ANSWER * max(low, SAME_GAS):
        yield (
            f"Left shut alone it is {duration_text(low)} to {duration_text(high)} over the three: read choices against "
            "each other, how much the pump really gets this model cannot tell."
        )
