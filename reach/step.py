"""A step of the walk is a folder and a function at once: `reach.read` holds the modules, `reach.read(...)` does it."""

from __future__ import annotations

import sys
from importlib import import_module
from types import ModuleType
from typing import Any


class Step(ModuleType):
    """A package that can be called; what it calls is imported at the first call."""

    step_function: str

    def __call__(self, *args: Any, **kwargs: Any) -> Any:
        module, _, function = self.step_function.partition(":")
        return getattr(import_module(module), function)(*args, **kwargs)


def callable_package(name: str, function: str) -> None:
    """Make the package `name` call `function`, given as "module:function"."""
    module = sys.modules[name]
    module.__class__ = Step
    module.step_function = function  # type: ignore[attr-defined]
