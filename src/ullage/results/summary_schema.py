"""The answer of `ullage run --json` as a JSON Schema, so that a program in any language can check what it gets."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from ullage.duty.events import FAULTS
from ullage.kernel.state import NODES
from ullage.results.answer import BAD_INPUT, DONE, FAILED
from ullage.results.summary import BY_AIR_MODEL
from ullage.results.variables import (
    AIR_MODELS,
    FAULT_FIGURES,
    FORMAT_VERSION,
    MEASURED_VARIABLES,
    MISFIT_FIGURES,
    OPENING_FIGURES,
    STOP_TANK_FIGURES,
    SUMMARY_FIGURES,
    TANK_FIGURES,
    Variable,
    attributes,
    described,
)
from ullage.scenario.json_schema import DIALECT

Schema = dict[str, Any]

_BROKEN = "the race broke down"


def schema_text() -> str:
    """Write the schema as it is published.

    Returns
    -------
    str
        JSON with a line end.
    """
    return json.dumps(summary_schema(), indent=1) + "\n"


def summary_schema() -> Schema:
    """Return the JSON Schema (draft 2020-12; the words that it uses mean the same in draft-07) of an answer.

    Returns
    -------
    dict
        One of three objects, told apart by `outcome`: summary, faults of the input, failure. Units stand beside each
        figure as `x-units`, with `x-pressure-reference` and `x-sign` where they are needed.
    """
    return {
        "$schema": DIALECT,
        "$id": f"urn:ullage:summary:{FORMAT_VERSION}",
        "title": "answer of ullage run --json",
        "description": "Estimates, never a permission to open a hot reservoir. SI units.",
        "oneOf": [_summary(), _faults(), _failure()],
    }


def _summary() -> Schema:
    head = {
        "title": _text("title of the scenario"),
        **_answer(DONE),
        "ullage_version": _text("version that simulated"),
        "scenario_hash": _text("the same for the same scenario, however it is written"),
    }
    figures = {**_figures(SUMMARY_FIGURES), "status": {"const": DONE}}
    return _object("summary: the race is done", {**head, **figures, "air_models": _air_models()})


def _faults() -> Schema:
    fault = {
        "file": _text("file, `standard input`, or `--set`"),
        "line": {"description": "line of the file, from 1; null if there is none", "type": ["integer", "null"]},
        "key": _text("dotted path of the key; empty for the file as a whole"),
        "text": _text("what was found, and what is allowed"),
    }
    faults = {**_list("every fault", _object("a fault", fault)), "minItems": 1}
    return _object("faults: the input is bad, nothing was simulated", {**_answer(BAD_INPUT), "faults": faults})


def _failure() -> Schema:
    unknown = {name: figure._replace(absent=figure.absent or _BROKEN) for name, figure in SUMMARY_FIGURES.items()}
    figures = _object("figures up to there; null if there are none", _figures(unknown))
    told = {
        "reason": _text("why there is no result"),
        "remedy": {"description": "what to look at; null if nothing is known", "type": ["string", "null"]},
        "time": {
            "description": "race time at which the simulation stopped; null if it did not fail",
            "x-units": "s",
            "type": ["number", "null"],
        },
        "figures": {**figures, "type": ["object", "null"]},
    }
    return _object("failure: the input is good, but there is no result", {**_answer(FAILED), **told})


def _answer(outcome: str) -> Schema:
    version = {"description": "rises with every change of this schema", "const": FORMAT_VERSION}
    return {"format_version": version, "outcome": {"description": "which of the three this is", "const": outcome}}


def _figures(listed: Mapping[str, Variable]) -> Schema:
    """Return the figures of a race; those that are more than a value are made of other figures."""
    structured = {
        "cap_openings": _list(listed["cap_openings"].long_name, _record("an opening", OPENING_FIGURES)),
        "faults": _list(listed["faults"].long_name, _record("a fault", FAULT_FIGURES)),
        "stops": _list(listed["stops"].long_name, _record("a stop", STOP_TANK_FIGURES)),
        "finish": _record(listed["finish"].long_name, TANK_FIGURES),
        "misfit": _misfit(listed["misfit"].long_name),
    }
    structured["faults"]["items"]["properties"]["name"]["enum"] = list(FAULTS)
    peak = listed["peak_oil_temperature"]
    by_node = _object(peak.long_name, dict.fromkeys(NODES, _value(peak)))
    values = {name: _value(figure) for name, figure in listed.items() if name not in structured}
    found = {**values, **structured, "peak_oil_temperature": by_node}
    return {name: found[name] for name in listed}


def _misfit(description: str) -> Schema:
    found = {}
    for measured, variable in MEASURED_VARIABLES.items():
        name = measured.removeprefix("measured_")
        listed = {
            key: figure if figure.units else figure._replace(units=variable.units)
            for key, figure in MISFIT_FIGURES.items()
        }
        found[name] = _record(variable.long_name.replace("measured", "simulated less measured"), listed)
        if name == "oil_temperature":
            found[name] = _some("by node that has a sensor", dict.fromkeys(NODES, found[name]))
    return {**_some(description, found), "minProperties": 0}


def _air_models() -> Schema:
    names = {name: SUMMARY_FIGURES[name] for name in BY_AIR_MODEL}
    names["finish_gauge_pressure"] = TANK_FIGURES["gauge_pressure"]._replace(
        long_name="pressure in the air space at the end"
    )
    by_model = {
        name: _some(figure.long_name, dict.fromkeys(AIR_MODELS, _value(figure))) for name, figure in names.items()
    }
    return _object("figures under each assumption on the air that could finish the race", by_model)


def _record(description: str, listed: Mapping[str, Variable]) -> Schema:
    return _object(description, {name: _value(figure) for name, figure in listed.items()})


def _value(figure: Variable) -> Schema:
    told = {f"x-{name}".replace("_", "-"): text for name, text in attributes(figure).items() if name != "long_name"}
    return {"description": described(figure), **told, "type": [figure.value, "null"] if figure.absent else figure.value}


def _text(description: str) -> Schema:
    return {"description": description, "type": "string"}


def _list(description: str, items: Schema) -> Schema:
    return {"description": description, "type": "array", "items": items}


def _some(description: str, properties: Schema) -> Schema:
    """Return an object of at least one of these."""
    return {**_object(description, properties), "required": [], "minProperties": 1}


def _object(description: str, properties: Schema) -> Schema:
    return {
        "description": description,
        "type": "object",
        "properties": properties,
        "required": list(properties),
        "additionalProperties": False,
    }
