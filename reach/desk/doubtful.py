"""The screen of doubtful locators: a card for each, the heaviest first; the user takes what was probably meant, leaves it, or
says another. Decisions stand in the study's file of corrections, which the command line reads too."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final
from urllib.parse import urlencode

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from reach.base import text
from reach.desk.bench import WorkError
from reach.desk.frame import PATIENCE_S, Desk, back, plain
from reach.desk.shelf import Kept

_OTHER: Final = "other"
_LONGEST: Final = 200  # characters of a callsign or a locator as the files have them
_PLACE: Final = ("start", "at", "call", "locator", "looks")
_FIELDS: Final = ("callsign", "locator", "suggestion", "reason", "rows")


def routes(desk: Desk, one: str) -> list[Route]:
    """The addresses of this screen. one : what the address of a study begins with"""
    screen = _Doubtful(desk)
    return [
        Route(f"{one}/doubtful", screen.show, methods=["GET"]),
        Route(f"{one}/doubtful", screen.decide, methods=["POST"]),
    ]


class _Doubtful:
    def __init__(self, desk: Desk) -> None:
        self.desk = desk

    async def show(self, request: Request) -> Response:
        query = {name: request.query_params[name] for name in _PLACE if name in request.query_params}
        if not all(_is_number(query.get(name, "0")) for name in ("start", "looks")):
            raise HTTPException(404, "There is nothing here.")
        return await self._page(self.desk.found(request), query)

    async def _page(
        self, study: Kept, place: Mapping[str, str], status: int = 200, wrong: Mapping[str, str] | None = None
    ) -> Response:
        """place : which page of cards, and what has the focus on it; wrong : the decision that could not be kept, with `error`"""
        start = int(place.get("start", "0"))
        seen: dict[str, Any] | None = None
        again, understood = "", ""
        if study.files:
            try:
                seen = await self.desk.done(
                    self.desk.ask("doubtful", study, start=start), None if wrong else PATIENCE_S
                )
            except TimeoutError:
                # Another address each time: the same one loaded again is scrolled to where it was, and not to what has the focus.
                looks = int(place.get("looks", "0")) + 1
                again = f"?{urlencode({'start': start, **place, 'looks': looks})}"
            except WorkError as problem:
                understood = plain(str(problem))
        return self.desk.page(
            "doubtful", status, study=study, seen=seen, again=again, understood=understood, wrong=wrong or {},
            focus=_focus(seen, place) if seen and not wrong else "",
        )  # fmt: skip

    async def decide(self, request: Request) -> Response:
        study, form = self.desk.found(request), await request.form()
        row = {name: text.one_line(str(form.get(name, ""))).strip() for name in _FIELDS}
        if (
            not any((row["locator"], row["callsign"]))
            or max(len(row[name]) for name in ("callsign", "locator")) > _LONGEST
        ):
            raise HTTPException(422, "Say which locator this is about.")
        told = {"start": str(form.get("start", "0")), "at": str(form.get("at", ""))}
        place = {
            name: each for name, each in told.items() if _is_number(each.removeprefix("m" if name == "at" else ""))
        }
        chosen = str(form.get("choice", "")).strip()
        accept = text.one_line(str(form.get("other", ""))).strip() if chosen == _OTHER else chosen
        try:
            if chosen == _OTHER and not accept:
                raise WorkError("Write the locator that is right, such as IO51es.")
            job = self.desk.clerk.ask("decide", study.name, path=str(study.path), accept=accept, **row)
            await self.desk.done(job)
        except WorkError as error:
            return await self._page(study, place, 422, {**row, "other": accept, "error": plain(str(error))})
        place |= {} if accept else {"call": row["callsign"], "locator": row["locator"]}
        return back(study, f"/doubtful?{urlencode(place)}")


def _is_number(told: str) -> bool:
    return told.isdecimal() and len(told) <= 9


def _focus(seen: Mapping[str, Any], place: Mapping[str, str]) -> str:
    """What has the focus, so that the page is where its reader left it: the number of a card, of a malformed row ('m3'), or 'decided'.

    That which is decided has gone from its list: the next one has taken its place. What was taken back has its card again.
    """
    lists = {"": seen["cards"], "m": seen["malformed"]}
    about = (place.get("call", ""), place.get("locator", ""))
    if any(about):
        for kind, rows in lists.items():
            for number, row in enumerate(rows, 1):
                if (row["callsign"], row["locator"]) == about:
                    return f"{kind}{number}"
    at = place.get("at", "")
    kind, told = ("m", at[1:]) if at.startswith("m") else ("", at)
    if not _is_number(told):
        return ""
    return f"{kind}{min(int(told), len(lists[kind]))}" if lists[kind] else "decided"
