import html
import os
import re
import shutil
import subprocess
import zipfile
from pathlib import Path

import fmpy
import pytest
from llvmlite import binding

import ullage as ul
from embed.units import every_key, exported, outputs_of
from support import truck
from ullage.cautions import CAUTIONS
from ullage.embed.fmi import PLATFORM, export_unit
from ullage.embed.fmi_table import unit_tables
from ullage.embed.fmi_variables import unit_variables
from ullage.embed.unit_object import KNOWN_SYMBOLS, ExportError, declared, refuse_unknown, unit_object
from ullage.scenario.compile import compile_unit

pytestmark = pytest.mark.export

HEADERS = Path(fmpy.__file__).parent / "c-code"
SHELL = Path(ul.__file__).parent / "embed" / "shell"
WARNINGS = ["-Wall", "-Wextra", "-Wpedantic", "-Wshadow", "-Wconversion", "-Wsign-conversion", "-Werror"]
# of the C library, for the shell; those of the model are KNOWN_SYMBOLS
OF_THE_SHELL = {"free", "malloc", "strcmp", "strncmp", "memcmp", "strcpy", "strlen", "vsnprintf", "fmax", "fmin"}
OF_THE_LINKER = {"__cxa_finalize", "__gmon_start__", "_ITM_registerTMCloneTable", "_ITM_deregisterTMCloneTable"}
GUARDS = {"__stack_chk_fail", "__vsnprintf_chk", "__memcpy_chk", "__strcpy_chk"}
elf_only = pytest.mark.skipif(PLATFORM != "linux64" or not shutil.which("readelf"), reason="reads ELF by readelf")


@elf_only
def test_binary_needs_the_c_library_and_its_mathematics_and_shows_the_standard_alone(unit_file):
    needed = subprocess.check_output(["readelf", "-d", unit_file.binary], text=True)
    assert {*re.findall(r"NEEDED.*\[(.+?)\]", needed)} <= {"libm.so.6", "libc.so.6"}
    table = subprocess.check_output(["readelf", "-W", "--dyn-syms", unit_file.binary], text=True)
    rows = [line.split() for line in table.splitlines() if re.match(r"\s*\d+: [0-9a-f]{16}", line)]
    names = {(row[6], row[7].split("@")[0]) for row in rows if len(row) > 7}
    taken = {name for section, name in names if section == "UND"}
    assert taken <= KNOWN_SYMBOLS | OF_THE_SHELL | OF_THE_LINKER | GUARDS
    shown = {name for section, name in names if section != "UND"}
    header = (HEADERS / "fmi2Functions.h").read_text(encoding="utf-8")
    standard = {*re.findall(r"fmi2FullName\((fmi2\w+)\)", header)}
    model_exchange = {
        *("fmi2EnterEventMode", "fmi2NewDiscreteStates", "fmi2EnterContinuousTimeMode", "fmi2CompletedIntegratorStep"),
        *("fmi2SetTime", "fmi2SetContinuousStates", "fmi2GetDerivatives", "fmi2GetEventIndicators"),
        *("fmi2GetContinuousStates", "fmi2GetNominalsOfContinuousStates"),
    }
    assert shown == standard - model_exchange


@pytest.mark.parametrize("header", [[], ["-I", str(HEADERS), "-include", "fmi2Functions.h"]], ids=["own", "standard"])
def test_shell_compiles_without_a_warning_and_by_the_headers_of_the_standard(tmp_path, header):
    units = compile_unit(every_key().spec)
    tables = unit_tables(units, unit_variables(units), "0" * 32)
    (tmp_path / "unit_table.h").write_text(tables.header)
    (tmp_path / "unit_table.c").write_text(tables.source)
    for file in SHELL.iterdir():
        shutil.copy(file, tmp_path)
    sources = sorted(path.name for path in tmp_path.glob("*.c"))
    assert len(sources) == 4
    done = subprocess.run(
        ["cc", "-std=c99", "-O2", "-fPIC", *WARNINGS, *header, "-c", *sources],
        cwd=tmp_path,
        capture_output=True,
        text=True,
    )
    assert (done.returncode, done.stderr) == (0, "")


def test_object_that_takes_what_a_host_does_not_have_is_refused():
    module = binding.parse_assembly(
        "declare double @exp(double)\n declare void @NRT_Free(ptr)\n declare double @llvm.sin.f64(double)\n"
        "declare double @llvm.fabs.f64(double)\n declare double @llvm.pow.f64(double, double)\n"
        "define void @known() { ret void }"
    )
    assert declared(module) == {"exp", "NRT_Free", "llvm.sin.f64", "pow"}
    refuse_unknown({"exp", "pow"})
    with pytest.raises(ExportError, match=r"does not have: NRT_Free, llvm\.sin\.f64: report it"):
        refuse_unknown(declared(module))


def test_without_a_compiler_it_says_how_to_get_one(tmp_path, monkeypatch):
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.delenv("CC", raising=False)
    with pytest.raises(ExportError, match=r"no C compiler is found.*Install one.*or name it in CC"):
        export_unit(truck(), tmp_path / "unit.fmu")
    monkeypatch.undo()
    monkeypatch.setenv("CC", "no_such_compiler")
    with pytest.raises(ExportError, match="no C compiler is found"):
        export_unit(truck(), tmp_path / "unit.fmu")
    assert [*tmp_path.iterdir()] == []


def test_compiler_that_is_named_is_called_with_its_arguments_and_what_it_complains_of_is_told(tmp_path, monkeypatch):
    compiler = tmp_path / "compiler"
    compiler.write_text('#!/bin/sh\necho "$@" > "$SEEN"\necho "no space left for a.o" >&2\nexit 1\n')
    compiler.chmod(0o755)
    monkeypatch.setenv("CC", f"{compiler} -march=none")
    monkeypatch.setenv("SEEN", str(tmp_path / "seen"))
    with pytest.raises(ExportError, match=r"compiler failed: no space left for a\.o"):
        export_unit(truck(), tmp_path / "unit.fmu")
    assert (tmp_path / "seen").read_text().startswith("-march=none -std=c99 ")
    assert not (tmp_path / "unit.fmu").exists()


def test_name_of_another_kind_is_refused(tmp_path):
    with pytest.raises(ExportError, match=r"ends in \.fmu"):
        export_unit(truck(), tmp_path / "unit.zip")


def test_compilation_that_is_switched_off_is_said(monkeypatch):
    monkeypatch.setattr("numba.config.DISABLE_JIT", 1)
    with pytest.raises(ExportError, match="NUMBA_DISABLE_JIT"):
        unit_object()


def test_same_scenario_makes_the_same_bytes_and_another_one_another_guid(unit_file, tmp_path):
    again = exported(every_key(), tmp_path)
    assert again.path.read_bytes() == unit_file.path.read_bytes()
    (tmp_path / "other").mkdir()
    other = exported(every_key().replace({"reservoir.fill": 0.79}), tmp_path / "other")
    assert other.description.guid != unit_file.description.guid


def test_archive_holds_what_the_standard_asks_for_cautions_and_the_scenario(unit_file):
    with zipfile.ZipFile(unit_file.path) as archive:
        assert archive.testzip() is None
        assert sorted(archive.namelist()) == [
            f"binaries/{PLATFORM}/{unit_file.binary.name}",
            "documentation/index.html",
            "modelDescription.xml",
            "resources/scenario.toml",
        ]
    page = (unit_file.folder / "documentation" / "index.html").read_text(encoding="utf-8")
    page = html.unescape(page)
    assert [caution for caution in CAUTIONS if caution not in page] == []
    assert [name for name in unit_file.variables if f"<td>{name}</td>" not in page] == []
    scenario = ul.load_scenario(unit_file.folder / "resources" / "scenario.toml")
    assert scenario.hash == unit_file.scenario.hash


def run_of_host(folder, unit, flags):
    """Compile the host, run it without an environment, and return the outputs of both its instances."""
    names = unit.named("output", "Real")
    host = folder / "host"
    source = Path(__file__).with_name("host.c")
    compiled = ["cc", "-std=c99", "-Wall", "-Wextra", "-O1", *flags, "-I", str(HEADERS), str(source)]
    subprocess.run([*compiled, "-o", str(host), "-ldl"], check=True)
    references = [unit.variables[name].valueReference for name in ("engine_speed", "steering_load", *names)]
    done = subprocess.run(
        [host, unit.binary, unit.description.guid, *map(str, references)], env={}, capture_output=True, text=True
    )
    assert (done.returncode, done.stderr) == (0, "")
    values = [float(line) for line in done.stdout.split()]
    return [dict(zip(names, values[i * len(names) :], strict=False)) for i in range(2)]


def outputs_by_stepper(scenario, load, names):
    stepper = ul.Stepper(scenario)
    for k in range(10000):
        if k % 10 == 0:
            stepper.advance(0.0, engine_speed=300.0 + 0.1 * (k % 700), steering_load=load + 100.0 * (k % 900))
        stepper.advance(0.01)
    return outputs_of(stepper, names)


def test_host_in_c_without_an_environment_finds_what_python_finds_to_the_last_bit(unit_file, tmp_path):
    for load, found in zip((0.0, 1e6), run_of_host(tmp_path, unit_file, []), strict=True):
        expected = outputs_by_stepper(unit_file.scenario, load, found)
        assert {name: value for name, value in found.items() if value != expected[name]} == {}


def test_shell_touches_no_memory_but_its_own(tmp_path, monkeypatch):
    flags = ["-fsanitize=address,undefined", "-fno-sanitize-recover=all"]
    trial = tmp_path / "trial.c"
    trial.write_text("int main(void) { return 0; }\n")
    built = subprocess.run(["cc", *flags, str(trial), "-o", str(tmp_path / "trial")], capture_output=True)
    if built.returncode or subprocess.run([tmp_path / "trial"], env={}, capture_output=True).returncode:
        pytest.skip("this compiler has no sanitizers")
    monkeypatch.setenv("CC", " ".join([os.environ.get("CC", "cc"), *flags]))
    found = run_of_host(tmp_path, exported(every_key(), tmp_path), flags)
    assert found[0]["oil_mass"] == found[1]["oil_mass"] > 5.0
