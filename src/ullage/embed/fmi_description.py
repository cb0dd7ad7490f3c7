"""The description of a unit of co-simulation: modelDescription.xml by FMI 2.0, and a page for people."""

from __future__ import annotations

import html
import math
from collections.abc import Sequence
from importlib.metadata import metadata, version
from typing import Any, NamedTuple
from xml.etree import ElementTree
from xml.etree.ElementTree import Element, SubElement

from ullage.cautions import CAUTIONS
from ullage.embed.fmi_variables import UnitVariable
from ullage.units import KINDS, factor, registry, spelled

_ZEROS = {"degC": -273.15, "degF": -459.67}  # what a scale shows at 0 K
_BASE = {"[mass]": "kg", "[length]": "m", "[time]": "s", "[temperature]": "K"}
_LOG_CATEGORIES = {
    "logEvents": "what switches by itself: valves of the cap, fan, thermostats, limits of the model",
    "logStatusError": "what is wrong, and what to do about it",
    "logStatusDiscard": "what cannot be asked of this unit",
}
_LIMITS = (
    "Results are estimates: gas at the pump is good to a factor of a few. Every number is held against its range, and "
    "rules between numbers are not: look at the scenario with `ullage check` before."
)


class Identity(NamedTuple):
    """What a unit is called, the name of its binary, its guid, and for how long and how often it is usually stepped."""

    title: str
    binary: str
    guid: str
    duration: float
    step: float


def model_description(identity: Identity, variables: Sequence[UnitVariable]) -> bytes:
    """Return modelDescription.xml.

    Parameters
    ----------
    identity : Identity
        What the unit is called.
    variables : sequence of UnitVariable
        Its variables; their places are their value references.

    Returns
    -------
    bytes
        XML, UTF-8.
    """
    root = Element(
        "fmiModelDescription",
        fmiVersion="2.0",
        modelName=identity.title,
        guid=identity.guid,
        description=f"Oil, air space and pressure cap of a power-steering reservoir. {_LIMITS}",
        version=version("ullage"),
        license=f"{metadata('ullage')['License-Expression']}, of ullage; not of the data in it",
        generationTool=f"ullage {version('ullage')}",
        variableNamingConvention="structured",
    )
    SubElement(
        root,
        "CoSimulation",
        modelIdentifier=identity.binary,
        needsExecutionTool="false",
        canHandleVariableCommunicationStepSize="true",
        canInterpolateInputs="true",
        maxOutputDerivativeOrder="0",
        canRunAsynchronuously="false",
        canBeInstantiatedOnlyOncePerProcess="false",
        canNotUseMemoryManagementFunctions="true",
        canGetAndSetFMUstate="true",
        canSerializeFMUstate="true",
        providesDirectionalDerivative="false",
    )
    _add_units(root, variables)
    categories = SubElement(root, "LogCategories")
    for name, text in _LOG_CATEGORIES.items():
        SubElement(categories, "Category", name=name, description=text)
    SubElement(root, "DefaultExperiment", startTime="0", stopTime=repr(identity.duration), stepSize=repr(identity.step))
    listed = SubElement(root, "ModelVariables")
    for reference, variable in enumerate(variables):
        _add_variable(listed, reference, variable)
    structure = SubElement(root, "ModelStructure")
    for part in ("Outputs", "InitialUnknowns"):
        unknowns = SubElement(structure, part)
        for index, variable in enumerate(variables, 1):
            if variable.causality == "output":
                SubElement(unknowns, "Unknown", index=str(index))
    ElementTree.indent(root)
    written: bytes = ElementTree.tostring(root, "UTF-8", xml_declaration=True)
    return written


def _add_units(root: Element, variables: Sequence[UnitVariable]) -> None:
    definitions = SubElement(root, "UnitDefinitions")
    for units in sorted({variable.units for variable in variables if variable.type == "Real"}):
        unit = SubElement(definitions, "Unit", name=units)
        SubElement(unit, "BaseUnit", {name: str(power) for name, power in _powers(units).items()})
        for shown in _shown(units):
            zero = {"offset": repr(_ZEROS[shown])} if shown in _ZEROS else {}
            SubElement(unit, "DisplayUnit", {"name": shown, "factor": f"{1.0 / factor(shown, units):.15g}", **zero})


def _powers(units: str) -> dict[str, int]:
    """Return the powers of kg, m, s, K and the radian in an SI unit."""
    found: Any = registry().parse_units(spelled(units))
    named = {_BASE[dimension]: int(power) for dimension, power in found.dimensionality.items()}
    return named | ({"rad": 1} if "rad" in units else {})


def _shown(units: str) -> list[str]:
    """Return the units in which values of an SI unit are shown, metric ones first."""
    kinds = [kind for kind in KINDS.values() if kind.unit == units]
    named = [kind.metric for kind in kinds] + [kind.us for kind in kinds]
    return [each for each in dict.fromkeys(named) if each and each != units]


def _add_variable(listed: Element, reference: int, variable: UnitVariable) -> None:
    continuous = variable.type == "Real" and not variable.held
    scalar = SubElement(
        listed,
        "ScalarVariable",
        name=variable.name,
        valueReference=str(reference),
        description=variable.help,
        causality=variable.causality,
        variability="fixed" if variable.causality == "parameter" else "continuous" if continuous else "discrete",
        initial="calculated" if variable.causality == "output" else "exact",
    )
    if variable.causality == "input":
        del scalar.attrib["initial"]
    kind = SubElement(scalar, variable.type)
    if variable.type == "Real":
        kind.set("unit", variable.units)
        if variable.difference:
            kind.set("relativeQuantity", "true")
        elif variable.shown not in ("", variable.units):
            kind.set("displayUnit", variable.shown)
    if variable.type != "Boolean" and math.isfinite(variable.low):
        kind.set("min", repr(variable.low))
        kind.set("max", repr(variable.high))
    if variable.type == "Boolean":
        kind.set("start", "true" if variable.start else "false")
    elif not math.isnan(variable.start):
        kind.set("start", repr(variable.start))


def page(identity: Identity, variables: Sequence[UnitVariable]) -> str:
    """Return documentation/index.html: what the unit is, the cautions, its variables."""
    rows = "\n".join(
        f"<tr><td>{html.escape(v.name)}</td><td>{v.causality}</td><td>{v.units}</td><td>{html.escape(v.help)}</td></tr>"
        for v in variables
    )
    cautions = "\n".join(f"<li>{html.escape(caution)}</li>" for caution in CAUTIONS)
    title = html.escape(identity.title)
    return f"""<!DOCTYPE html>
<html lang="en">
<head><meta charset="utf-8"><title>{title}</title></head>
<body>
<h1>{title}</h1>
<p>Oil, air space and pressure cap of a power-steering reservoir, exported by ullage {version("ullage")}.
{html.escape(_LIMITS)}</p>
<ul>
{cautions}
</ul>
<p>The scenario is in resources/scenario.toml. All values are SI. Inputs that are continuous go along the slopes that
are given with them, and stay as they are set without; all others hold for a whole step.</p>
<table>
<tr><th>name</th><th>causality</th><th>unit</th><th>meaning</th></tr>
{rows}
</table>
</body>
</html>
"""
