"""How mutants are made: each is a module that can be compiled and differs in one thing, and types and sentences stay as they are."""

from __future__ import annotations

import ast

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
    return -a
'''
    monkeypatch.setattr(mutants, "ROOT", tmp_path)
    (tmp_path / "m.py").write_text(source)
    assert [each.told for each in mutants.mutants("m.py")] == [
        "return -a  ->  return None",
        "2  ->  3",
        "a < 5  ->  a <= 5",
        "-a  ->  a",
        "5  ->  6",
    ]
