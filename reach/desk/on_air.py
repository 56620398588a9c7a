"""The screen of who was on when: the schedule as a table, above it the reports of each day as a strip that can be painted.

The table is what counts; painting writes into it, and a form keeps it. Without a script the table is filled in by hand.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from typing import Any, Final
from urllib.parse import urlencode

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from reach.base import text
from reach.desk import stale
from reach.desk.bench import WorkError
from reach.desk.frame import PATIENCE_S, Desk, back, plain
from reach.desk.shelf import Kept

MOST_ROWS: Final = 5000
BLANK_ROWS: Final = 3
DAYS_A_PAGE: Final = 14
PLAN: Final = ("a", "b", "start", "half_width_db", "block_min", "hours")
_FIELD: Final = re.compile(r"(start|end|setup|out)-(\d{1,4})")
_KINDS: Final = {"csv": "text/csv; charset=utf-8", "ics": "text/calendar; charset=utf-8"}


def routes(desk: Desk, one: str) -> list[Route]:
    """The addresses of this screen. one : what the address of a study begins with"""
    screen = _OnAir(desk)
    return [
        Route(f"{one}/on-air", screen.show, methods=["GET"]),
        Route(f"{one}/on-air", screen.keep, methods=["POST"]),
        Route(f"{one}/on-air/clock", screen.clock, methods=["POST"]),
        Route(f"{one}/on-air/compare", screen.compare, methods=["POST"]),
        Route(f"{one}/on-air/file", screen.take, methods=["POST"]),
        Route(f"{one}/on-air/plan", screen.take_plan, methods=["POST"]),
        Route(f"{one}/on-air/plan.{{kind:str}}", screen.plan, methods=["GET"]),
    ]


class _OnAir:
    def __init__(self, desk: Desk) -> None:
        self.desk = desk

    async def show(self, request: Request) -> Response:
        study, query = self.desk.found(request), request.query_params
        asked = {name: query.get(name, "") for name in PLAN} if "start" in query else None
        try:
            return await self._page(
                study, asked=asked, saved="saved" in query, first=query.get("day", ""), wait_s=PATIENCE_S
            )
        except TimeoutError:
            return self.desk.page("on-air-reading", study=study, again=f"?{request.url.query}")

    async def keep(self, request: Request) -> Response:
        study = self.desk.found(request)
        form = await request.form(max_fields=4 * MOST_ROWS)
        rows, shown = _rows({name: str(value).strip() for name, value in form.items()}), str(form.get("stamp", ""))
        job = self.desk.clerk.ask("keep_schedule", study.name, path=str(study.path), shown=shown, rows=rows)
        try:
            faults = await self.desk.done(job)
        except WorkError as error:
            return await self._wrong(study, error, rows=rows, stamp=shown)
        if faults:
            return await self._page(study, 422, rows=rows, stamp=shown, faults=faults)
        return back(study, "/on-air?saved#table")

    async def clock(self, request: Request) -> Response:
        study, form = self.desk.found(request), await request.form()
        shift, sure = str(form.get("shift", "")), str(form.get("confirmed", ""))
        if shift and not re.fullmatch(r"-?\d{1,4}(\.\d{1,6})?", shift):
            raise HTTPException(422, "A shift is a number of minutes.")
        order = {"shift_min": float(shift) if shift else None, "confirmed": sure == "yes" if sure else None}
        job = self.desk.clerk.ask(
            "settle_clock", study.name, path=str(study.path), shown=str(form.get("stamp", "")), **order
        )
        try:
            await self.desk.done(job)
        except WorkError as error:
            return await self._wrong(study, error)
        return back(study, "/on-air?saved#clock")

    async def compare(self, request: Request) -> Response:
        study, form = self.desk.found(request), await request.form(max_fields=4 * MOST_ROWS)
        chosen = [str(value) for name, value in form.items() if name.startswith("setup-")]
        job = self.desk.clerk.ask(
            "compare", study.name, path=str(study.path), shown=str(form.get("stamp", "")), setups=chosen
        )
        try:
            await self.desk.done(job)
        except WorkError as error:
            return await self._wrong(study, error, chosen=chosen)
        return back(study, "/on-air?saved#compare")

    async def take(self, request: Request) -> Response:
        study = self.desk.found(request)
        async with request.form(max_files=1, max_fields=5) as form:
            sent, shown = form.get("file"), str(form.get("stamp", ""))
            if not isinstance(sent, UploadFile) or not sent.filename:
                return await self._page(study, 422, file_fault="Choose a file first.")
            called = text.one_line(sent.filename)
            with study.arriving() as arrived:
                await run_in_threadpool(arrived.write_bytes, await sent.read())
                job = self.desk.clerk.ask(
                    "take_schedule", study.name, path=str(study.path), shown=shown, arrived=str(arrived), called=called,
                    zone=str(form.get("zone", "")).strip(),
                )  # fmt: skip
                try:
                    await self.desk.done(job)
                except WorkError as error:
                    return await self._wrong(study, error, at_file=True)
        return back(study, "/on-air?saved#table")

    async def plan(self, request: Request) -> Response:
        """The schedule of a plan as a file."""
        study, kind = self.desk.found(request), request.path_params["kind"]
        if kind not in _KINDS:
            raise HTTPException(404, "There is nothing here.")
        asked = {name: request.query_params.get(name, "") for name in PLAN}
        try:
            made = await self.desk.done(self.desk.ask("plan", study, asked=asked))
        except WorkError as error:
            raise HTTPException(422, plain(str(error))) from None
        headers = {"Content-Disposition": f'attachment; filename="plan.{kind}"'}
        return Response(made[kind].encode("utf-8"), media_type=_KINDS[kind], headers=headers)

    async def take_plan(self, request: Request) -> Response:
        """The rows of a plan below those of the table."""
        study, form = self.desk.found(request), await request.form()
        asked, shown = {name: str(form.get(name, "")) for name in PLAN}, str(form.get("stamp", ""))
        try:
            made = await self.desk.done(self.desk.ask("plan", study, asked=asked))
            told = await self.desk.done(self.desk.clerk.ask("schedule", study.name, path=str(study.path)))
            rows = [*told["rows"], *made["rows"]]
            job = self.desk.clerk.ask("keep_schedule", study.name, path=str(study.path), shown=shown, rows=rows)
            faults = await self.desk.done(job)
        except WorkError as error:
            return await self._wrong(study, error)
        if faults:
            return await self._page(study, 422, rows=rows, stamp=shown, faults=faults)
        return back(study, f"/on-air?saved&day={made['rows'][0]['start'][:10]}#table")

    async def _wrong(self, study: Kept, error: WorkError, *, at_file: bool = False, **shown: Any) -> Response:
        said = plain(str(error))
        if said == stale.SENTENCE:
            return await self._page(study, 409, error=said, **shown)
        if at_file:
            return await self._page(study, 422, file_fault=said, **shown)
        return await self._page(study, 422, error=said, **shown)

    async def _page(
        self,
        study: Kept,
        status: int = 200,
        *,
        rows: list[dict[str, str]] | None = None,
        stamp: str = "",
        faults: Mapping[str, str] | None = None,
        asked: dict[str, str] | None = None,
        first: str = "",
        wait_s: float | None = None,
        **more: Any,
    ) -> Response:
        """rows : as typed; the schedule's own where there are none. asked : of a plan. first : the day that the strips begin
        with. wait_s : TimeoutError where the reports take longer"""
        told = await self.desk.done(self.desk.clerk.ask("schedule", study.name, path=str(study.path)))
        seen, made, plan_fault = None, None, ""
        try:
            if study.files:
                seen = await self.desk.done(self.desk.ask("on_air", study), wait_s)
            if asked is not None:
                made = await self.desk.done(self.desk.ask("plan", study, asked=asked), wait_s)
        except WorkError as error:
            plan_fault, more["error"] = (
                (plain(str(error)), more.get("error", "")) if asked else ("", more.get("error") or plain(str(error)))
            )
        listed = told["rows"] if rows is None else rows
        strips = _strips(seen["days"] if seen else {}, told["rows"], told["setups"])
        days = [strip["day"] for strip in strips["days"]]
        at = next((k for k, day in enumerate(days) if day >= first), 0) if first else 0
        defaults = _asked(told)
        values = {
            "told": told, "rows": [*listed, *({"start": "", "end": "", "setup": ""} for _ in range(BLANK_ROWS))], "stamp": stamp or told["stamp"],
            "faults": faults or {}, "clock": seen["clock"] if seen else None, "asked": asked or defaults, "made": made,
            "query": urlencode(asked or {}), "plan_fault": plan_fault, "strips": {**strips, "days": strips["days"][at : at + DAYS_A_PAGE]},
            "earlier": days[max(at - DAYS_A_PAGE, 0)] if at else "", "later": days[at + DAYS_A_PAGE] if at + DAYS_A_PAGE < len(days) else "",
        }  # fmt: skip
        return self.desk.page(
            "on-air",
            status,
            study=study,
            **{"error": "", "file_fault": "", "saved": False, "chosen": told["compare"], **more, **values},
        )


def _asked(told: Mapping[str, Any]) -> dict[str, str]:
    """What a plan is asked for unless the user says otherwise: the next evening, the setups that are compared."""
    two = [*told["compare"], *told["setups"], "a", "b"]
    evening = datetime.now(UTC).replace(hour=18, minute=0)
    evening += timedelta(days=datetime.now(UTC) > evening)
    other = next((name for name in two if name != two[0]), "b")
    return {
        "a": two[0],
        "b": other,
        "start": f"{evening:%Y-%m-%d %H:%M}",
        "half_width_db": "1",
        "block_min": "10",
        "hours": "",
    }


def _rows(fields: Mapping[str, str]) -> list[dict[str, str]]:
    """The rows of the form in its order, those that are to go left blank."""
    found: dict[int, dict[str, str]] = {}
    for name, value in fields.items():
        if match := _FIELD.fullmatch(name):
            found.setdefault(int(match[2]), {})[match[1]] = value
    blank = {"start": "", "end": "", "setup": ""}
    return [blank if "out" in found[k] else {name: found[k].get(name, "") for name in blank} for k in sorted(found)]


def _strips(counts: Mapping[str, list[int]], rows: list[dict[str, str]], setups: list[str]) -> dict[str, Any]:
    """A strip for each day that has reports or rows: bars of the reports, a lane of blocks for each setup.

    Returns `days`, and of all of them `from` and `to` [hours], `most` reports of a cell.
    """
    blocks: dict[str, list[tuple[int, int, int]]] = {}
    for row in rows:
        start, end = (datetime.fromisoformat(row[name]) for name in ("start", "end"))
        for k in range((end - start).days + 2):
            midnight = datetime.combine(start.date() + timedelta(days=k), datetime.min.time())
            low, high = (max(0, min(1440, round((moment - midnight).total_seconds() / 60))) for moment in (start, end))
            if low < high and len(blocks) < 400:
                blocks.setdefault(f"{midnight:%Y-%m-%d}", []).append((low, high, setups.index(row["setup"])))
    minutes = [5 * k for day in counts.values() for k, number in enumerate(day) if number]
    minutes += [edge for day in blocks.values() for low, high, _ in day for edge in (low, high - 1)]
    low, high = (min(minutes) // 60, max(minutes) // 60 + 1) if minutes else (18, 24)
    low, high = (max(0, min(low, high - 3)), high) if high > 3 else (0, 3)
    most = max((number for day in counts.values() for number in day), default=0) or 1
    days = []
    for day in sorted(counts.keys() | blocks.keys()):
        numbers = counts.get(day, [0] * 288)
        bars = "".join(
            f"M{5 * k - 60 * low} 60h4v-{56 * number / most + 2:.1f}h-4z" for k, number in enumerate(numbers) if number
        )
        days.append(
            {
                "day": day,
                "counts": ",".join(map(str, numbers)),
                "reports": sum(numbers),
                "bars": bars,
                "blocks": blocks.get(day, []),
            }
        )
    step = next(step for step in (1, 2, 3, 4) if (high - low) / step <= 8)
    return {"days": days, "from": low, "to": high, "most": most, "hours": list(range(low, high + 1, step))}
