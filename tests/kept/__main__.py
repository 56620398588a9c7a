"""Write the answers that have become others anew, and say how many leaves have."""

import json
import tempfile
from pathlib import Path

from tests.kept.answers import KEPT, NAMES, answers, differences, written

KEPT.mkdir(exist_ok=True)
for name in NAMES:
    with tempfile.TemporaryDirectory() as folder:
        now = answers(name, Path(folder))
    path = KEPT / f"{name}.json"
    changed = list(differences(json.loads(path.read_text(encoding="utf-8")), now)) if path.exists() else ["new"]
    if changed:
        print(f"{name}: {len(changed)} changes, {changed[0]}")
        path.write_text(written(now) + "\n", encoding="utf-8")
for path in KEPT.iterdir():
    if path.stem not in NAMES:
        path.unlink()
