"""What the tests carry is what its list says."""

import hashlib
import re
from pathlib import Path

VENDOR = Path(__file__).parent / "vendor"


def test_every_file_is_listed_with_its_hash():
    listed = dict(re.findall(r"^\| `([^`]+)` .*`([0-9a-f]{64})` \|$", (VENDOR / "README.md").read_text(), re.MULTILINE))
    there = {
        path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in VENDOR.iterdir() if path.suffix != ".md"
    }
    assert listed == there
