"""Make a unit of co-simulation by FMI 2.0 of a scenario: compiled model, shell in C, description, in one archive."""

from __future__ import annotations

import hashlib
import os
import platform
import shlex
import shutil
import subprocess
import sys
import tempfile
import zipfile
from collections.abc import Mapping
from importlib import resources
from pathlib import Path
from typing import NamedTuple

from ullage.embed.fmi_description import Identity, model_description, page
from ullage.embed.fmi_table import Tables, unit_tables
from ullage.embed.fmi_variables import UnitVariable, unit_variables
from ullage.embed.unit_object import ExportError, unit_object
from ullage.errors import quoted
from ullage.results.store import written_whole
from ullage.scenario.compile import compile_unit
from ullage.scenario.load import Scenario, a_scenario
from ullage.scenario.race import race_pieces

_NO_COMPILER = (
    "no C compiler is found: a unit needs one while it is made, not where it is used. Install one that is called `cc` "
    "(on Debian and its relatives the package `gcc` or `build-essential`; tested with GCC 12), or name it in CC"
)
_NO_PLATFORM = "a unit is made on Linux with an x86-64 processor: elsewhere it was never tried"
PLATFORM = "linux64"
_FLAGS = ["-std=c99", "-O2", "-fPIC", "-shared", "-fvisibility=hidden"]
_ALL_FOUND = ["-Wl,-z,defs"]  # what is not found is an error
_SHELL = ("unit.h", "instance.c", "values.c", "steps.c")
_LONGEST_COMPLAINT = 600
_FILE_MODE = 0o100755  # whoever unpacks it, everybody can load it
_EPOCH = (1980, 1, 1, 0, 0, 0)  # in place of the time of day: the same scenario makes the same archive


class Exported(NamedTuple):
    """A unit that was made: its file, and what it has."""

    path: Path
    size: int
    variables: list[UnitVariable]


def export_unit(scenario: Scenario, path: str | Path) -> Exported:
    """Make a native unit of co-simulation of a scenario.

    Parameters
    ----------
    scenario : Scenario
        Its truck, weather and start; the first moment of its race gives the start values of the inputs.
    path : str or Path
        The archive, .fmu; it appears only when it is complete.

    Returns
    -------
    Exported
        What it has.

    Raises
    ------
    ExportError
        If there is no C compiler or it fails, or the path is not of a kind that can be written.
    ResultsError
        If it cannot be written.
    """
    target = Path(path)
    if target.suffix != ".fmu":
        raise ExportError(f"{path}: the name of a unit ends in .fmu")
    compiler = _compiler()
    units = compile_unit(a_scenario(scenario).spec)
    variables = unit_variables(units)
    shell = {name: (resources.files("ullage.embed") / "shell" / name).read_bytes() for name in _SHELL}
    model = unit_object()
    identity = _identity(scenario)
    parts = [model, *shell.values(), model_description(identity, variables), units.tobytes()]
    guid = hashlib.sha256(b"".join(parts)).hexdigest()[:32]
    identity = identity._replace(guid=guid, binary=f"ullage_{guid[:8]}")
    files = {
        "modelDescription.xml": model_description(identity, variables),
        f"binaries/{PLATFORM}/{identity.binary}.so": _linked(
            compiler, model, shell, unit_tables(units, variables, identity.guid)
        ),
        "documentation/index.html": page(identity, variables).encode(),
        "resources/scenario.toml": scenario.to_toml().encode(),
    }
    with written_whole(target) as part, zipfile.ZipFile(part, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in files.items():
            member = zipfile.ZipInfo(name, _EPOCH)
            member.external_attr = _FILE_MODE << 16
            archive.writestr(member, data, zipfile.ZIP_DEFLATED)
    return Exported(target, target.stat().st_size, variables)


def _identity(scenario: Scenario) -> Identity:
    """Return what a unit is called, not yet what it is known by."""
    spec = scenario.spec
    return Identity(spec.title or "ullage", "", "", race_pieces(spec)[0][-1].end, spec.duty.sample_interval)


def _compiler() -> list[str]:
    """Return how the C compiler is called."""
    if (sys.platform, platform.machine()) != ("linux", "x86_64"):
        raise ExportError(_NO_PLATFORM)
    given = os.environ.get("CC", "")
    try:
        called = shlex.split(given) or ["cc"]
    except ValueError as error:
        raise ExportError(f"CC is {quoted(given)}, which names no compiler: {error}") from None
    found = shutil.which(called[0])
    if found is None:
        named = f"CC is {quoted(given)}, and {quoted(called[0])} is not found; " if given else ""
        raise ExportError(f"{named}{_NO_COMPILER}")
    return [str(Path(found).absolute()), *called[1:]]


def _linked(compiler: list[str], model: bytes, shell: Mapping[str, bytes], tables: Tables) -> bytes:
    """Compile the shell, link it with the model, and return the binary."""
    with tempfile.TemporaryDirectory(prefix="ullage-unit-") as name:
        folder = Path(name)
        sources = {**shell, "unit_table.h": tables.header.encode(), "unit_table.c": tables.source.encode()}
        for file, text in sources.items():
            (folder / file).write_bytes(text)
        (folder / "model.o").write_bytes(model)
        called = [file for file in sources if file.endswith(".c")]
        command = [*compiler, *_FLAGS, *called, "model.o", "-o", "unit", "-lm", *_ALL_FOUND]
        try:
            done = subprocess.run(command, cwd=folder, capture_output=True, text=True, errors="replace")
            if done.returncode == 0:
                return (folder / "unit").read_bytes()
            complaint = done.stderr.strip()[:_LONGEST_COMPLAINT] or f"it left with code {done.returncode} and no word"
        except OSError as error:
            complaint = error.strerror or str(error)
    raise ExportError(f"the C compiler {compiler[0]} failed: {complaint}")
