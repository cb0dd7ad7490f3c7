"""The `ullage export` command: make a unit of co-simulation for other design tools."""

from __future__ import annotations

import json
from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING

import click

from ullage.command_options import common

if TYPE_CHECKING:
    from ullage.embed.fmi import Exported


@click.command()
@common
@click.option("--fmu", required=True, type=click.Path(dir_okay=False), metavar="UNIT.fmu", help="The unit to be made.")
def export(file: str, changes: tuple[str, ...], units: str | None, as_json: bool, quiet: bool, fmu: str) -> None:
    """Make a native FMI 2.0 unit of co-simulation of a scenario FILE (- reads standard input).

    It holds the compiled model and a shell in C, needs no Python, and loads in any host of this platform. Its
    parameters are the keys of the scenario. A C compiler is needed to make it.
    """
    if Path(fmu).suffix != ".fmu":
        raise click.UsageError("--fmu: the name of a unit ends in .fmu")
    from ullage.command_input import given

    scenario = given(file, changes).scenario()
    from ullage.embed.fmi import export_unit
    from ullage.scenario.describe import warning_lines

    made = export_unit(scenario, fmu)
    if quiet:
        return
    if as_json:
        click.echo(json.dumps(_facts(made), indent=2))
        return
    shown = "us" if (units or scenario.spec.display.units) == "us" else "metric"
    click.echo("\n".join([_sentence(made), *warning_lines(scenario, shown)]))
    from ullage.cautions import SHORT_CAUTION

    click.echo(SHORT_CAUTION)


def _facts(made: Exported) -> dict[str, object]:
    from ullage.embed.fmi import PLATFORM

    counts: Counter[str] = Counter(variable.causality for variable in made.variables)
    return {"fmu": str(made.path), "fmi_version": "2.0", "platform": PLATFORM, "bytes": made.size} | dict(counts)


def _sentence(made: Exported) -> str:
    facts = _facts(made)
    return (
        f"{made.path}: FMI 2.0 co-simulation for {facts['platform']}, {made.size / 1000:.0f} kB, "
        f"{facts['input']} inputs, {facts['output']} outputs, {facts['parameter']} parameters\n"
        "It needs the C library and its mathematics, no Python. Ranges of all numbers are checked in it, rules between "
        "them mostly not:\nlook at the scenario with ullage check before."
    )
