"""The compiled model as object code: the march of a unit, with nothing of Python in it."""

from __future__ import annotations

from typing import Any

import llvmlite.binding as llvm
import numba

from ullage.errors import UllageError
from ullage.kernel.unit import UNIT_DTYPE, advance_unit, begin_unit

# what the compiled model may take from elsewhere: elementary functions of libm, and copies of memory
KNOWN_SYMBOLS = frozenset({"ceil", "exp", "expm1", "floor", "log", "pow", "sqrt", "memcpy", "memset"})
_numba: Any = numba
_CALLED = KNOWN_SYMBOLS - {"expm1"}  # by instructions of the same names
_FREE = {"fabs", "smin", "smax", "lifetime", "is", "uadd"}  # instructions that call nothing and round nothing
# by the calling convention of Numba: results and errors by pointer, a status that is 0 without an error
_ENTRY = """
declare i32 @"{inner}"(ptr, ptr, {types})
define i64 @{name}({arguments}) {{
    %result = alloca i64
    %error = alloca ptr
    store i64 -1, ptr %result
    %status = call i32 @"{inner}"(ptr %result, ptr %error, {arguments})
    %value = load i64, ptr %result
    %done = icmp eq i32 %status, 0
    %code = select i1 %done, i64 %value, i64 -1
    ret i64 %code
}}
"""


class ExportError(UllageError):
    """A unit that cannot be made; the message says why and what to do."""


def unit_object() -> bytes:
    """Return relocatable object code with `ullage_begin(unit)` and `ullage_advance(unit, seconds)`.

    Returns
    -------
    bytes
        An object file for x86-64 processors of the last fifteen years.

    Raises
    ------
    ExportError
        If it would need what a host does not have.
    """
    if _numba.config.DISABLE_JIT:
        raise ExportError("compilation is switched off by NUMBA_DISABLE_JIT: a unit cannot be made without it")
    types = _numba.types
    record = types.CPointer(_numba.from_dtype(UNIT_DTYPE))
    kernels: tuple[Any, ...] = begin_unit, advance_unit
    begin, advance = (kernel.inner for kernel in kernels)
    carray = _numba.carray

    def begin_at(unit: Any) -> Any:
        return begin(carray(unit, 1))

    def advance_at(unit: Any, seconds: float) -> Any:
        return advance(carray(unit, 1), seconds)

    module = _entered(_numba.cfunc(types.int64(record))(begin_at), "ullage_begin", ["ptr %unit"])
    module.link_in(
        _entered(
            _numba.cfunc(types.int64(record, types.float64))(advance_at),
            "ullage_advance",
            ["ptr %unit", "double %seconds"],
        )
    )
    return _emitted(module)


def _entered(callback: Any, name: str, arguments: list[str]) -> llvm.ModuleRef:
    """Return the module of a function, with an entry of its own in place of the one that tells Python of errors."""
    inner = callback._wrapper_name.removeprefix("cfunc.")
    entry = _ENTRY.format(
        inner=inner, name=name, arguments=", ".join(arguments), types=", ".join(a.split()[0] for a in arguments)
    )
    module = llvm.parse_assembly(callback.inspect_llvm())
    if inner not in {function.name for function in module.functions}:
        raise ExportError(f"Numba {numba.__version__} compiles in another way than a unit expects: report it")
    module.link_in(llvm.parse_assembly(entry))
    return module


def _emitted(module: llvm.ModuleRef) -> bytes:
    machine = llvm.Target.from_default_triple().create_target_machine(
        cpu="x86-64-v2", opt=2, reloc="pic", codemodel="default"
    )
    for number, value in enumerate([*module.functions, *module.global_variables]):
        if value.is_declaration:
            continue
        if value.name in ("ullage_begin", "ullage_advance"):
            value.visibility = "hidden"
        else:
            value.linkage = "internal"
            value.name = f"part_{number}"  # Numba counts what it compiles: the same unit would not be the same file
    manager = llvm.create_new_module_pass_manager()
    manager.add_global_dead_code_eliminate_pass()
    manager.run(module, llvm.create_pass_builder(machine, llvm.create_pipeline_tuning_options()))
    refuse_unknown(declared(module))
    code: bytes = machine.emit_object(module)
    return code


def declared(module: llvm.ModuleRef) -> set[str]:
    """Return the names of all that a module takes from elsewhere."""
    names = {value.name for value in [*module.functions, *module.global_variables] if value.is_declaration}
    instructions = {name.split(".")[1]: name for name in names if name.startswith("llvm.")}
    known = {word for word in instructions if word in _CALLED}
    unknown = {name for word, name in instructions.items() if word not in _CALLED | _FREE}
    return {name for name in names if not name.startswith("llvm.")} | known | unknown


def refuse_unknown(symbols: set[str]) -> None:
    """Raise `ExportError` if a symbol is not one that the C library and its mathematics have."""
    if unknown := sorted(symbols - KNOWN_SYMBOLS):
        raise ExportError(f"the model needs what a unit does not have: {', '.join(unknown)}: report it")
