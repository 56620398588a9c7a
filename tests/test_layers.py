"""The structure is a test too: imports point left in the walk, no two modules import each other, starting is light."""

from __future__ import annotations

import ast
import inspect
import subprocess
import sys
from functools import cache
from pathlib import Path

import pytest

import reach

ROOT = Path(reach.__file__).parent
# A folder may use those to its left; those in one group stand side by side and do not use each other.
# What is found is said in `tell/sentences`, and pictures speak too: that one room of `tell` stands before `draw`.
WALK = [
    {"read"}, {"assign"}, {"vet"}, {"place"}, {"suspects"}, {"measure", "compare"}, {"sentences"}, {"draw"}, {"tell"},
    {"rows"}, {"archive"},
]  # fmt: skip
GROUND = {"data", "errors", "spots", "study", "base", "findings", "radio"}
TOP = {"walk", "notes", "desk", "cli", "__main__", ""}
HEAVY = {
    "cartopy",
    "matplotlib",
    "scipy",
    "geopandas",
    "dask",
    "distributed",
    "fsspec",
    "pptx",
    "reportlab",
    "imageio_ffmpeg",
    "pandas",
    "pyarrow",
    "pyproj",
    "shapely",
    "numpy",
}


def _name(path: Path) -> str:
    parts = path.relative_to(ROOT.parent).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


MODULES = {_name(path): path for path in sorted(ROOT.rglob("*.py"))}


@cache
def imports(module: str) -> set[str]:
    """The modules of `reach` that a module imports, wherever in its text; not those for type checking only."""
    path = MODULES[module]
    tree = ast.parse(path.read_text(encoding="utf-8"))
    for node in ast.walk(tree):
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.dump(node.test):
            node.body = []
    found = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module and node.level == 0:
            found |= {f"{node.module}.{alias.name}" for alias in node.names} | {node.module}
        assert not (isinstance(node, ast.ImportFrom) and node.level), f"{path}: imports are absolute here"
    return {name for name in found if name in MODULES and name != "reach"}


def _folder(module: str) -> str:
    """The room of a module. Sentences lie in `tell`, but pictures and commands speak too: they stand before `draw`."""
    return "sentences" if module.startswith("reach.tell.sentences") else (module.split(".") + [""])[1]


def allowed(importer: str, imported: str) -> bool:
    """Whether one module may import another."""
    here, there = _folder(importer), _folder(imported)
    if here == there or here in TOP or there in GROUND:
        return True
    return _place(there) < _place(here)


def _place(folder: str) -> int:
    """Where in the walk a folder stands; -1 for the ground floor, which uses no room of the walk."""
    found = [k for k, group in enumerate(WALK) if folder in group]
    return found[0] if found else (-1 if folder in GROUND else len(WALK))


@pytest.mark.parametrize("module", MODULES)
def test_imports_point_left(module):
    wrong = [other for other in sorted(imports(module)) if not allowed(module, other)]
    assert not wrong, f"{module} may not import {', '.join(wrong)}"


def test_the_rule_can_fail():
    assert not allowed("reach.read.table", "reach.vet.rules")
    assert not allowed("reach.vet.rules", "reach.place.world")
    assert not allowed("reach.measure.tally", "reach.compare.plan")
    assert not allowed("reach.tell.sentences.reach", "reach.draw.style")
    assert not allowed("reach.tell.folder", "reach.walk")
    assert not allowed("reach.compare.verdict", "reach.tell.sentences.comparison")
    assert not allowed("reach.tell.sentences.comparison", "reach.tell.facts")
    assert allowed("reach.draw.charts", "reach.tell.sentences.comparison")
    assert not allowed("reach.radio.power", "reach.read.table")
    assert not allowed("reach.base.locator", "reach.vet.rules")
    assert allowed("reach.suspects.find", "reach.place.world")


def test_every_folder_has_its_place():
    known = set().union(*WALK, GROUND, TOP)
    assert {_folder(name) for name in MODULES} <= known


def test_no_two_modules_import_each_other():
    pairs = [(a, b) for a in MODULES for b in imports(a) if a < b and a in imports(b)]
    assert not [(a, b) for a, b in pairs if not (b.startswith(f"{a}.") or a.startswith(f"{b}."))]


def test_public_names_and_namespace_agree():
    assert len(set(reach.__all__)) == len(reach.__all__)
    assert set(reach.__all__) <= set(dir(reach))
    for name in reach.__all__:
        found = getattr(reach, name)
        assert found.__name__ in (name, "load"), name  # the function of that name, not the folder that shares it
        assert "**" not in str(inspect.signature(found)) and "*args" not in str(inspect.signature(found)), name
    with pytest.raises(AttributeError):
        reach.no_such_thing  # noqa: B018


def test_help_starts_without_heavy_imports():
    code = (
        "import sys\nfrom reach.cli import reach\n"
        "try: reach.main(['--help'], prog_name='reach')\nexcept SystemExit: pass\n"
        "print(sorted({name.split('.')[0] for name in sys.modules}), file=sys.stderr)"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert "reach run" in run.stdout
    loaded = set(ast.literal_eval(run.stderr.strip().splitlines()[-1]))
    assert not loaded & (HEAVY | {"rich", "pydantic"})
