"""What is said in the reader's language: whole messages with named places, and the language of an environment."""

from __future__ import annotations

import ast
import string

import pytest

from reach.base import territories, tongue
from reach.base.words import PRINT, TERMINAL
from reach.place import world
from tests.tell import messages

SIGNS = {"gap", "blank", "minus", "plus_minus", "dash"}  # put in unasked


def places(message: str) -> set[str]:
    """The names in braces."""
    return {name for _, name, _, _ in string.Formatter().parse(message) if name is not None}


@pytest.mark.parametrize("module", messages.modules(), ids=lambda path: f"{path.parent.name}/{path.stem}")
def test_every_place_of_a_message_is_given_its_value_and_no_more(module):
    for node in ast.walk(ast.parse(module.read_text(encoding="utf-8"))):
        name = node.func.attr if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) else ""
        if name not in ("text", "plural") or any(keyword.arg is None for keyword in node.keywords):
            continue
        asked = [node.args[0]] if name == "text" else node.args[1:3]
        said = [text for each in asked for text in messages.literals(each)]
        given = {keyword.arg for keyword in node.keywords}
        here = SIGNS | ({"n"} if name == "plural" else set())
        for text in said:
            assert places(text) <= given | here, f"line {node.lineno}: {text}"
        if said:
            assert given <= set().union(*map(places, said)), f"line {node.lineno}"


def test_english_is_the_message_itself():
    assert PRINT.text("{a} of {b}", a=1, b="x") == TERMINAL.text("{a} of {b}", a=1, b="x") == "1 of x"
    assert [PRINT.plural(n, "{n} row was read.", "{n} rows were read.") for n in (0, 1, 2)] == [
        "0 rows were read.", "1 row was read.", "2 rows were read.",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("environment", "language"),
    [
        ({}, "en"), ({"LANG": "C.UTF-8"}, "en"), ({"LANG": "POSIX"}, "en"), ({"LANG": "eo_EO.UTF-8"}, "en"),
        ({"LC_ALL": "C", "LANG": "de_DE.UTF-8"}, "en"), ({"LC_ALL": "", "LANG": "en_IE.UTF-8"}, "en"),
    ],
)  # fmt: skip
def test_the_language_of_an_environment(environment, language):
    assert tongue.of_environment(environment) == language


def test_every_country_of_the_borders_has_its_iso_code_or_is_known_to_have_none():
    """Against the codes that the borders themselves carry: no name leads to another country's code."""
    atlas = world._atlas()
    for name, code in zip(atlas.names, [atlas.codes[k] for k in range(len(atlas.names))], strict=True):
        if name in territories.WITHOUT_CODE:
            assert territories.code(name) in ("", code)
        else:
            assert territories.code(name) == code, name
