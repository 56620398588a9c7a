"""Help where one is: each screen says what it is for, and explains its words."""

from __future__ import annotations

import re
from importlib.resources import files

import pytest

from reach.desk.glossary import WORDS
from tests.desk.conftest import Served, sample

SCREENS = ("", "/station", "/doubtful", "/results", "/rows/accepted")
TEMPLATES = sorted(
    path.name for path in files("reach.desk").joinpath("templates").iterdir() if path.name.endswith(".j2")
)
NO_SCREEN = {
    "base.html.j2", "ended.html.j2", "message.html.j2", "on-air-reading.html.j2", "opening.html.j2", "station-beside.html.j2", "station-parts.html.j2",
}  # fmt: skip


def source(name: str) -> str:
    return files("reach.desk").joinpath("templates", name).read_text(encoding="utf-8")


@pytest.mark.parametrize("name", sorted(set(TEMPLATES) - NO_SCREEN))
def test_every_screen_has_its_words_and_all_are_explained(name: str) -> None:
    named = re.search(r"\{% block words %\}([^{]+)\{% endblock %\}", source(name))
    assert named, "a screen names its words"
    assert set(named[1].split(", ")) <= set(WORDS)


def test_no_explanation_is_never_shown() -> None:
    used = {
        word
        for name in TEMPLATES
        for found in re.findall(r"block words %\}([^{]+)\{", source(name))
        for word in found.split(", ")
    }
    assert used == set(WORDS)
    assert all(text.endswith(".") for text in WORDS.values())


def test_each_screen_says_in_two_sentences_what_it_is_for(served: Served) -> None:
    at = served.begin("help")
    served.put(f"{at}/files/weekend.csv", sample("weekend.csv"))
    for path in ("/", *(f"{at}{screen}" for screen in SCREENS)):
        page = served.get(path).text
        (first,) = re.findall(r"<h1>.*?</h1>\s*<p>(.*?)</p>", page, re.S)
        plain = re.sub(r"<a .*?</a>|<[^>]+>", "", first).strip()
        assert len(re.findall(r"[.](?: |$)", plain)) == 2, (path, plain)
        explained = re.search(
            r'<details class="words"><summary>Words on this screen, explained</summary>(.*?)</details>', page, re.S
        )
        assert explained and "<dt>" in explained[1], path
