"""Every message that may be said in another tongue, as it stands in the program: what catalogues are made from.

    python -m tests.tell.messages            brings the catalogues in reach/data/languages up to date and compiles them

A message is a literal where it is said: the first argument of `text`, the two forms of `plural`, the noun of `things`, and
what stands in a `Phrase`. What is found is in the order of the files.
"""

from __future__ import annotations

import ast
import io
import re
import sys
from collections.abc import Iterator
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import Any

from babel.messages import catalog as headers
from babel.messages import pofile
from babel.messages.catalog import Catalog
from babel.messages.mofile import write_mo

import reach
from reach.base import tongue
from reach.tell import page

PACKAGE = Path(reach.__file__).parent
_ONCE = datetime(2026, 11, 27, tzinfo=UTC)  # Babel wants a date in every header
headers.VERSION = "2.19.0"  # and writes its own version there: whichever is installed, the same bytes
FOLDER = PACKAGE / "data/languages"
Message = str | tuple[str, str]


def of_source(source: str) -> Iterator[tuple[int, Message]]:
    """Line and message of everything that a module may say; those with a number as (one, many)."""
    for node in ast.walk(ast.parse(source)):
        if not isinstance(node, ast.Call):
            continue
        name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
        if name == "phrases":
            yield from (
                (node.lineno, value)
                for each in ast.walk(node.args[0])
                if isinstance(each, ast.Dict)
                for value in _values(each)
            )
        elif name in ("text", "Phrase") and node.args:
            yield from ((node.lineno, message) for message in literals(node.args[0]))
        elif name == "plural":
            yield from (
                (node.lineno, forms) for forms in zip(literals(node.args[1]), literals(node.args[2]), strict=True)
            )
        elif name == "things" and len(node.args) > 1:
            for one in literals(node.args[1]):
                many = next(literals(node.args[2])) if len(node.args) > 2 else f"{one}s"
                yield node.lineno, (f"{{n}} {one}", f"{{n}} {many}")


def literals(node: ast.expr) -> Iterator[str]:
    """The texts that an expression may be, of those that stand there."""
    if isinstance(node, ast.IfExp):
        yield from literals(node.body)
        yield from literals(node.orelse)
    elif isinstance(node, ast.Constant) and isinstance(node.value, str) and node.value:
        yield node.value


def modules() -> list[Path]:
    """The modules that speak."""
    return [
        PACKAGE / "base/words.py",
        PACKAGE / "base/grammar.py",
        *sorted((PACKAGE / "tell").rglob("*.py")),
        *sorted((PACKAGE / "draw").rglob("*.py")),
    ]


def _values(node: ast.Dict) -> Iterator[str]:
    for value in node.values:
        yield from literals(value)


def of_templates() -> Iterator[Message]:
    """The messages of the page's frame: the first argument of `t`."""
    for template in sorted((PACKAGE / "tell/page").glob("*.j2")):
        for double, single in re.findall(r"""\bt\((?:"([^"]*)"|'([^']*)')""", template.read_text(encoding="utf-8")):
            yield double or single


@cache
def everything() -> dict[Message, str]:
    """Every message with the file that says it first. Gathered once: change nothing in it."""
    found: dict[Message, str] = {}
    for module in modules():
        for _, message in of_source(module.read_text(encoding="utf-8")):
            found.setdefault(message, module.relative_to(PACKAGE).as_posix())
    for message in of_templates():
        found.setdefault(message, "tell/page")
    plain, counted = page.script_messages()
    for message in (*plain, *counted):
        found.setdefault(message, "tell/page/js")
    return found


def _empty(language: str) -> Catalog:
    """A catalogue without messages; its header says nothing that differs from one day to the next."""
    made = Catalog(
        language, project="reach", version="1", copyright_holder="the authors of reach", creation_date=_ONCE,
        revision_date=_ONCE, msgid_bugs_address="none", last_translator="the authors of reach", language_team="none", fuzzy=False,
    )  # fmt: skip
    own = tongue.LANGUAGES.get(language, language)
    made.header_comment = (
        f"# {own}. Made by `python -m tests.tell.messages`; write translations here and run it again.\n"
        "# In braces stand values, by name. A name with a colon asks for another form of it, which stands under that context."
    )
    return made


def catalogue(language: str) -> Catalog:
    """The catalogue of a language as it lies in the package; an empty one where there is none yet."""
    path = FOLDER / f"{language}.po"
    if not path.exists():
        return _empty(language)
    with path.open("rb") as file:
        return pofile.read_po(file, locale=language)


def updated(language: str) -> Catalog:
    """The catalogue with every message of the program, in its order, and none that it says no more; forms for other cases
    (those with a context) stay."""
    known, new = catalogue(language), _empty(language)
    for message, where in everything().items():
        one = message if isinstance(message, str) else message[0]
        old = known.get(one)
        new.add(message, old.string if old is not None else None, locations=[(where, 0)])
    for old in known:
        if old.context:
            new.add(old.id, old.string, context=old.context)
    return new


def main() -> None:
    """Bring all catalogues up to date."""
    for language in sys.argv[1:] or [code for code in tongue.LANGUAGES if code != tongue.ENGLISH]:
        FOLDER.mkdir(exist_ok=True)
        made = updated(language)
        left = [message.id for message in made if message.id and not complete(message)]
        with (FOLDER / f"{language}.po").open("wb") as file:
            pofile.write_po(file, made, width=120, include_lineno=False, omit_header=False)
        (FOLDER / f"{language}.mo").write_bytes(compiled(made))
        print(f"{language}: {len(made)} messages, {len(left)} without a translation")


def complete(message: Any) -> bool:
    """Whether a message has all its forms."""
    return all(message.string) if isinstance(message.string, tuple) else bool(message.string)


def compiled(made: Catalog) -> bytes:
    """The bytes of the .mo file."""
    out = io.BytesIO()
    write_mo(out, made)
    return out.getvalue()


if __name__ == "__main__":
    main()
