"""The screen of the station and its setups: whose reports, from where, with which antennas, and what reaches each of them.

One form holds all of it. While it is typed in, a script asks for what stands beside the fields; without one a button does.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any, Final

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from reach.desk import stale
from reach.desk.bench import WorkError
from reach.desk.frame import Desk, back, plain
from reach.desk.shelf import Kept

STATION: Final = ("callsign", "locator", "position", "power_w", "direction", "title", "about")
SETUP: Final = (
    "was", "name", "antenna", "power_w", "kind", "length_m", "loss_db_per_100m", "loss_at_mhz", "swr", "resistance_ohm", "reactance_ohm",
)  # fmt: skip
BAND: Final = ("band", "swr", "resistance_ohm", "reactance_ohm")
_FIELD: Final = re.compile(r"setup-(\d{1,3})-(?:band-(\d{1,3})-)?([a-z_0-9]+)")


def routes(desk: Desk, one: str) -> list[Route]:
    """The addresses of this screen. one : what the address of a study begins with"""
    screen = _Station(desk)
    return [
        Route(f"{one}/station", screen.show, methods=["GET"]),
        Route(f"{one}/station", screen.take, methods=["POST"]),
        Route(f"{one}/station/beside", screen.beside, methods=["POST"]),
    ]


class _Station:
    def __init__(self, desk: Desk) -> None:
        self.desk = desk

    async def show(self, request: Request) -> Response:
        return await self._page(self.desk.found(request), None, saved="saved" in request.query_params)

    async def take(self, request: Request) -> Response:
        """Keep what was typed; or, as the button says, show it with a field more or less, and keep nothing yet."""
        study, form = self.desk.found(request), await request.form()
        typed = _typed({name: str(value).strip() for name, value in form.items()})
        shown, action = str(form.get("stamp", "")), str(form.get("action", "keep"))
        if action != "keep":
            return await self._page(study, typed, stamp=shown, focus=_changed(typed, action), unkept=True)
        job = self.desk.clerk.ask("keep_setups", study.name, path=str(study.path), shown=shown, form=typed)
        try:
            faults = await self.desk.done(job)
        except WorkError as error:
            said = plain(str(error))
            status = 409 if said == stale.SENTENCE else 422
            return await self._page(study, typed, status, stamp=shown, error=said)
        return (
            await self._page(study, typed, 422, stamp=shown, faults=faults) if faults else back(study, "/station?saved")
        )

    async def beside(self, request: Request) -> Response:
        """What stands beside the fields, as a piece of a page."""
        study = self.desk.found(request)
        typed = _typed({name: str(value).strip() for name, value in (await request.form()).items()})
        told = await self.desk.done(self._asked(study, typed))
        return self.desk.page("station-beside", study=study, form=told["form"], seen=told["seen"])

    def _asked(self, study: Kept, form: dict[str, Any] | None) -> Any:
        looked = self.desk.bench.latest("look", study.name)
        bands = looked.result["bands"] if looked is not None and looked.result else []
        return self.desk.clerk.ask("setups", study.name, path=str(study.path), bands=bands, form=form)

    async def _page(
        self,
        study: Kept,
        form: dict[str, Any] | None,
        status: int = 200,
        *,
        stamp: str = "",
        error: str = "",
        faults: Mapping[str, str] | None = None,
        focus: str = "",
        unkept: bool = False,
        saved: bool = False,
    ) -> Response:
        """form : as typed; the study's own where there is none. focus : the field that the reader goes on with"""
        asked = None if form is None else {**form, "setups": form["setups"] or []}
        told = await self.desk.done(self._asked(study, asked))
        return self.desk.page(
            "station", status, study=study, form=told["form"], seen=told["seen"], stamp=stamp or told["stamp"], error=error,
            faults={**_said(told["seen"]["faults"], unkept), **(faults or {})}, focus=focus, unkept=unkept, saved=saved,
        )  # fmt: skip


def _said(faults: Mapping[str, str], unkept: bool) -> dict[str, str]:
    """Faults that are told: not yet of a name that the user is about to write."""
    return {field: said for field, said in faults.items() if not (unkept and field.endswith(("-name", "-band")))}


def _typed(fields: Mapping[str, str]) -> dict[str, Any]:
    """A form as `setups` takes it; `setups` is None where the form had none."""
    setups: dict[int, dict[str, Any]] = {}
    bands: dict[tuple[int, int], dict[str, str]] = {}
    for name, value in fields.items():
        if match := _FIELD.fullmatch(name):
            k, row, key = int(match[1]), match[2], match[3]
            each = setups.setdefault(k, {**dict.fromkeys(SETUP, ""), "bands": []})
            if row is None and key in SETUP:
                each[key] = value
            elif row is not None and key in BAND:
                bands.setdefault((k, int(row)), dict.fromkeys(BAND, ""))[key] = value
    for (k, _), row_of in sorted(bands.items()):
        setups[k]["bands"].append(row_of)
    listed = [setups[k] for k in sorted(setups)]
    return {
        **{name: fields[name] for name in STATION if name in fields},
        "setups": listed if "setups" in fields else None,
    }


def _changed(form: dict[str, Any], action: str) -> str:
    """Add or take out what a button asks for. Returns the field to go on with; HTTPException where no button asks so."""
    what, _, number = action.partition("-")
    setups: list[dict[str, Any]] = form["setups"] or []
    if what == "show":
        return ""
    if what == "add":
        form["setups"] = [*setups, {**dict.fromkeys(SETUP, ""), "bands": []}]
        return f"setup-{len(setups)}-name"
    if number.isdecimal() and int(number) < len(setups):
        if what == "remove":
            del setups[int(number)]
            return "add"
        if what == "band":
            setups[int(number)]["bands"].append(dict.fromkeys(BAND, ""))
            return f"setup-{number}-band-{len(setups[int(number)]['bands']) - 1}-band"
    raise HTTPException(404, "There is nothing here.")
