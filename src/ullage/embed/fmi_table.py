"""The tables that are compiled into a unit: its record, its variables and its sentences, as C."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from ullage.embed.fmi_variables import UnitVariable, place
from ullage.errors import STATUSES, failure_sentence
from ullage.kernel.modes import SWITCHES
from ullage.kernel.unit import UNIT_DTYPE, Units

_KINDS = {"Real": "r", "Integer": "i", "Boolean": "b"}


class Tables(NamedTuple):
    """Texts of unit_table.h and unit_table.c."""

    header: str
    source: str


def unit_tables(units: Units, variables: Sequence[UnitVariable], guid: str) -> Tables:
    """Return the tables of a unit.

    Parameters
    ----------
    units : record array of shape (1,)
        The unit before it begins.
    variables : sequence of UnitVariable
        Its variables; their places are their value references.
    guid : str
        Its guid.

    Returns
    -------
    Tables
        C source.
    """
    numbers = {
        "UNIT_SIZE": UNIT_DTYPE.itemsize,
        "TIME_OFFSET": place("states", 0, "time"),
        "LOG_OFFSET": place("log"),
        "BEFORE_OFFSET": place("inputs", 0),
        "AFTER_OFFSET": place("inputs", 1),
        "INPUTS_SIZE": place("inputs", 1) - place("inputs", 0),
        "VARIABLE_COUNT": len(variables),
        "EVENT_COUNT": len(SWITCHES),
        "STATUS_COUNT": len(STATUSES),
    }
    header = "\n".join([f"#define {name} {number}" for name, number in numbers.items()])
    image = ",".join(str(byte) for byte in units.tobytes())
    events = (" ".join(switch) for switch in SWITCHES)
    statuses = (": ".join(failure_sentence(status)) for status in STATUSES)
    source = "\n".join(
        [
            '#include "unit.h"\n',
            f"const unsigned char UNIT_IMAGE[UNIT_SIZE] = {{{image}}};",
            _listed("struct variable VARIABLES[VARIABLE_COUNT]", map(_variable, variables)),
            _listed("char *const EVENTS[EVENT_COUNT]", map(_text, events)),
            _listed("char *const STATUSES[STATUS_COUNT]", map(_text, statuses)),
        ]
    )
    return Tables(f"{header}\n#define UNIT_GUID {_text(guid)}\n", source)


def _listed(what: str, entries: Iterable[str]) -> str:
    lines = ",\n".join(entries)
    return f"const {what} = {{\n{lines}\n}};"


def _variable(variable: UnitVariable) -> str:
    causality = "h" if variable.held else variable.causality[0]
    limits = (variable.low, variable.high) if variable.causality != "output" else (0.0, 0.0)
    fields = [
        _text(variable.name),
        _text(variable.units if variable.units != "1" else ""),
        str(variable.offset),
        *map(repr, limits),
        f"'{causality}'",
        f"'{_KINDS[variable.type]}'",
        str(int(variable.whole)),
    ]
    return f"{{{', '.join(fields)}}}"


def _text(text: str) -> str:
    """Return text as a C literal; messages are formats to a host's printf."""
    plain = text.replace("\\", "\\\\").replace('"', '\\"').replace("%", "percent")
    return f'"{plain}"'
