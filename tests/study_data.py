"""Study Datasets made by hand: members, inputs and figures that a test chooses."""

import json

import numpy as np
import xarray as xr

from ullage.kernel.state import NODES
from ullage.results.summary import STATE_FIGURES
from ullage.results.variables import SUMMARY_FIGURES, attributes

QUIET = {
    "peak_oil_temperature": 360.0,
    "lowest_feed_gauge_pressure": -4e3,
    "lowest_rating_margin": 2e4,
    "lowest_vapour_margin": 9e4,
    "lowest_seal_margin": 1e5,
    "lowest_tank_margin": 1e5,
    "highest_headspace_gauge_pressure": 5e4,
    "highest_oil_level": 0.9,
    "lowest_oil_level": 0.7,
    "time_turning": 3600.0,
    "cavitation_exposure": 60.0,
    "lowest_feed_time": 1200.0,
}


def study(inputs, figures=None, *, method="sobol", axes=None, status=None, sentence=None, coordinates=None):
    """Return a study: inputs by dotted key, and figures where they are not those of a quiet race."""
    members = len(next(iter(inputs.values())))
    found = {name: np.zeros(members) for name in (*STATE_FIGURES, "shaft_energy")}
    for name, value in (QUIET | (figures or {})).items():
        found[name] = np.broadcast_to(np.asarray(value, dtype=float), members).copy()
    found["peak_oil_temperature"] = np.repeat(found["peak_oil_temperature"][:, None], len(NODES), axis=1)
    status = np.array(["done"] * members if status is None else status)
    for values in found.values():
        values[status != "done"] = np.nan
    variables = {
        name: (("member", "node")[: values.ndim], values, attributes(SUMMARY_FIGURES[name]))
        for name, values in found.items()
    }
    variables["status"] = ("member", status)
    variables["sentence"] = ("member", np.array([""] * members if sentence is None else sentence))
    varied = {
        key.replace(".", "_"): ("member", np.asarray(values), {"key": key, "units": "1", "long_name": key})
        for key, values in inputs.items()
    }
    axes = [{"keys": [key], "distribution": None} for key in inputs] if axes is None else axes
    attrs = {
        "title": "study of a test (invented data)",
        "kind": "study",
        "axes": json.dumps(axes),
        "sampling": json.dumps({"method": method, "members": members, "seed": 1}),
        "tank_rating": 206.8e3,
        "seal_rating": 172.4e3,
        "scenario_toml": "",
    }
    data = xr.Dataset(variables, {"member": np.arange(members), "node": list(NODES), **varied}, attrs)
    return data.assign_coords(coordinates or {})


def grid(inputs, figures=None, **changes):
    """Return a grid study, the last input running fastest; a figure may be a function of the inputs."""
    meshes = dict(zip(inputs, np.meshgrid(*inputs.values(), indexing="ij"), strict=True))
    flat = {key: mesh.ravel() for key, mesh in meshes.items()}
    made = {name: value(*flat.values()) if callable(value) else value for name, value in (figures or {}).items()}
    return study(flat, made, method="grid", **changes)
