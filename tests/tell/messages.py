"""Every message that may be said in another tongue, as it stands in the program: what catalogues are made from.

    python -m tests.tell.messages            brings the catalogues in reach/data/languages up to date and compiles them

A message is a literal where it is said: the first argument of `text`, the two forms of `plural`, the noun of `things`, and
what stands in a `Phrase`. What is found is in the order of the files.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import reach

PACKAGE = Path(reach.__file__).parent
Message = str | tuple[str, str]


def of_source(source: str) -> Iterator[tuple[int, Message]]:
    """Line and message of everything that a module may say; those with a number as (one, many)."""
    for node in ast.walk(ast.parse(source)):
        if not isinstance(node, ast.Call):
            continue
        name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
        if name in ("text", "Phrase") and node.args:
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
        *sorted((PACKAGE / "tell").rglob("*.py")),
        *sorted((PACKAGE / "draw").rglob("*.py")),
    ]
