"""What changed from one run to the next, in words: from the two files summary.json, and comparison.json where there are such."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

from reach.base.words import DESK as SAY

Summary = Mapping[str, Any]

SAME: Final = "The same files and settings gave the same answer as the run before."
_COUNTS: Final = (
    ("read", "rows read"), ("accepted", "accepted"), ("rejected", "rejected"), ("duplicates", "duplicates"), ("set_aside", "set aside"),
    ("fixed", "with their locator replaced as you asked"), ("suspect_receivers", "receivers with a doubtful locator"),
)  # fmt: skip
_FIGURES: Final = {
    "sent": (("receivers", "receivers"), ("countries", "countries"), ("days", "days with reports")),
    "heard": (("receivers", "stations heard"), ("countries", "countries"), ("days", "days with reports")),
}
_DISTANCES: Final = (("median_km", "Half of the reports: beyond"), ("p90_km", "One in ten of the reports: beyond"))


def said(before: Summary, after: Summary) -> list[str]:
    """One sentence for each thing that changed, what hangs on it most first.

    before, after : what summary.json held, each with `comparison` beside it where there was one
    Returns SAME alone where nothing that is shown did.
    """
    one, other = _headline(before), _headline(after)
    found = [
        *_comparison(before.get("comparison"), after.get("comparison")),
        *(line for key, name in _DISTANCES for line in _distance(name, key, one, other)),
        *_farthest(one.get("farthest"), other.get("farthest")),
        *_numbers(_FIGURES[after.get("direction", "sent")], one, other),
        *_bands(_by_band(before), _by_band(after)),
        *_period(before.get("period") or {}, after.get("period") or {}),
        *_numbers(_COUNTS, before.get("counts", {}), after.get("counts", {})),
    ]
    return found or [SAME]


def _headline(summary: Summary) -> Mapping[str, Any]:
    """The figures that headlines rest on: of corroborated receivers where there are such."""
    sound = (summary.get("corroborated") or {}).get("overall") or {}
    return sound if sound.get("spots") else (summary.get("all") or {}).get("overall") or {}


def _by_band(summary: Summary) -> Mapping[str, Any]:
    return (summary.get("all") or {}).get("by_band") or {}


def _distance(name: str, key: str, one: Mapping[str, Any], other: Mapping[str, Any]) -> list[str]:
    was, now = one.get(key), other.get(key)
    if was is None or now is None or SAY.beyond(was) == SAY.beyond(now):
        return []
    low, high = one.get(f"{key}_interval") or (None, None)
    within = low is not None and high is not None and low <= now <= high
    hint = (
        "; the new figure lies within the interval of the former, so the reach need not have changed" if within else ""
    )
    return [f"{name} {SAY.beyond(now)}, {SAY.beyond(was)} before{hint}."]


def _farthest(was: Mapping[str, Any] | None, now: Mapping[str, Any] | None) -> list[str]:
    if now is None or (was is not None and _spot(was) == _spot(now)):
        return []
    before = f", {_spot(was)} before" if was else ""
    return [f"Farthest: {_spot(now)}{before}."]


def _spot(farthest: Mapping[str, Any]) -> str:
    return f"{farthest['rx_call']} in {farthest['rx_locator']}, {SAY.km(farthest['distance_km'])}"


def _numbers(names: tuple[tuple[str, str], ...], one: Mapping[str, Any], other: Mapping[str, Any]) -> list[str]:
    changed = [
        (name, one.get(key, 0), other.get(key, 0)) for key, name in names if one.get(key, 0) != other.get(key, 0)
    ]
    listed = "; ".join(f"{SAY.count(now)} {name} ({SAY.count(was)} before)" for name, was, now in changed)
    return [f"{listed}."] if listed else []


def _bands(one: Mapping[str, Any], other: Mapping[str, Any]) -> list[str]:
    new, gone = [band for band in other if band not in one], [band for band in one if band not in other]
    return [
        *([f"New: reports on {SAY.listed(new)}."] if new else []),
        *([f"No more reports on {SAY.listed(gone)}."] if gone else []),
    ]


def _period(one: Mapping[str, Any], other: Mapping[str, Any]) -> list[str]:
    def spoken(period: Mapping[str, Any]) -> str:
        first, last = (str(period.get(key) or "").replace("T", " ")[:16] for key in ("first_utc", "last_utc"))
        return f"{first} to {last} UTC" if first else "no reports"

    return [] if dict(one) == dict(other) else [f"Reports from {spoken(other)}, {spoken(one)} before."]


def _comparison(was: Mapping[str, Any] | None, now: Mapping[str, Any] | None) -> list[str]:
    if now is None:
        return [] if was is None else ["Setups are not compared any more."]
    if was is not None and _judged(was) == _judged(now):
        return []
    before = f", {_judged(was)} before" if was else ""
    return [f"{now.get('a')} against {now.get('b')}: {_judged(now)}{before}."]


def _judged(told: Mapping[str, Any]) -> str:
    """The verdict with its difference and interval, as far as there are such."""
    verdict = str(told.get("verdict", ""))
    verdict = {"a better": f"{told.get('a')} better", "b better": f"{told.get('b')} better"}.get(verdict, verdict)
    values = [told.get(key) for key in ("difference_db", "low_db", "high_db")]
    if any(value is None for value in values):
        return verdict
    middle, low, high = (SAY.signed(value) for value in values if value is not None)
    return f"{verdict} ({middle} dB, {low} to {high})"


def read(report: Path) -> dict[str, Any] | None:
    """What a report's folder says in numbers; None where there is no report."""
    try:
        found = json.loads((report / "summary.json").read_text(encoding="utf-8"))
        compared = report / "comparison.json"
        if compared.exists():
            found["comparison"] = json.loads(compared.read_text(encoding="utf-8"))
        return dict(found)
    except (OSError, ValueError, TypeError):
        return None
