"""Write the tables of the reference pages from the specification and from the list of variables.

Run it after a key, a variable or a description has changed: `python docs/tables.py`. Text around the tables is kept;
a table that has no section yet gets one.
"""

from __future__ import annotations

import inspect
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

from pydantic import BaseModel

from ullage.embed.accepted import INPUT_QUANTITIES
from ullage.embed.stepper import Stepper
from ullage.kernel.inputs import FIRST_HELD
from ullage.kernel.outputs import OUTPUT_DTYPE
from ullage.results.choice_variables import (
    BY_AIR_MODEL,
    CHOICE_COORDINATES,
    CHOICE_TRACES,
    EXPOSURE_SINCE_STOP,
    OWN_FIGURES,
    STOP_FIGURES,
)
from ullage.results.summary_schema import schema_text
from ullage.results.variables import (
    COORDINATES,
    DUTY_FIGURES,
    DUTY_VARIABLES,
    EVENT_VARIABLES,
    MEASURED_VARIABLES,
    SUMMARY_FIGURES,
    SUMMARY_PARTS,
    VARIABLES,
    Variable,
    described,
)
from ullage.scenario.duty_spec import ScenarioSpec
from ullage.scenario.event_spec import FAULT_SIZES, Event
from ullage.scenario.fields import nested_spec, quantity_of
from ullage.scenario.json_schema import scenario_schema
from ullage.scenario.lap_spec import Segment
from ullage.scenario.lap_words import STEERING, SURFACES
from ullage.scenario.presets import GRADES
from ullage.scenario.spec import Fluid
from ullage.units import KINDS

DOCS = Path(__file__).parent
PRESSURE_SIGNS = {
    "level": "absolute",
    "gauge": "over ambient; negative is vacuum",
    "difference": "negative: past the limit",
    "pressure level": "gauge (negative is vacuum) or absolute, as written",
}
# inputs whose keyword of a stepper has another name
_WORDS = {"engine_on": "engine", "cap_on": "cap", "fan_forced": "fan", "fan_share": "fan"}
_WORDS |= {f"{way}_acceleration": "acceleration" for way in ("forward", "left", "upward")}
PLAIN_KINDS = {"string": "text", "integer": "whole number", "boolean": "true or false"}


class Table(NamedTuple):
    """A table of the scenario file: dotted path, specification, its part of the schema, whether it may repeat."""

    path: str
    model: type[BaseModel]
    schema: dict[str, Any]
    repeats: bool
    needed: bool

    @property
    def heading(self) -> str:
        """The table as it is written in a scenario file."""
        return f"[[{self.path}]]" if self.repeats else f"[{self.path}]"


class Key(NamedTuple):
    """A key of a table, as text for people."""

    name: str
    what: str
    kind: str
    limits: str
    default: str
    sign: str


def scenario_tables(model: Any = ScenarioSpec, schema: Any = None, path: str = "") -> Iterator[Table]:
    """Go through every table below a specification, each before those inside it."""
    schema = schema or scenario_schema()
    for name in model.model_fields:
        if inner := nested_spec(model, name):
            below = schema["properties"][name]
            repeats = below["type"] == "array"
            dotted = f"{path}.{name}".lstrip(".")
            table = Table(dotted, inner, below["items"] if repeats else below, repeats, name in schema["required"])
            yield table
            yield from scenario_tables(inner, table.schema, dotted)


def keys(model: type[BaseModel], schema: dict[str, Any]) -> Iterator[Key]:
    """Go through the keys of a table that are not tables themselves."""
    for name in model.model_fields:
        if nested_spec(model, name):
            continue
        quantity = quantity_of(model, name)
        if quantity is None:
            yield _plain_key(name, schema["properties"][name], name in schema["required"])
            continue
        default = "-" if quantity.default is None else f"{quantity.default}{' (weak)' if quantity.weak else ''}"
        sign = quantity.sign or PRESSURE_SIGNS.get(quantity.kind, "")
        yield Key(name, quantity.help, quantity.kind, f"{quantity.low} to {quantity.high}", default, sign)


def _plain_key(name: str, schema: dict[str, Any], needed: bool) -> Key:
    kind = "choice" if "enum" in schema else PLAIN_KINDS.get(schema.get("type", ""), "text")
    given = schema.get("default", "")
    default = "required" if needed else (str(given).lower() if isinstance(given, bool) else str(given)) or "-"
    shown = f"`{default}`" if default in schema.get("enum", []) else default
    return Key(name, schema.get("description", ""), kind, _plain_limits(schema), shown, "")


def _plain_limits(schema: dict[str, Any]) -> str:
    if "enum" in schema:
        return " or ".join(f"`{choice}`" for choice in schema["enum"])
    low, high = schema.get("minimum"), schema.get("maximum")
    if low is None or high is None:
        return "" if low is None else f"{low} or more"
    return f"{low}" if low == high else f"{low} to {high}"


def grid(header: list[str], rows: list[list[str]]) -> str:
    """Lay out a table in Markdown."""
    lines = [header, ["---"] * len(header), *[[cell.replace("|", "\\|") for cell in row] for row in rows]]
    texts = ["| " + " | ".join(line) + " |" for line in lines]
    texts[1] = texts[1].replace(" ", "")
    return "\n".join(texts)


def with_grid(text: str, table: str) -> str:
    """Put a table in the place of the one with the same first column, or at the end."""
    first_cell = table[: table.index("|", 1) + 1]
    old = re.search(rf"^{re.escape(first_cell)}.*(\n\|.*)*", text, re.MULTILINE)
    if old is None:
        return f"{text.rstrip()}\n\n{table}"
    return text[: old.start()] + table + text[old.end() :]


def scenario_page(text: str) -> str:
    """Return the page of the scenario file with every table renewed."""
    sections = [section.rstrip() for section in re.split(r"^(?=## )", text, flags=re.MULTILINE)]
    tables = [*scenario_tables()]
    overview = [[f"`{table.path}`", _purpose(table), _yes(table.needed), _yes(table.repeats)] for table in tables]
    sections[0] = with_grid(sections[0], _key_grid(ScenarioSpec, scenario_schema()))
    sections[0] = with_grid(sections[0], grid(["table", "what", "required", "may repeat"], overview))
    last = 0
    before: type[BaseModel] = BaseModel
    for table in tables:
        found = [place for place, section in enumerate(sections) if f"`{table.heading}`" in section.split("\n")[0]]
        if found:
            last = found[0]
        elif table.model is before:  # tables alike, side by side, share a section
            sections[last] = sections[last].replace("\n", f", `{table.heading}`\n", 1)
        else:
            last += 1
            sections.insert(last, f"## `{table.heading}`\n\n{_purpose(table)}")
        sections[last] = with_grid(sections[last], _key_grid(table.model, table.schema))
        before = table.model
        if table.model is Fluid:
            sections[last] = with_grid(sections[last], _presets())
        if table.model is Segment:
            sections[last] = with_grid(sections[last], _surfaces())
            sections[last] = with_grid(sections[last], _severities())
        if table.model is Event:
            sections[last] = with_grid(sections[last], _fault_sizes())
    return "\n\n".join(sections) + "\n"


def _presets() -> str:
    rows = [
        [f"`{name}`", f"{1e6 * grade.viscosity_40:g}", f"{1e6 * grade.viscosity_100:g}", f"{grade.density_15:g}"]
        for name, grade in GRADES.items()
    ]
    return grid(["preset", "40 degC, mm2/s", "100 degC, mm2/s", "density at 15 degC, kg/m3"], rows)


def _surfaces() -> str:
    rows = [
        [f"`{name}`", f"{each.ground_roughness:g}", *map(_percent, each[1:3]), f"`{each.steering}`"]
        for name, each in SURFACES.items()
    ]
    header = ["surface", "roughness of the ground", "spread of the vehicle speed", "spread of the engine speed"]
    return grid([*header, "steering"], rows)


def _percent(share: float) -> str:
    return f"{100.0 * share:.3g} %"


def _severities() -> str:
    rows = [[f"`{name}`", *(f"{1e-5 * value:.3g} bar" for value in load)] for name, load in STEERING.items()]
    return grid(["steering", "load", "spread", "peak"], rows)


def _fault_sizes() -> str:
    rows = [
        [f"`{name}`", f"`{size.key}`", f"{size.low} to {size.high}", size.default, size.help]
        for name, size in FAULT_SIZES.items()
    ]
    return grid(["fault", "key", "accepted range", "default", "what"], rows)


def _yes(truth: bool) -> str:
    return "yes" if truth else "no"


def _purpose(table: Table) -> str:
    return str(table.schema["description"]).split("\n")[0]


def _key_grid(model: type[BaseModel], schema: dict[str, Any]) -> str:
    rows = [[f"`{key.name}`", key.what, key.kind, key.limits, key.default] for key in keys(model, schema)]
    return grid(["key", "what", "kind", "accepted range", "default"], rows)


def _sign(variable: Variable) -> str:
    return variable.sign or PRESSURE_SIGNS.get(variable.pressure, "")


def results_page(text: str) -> str:
    """Return the page of the results with every table renewed."""
    variables = [
        [f"`{name}`", _dimensions(name), item.units, _sign(item), item.long_name]
        for name, item in (VARIABLES | MEASURED_VARIABLES).items()
    ]
    variables += [
        [f"`{name}`", "event", item.units or "text", _sign(item), item.long_name]
        for name, item in EVENT_VARIABLES.items()
    ]
    text = with_grid(text, grid(["variable", "dimensions", "unit", "sign", "what"], variables))
    text = with_grid(text, grid(["of a choice", "unit", "sign", "what", "by `air_model` too"], _choice_rows()))
    tables = {"coordinate": COORDINATES, "figure": SUMMARY_FIGURES, **SUMMARY_PARTS}
    tables |= {"of what is driven": DUTY_FIGURES, "column": DUTY_VARIABLES, "of the stop": STOP_FIGURES}
    for first, listed in tables.items():
        text = with_grid(text, grid([first, "unit", "sign", "what"], _rows(listed)))
    return text


def _dimensions(name: str) -> str:
    return "node, time" if OUTPUT_DTYPE[name.removeprefix("measured_")].shape else "time"


def _choice_rows() -> list[list[str]]:
    rows = _rows({EXPOSURE_SINCE_STOP: CHOICE_TRACES[EXPOSURE_SINCE_STOP], **OWN_FIGURES})
    return [[*row, _yes(row[0].strip("`") in BY_AIR_MODEL)] for row in rows]


def _rows(listed: dict[str, Variable]) -> list[list[str]]:
    return [[f"`{name}`", item.units, _sign(item), described(item)] for name, item in listed.items()]


def glossary_page(text: str) -> str:
    """Return the glossary with every table renewed; its words are written by hand."""
    root = Table("", ScenarioSpec, scenario_schema(), repeats=False, needed=True)
    entries = [
        [f"`{table.path}.{key.name}`".replace("`.", "`"), _unit(key.kind), key.kind, key.sign, key.what]
        for table in (root, *scenario_tables())
        for key in keys(table.model, table.schema)
    ]
    kinds = [[name, kind.unit, kind.metric or "-", kind.us or "-"] for name, kind in KINDS.items()]
    held = [
        [f"`{name}`", item.units, place, _sign(item), item.long_name]
        for place, listed in (
            ("coordinate", COORDINATES),
            ("variable", VARIABLES | MEASURED_VARIABLES),
            ("event variable", EVENT_VARIABLES),
            ("summary figure", SUMMARY_FIGURES),
            *SUMMARY_PARTS.items(),
            ("of what is driven", DUTY_FIGURES | DUTY_VARIABLES),
            ("of a choice", {EXPOSURE_SINCE_STOP: CHOICE_TRACES[EXPOSURE_SINCE_STOP], **OWN_FIGURES}),
            ("of a stop", {**CHOICE_COORDINATES, **STOP_FIGURES}),
        )
        for name, item in listed.items()
    ]
    text = with_grid(text, grid(["kind", "inside", "shown metric", "shown US"], kinds))
    text = with_grid(text, grid(["key", "unit", "kind", "sign", "what"], entries))
    return with_grid(text, grid(["name", "unit", "kind", "sign", "what"], held))


def stepper_page(text: str) -> str:
    """Return the page of the stepper with the table of inputs renewed."""
    words = inspect.signature(Stepper.advance).parameters
    rows = [
        [
            f"`{name}`",
            f"`{_WORDS.get(name, name)}`" if _WORDS.get(name, name) in words else "",
            KINDS[item.kind].unit,
            f"{item.low} to {item.high}",
            _yes(number >= FIRST_HELD),
            f"{item.help}; {item.sign}" if item.sign else item.help,
        ]
        for number, (name, item) in enumerate(INPUT_QUANTITIES.items())
    ]
    return with_grid(text, grid(["input", "keyword", "unit", "range", "held", "what"], rows))


def _unit(kind: str) -> str:
    return KINDS[kind].unit if kind in KINDS else ""


def pages() -> dict[Path, str]:
    """Return every reference page, and the published schema, as it should be."""
    writers = {"scenario.md": scenario_page, "results.md": results_page, "glossary.md": glossary_page}
    writers |= {"stepper.md": stepper_page}
    written = {DOCS / name: writer((DOCS / name).read_text(encoding="utf-8")) for name, writer in writers.items()}
    return {**written, DOCS / "summary.schema.json": schema_text()}


if __name__ == "__main__":
    for page, content in pages().items():
        page.write_text(content, encoding="utf-8")
