"""How mutants are made: each is a module that can be compiled and differs in one thing, and types and sentences stay as they are;
and how one is put in: where its function stands, however that is wrapped."""

from __future__ import annotations

import ast
import importlib.util
import sys
from concurrent.futures import ThreadPoolExecutor
from types import FunctionType

import pytest

from tests.hardening import mutants


def test_every_mutant_of_a_module_is_another_module():
    path = "reach/place/sun.py"
    usual = ast.dump(ast.parse((mutants.ROOT / path).read_text(encoding="utf-8")))
    made = mutants.mutants(path)
    assert len(made) > 30 and {each.function for each in made} > {0}
    for each in made:
        compile(each.tree(), path, "exec")
        assert ast.dump(each.tree()) != usual


def test_what_is_drawn_hangs_on_the_seed():
    some = [(each.path, each.at) for each in mutants.drawn("place", 20, 1)]
    assert some == [(each.path, each.at) for each in mutants.drawn("place", 20, 1)]
    assert some != [(each.path, each.at) for each in mutants.drawn("place", 20, 2)]


def test_types_and_sentences_are_left_alone(tmp_path, monkeypatch):
    source = '''
def f(a: Literal[1] = 2) -> Final[3]:
    """4"""
    if a < 5:
        raise ValueError(f"{a + 6} of 7" + str(8))
    if a > 9:
        return None
    return -a
'''
    monkeypatch.setattr(mutants, "ROOT", tmp_path)
    (tmp_path / "m.py").write_text(source)
    assert [each.told for each in mutants.mutants("m.py")] == [
        "return -a  ->  return None",
        "2  ->  3",
        "a < 5  ->  a <= 5",
        "a > 9  ->  a >= 9",
        "-a  ->  a",
        "5  ->  6",
        "9  ->  10",
    ]


WRAPPED = """
from functools import cache

@cache
def kept(a):
    return a + 1

class Holder:
    def inside(self, a):
        return [self.step(each) for each in a]

    def step(self, a):
        def inner(b):
            return a * b
        return inner(3)
"""


def test_a_mutant_is_put_in_where_its_function_stands(tmp_path, monkeypatch):
    monkeypatch.setattr(mutants, "ROOT", tmp_path)
    path = tmp_path / "m.py"
    path.write_text(WRAPPED)
    seen = {}
    for mutant in mutants.mutants("m.py"):
        spec = importlib.util.spec_from_file_location("m", path)
        module = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(module)
        holder, kept = module.Holder(), module.kept  # as another module holds what it has imported
        functions = [kept.__wrapped__, module.Holder.inside, module.Holder.step]
        found = {
            (str(path), each.__code__.co_firstlineno): [each] for each in functions if isinstance(each, FunctionType)
        }
        mutants.exchange(mutant, found)
        seen[mutant.told] = kept(2), holder.inside([2])
    assert seen == {
        "return a + 1  ->  return None": (None, [6]),
        "a + 1  ->  a - 1": (1, [6]),
        "1  ->  2": (4, [6]),
        "return [self.step(each) for each in a]  ->  return None": (3, None),
        "return inner(3)  ->  return None": (3, [None]),
        "return a * b  ->  return None": (3, [None]),
        "3  ->  4": (3, [8]),
        "a * b  ->  a / b": (3, [2 / 3]),
    }


def test_a_constant_is_another_wherever_it_was_imported(tmp_path, monkeypatch):
    monkeypatch.setattr(mutants, "ROOT", tmp_path)
    (tmp_path / "m.py").write_text("from typing import Final\nA: Final = 1000 + 1\n\ndef f():\n    return A\n")
    (tmp_path / "n.py").write_text("from tests.m import A\n\ndef g():\n    return A\n")
    (tmp_path / "o.py").write_text("A = 'another'\n")
    for mutant in [each for each in mutants.mutants("m.py") if not each.function]:
        for name in ("m", "n", "o"):
            spec = importlib.util.spec_from_file_location(f"tests.{name}", tmp_path / f"{name}.py")
            monkeypatch.setitem(sys.modules, spec.name, importlib.util.module_from_spec(spec))
            spec.loader.exec_module(sys.modules[spec.name])
        mutants.exchange(mutant, {})
        now = {"1000 + 1": 999, "1000": 1002, "1": 1002}[mutant.told.split("  ")[0]]
        assert (sys.modules["tests.m"].f(), sys.modules["tests.n"].g(), sys.modules["tests.o"].A) == (
            now,
            now,
            "another",
        )


def test_guards_and_decorators_of_classes_are_left_alone(tmp_path, monkeypatch):
    monkeypatch.setattr(mutants, "ROOT", tmp_path)
    (tmp_path / "m.py").write_text(
        "@dataclass(frozen=True)\nclass A:\n    b: int = 5\n\nC = zip([], [], strict=True)\n"
    )
    assert [each.told for each in mutants.mutants("m.py")] == ["5  ->  6"]


def test_who_is_asked_first(tmp_path, monkeypatch):
    """Of a constant the tests that call a function which reads it; of a function those that call it; then all that come by."""
    monkeypatch.setattr(mutants, "ROOT", tmp_path)
    (tmp_path / "m.py").write_text("A = 1\n\ndef f():\n    return A\n\ndef g():\n    return 2\n")
    (tmp_path / "n.py").write_text("def h():\n    return 0\n")
    by_g, by_f, by_none = (
        mutants.Test(name, 1.0, called)
        for name, called in [("g", {("m.py", 6)}), ("f", {("m.py", 3)}), ("none", {("n.py", 1)})]
    )
    every = {each.told: each for each in mutants.mutants("m.py")}
    asked = [by_none, by_g, by_f]
    assert mutants.in_turn(every["1  ->  2"], asked) == [by_f, by_g]
    assert mutants.in_turn(every["2  ->  3"], asked) == [by_g, by_f]
    assert mutants.in_turn(every["return A  ->  return None"], asked) == [by_f, by_g]


def test_what_another_thread_calls_is_seen_and_so_is_what_is_kept_from_test_to_test(tmp_path, monkeypatch):
    monkeypatch.setattr(mutants, "ROOT", tmp_path)
    path = tmp_path / "m.py"
    path.write_text(WRAPPED)
    spec = importlib.util.spec_from_file_location("reach.m", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    watch = mutants.Watch()
    watch.inside = (f"{tmp_path}/",)
    monkeypatch.setattr(mutants, "_caches", lambda: [module.kept])
    watch.pytest_collection_finish()
    for name in ("first", "second"):
        for each in watch.kept:
            each.cache_clear()
        seen = watch._seen(name)
        next(seen)
        with ThreadPoolExecutor(1) as pool:
            pool.submit(module.kept, 1).result()
        with pytest.raises(StopIteration):
            next(seen)
    assert watch.called == {"first": {("m.py", 4)}, "second": {("m.py", 4)}}


def test_a_run_that_was_cut_short_goes_on_where_it_stood(tmp_path, monkeypatch, capsys):
    """Tests that were watched, and mutants that were tried, are not tried again; a line that was cut off counts as none."""
    asked: list[str] = []

    def watched(folder):
        asked.append(folder)
        return [[f"tests/{folder}/test_x.py::test_x", 1.0, [["reach/place/sun.py", 1]]]]

    def exchanged(wanted, killers):
        for mutant, _ in wanted:
            asked.append(str(mutant))
            if len(asked) == len(mutants.TESTS) + 4 and not killers:
                raise KeyboardInterrupt
            yield "tests/place/test_x.py::test_x" if mutant.at % 2 else ""

    monkeypatch.setattr(mutants.tempfile, "gettempdir", lambda: str(tmp_path))
    monkeypatch.setattr(mutants, "HEAVY", ())
    monkeypatch.setattr(mutants.signal, "signal", lambda *_: None)
    monkeypatch.setattr(mutants, "watched", watched)
    monkeypatch.setattr(mutants, "exchanged", exchanged)
    monkeypatch.setattr(mutants, "fails_anew", lambda mutant, tests: asked.append(f"{mutant} anew") is not None)
    with pytest.raises(KeyboardInterrupt):
        mutants.main(10, 1, "place")
    (kept,) = tmp_path.iterdir()
    with kept.open("a") as file:
        file.write('["cut off')
    mutants.main(10, 1, "place")
    told = capsys.readouterr().out
    seen, tried = asked[: len(mutants.TESTS)], asked[len(mutants.TESTS) :]
    assert tuple(seen) == mutants.TESTS and asked.count("place") == 1
    drawn = [str(each) for each in mutants.drawn("place", 10, 1)]
    odd = [each for each in mutants.drawn("place", 10, 1) if each.at % 2]
    assert sorted(each for each in tried if not each.endswith(" anew")) == sorted([*drawn, tried[3]])
    assert f"{len(odd)} of 10 killed" in told and told.count("survived: ") == 10 - len(odd)
    before = len(asked)
    mutants.main(10, 1, "place")
    assert len(asked) == before and capsys.readouterr().out.endswith(f"{len(odd)} of 10 killed, seed 1\n")
