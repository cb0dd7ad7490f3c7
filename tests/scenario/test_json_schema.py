import json
import re
import tomllib

import pytest

from support import SCENARIOS
from ullage.scenario.json_schema import scenario_schema
from ullage.scenario.starter import starter_text
from ullage.units import KINDS, UnitError, parse

SCHEMA = scenario_schema()
TYPES = {"object": dict, "array": list, "string": str, "integer": int, "number": (int, float), "boolean": bool}
SILENT = {"$schema", "format_version", "title", "description", "default"}


def fits(value, schema):
    """Return whether a value conforms to a schema of the few words that ours are made of."""
    return all(RULES[word](value, schema[word], schema) for word in schema if word not in SILENT)


def typed(value, name):
    return isinstance(value, TYPES[name]) and (name == "boolean" or not isinstance(value, bool))


RULES = {
    "type": lambda value, name, _: typed(value, name),
    "enum": lambda value, choices, _: value in choices,
    "anyOf": lambda value, choices, _: any(fits(value, choice) for choice in choices),
    "pattern": lambda value, pattern, _: re.search(pattern, value) is not None,
    "minimum": lambda value, low, _: value >= low,
    "maximum": lambda value, high, _: value <= high,
    "minItems": lambda value, count, _: len(value) >= count,
    "items": lambda value, item, _: all(fits(each, item) for each in value),
    "required": lambda value, names, _: set(names) <= set(value),
    "properties": lambda value, keys, _: all(fits(value[name], keys[name]) for name in value if name in keys),
    "additionalProperties": lambda value, _, schema: set(value) <= set(schema["properties"]),
}


def changed(path, value):
    """Return the starter's tree with one value changed, or taken away for None."""
    tree = tomllib.loads(starter_text())
    table, key = path.split(".")
    tree[table].pop(key, None) if value is None else tree[table].update({key: value})
    return tree


def pattern_of(kind):
    """Return the pattern of the text of some key of a kind."""
    waiting, marked = [SCHEMA], f"; {kind}, "
    while waiting:
        schema = waiting.pop()
        if marked in schema.get("description", ""):
            return schema.get("pattern") or schema["anyOf"][1]["pattern"]
        waiting += [*schema.get("properties", {}).values(), *([schema["items"]] if "items" in schema else [])]
    raise KeyError(kind)


@pytest.mark.parametrize("path", SCENARIOS, ids=lambda path: path.stem)
def test_scenario_conforms(path):
    assert fits(tomllib.loads(path.read_text(encoding="utf-8")), SCHEMA)


def test_starter_conforms():
    assert fits(tomllib.loads(starter_text()), SCHEMA)


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ("cap.relief_pressure", 16),
        ("cap.relief_pressure", "16"),
        ("cap.relief_pressure", "16 psig"),
        ("cap.relief", "16 psi"),
        ("cap.kind", "open"),
        ("cap.kind", None),
        ("reservoir.rating", "30 psi"),
        ("reservoir.fill", 2),
        ("reservoir.fill", True),
        ("reservoir.fill", "80 psi"),
        ("fluid.preset", "honey"),
        ("weather.temperature", "95 F"),
        ("duty.laps", 0),
        ("duty.laps", 1.5),
        ("duty.segment", "whoops"),
    ],
)
def test_fault_does_not_conform(path, value):
    assert not fits(changed(path, value), SCHEMA)


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind != "mass flow"])  # no key of a file is one
def test_pattern_takes_what_is_shown_and_refuses_a_bare_number(kind):
    pattern = pattern_of(kind)
    shown = ("psig", "barg") if kind == "pressure level" else (KINDS[kind].metric, KINDS[kind].us)
    for unit in shown:
        for number in ("1", "-2.5", ".5", "1e-3"):
            parse(f"{number} {unit}", kind)
            assert re.search(pattern, f"{number} {unit}")
    for text in ("", "psi", "1 2", "one psi"):
        assert not re.search(pattern, text)
    for text in ("12", "1e5", "-3.5E-4"):
        assert bool(re.search(pattern, text)) == (kind == "number")


@pytest.mark.parametrize(
    ("kind", "text"),
    [
        *[("pressure level", f"1 {unit}") for unit in ("psig", "psia", "barg", "bara", "kPag", "kPaa", "inHg vac")],
        *[("pressure level", f"1 {unit}") for unit in ("psi", "bar", "kPa", "inHg", "psi g")],
        *[("pressure difference", f"1 {unit}") for unit in ("psi", "kPa", "N/m2", "psig", "psi gauge", "inHg vac")],
        *[("temperature", f"1 {unit}") for unit in ("degC", "degF", "K", "°C", "C", "F", "deg")],
        *[("time", text) for text in ("2 h 31 min", "90s", "10 ms", "1 day 2 h", "1:30")],
        *[("number", text) for text in ("0.8", "80 %", "80 percent")],
        *[("expansion", text) for text in ("1 1/K", "1/K", "1e-5 1/degF")],
        *[("volume", text) for text in ("8qt", "8 qt", "8,5 qt")],
        *[("compliance", "2e-10 m3/Pa"), ("torque", "1 N*m"), ("air speed", "1 ft/s")],
    ],
)
def test_pattern_and_reader_agree(kind, text):
    try:
        parse(text, kind)
        read = True
    except UnitError:
        read = False
    assert bool(re.search(pattern_of(kind), text)) == read


def test_schema_names_its_dialect_and_no_other_address():
    text = json.dumps(SCHEMA)
    assert SCHEMA["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert text.count("://") == 1
    assert "null" not in text


def test_description_gives_range_default_and_doubt():
    keys = SCHEMA["properties"]["cap"]["properties"]
    assert keys["relief_pressure"]["description"] == (
        "relief valve cracks; pressure difference, 1 psi to 40 psi; default 16 psi"
    )
    assert keys["reseat_drop"]["description"].endswith("default 0.1 (weak)")
    assert SCHEMA["properties"]["pump"]["properties"]["displacement"]["description"].endswith("required")


def test_schema_says_of_which_format_of_the_file_it_is():
    assert SCHEMA["format_version"] == tomllib.loads(starter_text())["format"] == 1


def test_schema_knows_the_oils():
    assert "ATF" in SCHEMA["properties"]["fluid"]["properties"]["preset"]["enum"]
