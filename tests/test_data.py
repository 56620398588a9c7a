"""Bundled data: every file is listed with source, licence and the hash it really has."""

import hashlib
import re
from pathlib import Path

import reach

DATA = Path(reach.__file__).parent / "data"
ROW = re.compile(r"^\| *`?(?P<name>[^`|]+?)`? *\|.*\| *`?(?P<sha256>[0-9a-f]{64})`? *\|$", re.MULTILINE)


def test_every_file_is_listed_with_its_hash():
    listed = {row["name"]: row["sha256"] for row in ROW.finditer((DATA / "SOURCES.md").read_text(encoding="utf-8"))}
    there = {
        path.name: hashlib.sha256(path.read_bytes()).hexdigest()
        for path in DATA.iterdir()
        if path.is_file() and path.suffix != ".py" and path.name != "SOURCES.md"
    }
    assert {name: listed.get(name) for name in there} == there
