"""Change one thing in the code, run the tests of its folder, and see whether one of them notices.

    python -m tests.hardening.mutants [mutants a folder] [seed] [folder ...]

A mutant is a module in which one comparison, sum, number, truth value or answer is another; they are drawn at random from all
that could be made. Of each it is asked whether a test fails (or the import does, or the clock runs out): it is killed then.
Asked are the tests of its folder that call the changed function, the quick ones before the others, or all of them where it is a
constant of the module; tests that take longer than SLOW_S are left out, and laws are tried on a fifth of their examples: what
is killed here is killed by the suite, and not the reverse. Survivors are printed with what was changed. Takes an hour or two, so
it is a script and no test;
`test_mutants.py` holds how mutants are made.
"""

from __future__ import annotations

import ast
import contextlib
import copy
import importlib.machinery
import os
import random
import resource
import signal
import sys
import time
from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from types import FrameType
from typing import Any, Final

ROOT: Final = Path(__file__).parents[2]
FOLDERS: Final = ("place", "vet", "suspects", "measure", "compare")
SLOW_S: Final = 3.0  # of CPU, a test with its fixtures
MOST_CPU_S: Final = 60
HEAVY: Final = (
    "numpy", "pandas", "pyarrow.compute", "pyarrow.csv", "scipy.stats", "scipy.spatial", "scipy.optimize", "shapely", "pyproj",
    "hypothesis", "pytest", "pydantic", "statsmodels.api", "geographiclib.geodesic", "maidenhead", "jinja2",
)  # fmt: skip
COMPARED: Final[dict[type[ast.cmpop], type[ast.cmpop]]] = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.In: ast.NotIn, ast.NotIn: ast.In, ast.Is: ast.IsNot, ast.IsNot: ast.Is,
}  # fmt: skip
RECKONED: Final[dict[type[ast.operator], type[ast.operator]]] = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.FloorDiv: ast.Mult, ast.Mod: ast.Mult,
    ast.Pow: ast.Mult, ast.BitAnd: ast.BitOr, ast.BitOr: ast.BitAnd, ast.LShift: ast.RShift, ast.RShift: ast.LShift,
}  # fmt: skip
Change = Callable[[ast.AST], ast.AST]


@dataclass(frozen=True)
class Mutant:
    """path : of the module, from the root; at : which of its nodes, in the order of `ast.walk`; change : what becomes of it."""

    path: str
    at: int
    change: Change = field(repr=False)
    line: int
    function: int  # the line where the function around it begins; 0 where it is in none
    told: str

    def tree(self) -> ast.Module:
        tree = ast.parse((ROOT / self.path).read_text(encoding="utf-8"))
        node = list(ast.walk(tree))[self.at]
        new = ast.copy_location(self.change(copy.deepcopy(node)), node)
        for parent in ast.walk(tree):
            for name, value in ast.iter_fields(parent):
                if value is node:
                    setattr(parent, name, new)
                elif isinstance(value, list):
                    value[:] = [new if each is node else each for each in value]
        return ast.fix_missing_locations(tree)


# --- what can be changed --------------------------------------------------------------------------------------------------


def changes(node: ast.AST) -> Iterator[Change]:
    """What can be made of one node."""
    if isinstance(node, ast.Compare) and len(node.ops) == 1:
        yield lambda n: ast.Compare(n.left, [COMPARED[type(n.ops[0])]()], n.comparators)  # type: ignore[attr-defined]
    elif isinstance(node, ast.BinOp) and type(node.op) in RECKONED:
        yield lambda n: ast.BinOp(n.left, RECKONED[type(n.op)](), n.right)  # type: ignore[attr-defined]
    elif isinstance(node, ast.BoolOp):
        yield lambda n: ast.BoolOp(ast.Or() if isinstance(n.op, ast.And) else ast.And(), n.values)  # type: ignore[attr-defined]
    elif isinstance(node, ast.UnaryOp):
        yield lambda n: n.operand  # type: ignore[attr-defined]
    elif isinstance(node, ast.Constant) and isinstance(node.value, bool):
        yield lambda n: ast.Constant(not n.value)  # type: ignore[attr-defined]
    elif isinstance(node, ast.Constant) and isinstance(node.value, int):
        yield lambda n: ast.Constant(n.value + 1)  # type: ignore[attr-defined]
    elif isinstance(node, ast.Constant) and isinstance(node.value, float):
        yield lambda n: ast.Constant(n.value * 1.5 + (n.value == 0))  # type: ignore[attr-defined]
    elif isinstance(node, ast.Return) and node.value is not None:
        yield lambda n: ast.Return(ast.Constant(None))


def left_alone(node: ast.AST) -> list[ast.AST]:
    """Parts of a node where a change means nothing: types, sentences, what only a type checker reads."""
    if isinstance(node, ast.FunctionDef):
        given = [*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs, node.args.vararg, node.args.kwarg]
        return [each for each in (node.returns, *(a.annotation for a in given if a), *node.decorator_list) if each]
    if isinstance(node, ast.AnnAssign):
        return [node.annotation]
    if isinstance(node, ast.If) and isinstance(node.test, ast.Name) and node.test.id == "TYPE_CHECKING":
        return [node]
    if isinstance(node, ast.JoinedStr | ast.Raise):
        return [node]
    if isinstance(node, ast.Subscript) and isinstance(node.value, ast.Name | ast.Attribute):
        name = ast.unparse(node.value)
        return [node] if name.endswith(("NDArray", "Callable", "Literal")) or name in ("list", "dict", "tuple") else []
    return []


def mutants(path: str) -> list[Mutant]:
    """Every mutant of a module."""
    tree = ast.parse((ROOT / path).read_text(encoding="utf-8"))
    skipped = {id(inner) for node in ast.walk(tree) for outer in left_alone(node) for inner in ast.walk(outer)}
    around: dict[int, int] = {}
    for node in ast.walk(tree):  # outer functions come first, so the innermost stays
        if isinstance(node, ast.FunctionDef):
            first = min([node.lineno, *(each.lineno for each in node.decorator_list)])
            around.update((id(inner), first) for inner in ast.walk(node))
    found = []
    for at, node in enumerate(ast.walk(tree)):
        for change in changes(node) if id(node) not in skipped else ():
            new = ast.fix_missing_locations(ast.copy_location(change(copy.deepcopy(node)), node))
            told = f"{ast.unparse(node)}  ->  {ast.unparse(new)}"
            found.append(Mutant(path, at, change, node.lineno, around.get(id(node), 0), told))  # type: ignore[attr-defined]
    return found


def drawn(folder: str, count: int, seed: int) -> list[Mutant]:
    """Some mutants of a folder, drawn at random."""
    paths = sorted(path.relative_to(ROOT).as_posix() for path in (ROOT / "reach" / folder).rglob("*.py"))
    every = [mutant for path in paths for mutant in mutants(path)]
    return random.Random(f"{seed} {folder}").sample(every, min(count, len(every)))


# --- which tests call what ------------------------------------------------------------------------------------------------


class Watch:
    """A plugin of pytest that sees which functions of a folder each test calls, with its fixtures, and what it takes."""

    def __init__(self, folder: str) -> None:
        self.inside = str(ROOT / "reach" / folder)
        self.called: dict[str, set[tuple[str, int]]] = defaultdict(set)
        self.cpu_s: dict[str, float] = defaultdict(float)
        self.fixtures: dict[str, set[str]] = {}
        self.names: list[str] = []

    def pytest_runtest_protocol(self, item: Any) -> None:
        test = item.nodeid.split("[")[0]
        self.fixtures.setdefault(test, set()).update(item.fixturenames)
        self.names, self.began = [test], time.process_time()
        sys.settrace(self._trace)

    def pytest_fixture_setup(self, fixturedef: Any) -> None:
        self.names.append(fixturedef.argname)
        sys.settrace(self._trace)

    def pytest_fixture_post_finalizer(self) -> None:
        sys.settrace(self._trace)

    def pytest_runtest_call(self) -> None:
        self.names = self.names[:1]
        sys.settrace(self._trace)

    def pytest_runtest_logfinish(self) -> None:
        sys.settrace(None)
        self.cpu_s[self.names[0]] += time.process_time() - self.began

    def _trace(self, frame: FrameType, event: str, arg: object) -> None:
        path = frame.f_code.co_filename
        if path.startswith(self.inside):
            where = (Path(path).relative_to(ROOT).as_posix(), frame.f_code.co_firstlineno)
            for name in self.names:
                self.called[name].add(where)

    def tests(self) -> dict[str, tuple[float, set[tuple[str, int]]]]:
        """For each test what it takes and which functions it calls, by their file and line."""
        return {
            test: (self.cpu_s[test], self.called[test].union(*(self.called[name] for name in fixtures)))
            for test, fixtures in self.fixtures.items()
        }


# --- one mutant -----------------------------------------------------------------------------------------------------------


class Quick:
    """A plugin of pytest: few examples, and Hypothesis ends with the first that fails rather than look for the shortest."""

    def pytest_collection(self) -> None:
        from hypothesis import Phase, settings

        phases = (Phase.explicit, Phase.generate)
        settings.register_profile("quick", settings.get_profile("reach"), phases=phases, max_examples=12, database=None)
        settings.load_profile("quick")


def _pytest(arguments: Sequence[str], *plugins: object) -> int:
    import pytest

    usual = ["-q", "-n0", "-p", "no:cacheprovider", "-W", "ignore:Module already imported"]
    return int(pytest.main([*usual, *arguments], plugins=[Quick(), *plugins]))


def _in_a_child(work: Callable[[int], int], most_cpu_s: float) -> tuple[int | None, bytes]:
    """What a forked process ends with and writes; None where a signal ended it, as it does after so many seconds."""
    read, write = os.pipe()
    child = os.fork()
    if not child:
        code = 70
        try:
            os.close(read)
            resource.setrlimit(resource.RLIMIT_CPU, (int(most_cpu_s), int(most_cpu_s) + 5))
            nowhere = os.open(os.devnull, os.O_RDWR)
            for number in (0, 1, 2):
                os.dup2(nowhere, number)
            code = work(write)
        finally:
            os._exit(code)
    os.close(write)
    with open(read, "rb") as pipe:
        said = pipe.read()
    _, status = os.waitpid(child, 0)
    return (os.WEXITSTATUS(status) if os.WIFEXITED(status) else None), said


def watched(folder: str) -> dict[str, tuple[float, set[tuple[str, int]]]]:
    """For each test of a folder what it takes and calls; SystemExit where they fail by themselves."""

    def work(pipe: int) -> int:
        watch = Watch(folder)
        code = _pytest([f"tests/{folder}"], watch)
        with open(pipe, "w") as out:
            out.write(repr(watch.tests()))
        return code

    code, said = _in_a_child(work, 3600)
    if code:
        raise SystemExit(f"the tests of {folder} fail by themselves")
    return dict(ast.literal_eval(said.decode()))


def is_killed(mutant: Mutant, tests: Sequence[str], most_cpu_s: float = MOST_CPU_S) -> bool:
    """Whether one of some tests fails with a mutant, or runs out of time."""

    def work(pipe: int) -> int:
        code = compile(mutant.tree(), str(ROOT / mutant.path), "exec")
        usual = importlib.machinery.SourceFileLoader.get_code

        def get_code(self: importlib.machinery.SourceFileLoader, name: str) -> Any:
            return code if self.path == str(ROOT / mutant.path) else usual(self, name)

        importlib.machinery.SourceFileLoader.get_code = get_code  # type: ignore[method-assign]
        return _pytest(["-x", *tests])

    return bool(tests) and _in_a_child(work, most_cpu_s)[0] != 0


def try_one(mutant: Mutant, tests: dict[str, tuple[float, set[tuple[str, int]]]]) -> bool:
    """Whether a test of the folder kills a mutant."""
    quick = sorted((test for test, (cpu_s, _) in tests.items() if cpu_s <= SLOW_S), key=lambda test: tests[test][0])
    near = [test for test in quick if (mutant.path, mutant.function) in tests[test][1]]
    return is_killed(mutant, near if mutant.function else quick)


def main(count: int = 60, seed: int = 1, *folders: str) -> None:
    os.chdir(ROOT)
    for name in HEAVY:  # imported once; of ours nothing may be, for each child imports its own
        with contextlib.suppress(ImportError):
            importlib.import_module(name)
    signal.signal(signal.SIGXCPU, signal.SIG_DFL)
    all_killed = tried = 0
    for folder in folders or FOLDERS:
        tests, killed = watched(folder), 0
        chosen = drawn(folder, count, seed)
        for number, mutant in enumerate(chosen, start=1):
            dead = try_one(mutant, tests)
            killed += dead
            if not dead or number % 10 == 0:
                survivor = "" if dead else f"; survived: {mutant.path}:{mutant.line}  {mutant.told}"
                print(f"{folder}: {killed} of {number} killed{survivor}", flush=True)
        print(f"{folder}: {killed} of {len(chosen)} killed", flush=True)
        all_killed, tried = all_killed + killed, tried + len(chosen)
    print(f"{all_killed} of {tried} killed: {all_killed / tried:.1%}")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:3]), *sys.argv[3:])
