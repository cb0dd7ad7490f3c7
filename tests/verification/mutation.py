"""Put an error of 2 % into every constant and term of every law, one at a time, and ask whether a check notices.

    python tests/verification/mutation.py            every law, some minutes
    python tests/verification/mutation.py oil tank   the laws of some modules

A mutant is noticed by a row against the outside, or else by a test of the laws (`tests/physics`). What survives is
printed with its line; the exit code is 1 if anything survives, or breaks the checks, without a reason in `EXPLAINED`.
"""

import ast
import contextlib
import importlib
import os
import sys
from collections import Counter
from pathlib import Path
from typing import NamedTuple

os.environ["NUMBA_DISABLE_JIT"] = "1"
TESTS = Path(__file__).parents[1]
sys.path[:0] = [str(TESTS), str(TESTS / "verification")]

import pytest  # noqa: E402

from outside import WHOLE_JOB  # noqa: E402
from rows import CHECKS  # noqa: E402

MODULES = ("air", "atmosphere", "oil", "water", "tank", "valve", "line", "pump", "cooler", "bubbles")  # users last
FACTORS = (1.02, 0.98)
SURVIVES, BY_ROW, BY_TEST, STOPS = range(4)
# (law, expression): why no check can notice
EXPLAINED = {
    ("kinematic_viscosity", "2.5"): "keeps an exponential from overflowing, far beyond the highest viscosity",
    ("gas_orifice_flow", "downstream"): "without a difference the other branch gives no flow either",
    ("friction_factor", "1000.0"): "below it both branches are 64 / Re to twelve digits",
    ("crossflow_effectiveness", "1e-09"): "keeps a quotient from becoming 0 / 0; on both sides 1 - exp(-NTU)",
    ("core_heat_rate", "1e-09"): "keeps a quotient from becoming 0 / 0; the heat is nothing on both sides",
    ("rise_velocity", "stokes"): "the first guess of Newton's method",
}


class Site(NamedTuple):
    """A place in a module that can be wrong."""

    law: str
    line: int
    expression: str


class Mutation(ast.NodeTransformer):
    """Multiply the `target`th place by a factor; with no target only list the places."""

    def __init__(self, target=None, factor=1.0):
        self.target, self.factor, self.sites, self.law = target, factor, [], ""

    def visit_FunctionDef(self, node):
        self.law = node.name
        node.body = [self.visit(statement) for statement in node.body]
        self.law = ""
        return node

    def visit_Call(self, node):
        counts = isinstance(node.func, ast.Name) and node.func.id == "range"
        if not counts:
            node.args = [self._term(argument) for argument in node.args]
        return node

    def visit_BinOp(self, node):
        sum_of_terms = isinstance(node.op, (ast.Add, ast.Sub))
        wrong = self._term if sum_of_terms else self.visit
        node.left, node.right = wrong(node.left), wrong(node.right)
        return node

    def visit_Compare(self, node):
        node.left = self.visit(node.left)
        node.comparators = [self._term(limit) for limit in node.comparators]
        return node

    def visit_Return(self, node):
        node.value = self._term(node.value)
        return node

    def visit_Assign(self, node):
        taken_apart = isinstance(node.targets[0], ast.Tuple)
        node.value = self.visit(node.value) if taken_apart else self._term(node.value)
        return node

    def visit_AugAssign(self, node):
        node.value = self._term(node.value)
        return node

    def visit_AnnAssign(self, node):
        node.value = self._term(node.value)
        return node

    def visit_Constant(self, node):
        return self._wrong(node) if isinstance(node.value, float) and node.value else node

    def _term(self, node):
        if isinstance(node, ast.Tuple):
            node.elts = [self._term(part) for part in node.elts]
            return node
        if isinstance(node, ast.UnaryOp):
            node.operand = self._term(node.operand)
            return node
        if isinstance(node, ast.Constant):
            return self.visit(node)
        return self._wrong(node, self.visit)

    def _wrong(self, node, inside=lambda node: node):
        self.sites.append(Site(self.law, node.lineno, ast.unparse(node)))
        hit = len(self.sites) - 1 == self.target
        node = inside(node)
        return ast.BinOp(ast.Constant(self.factor), ast.Mult(), node) if hit else node


def source_of(module):
    return Path(module.__file__).read_text(encoding="utf-8")


def sites_of(module):
    listing = Mutation()
    listing.visit(ast.parse(source_of(module)))
    return listing.sites


def break_law(module, target, factor):
    """Run the module again with one place wrong, and after it those that take its constants."""
    tree = Mutation(target, factor).visit(ast.parse(source_of(module)))
    exec(compile(ast.fix_missing_locations(tree), module.__file__, "exec"), module.__dict__)
    name = module.__name__.rpartition(".")[2]
    for later in MODULES[MODULES.index(name) + 1 :]:
        other = importlib.import_module(f"ullage.physics.{later}")
        exec(compile(source_of(other), other.__file__, "exec"), other.__dict__)


def noticed_by(law, module):
    """Return what notices: the rows, those of the law first, or the tests of the laws."""
    rows = [check for check in CHECKS if check.law != WHOLE_JOB]
    rows.sort(key=lambda check: (f"{module}.{law}" not in check.law, f"{module}." not in check.law))
    if any(check.misses() for check in rows):
        return BY_ROW
    quiet = ["-q", "-x", "-p", "no:cacheprovider", "-p", "no:hypothesispytest", str(TESTS / "physics")]
    return BY_TEST if pytest.main(quiet) else SURVIVES


def in_child(task):
    """Start a task in a forked process, silent; its result is the exit code."""
    child = os.fork()
    if child:
        return child
    code = STOPS
    with open(os.devnull, "w", encoding="utf-8") as nowhere, contextlib.redirect_stdout(nowhere):
        with contextlib.suppress(Exception):
            code = task()
        os._exit(code)


def outcomes(mutants):
    """Yield mutant and outcome, as many at a time as there are processors."""
    running = {}
    for mutant in mutants:
        module, target, factor, site = mutant

        def task(module=module, target=target, factor=factor, site=site):
            break_law(module, target, factor)
            return noticed_by(site.law, module.__name__.rpartition(".")[2])

        running[in_child(task)] = mutant
        while len(running) >= (os.cpu_count() or 1):
            done, status = os.wait()
            yield running.pop(done), os.waitstatus_to_exitcode(status)
    while running:
        done, status = os.wait()
        yield running.pop(done), os.waitstatus_to_exitcode(status)


def main(names):
    if unknown := [name for name in names if name not in MODULES]:
        sys.exit(f"no laws in {', '.join(unknown)}; there are {', '.join(MODULES)}")
    sound = in_child(lambda: noticed_by("", ""))
    if os.waitstatus_to_exitcode(os.waitpid(sound, 0)[1]) != SURVIVES:
        sys.exit("a check fails with the laws as they are; mend that first")
    modules = [importlib.import_module(f"ullage.physics.{name}") for name in names or MODULES]
    mutants = [
        (module, target, factor, site)
        for module in modules
        for target, site in enumerate(sites_of(module))
        for factor in FACTORS
    ]
    counts, unexplained = Counter(), 0
    for (module, _, factor, site), outcome in outcomes(mutants):
        counts[outcome] += 1
        if outcome in (SURVIVES, STOPS):
            reason = EXPLAINED.get((site.law, site.expression), "NO REASON")
            unexplained += reason == "NO REASON"
            name, what = module.__name__.rpartition(".")[2], "survives" if outcome == SURVIVES else "no check ran"
            print(f"{what}: {name}.py:{site.line} {site.law}: {factor} * ({site.expression}): {reason}", flush=True)
    noticed = f"{counts[BY_ROW]} noticed by a row, {counts[BY_TEST]} by a test of the law"
    print(f"{len(mutants)} mutants: {noticed}, {counts[STOPS]} without a check, {counts[SURVIVES]} survive")
    return 1 if unexplained else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
