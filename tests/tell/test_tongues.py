"""What is said in the reader's language: whole messages with named places, and the language of an environment."""

from __future__ import annotations

import ast
import gettext
import re
import string
from dataclasses import replace
from functools import cache, partial

import pytest
from babel.messages.catalog import Message
from hypothesis import given
from hypothesis import strategies as st

from reach import study as studies
from reach.base import grammar, territories, tongue
from reach.base.words import PRINT, TERMINAL
from reach.cli import options
from reach.draw import gallery, scripts
from reach.errors import StudyError
from reach.place import world
from reach.tell import page
from reach.tell.deck import model, outline
from reach.walk import walk
from tests.conftest import NOW, SAMPLES
from tests.draw import audience
from tests.tell import messages
from tests.tell.test_deck_tongues import with_letters

SIGNS = {"gap", "blank", "minus", "plus_minus", "dash"}  # put in unasked


OTHERS = [code for code in tongue.LANGUAGES if code != tongue.ENGLISH]


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


@pytest.mark.parametrize("language", tongue.LANGUAGES)
def test_the_blank_between_a_number_and_its_unit_is_the_mediums_own(language):
    """A message says {gap} there (the page's script, which prints alone, the narrow no-break space itself): a plain space would
    part the number from its unit at the end of a line, and be wider than those beside it."""
    said = [one for message in messages.everything() for one in ([message] if isinstance(message, str) else message)]
    if language != tongue.ENGLISH:
        forms = [message.string for message in messages.catalogue(language) if message.id]
        said = [one for each in forms for one in ([each] if isinstance(each, str) else each)]
    assert len(said) > 1000
    assert [one for one in said if re.search(r"[\d}][ \u00a0](km|dB|Hz|MHz|W|mW|h|min|%|ohm)(?!\w)", one)] == []


def test_english_is_the_message_itself():
    assert PRINT.text("{a} of {b}", a=1, b="x") == TERMINAL.text("{a} of {b}", a=1, b="x") == "1 of x"
    assert [PRINT.plural(n, "{n} row was read.", "{n} rows were read.") for n in (0, 1, 2)] == [
        "0 rows were read.", "1 row was read.", "2 rows were read.",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("environment", "language"),
    [
        ({}, "en"), ({"LANG": "C.UTF-8"}, "en"), ({"LANG": "POSIX"}, "en"), ({"LANG": "eo_EO.UTF-8"}, "en"),
        ({"LANG": "de_AT.UTF-8"}, "de"), ({"LC_MESSAGES": "de_DE", "LANG": "en_GB"}, "de"), ({"LANG": "de@euro"}, "de"),
        ({"LC_ALL": "C", "LANG": "de_DE.UTF-8"}, "en"), ({"LC_ALL": "", "LANG": "en_IE.UTF-8"}, "en"),
    ],
)  # fmt: skip
def test_the_language_of_an_environment(environment, language):
    assert tongue.of_environment(environment) == language


def test_what_is_asked_for_goes_before_the_study_and_that_before_the_system(monkeypatch):
    monkeypatch.setenv("LC_ALL", "it_IT.UTF-8")
    german = studies.check({"language": "de"})
    assert options.in_language(german, "fr").spoken == "fr"
    assert options.in_language(german, None).spoken == "de"
    assert options.in_language(studies.Study(), None).spoken == "it"
    monkeypatch.setenv("LC_ALL", "C")
    assert options.in_language(studies.Study(), None).spoken == "en"
    with pytest.raises(StudyError, match="'xx' is none of the languages: en \\(English\\), de"):
        studies.check({"language": "xx"})


def test_every_country_of_the_borders_has_its_iso_code_or_is_known_to_have_none():
    """Against the codes that the borders themselves carry: no name leads to another country's code."""
    atlas = world._atlas()
    for name, code in zip(atlas.names, [atlas.codes[k] for k in range(len(atlas.names))], strict=True):
        if name in territories.WITHOUT_CODE:
            assert territories.code(name) in ("", code)
        else:
            assert territories.code(name) == code, name


# --- the catalogues ---------------------------------------------------------------------------------------------------


catalogue = cache(messages.catalogue)  # as it lies in the package, read once: change nothing in it


def forms(message: Message) -> list[str]:
    """Its translation, or all its forms."""
    return list(message.string) if isinstance(message.string, tuple) else [message.string]


@pytest.mark.parametrize("language", OTHERS)
def test_no_catalogue_lacks_a_message_or_has_one_that_nothing_says(language):
    found = catalogue(language)
    asked = {message if isinstance(message, str) else message[0] for message in messages.everything()}
    there = {each.id if isinstance(each.id, str) else each.id[0] for each in found if each.id and not each.context}
    assert asked == there
    assert [each.id for each in found if each.id and not messages.complete(each)] == []


@pytest.mark.parametrize("language", OTHERS)
def test_what_is_compiled_is_what_is_written(language):
    assert (messages.FOLDER / f"{language}.mo").read_bytes() == messages.compiled(catalogue(language))
    assert (messages.FOLDER / f"{language}.mo").read_bytes() == messages.compiled(messages.updated(language))


@pytest.mark.parametrize("language", OTHERS)
def test_translations_have_the_places_of_the_message(language):
    """Every value is put in, and nothing else. Of a number's forms one may leave the number out, not another value."""
    found = catalogue(language)
    contexts = {each.context for each in found if each.context}
    for each in found:
        if not each.id:
            continue
        one = each.id if isinstance(each.id, str) else each.id[-1]
        for said in forms(each):
            assert places(said) - SIGNS - {"n"} == places(one) - SIGNS - {"n"}, (one, said)
            asked = {form for _, _, form, _ in string.Formatter().parse(said) if form}
            assert asked <= contexts, (one, said)
            assert said.count("|") == one.count("|"), one  # columns of a table of the slides


@pytest.mark.parametrize("language", OTHERS)
def test_forms_that_translations_ask_for_are_there_for_all_that_may_stand_in_that_place(language):
    """A context lists each of its nouns; a form that is missing would be said in English."""
    found = catalogue(language)
    with tongue.speaking(language):
        for each in found:
            if each.context and isinstance(each.id, tuple):
                one, many = (text.removeprefix("{n} ") for text in each.id)
                for n in (1, 2):
                    assert f"{PRINT.things(n, one, many):{each.context}}" == forms(each)[0 if n == 1 else -1].format(
                        n=n
                    )


@pytest.mark.parametrize("language", OTHERS)
def test_what_the_page_says_breaks_neither_its_frame_nor_its_script(language):
    """The frame takes messages as HTML, into attributes too; the script knows no other forms of a name."""
    found = catalogue(language)
    for message in messages.of_templates():
        assert not set('<>&"') & set(found.get(message).string), message
    plain, counted = page.script_messages()
    for message in (*plain, *(one for one, _ in counted)):
        for said in forms(found.get(message)):
            assert not any(form for _, _, form, _ in string.Formatter().parse(said)), message


class Strict(gettext.NullTranslations):
    """What is asked when a catalogue has nothing: a message that is no literal, which the extraction does not see."""

    def gettext(self, message):
        raise AssertionError(f"not in the catalogue: {message!r}")

    def ngettext(self, one, many, n):
        raise AssertionError(f"not in the catalogue: {one!r}")

    def pgettext(self, context, message):
        raise AssertionError(f"not in the catalogue: {message!r} as {context}")

    def npgettext(self, context, one, many, n):
        raise AssertionError(f"not in the catalogue: {one!r} as {context}")


@pytest.fixture
def strict(monkeypatch):
    """No catalogue falls back to English."""
    for language in OTHERS:
        monkeypatch.setattr(tongue.tongue(language).catalogue, "_fallback", Strict())


def found_in(walks, study, language):
    """Its findings, of a study in another language."""
    findings = walks[study].findings
    return replace(findings, study=findings.study.model_copy(update={"language": language}))


@pytest.mark.parametrize("language", OTHERS)
@pytest.mark.parametrize("study", ["evening", "weekend", "messy"])
def test_a_whole_page_asks_for_nothing_that_is_not_in_the_catalogue(walks, strict, language, study):
    assert f'<html lang="{language}">' in page.html(found_in(walks, study, language))


@pytest.mark.parametrize("language", OTHERS)
@pytest.mark.parametrize("study", ["evening", "weekend", "messy"])
def test_all_slides_say_something_in_the_language(walks, strict, language, study):
    findings = found_in(walks, study, language)
    english = {slide.name: slide for slide in outline.deck(findings).slides}
    with tongue.speaking(language):
        slides = outline.deck(findings).slides
    assert [slide.name for slide in slides] == list(english)
    for slide in slides:
        said, meant = ([p.text for part in each.texts for p in part] for each in (slide, english[slide.name]))
        own = {findings.study.about, findings.study.title}  # what the user wrote stays as it is
        assert not (set(said) & set(meant)) - own and (slide.title != english[slide.name].title or slide.title in own)
        assert slide.shows != english[slide.name].shows and slide.hides != english[slide.name].hides


@pytest.mark.parametrize("language", OTHERS)
def test_every_picture_is_described_in_the_language(walks, strict, language):
    findings = found_in(walks, "evening", language)
    english = {each.name: each.alt_text for each in gallery.pictures(findings)}
    with tongue.speaking(language):
        told = {each.name: each.alt_text for each in gallery.pictures(findings)}
    assert told.keys() == english.keys() and not set(told.values()) & set(english.values())


ZONE = "America/Argentina/Buenos_Aires"  # as long as names of zones get


@pytest.fixture(scope="module")
def shown(walks):
    """By language its pictures, each from the first study that has one of that name, and the maps on slides: each with its name
    and how it is drawn. One walk a study serves all languages."""
    season, garden = (walk(SAMPLES / f"{name}.toml", now=NOW) for name in ("season", "garden"))
    studies_ = [each.findings for each in (walks["evening"], season, walks["messy"], garden)]

    def of(language):
        made = {}
        for findings in studies_:
            said = {"language": language, "local_time": ZONE}
            own = replace(findings, study=findings.study.model_copy(update=said))
            for each in gallery.pictures(own):
                made.setdefault(each.name, each.build)
            deck = outline.deck(own)  # its words: tests/tell/test_deck_tongues.py
            for slide in deck.slides:
                for one, box in slide.exhibits:
                    if isinstance(one, model.Picture):
                        made.setdefault(f"{slide.name}: {one.name}", partial(audience.on_a_slide, deck.look, one, box))
        return made

    return of


@pytest.mark.parametrize("language", OTHERS)
def test_no_text_of_any_picture_lies_on_another_or_is_cut(shown, strict, language):
    """English, in both styles and to the pixel: tests/draw/test_audience.py."""
    with tongue.speaking(language), with_letters():
        pictures = shown(language)
        assert {"map-station", "comparison-parts", "suspects", "season", "setups", "calendar"} < set(pictures)
        assert {"where: map", "receivers: map", "openings: openings", "calendar: calendar", "season: season"} < set(
            pictures
        )
        for name, build in pictures.items():
            _, overlaps, cut = audience.lying(build())
            assert (overlaps, cut) == ((), ()), name


def test_numbers_days_and_countries_are_those_of_the_language():
    """Truth: CLDR 47 as Babel has it, by hand from cldr.unicode.org's charts for German."""
    from datetime import UTC, datetime

    may = datetime(2026, 5, 9, 18, tzinfo=UTC)
    with tongue.speaking("de"):
        assert (PRINT.number(2.5), PRINT.signed(-0.4), PRINT.watt(4.3)) == ("2,5", "−0,4", "4,3\u202fW")
        assert PRINT.count(12345) == "12\u202f345"  # one rule for all languages
        assert PRINT.day(may).replace("\u00a0", " ") == "9. Mai 2026"
        assert PRINT.country("United States of America") == "Vereinigte Staaten"
        assert PRINT.listed(["a", "b", "c"]) == "a, b und c" and PRINT.listed(["a", "b"], "or") == "a oder b"
        assert TERMINAL.number(2.5) == "2.5" and TERMINAL.country("Germany") == "Germany"
    assert PRINT.number(2.5) == "2.5"


@pytest.mark.parametrize("language", OTHERS)
@pytest.mark.parametrize(
    "text", ["", "IO51é", "IO5.1es", "IO51e", "I", "51IOes", "I051es", "IO5les", "ZO51es", "IO51zz", "IO51"]
)
def test_what_is_wrong_with_a_locator_is_said_in_the_language(strict, language, text):
    why = grammar.judge(text).why
    with tongue.speaking(language):
        said = why.said(PRINT)
    assert said != why.said(TERMINAL) == why.said(PRINT) and (text in said or not text)


# --- letters ----------------------------------------------------------------------------------------------------------


def test_where_no_typeface_has_the_letters_pictures_and_slides_fall_back_to_english(monkeypatch):
    assert all(scripts.drawn_in(language) == language for language in ("en", "de", "es", "fr", "it"))
    monkeypatch.setattr(scripts, "stand_in", lambda character: None)
    assert scripts.drawn_in("ja") == "en" and scripts.drawn_in("fr") == "fr"
    monkeypatch.setattr(scripts, "stand_in", lambda character: ("Some", "some.ttf"))
    assert scripts.drawn_in("ja") == "ja"


@given(st.text("ab 、。「」日本語のー(,).", max_size=40))
def test_a_text_is_its_pieces_and_no_line_begins_with_a_closing_mark(words):
    pieces, joint = scripts.pieces(words)
    assert joint.join(pieces) == words
    if joint == "":
        assert all(
            one[0] not in "、。」ー,)." for one in pieces[1:] if not one.startswith(" ") and words.count(" ") == 0
        )
        assert all(one.rstrip()[-1:] not in ("「", "(") for one in pieces[:-1] if words.count(" ") == 0)


def test_words_of_other_scripts_stay_whole():
    assert scripts.pieces("a word  and more") == (["a", "word", "", "and", "more"], " ")
