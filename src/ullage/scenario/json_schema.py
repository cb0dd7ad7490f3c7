"""The scenario file as a JSON Schema, so that an editor can complete and check it while it is written."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel

from ullage.scenario.duty_spec import FORMAT, ScenarioSpec
from ullage.scenario.fields import Quantity, nested_spec, quantity_of

Schema = dict[str, Any]

DIALECT = "https://json-schema.org/draft/2020-12/schema"
_NUMBER = r"[-+]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][-+]?[0-9]+)?"
_PRESSURE_LEVEL = r"psig|psia|barg|bara|kPag|kPaa|\S+ +(gauge|abs|vac)"
# a unit begins with a letter or with 1/, and what follows a number like an exponent is one
_ANY_UNIT = r"(?![eE][-+]?[0-9])(1? ?/ ?)?[A-Za-z°].*"
_UNITS = {
    "pressure level": _PRESSURE_LEVEL,
    "pressure difference": rf"(?!({_PRESSURE_LEVEL})\s*$){_ANY_UNIT}",
    "temperature": "degC|degF|K|°C|°F",
    "number": "%?",
}


def scenario_schema() -> Schema:
    """Return the JSON Schema (draft 2020-12) of a scenario file.

    Returns
    -------
    dict
        Every table and key with its description. A quantity is text with its unit; a share is a number or text.
    """
    return {"$schema": DIALECT, "title": "ullage scenario", "format_version": FORMAT, **_table(ScenarioSpec)}


def _table(model: type[BaseModel]) -> Schema:
    plain = model.model_json_schema()
    return {
        "type": "object",
        "description": model.__doc__,
        "properties": {name: _key(model, name, plain["properties"][name]) for name in model.model_fields},
        "required": plain.get("required", []),
        "additionalProperties": False,
    }


def _key(model: type[BaseModel], name: str, plain: Schema) -> Schema:
    if quantity := quantity_of(model, name):
        return _quantity(quantity)
    schema = _without_null({key: value for key, value in plain.items() if key != "title"})
    inner = nested_spec(model, name)
    if inner is None:
        return schema
    if plain.get("type") != "array":
        return _table(inner)
    return {"type": "array", "items": _table(inner), "minItems": plain.get("minItems", 0)}


def _without_null(schema: Schema) -> Schema:
    """Return the schema of a key that may stay out; TOML has no null."""
    choices = [choice for choice in schema.pop("anyOf", []) if choice != {"type": "null"}]
    if schema.get("default", "") is None:
        del schema["default"]
    return {**schema, **choices[0]} if len(choices) == 1 else {**schema, **({"anyOf": choices} if choices else {})}


def _quantity(quantity: Quantity) -> Schema:
    text = {"type": "string", "pattern": rf"^\s*{_NUMBER}\s*({_UNITS.get(quantity.kind, _ANY_UNIT)})\s*$"}
    if quantity.kind == "time":
        text["pattern"] = rf"^(\s*{_NUMBER}\s*[a-z]+)+\s*$"
    if quantity.kind != "number":
        return {"description": _description(quantity), **text}
    low, high = quantity.limits()
    number = {"type": "number", "minimum": low, "maximum": high}
    return {"description": _description(quantity), "anyOf": [number, text]}


def _description(quantity: Quantity) -> str:
    parts = [quantity.help, f"{quantity.kind}, {quantity.low} to {quantity.high}", quantity.sign]
    if quantity.default == "required":
        parts.append("required")
    elif quantity.default is not None:
        parts.append(f"default {quantity.default}{' (weak)' if quantity.weak else ''}")
    return "; ".join(part for part in parts if part)
