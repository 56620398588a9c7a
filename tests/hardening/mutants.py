"""Change one thing in the code, run the tests that come by there, and see whether one of them notices.

    python -m tests.hardening.mutants [mutants a folder] [seed] [folder ...]

A mutant is a module in which one comparison, sum, number, truth value or answer is another; they are drawn at random from all
that could be made. Of each it is asked whether a test fails (or the import does, or the clock runs out): it is killed then.
All tests of the five folders, and of `tests/kept`, whose answers all of them have a part in, are run once, to see which functions each of
them calls and what it takes; those above SLOW_S are left out, and laws are tried on a fifth of their examples: what is killed here is
killed by the suite, and not the reverse.
A mutant is put into a fork of a process that has collected all tests, and the tests that call the function, or one that reads the
constant, are run there, the quickest first: half a second or so. What lives on and is worked out at the import of its module
(constants, classes, defaults) is tried again by an import from nothing and all tests that come by the module; what lives on then is
printed with what was changed. Takes half an hour to an hour, so it is a script and no test; `test_mutants.py` holds how mutants are
made and put in. What is found is kept among the temporary files, under the hash of the code and its tests: cut short, the same order
goes on where it stood, and another sample does not begin anew.
"""

from __future__ import annotations

import ast
import contextlib
import copy
import functools
import gc
import hashlib
import importlib.machinery
import itertools
import json
import os
import random
import resource
import signal
import sys
import tempfile
import threading
import time
from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from types import CodeType, FrameType, FunctionType
from typing import Any, Final, TextIO

import pytest
from hypothesis import Phase, settings

ROOT: Final = Path(__file__).parents[2]
FOLDERS: Final = ("place", "vet", "suspects", "measure", "compare")
TESTS: Final = (*FOLDERS, "kept")  # by whose tests they are tried
SLOW_S: Final = 3.0  # of CPU, a test with its fixtures
MOST_BYTES: Final = 12 << 30
HEAVY: Final = (
    "numpy", "pandas", "pyarrow.compute", "pyarrow.csv", "scipy.stats", "scipy.spatial", "scipy.optimize", "shapely", "pyproj",
    "pydantic", "statsmodels.api", "geographiclib.geodesic", "maidenhead", "jinja2",
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
    elif isinstance(node, ast.Return) and node.value is not None and ast.unparse(node.value) != "None":
        yield lambda n: ast.Return(ast.Constant(None))


def left_alone(node: ast.AST) -> list[ast.AST]:
    """Parts of a node where a change means nothing: types, sentences, what only a type checker reads, guards against ourselves."""
    if isinstance(node, ast.FunctionDef):
        given = [*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs, node.args.vararg, node.args.kwarg]
        return [each for each in (node.returns, *(a.annotation for a in given if a), *node.decorator_list) if each]
    if isinstance(node, ast.ClassDef):  # frozen, slots
        return list(node.decorator_list)
    if isinstance(node, ast.keyword) and node.arg == "strict":
        return [node]
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
            # Defaults are worked out where the function is made.
            before = {
                id(each) for part in (*node.args.defaults, *node.args.kw_defaults) if part for each in ast.walk(part)
            }
            around.update((id(inner), first) for inner in ast.walk(node) if id(inner) not in before)
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


@dataclass
class Test:
    """name : its address without parameters; cpu_s : what it takes with its fixtures; called : functions, as (path, line)."""

    name: str
    cpu_s: float
    called: set[tuple[str, int]]

    def calls(self, mutant: Mutant) -> bool:
        return (mutant.path, mutant.function) in self.called

    def visits(self, mutant: Mutant) -> bool:
        return any(path == mutant.path for path, _ in self.called)


class Watch:
    """A plugin of pytest that sees which functions of the folders each test calls, with its fixtures, and what it takes."""

    def __init__(self) -> None:
        self.inside = tuple(f"{ROOT}/reach/{folder}/" for folder in FOLDERS)
        self.called: dict[str, set[tuple[str, int]]] = defaultdict(set)
        self.cpu_s: dict[str, float] = defaultdict(float)
        self.fixtures: dict[str, set[str]] = {}
        self.at_work: list[str] = []
        self.kept: list[Any] = []

    def pytest_collection_finish(self) -> None:
        gc.unfreeze()
        self.kept = [each for each in _caches() if each.__module__.startswith(("reach.", "tests."))]

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: Any) -> Iterator[None]:
        test = item.nodeid.split("[")[0]
        for each in self.kept if test not in self.fixtures else ():
            each.cache_clear()  # what is kept would be called by the first test that asks for it alone
        self.fixtures.setdefault(test, set()).update(item.fixturenames)
        # What is slow is left out anyway, so it is not run to its end: 2 as a watched one takes longer.
        signal.signal(signal.SIGPROF, lambda *_: pytest.skip("slow"))
        signal.setitimer(signal.ITIMER_PROF, 2 * SLOW_S)
        try:
            return (yield from self._seen(test))
        finally:
            signal.setitimer(signal.ITIMER_PROF, 0)

    @pytest.hookimpl(wrapper=True)
    def pytest_fixture_setup(self, fixturedef: Any) -> Iterator[None]:
        return (yield from self._seen(fixturedef.argname))

    def _seen(self, name: str) -> Iterator[None]:
        self.at_work.append(name)
        began = time.process_time()
        threading.settrace(self._trace)  # columns are judged by threads of their own
        sys.settrace(self._trace)
        try:
            return (yield)
        finally:
            took_s = time.process_time() - began
            self.cpu_s[name] += took_s
            self.at_work.pop()
            if self.at_work:
                self.cpu_s[self.at_work[-1]] -= took_s
            else:
                sys.settrace(None)
                threading.settrace(None)  # type: ignore[arg-type]

    def _trace(self, frame: FrameType, event: str, arg: object) -> None:
        path = frame.f_code.co_filename
        if path.startswith(self.inside):
            self.called[self.at_work[-1]].add((path[len(str(ROOT)) + 1 :], frame.f_code.co_firstlineno))

    def tests(self) -> list[Test]:
        """The quick ones, the quickest first."""
        every = [
            Test(
                name,
                sum((self.cpu_s[each] for each in fixtures), self.cpu_s[name]),
                self.called[name].union(*(self.called[each] for each in fixtures)),
            )
            for name, fixtures in self.fixtures.items()
        ]
        return sorted((test for test in every if test.cpu_s <= SLOW_S), key=lambda test: test.cpu_s)


def _caches() -> list[Any]:
    return [each for each in gc.get_objects() if isinstance(each, functools._lru_cache_wrapper)]


def words_of(mutant: Mutant) -> set[str]:
    """What the statement of a module that a mutant is in defines: a constant, a class, or a function by its defaults."""
    for statement in ast.parse((ROOT / mutant.path).read_text(encoding="utf-8")).body:
        if statement.lineno <= mutant.line <= (statement.end_lineno or 0):
            if isinstance(statement, ast.FunctionDef):
                return {statement.name}
            stored = {
                each.id
                for each in ast.walk(statement)
                if isinstance(each, ast.Name) and isinstance(each.ctx, ast.Store)
            }
            return stored or {getattr(statement, "name", "")}
    return set()


@functools.cache
def _read_in(path: str) -> dict[int, set[str]]:
    """Which names each function of a module reads, by the line where it begins."""
    waiting, found = [compile((ROOT / path).read_text(encoding="utf-8"), path, "exec")], {}
    while waiting:
        code = waiting.pop()
        found[code.co_firstlineno] = set(code.co_names)
        waiting += [each for each in code.co_consts if isinstance(each, CodeType)]
    return found


def nearest(mutant: Mutant, tests: Sequence[Test]) -> list[Test]:
    """The tests that call a mutant's function, or one that reads its constant."""
    if mutant.function:
        return [test for test in tests if test.calls(mutant)]
    words = words_of(mutant)
    return [test for test in tests if any(words & _read_in(path).get(line, set()) for path, line in test.called)]


def in_turn(mutant: Mutant, tests: Sequence[Test]) -> list[Test]:
    """The tests that come by a mutant's module, the nearest first."""
    near = nearest(mutant, tests)
    return near + [test for test in tests if test not in near and test.visits(mutant)] or list(tests)


# --- pytest in processes of its own ---------------------------------------------------------------------------------------


class Quick:
    """A plugin of pytest: few examples, and Hypothesis ends with the first that fails rather than look for the shortest."""

    def pytest_collection(self) -> None:
        phases = (Phase.explicit, Phase.generate)
        settings.register_profile("quick", settings.get_profile("reach"), phases=phases, max_examples=12, database=None)
        settings.load_profile("quick")


def _pytest(arguments: Sequence[str], *plugins: object) -> int:
    usual = ["-q", "-n0", "-p", "no:cacheprovider", "-W", "ignore:Module already imported"]
    return int(pytest.main([*usual, *arguments], plugins=[Quick(), *plugins]))


def _child(work: Callable[[TextIO], int], most_cpu_s: float, *, silent: bool = True) -> Iterator[str]:
    """The lines that a forked process writes, and at the last what it ended with: "0", or "" where a signal ended it."""
    read, write = os.pipe()
    child = os.fork()
    if not child:
        code = 70
        try:
            os.close(read)
            resource.setrlimit(resource.RLIMIT_CPU, (int(most_cpu_s), int(most_cpu_s) + 5))
            resource.setrlimit(resource.RLIMIT_AS, (MOST_BYTES, MOST_BYTES))
            if silent:
                nowhere = os.open(os.devnull, os.O_RDWR)
                for number in (0, 1, 2):
                    os.dup2(nowhere, number)
            with open(write, "w") as out:
                code = work(out)
        finally:
            os._exit(code)
    os.close(write)
    with open(read) as lines:
        yield from lines
    _, status = os.waitpid(child, 0)
    yield str(os.WEXITSTATUS(status)) if os.WIFEXITED(status) else ""


def _most_cpu_s(tests: Sequence[Test]) -> float:
    return 20 + 3 * sum(test.cpu_s for test in tests)


def watched(folder: str) -> list[Any]:
    """The quick tests of a folder of tests, as what a Test is made of; SystemExit where a test fails by itself."""

    def work(out: TextIO) -> int:
        watch = Watch()
        code = _pytest([f"tests/{folder}"], watch)
        told = [(test.name, test.cpu_s, sorted(test.called)) for test in watch.tests()]
        out.write(json.dumps(told) + "\n")
        return code

    *said, code = _child(work, 3600)
    if code != "0":
        raise SystemExit(f"tests/{folder}: the tests fail by themselves")
    return list(json.loads(said[0]))


# --- all modules and tests are imported once, and a function or constant is exchanged in a fork of that -----------------------


class Exchange:
    """A plugin of pytest that runs, instead of its tests, some of them for each mutant, and tells the name of one that failed.

    killers : tests that failed in an earlier run; at the end it is seen whether these and its own pass without a mutant
    """

    def __init__(
        self, wanted: Sequence[tuple[Mutant, Sequence[Test]]], killers: set[str], tell: Callable[[str], object]
    ) -> None:
        self.wanted, self.killers, self.tell = wanted, killers, tell

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        items: dict[str, list[pytest.Item]] = defaultdict(list)
        for item in session.items:
            items[item.nodeid.split("[")[0]].append(item)
        gc.unfreeze()
        functions: dict[tuple[str, int], list[FunctionType]] = defaultdict(list)
        for each in gc.get_objects():
            if isinstance(each, FunctionType) and each.__code__.co_filename.startswith(f"{ROOT}/reach/"):
                functions[each.__code__.co_filename, each.__code__.co_firstlineno].append(each)
        kept = _caches()
        gc.freeze()
        killers = {each for each in self.killers if each in items}  # "the clock" is none
        for mutant, tests in self.wanted:

            def work(out: TextIO, mutant: Mutant = mutant, tests: Sequence[Test] = tests) -> int:
                for each in kept:
                    each.cache_clear()
                exchange(mutant, functions)
                out.write(failing(session, [item for test in tests for item in items[test.name]]))
                return 0

            *said, code = _child(work, _most_cpu_s(tests), silent=False)
            killers.update(said)
            self.tell("".join(said) or ("" if code else "the clock"))  # what else goes wrong here is tried again
        *said, _ = _child(
            lambda out: out.write(failing(session, [item for test in sorted(killers) for item in items[test]])),
            3600,
            silent=False,
        )
        self.tell(f"! {''.join(said)}")
        return True


def exchange(mutant: Mutant, functions: dict[tuple[str, int], list[FunctionType]]) -> None:
    """Give every function of a mutant's module the code that it has there; a constant its value, wherever it was imported."""
    tree = mutant.tree()
    if not mutant.function:
        _exchange_constant(mutant, tree)
        return
    path = str(ROOT / mutant.path)
    waiting = [compile(tree, path, "exec")]
    while waiting:
        code = waiting.pop()
        for each in functions.get((path, code.co_firstlineno), ()):
            if each.__code__.co_qualname == code.co_qualname and each.__code__.co_freevars == code.co_freevars:
                each.__code__ = code
        waiting += [each for each in code.co_consts if isinstance(each, CodeType)]


def _exchange_constant(mutant: Mutant, tree: ast.Module) -> None:
    ours = [each for name, each in list(sys.modules.items()) if name.startswith(("reach.", "tests."))]
    home = next((each for each in ours if getattr(each, "__file__", None) == str(ROOT / mutant.path)), None)
    statement = next(each for each in tree.body if each.lineno <= mutant.line <= (each.end_lineno or 0))
    if home is None or not isinstance(statement, ast.Assign | ast.AnnAssign):
        return  # to be imported anew
    usual, new = vars(home), dict(vars(home))
    exec(compile(ast.Module([statement], []), "constant", "exec"), new)
    for name in words_of(mutant) & set(usual):
        old = usual[name]
        for each in ours:
            if vars(each).get(name) is old:
                setattr(each, name, new[name])


def failing(session: pytest.Session, items: Sequence[pytest.Item]) -> str:
    """The name of the first test that fails, or "" where all pass."""
    for item, following in zip(items, [*items[1:], None], strict=True):
        session.config.hook.pytest_runtest_protocol(item=item, nextitem=following)
        if session.testsfailed:
            return item.nodeid.split("[")[0]
    return ""


def exchanged(wanted: Sequence[tuple[Mutant, Sequence[Test]]], killers: set[str]) -> Iterator[str]:
    """For each mutant a test that fails where it is put in, or "".

    SystemExit where one of these tests, or of those that killed before, fails without a mutant too.
    """
    files = [f"tests/{folder}" for folder in TESTS]
    lines = _child(
        lambda out: _pytest(files, Exchange(wanted, killers, lambda word: print(word, file=out, flush=True))), 36_000
    )
    for _ in wanted:
        yield next(lines).strip()
    if said := next(lines).strip(" !\n"):
        raise SystemExit(f"fails without a mutant: {said}")


# --- those that live on: the module is imported anew ------------------------------------------------------------------------


def fails_anew(mutant: Mutant, tests: Sequence[Test]) -> bool:
    """Whether one of some tests fails, or runs out of time, where the mutant is imported in place of its module."""

    def work(out: TextIO) -> int:
        code = compile(mutant.tree(), str(ROOT / mutant.path), "exec")
        usual = importlib.machinery.SourceFileLoader.get_code

        def get_code(self: importlib.machinery.SourceFileLoader, name: str) -> Any:
            return code if self.path == str(ROOT / mutant.path) else usual(self, name)

        importlib.machinery.SourceFileLoader.get_code = get_code  # type: ignore[method-assign]
        return _pytest(["-x", *(test.name for test in tests)])

    return bool(tests) and list(_child(work, _most_cpu_s(tests)))[-1] != "0"


# --- what an earlier run found ------------------------------------------------------------------------------------------------


class Kept:
    """What was found of this code, a line of JSON each in a file: a line that was cut off counts as none."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.known: dict[str, Any] = {}
        for line in path.read_text(encoding="utf-8").splitlines() if path.exists() else ():
            with contextlib.suppress(ValueError):
                self.known.update([json.loads(line)])

    @classmethod
    def of_this_code(cls) -> Kept:
        found = hashlib.sha256()
        held = [("reach", "*.py"), ("tests", "*.py"), ("tests/kept", "*.json")]
        for path in sorted(each for room, name in held for each in (ROOT / room).rglob(name)):
            found.update(path.relative_to(ROOT).as_posix().encode() + path.read_bytes())
        return cls(Path(tempfile.gettempdir()) / f"reach-mutants-{found.hexdigest()[:16]}.jsonl")

    def put(self, name: str, found: Any) -> Any:
        self.known[name] = found
        with self.path.open("a", encoding="utf-8") as file:
            file.write(f"\n{json.dumps([name, found])}\n")
        return found

    def of(self, name: str, work: Callable[[], Any]) -> Any:
        """What is known under a name, or else is found now."""
        return self.known[name] if name in self.known else self.put(name, work())


# --- all of it --------------------------------------------------------------------------------------------------------------


def main(count: int = 60, seed: int = 1, *folders: str) -> None:
    os.chdir(ROOT)
    for name in HEAVY:  # imported once; of ours nothing may be, for each child imports its own
        with contextlib.suppress(ImportError):
            importlib.import_module(name)
    signal.signal(signal.SIGXCPU, signal.SIG_DFL)
    kept = Kept.of_this_code()
    told = [each for folder in TESTS for each in kept.of(f"tests of {folder}", functools.partial(watched, folder))]
    tests = [Test(name, cpu_s, {(path, line) for path, line in called}) for name, cpu_s, called in told]
    tests.sort(key=lambda test: test.cpu_s)
    print(f"{len(tests)} quick tests, {sum(test.cpu_s for test in tests):.0f} s", flush=True)
    by_folder = [drawn(folder, count, seed) for folder in folders or FOLDERS]
    chosen = [
        mutant for some in itertools.zip_longest(*by_folder) for mutant in some if mutant
    ]  # cut short, it is of all
    wanted = [(mutant, nearest(mutant, tests)) for mutant in chosen if str(mutant) not in kept.known]
    killers = {by for mutant in chosen if (by := kept.known.get(str(mutant)))}
    for by, (mutant, _) in zip(exchanged(wanted, killers), wanted, strict=True):
        kept.put(str(mutant), by)
        print(f"{mutant.path}:{mutant.line}  {mutant.told}: {by or 'lives on'}", flush=True)
    killed: dict[Mutant, bool] = {}
    for mutant in chosen:
        killed[mutant] = bool(kept.known[str(mutant)]) or (
            not mutant.function  # a function was exchanged as it stands, under all tests that call it
            and kept.of(f"{mutant} anew", functools.partial(fails_anew, mutant, in_turn(mutant, tests)))
        )
        if not killed[mutant]:
            print(f"survived: {mutant.path}:{mutant.line}  {mutant.told}", flush=True)
    for folder in folders or FOLDERS:
        here = [killed[mutant] for mutant in chosen if mutant.path.startswith(f"reach/{folder}/")]
        print(f"{folder}: {sum(here)} of {len(here)} killed")
    print(f"{sum(killed.values())} of {len(chosen)} killed, seed {seed}")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:3]), *sys.argv[3:])
