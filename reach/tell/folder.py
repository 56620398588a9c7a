"""Write one walk's findings as a folder: page, pictures, tables, manifest.

The folder appears whole or not at all: everything is written beside it under another name and renamed at the end, so
a failed or interrupted run leaves an older folder as it was. The same input gives the same bytes.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import platform
import shutil
import tempfile
from collections.abc import Callable, Iterator
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

import pandas as pd

from reach.base.words import TERMINAL
from reach.errors import OutputError
from reach.findings import Findings
from reach.tell import geodata
from reach.tell.sentences import problems, suspects

MANIFEST = "manifest.json"
_SHAPES_THE_NUMBERS = ("numpy", "pandas", "pyarrow", "pyproj", "shapely", "scipy", "maidenhead", "cartopy")
_SHAPES_THE_PICTURES = ("matplotlib", "pillow")
Step = Callable[[str], None]


def write(findings: Findings, out: str | Path, *, style: str = "light", progress: Step = lambda step: None) -> Path:
    """Write the whole folder.

    findings : one walk's findings
    out : the folder to make or to replace; its parent is made where it is missing
    style : light or dark, for the pictures
    progress : told the name of each step
    Returns the folder. OutputError where it cannot be written, or holds something that `reach` did not write.
    """
    out = Path(out)
    with replacing(out) as folder:
        write_tables(findings, folder, progress=progress)
        write_pictures(findings, folder / "pictures", style=style, progress=progress)
        progress("writing the page")
        from reach.tell import page

        _text(folder / "report.html", page.html(findings))
        write_manifest(findings, folder)
    return out


def write_tables(findings: Findings, folder: Path, *, progress: Step = lambda step: None) -> None:
    """Write summary.json, comparison.json, spots.csv, problems.csv, suspects.csv, receivers.csv and .geojson."""
    progress("writing tables")
    _text(folder / "summary.json", to_json(summary_file(findings)))
    if findings.comparison is not None:
        _text(folder / "comparison.json", to_json(findings.comparison.to_dict()))
    write_csv(findings.spots, folder / "spots.csv")
    write_csv(problems.written(findings.problems, say=TERMINAL), folder / "problems.csv")
    write_csv(suspects.written(findings.suspects, say=TERMINAL), folder / "suspects.csv")
    write_csv(findings.receivers, folder / "receivers.csv")
    _text(folder / "receivers.geojson", geodata.receivers_geojson(findings.receivers))


def write_pictures(
    findings: Findings, folder: Path, *, style: str = "light", progress: Step = lambda step: None
) -> list[Path]:
    """Write every picture of the gallery as PNG (1920 x 1080) and SVG.

    Returns the files. No date or random id goes into them.
    """
    from reach.draw import gallery
    from reach.draw import style as styles

    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for picture in gallery.pictures(findings, style=style):
        progress(f"drawing {picture.name}")
        figure = picture.build()
        for kind, content in (("png", styles.png(figure)), ("svg", styles.svg(figure))):
            path = folder / f"{picture.name}.{kind}"
            path.write_bytes(content)
            written.append(path)
    return written


def summary_file(findings: Findings) -> dict[str, Any]:
    """What goes into summary.json: counts of rows, then the summary, then power at the antenna."""
    counts = findings.counts
    return {
        "title": findings.study.title,
        "made_up": findings.study.made_up,
        "counts": {
            "read": counts.read,
            "accepted": counts.accepted,
            "rejected": counts.rejected,
            "duplicates": counts.duplicates,
            "fixed": findings.fixed_rows,
            "suspect_receivers": len(findings.suspects),
        },
        **findings.reach.to_dict(),
    }


def manifest(findings: Findings, folder: Path) -> dict[str, Any]:
    """Where the numbers come from: versions, SHA-256 of inputs and outputs, options. No date: runs can be compared."""
    return {
        "reach": version_of("reach"),
        "python": platform.python_version(),
        "packages": {name: version_of(name) for name in _SHAPES_THE_NUMBERS + _SHAPES_THE_PICTURES},
        "inputs": [
            {"name": file.name, "sha256": file.sha256, "rows": file.rows, "unused_headers": list(file.unused_headers)}
            for file in findings.inputs
        ],
        "study": findings.study.model_dump(mode="json", exclude_none=True),
        "rows_fixed_on_request": findings.fixed_rows,
        "outputs": hashes(folder),
    }


def hashes(folder: Path) -> dict[str, str]:
    """SHA-256 of each file below a folder, by its path from there, in order."""
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def write_manifest(findings: Findings, folder: Path) -> None:
    """Write the manifest of what lies in a folder, last of all."""
    _text(folder / MANIFEST, to_json(manifest(findings, folder)))


def write_csv(table: pd.DataFrame, path: Path) -> None:
    """A table as UTF-8 CSV: times in ISO 8601 with Z, numbers without noise, blanks for what is not known."""
    shown = table.copy(deep=False)
    for name in shown.columns:
        column = shown[name]
        if isinstance(column.dtype, pd.DatetimeTZDtype):
            shown[name] = column.dt.strftime("%Y-%m-%dT%H:%M:%SZ")
        elif column.dtype.kind == "f":
            shown[name] = column.astype(float).round(_decimals(str(name)))
    shown.to_csv(path, index=False, lineterminator="\n", encoding="utf-8")


def _decimals(name: str) -> int:
    """Six for degrees and MHz (a tenth of a metre, a hertz), three for the rest (a metre, a thousandth of a dB)."""
    return 6 if name.endswith(("lon_deg", "lat_deg", "_mhz")) else 3


def to_json(value: Any) -> str:
    """JSON as written to files: readable, keys in their order, no NaN."""
    return json.dumps(value, ensure_ascii=False, indent=2, allow_nan=False) + "\n"


def version_of(package: str) -> str:
    """The installed version, or 'not installed'."""
    try:
        return version(package)
    except PackageNotFoundError:
        return "not installed"


@contextlib.contextmanager
def replacing(out: Path) -> Iterator[Path]:
    """A temporary folder that takes the place of `out` when all went well.

    Yields the temporary folder, beside `out`. OutputError where `out` is a file or a folder with something that is
    not ours in it (no manifest), or where the place cannot be written to.
    """
    check(out)
    try:
        out.parent.mkdir(parents=True, exist_ok=True)
        partial = Path(tempfile.mkdtemp(prefix=f".{out.name}.", dir=out.parent))
    except OSError as error:
        raise OutputError(f"{out}: cannot be written ({error.strerror}); choose another place with --out.") from None
    try:
        yield partial
        partial.chmod(0o777 & ~umask())
        _swap(partial, out)
    except OSError as error:
        raise OutputError(f"{out}: could not be written ({error.strerror or error}).") from None
    finally:
        shutil.rmtree(partial, ignore_errors=True)


def check(out: Path) -> None:
    """OutputError unless `out` is free, empty, or an earlier run's folder."""
    if not out.exists():
        return
    if not out.is_dir():
        raise OutputError(f"{out}: is a file; --out wants a folder that `reach` may make or replace.")
    if any(out.iterdir()) and not (out / MANIFEST).is_file():
        raise OutputError(
            f"{out}: holds files that `reach` did not write (no {MANIFEST}), so it is left alone; "
            "choose another folder with --out."
        )


def _swap(partial: Path, out: Path) -> None:
    if not out.exists():
        os.replace(partial, out)
        return
    old = Path(tempfile.mkdtemp(prefix=f".{out.name}.old.", dir=out.parent))
    os.replace(out, old / "was")
    try:
        os.replace(partial, out)
    except OSError:
        os.replace(old / "was", out)
        raise
    finally:
        shutil.rmtree(old, ignore_errors=True)


def umask() -> int:
    """What the user's new files are not permitted."""
    mask = os.umask(0)
    os.umask(mask)
    return mask


def _text(path: Path, content: str) -> None:
    path.write_text(content, encoding="utf-8", newline="\n")
