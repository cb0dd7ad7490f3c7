"""What a study found, as JSON: how many members ended how, and the spread of each figure."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

import numpy as np
import xarray as xr

from ullage.results.study_forbidden import forbidden, free
from ullage.results.summary import STATE_FIGURES

_PERCENTILES = (0, 5, 50, 95, 100)


def study_json(data: xr.Dataset, effects: Sequence[xr.Dataset] = ()) -> str:
    """Write the spread of every figure of a study as JSON.

    Parameters
    ----------
    data : xarray.Dataset
        Results of a study in SI units.
    effects : sequence of xarray.Dataset
        Main and total effects on some figures.

    Returns
    -------
    str
        What identifies the study; members by status, by what is forbidden, and free of all that; lowest, 5 %, median,
        95 % and highest value of each figure over
        the members that are done, null where there is none. Of the oil temperature it is the hottest node. The effects
        are shares of the variance by input, with the ends of their intervals.
    """
    names = ("title", "format_version", "ullage_version", "study_hash", "scenario_hash")
    statuses, counts = np.unique(data.status.values.astype(str), return_counts=True)
    found = {
        **{name: data.attrs[name] for name in names},
        "members": data.sizes["member"],
        "statuses": dict(zip(statuses.tolist(), counts.tolist(), strict=True)),
        "forbidden": {each.name: int(each.members.sum()) for each in forbidden(data, "metric")},
        "free": int(free(data, "metric").sum()),
        "figures": {name: _spread(data[name]) for name in (*STATE_FIGURES, "shaft_energy")},
        "effects": {each.attrs["figure"]: _shares(each) for each in effects if not each.attrs["sentence"]},
    }
    return json.dumps(found, indent=2, default=int, allow_nan=False)


def _spread(figure: xr.DataArray) -> dict[str, Any]:
    values = (figure.max("node") if "node" in figure.dims else figure).values
    known = values[np.isfinite(values)]
    if not len(known):
        return {f"p{share}": None for share in _PERCENTILES}
    return {
        f"p{share}": float(value) for share, value in zip(_PERCENTILES, np.percentile(known, _PERCENTILES), strict=True)
    }


def _shares(effects: xr.Dataset) -> dict[str, dict[str, float]]:
    """Return the effects of each input on a figure."""
    return {
        str(name): {str(share): float(values.values[place]) for share, values in effects.data_vars.items()}
        for place, name in enumerate(effects.input.values)
    }
