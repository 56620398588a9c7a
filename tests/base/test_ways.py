"""What a sentence asks for is said in the words of who reads it: an option, an argument, a field on a screen."""

from __future__ import annotations

import ast
import inspect
import pickle
import pkgutil
import re
from pathlib import Path

import click
import pytest

import reach
from reach import cli
from reach.base import ways
from reach.base.ways import WAYS, Medium, asked, said
from reach.errors import InputError
from reach.read.understood import Choice, Question, Unclear
from reach.study import Setup

REACH = Path(reach.__file__).parent
TEMPLATES = REACH / "desk" / "templates"
VALUES = {
    "control": ("EI9QUC",), "column": ("snr", "My report"), "zone": ("+01:00", "my log.csv"), "shift": ("-10",),
    "elsewhere": ("folder", "your changes"), "add": ("spots",),
}  # fmt: skip
NO_FIELD = {"difference"}  # what no screen has a field for
NOT_GIVEN = {"pair", "days", "plan", "problems", "held", "add"}  # in the library a method or a table, and no argument
TYPED = re.compile(r"(?<![-\w])--[a-z]|\breach (?:" + "|".join(cli.COMMANDS) + r")\b")


def each(code: str) -> dict[Medium, str]:
    return {medium: said(asked(code, *VALUES.get(code, ())), medium) for medium in Medium}


@pytest.mark.parametrize("code", WAYS)
def test_every_medium_has_its_own_words(code):
    told = each(code)
    assert TYPED.search(told[Medium.OPTION]) or told[Medium.OPTION] in Setup.model_fields
    assert not any(TYPED.search(told[other]) for other in (Medium.ARGUMENT, Medium.SCREEN))
    assert (not told[Medium.SCREEN]) == (code in NO_FIELD)
    assert len(set(told.values())) == len(Medium) and not any(
        set(text) & set("\ufdd0\ufdd1\ufdd2") for text in told.values()
    )


@pytest.mark.parametrize("code", WAYS)
def test_every_option_is_one_of_the_command_line(code):
    context = click.Context(cli.reach)
    options = {
        name
        for command in (cli.reach.get_command(context, name) for name in cli.reach.list_commands(context))
        for parameter in command.params
        if isinstance(parameter, click.Option)
        for name in (*parameter.opts, *parameter.secondary_opts)
    }
    assert set(re.findall(r"--[a-z-]+", each(code)[Medium.OPTION])) <= options
    assert set(re.findall(r"\breach ([a-z]+)", each(code)[Medium.OPTION])) <= set(cli.COMMANDS)


@pytest.mark.parametrize("code", WAYS)
def test_every_argument_is_one_of_the_library(code):
    from reach.study import Options, Study
    from reach.walk import Walk

    known = {*inspect.signature(reach.read).parameters, *inspect.signature(reach.walk).parameters, *Study.model_fields}
    known |= {*inspect.signature(Walk.compare).parameters, *inspect.signature(Walk.write).parameters}
    known |= {*Options.model_fields, *Setup.model_fields}
    words = each(code)[Medium.ARGUMENT]
    named = set(re.findall(r"(\w+)=", words))
    assert named <= known and (not named) == (code in NOT_GIVEN)
    if of_walk := re.fullmatch(r"(\w+) of the walk", words):
        assert hasattr(Walk, of_walk[1])
    if words.startswith("reach."):
        assert callable(pkgutil.resolve_name(words))


@pytest.mark.parametrize("code", sorted({*WAYS} - NO_FIELD - {"elsewhere"}))
def test_every_field_stands_on_the_screen_that_is_named(code):
    """Or is a key of the study, where it is one that is seldom given."""
    if key := re.fullmatch(r"'(\w+)(?: = true)?' in study\.toml", each(code)[Medium.SCREEN]):
        from reach.study import Options, Study

        assert key[1] in {*Study.model_fields, *Options.model_fields}
        return
    templates = {path: path.read_text(encoding="utf-8") for path in TEMPLATES.glob("*.j2")}
    label, screen = re.search(r"'([^']*(?:'s [^']*)?)' on ([A-Z][a-z ]+)$", each(code)[Medium.SCREEN]).groups()
    here = next(text for text in templates.values() if "{% block title %}" + screen in text)
    if code == "column":
        label = label.replace(ways.COLUMNS[VALUES["column"][0]], "{{ what }}")
    assert f">{label}" in here or f'"{label}"' in here or f"> {label}" in here


@pytest.mark.parametrize(
    "ours", ["snr", "callsign", "power_w", "power_dbm", "frequency_mhz", "transmitter_locator", "date"]
)
def test_a_column_is_called_on_the_screen_as_its_field_is(ours):
    told = said(asked("column", ours, ways.SOME_HEADER), Medium.SCREEN)
    assert told.startswith("the field 'Column with the ") and "HEADER" not in told


def test_a_header_is_typed_as_a_shell_wants_it():
    assert said(asked("column", "snr", "My report"), Medium.OPTION) == "--column snr='My report'"
    assert said(asked("column", "snr", "Rpt"), Medium.OPTION) == "--column snr=Rpt"


def test_marks_that_come_from_outside_are_no_marks():
    """Neither in a parameter nor elsewhere; an unknown one is nothing."""
    assert said(asked("column", "snr", asked("heard")), Medium.OPTION) == "--column snr=heard"
    assert said("a \ufdd0nonsense\ufdd1x\ufdd2 b", Medium.SCREEN) == "a  b"
    assert said("a \ufdd0column\ufdd2 b", Medium.SCREEN) == "a  b"
    assert said("a \ufdd0heard\ufdd1x\ufdd2 b", Medium.SCREEN) == "a  b"


def test_an_error_speaks_to_the_library_as_a_text_and_to_others_when_asked():
    error = InputError(f"whose?\nsay with {asked('callsign')}.", "and \x1b second")
    for one in (error, pickle.loads(pickle.dumps(error))):
        assert str(one) == "whose? say with callsign=.\nand \u241b second"
        assert one.said(Medium.OPTION) == "whose? say with --callsign.\nand \u241b second"
    assert cli.told(error, ["vet"]) == (2, error.said(Medium.OPTION))


def test_questions_about_a_file_are_asked_in_the_words_of_each_medium():
    choices = (Choice("a", "numbers", asked("column", "snr", "a")), Choice("b", "", asked("column", "snr", "b")))
    values = {"words": "the SNR", "option": "snr", "headers": ("a", "b"), "name": "a", "example": "59", "role": "snr"}
    values |= {"readings": ("x", "y"), "examples": ("x", "y"), "zone": "CET", "minutes": 60, "as_w": "1", "as_dbm": "2"}
    from reach.read.understood import _ASKED

    every = [
        Question(code, "log.csv", values, some)
        for code in _ASKED
        for some in (choices, ())
        if some or code == "missing"
    ]
    error = Unclear(every)
    assert "--" in error.said(Medium.OPTION)
    for medium in (Medium.ARGUMENT, Medium.SCREEN):
        assert not re.search(r"--|\ufdd0|HEADER\b(?!')", error.said(medium)), medium
    assert "the field 'Column with the SNR' on Files" in error.said(Medium.SCREEN)


def test_no_module_names_an_option_or_command_by_itself():
    """Whoever makes a sentence asks `ways`, for it may be read at the desk, in the library or on the page.

    But for what is the command line's own, and what is written for who opens a file: the head of a study and of a menu's entry.
    """
    own = {"base/ways.py", "base/afresh.py", "desk/shortcut.py", "tell/study_file.py"}
    found = []
    for path in sorted(REACH.rglob("*.py")):
        name = path.relative_to(REACH).as_posix()
        if name in own or name.startswith("cli/"):
            continue
        tree = ast.parse(path.read_text(encoding="utf-8"))
        docs = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
        found += [
            f"{name}:{node.lineno}"
            for node in ast.walk(tree)
            if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in docs
            if TYPED.search(node.value)
        ]
    for path in [*TEMPLATES.glob("*.j2"), *(REACH / "tell" / "page").glob("*.j2")]:
        shown = re.sub(
            r"<style.*?</style>|<!--.*?-->|{#.*?#}|<[^>]*>", "", path.read_text(encoding="utf-8"), flags=re.S
        )
        found += [path.name] if TYPED.search(shown) else []
    assert not found


def test_no_sentence_shows_how_it_is_put_together():
    """A piece of one lacked its f, and the command line said "{ways.asked('problems')} says why"."""
    asked_in_plain_text = re.compile(r"\{[a-z_]+\.[a-z_]+\(")
    for path in REACH.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                assert not asked_in_plain_text.search(node.value), f"{path}:{node.lineno}"
