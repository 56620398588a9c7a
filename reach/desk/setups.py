"""The station and its setups as a form has them: read from a study, judged, shown with what reaches each antenna, kept.

A form is texts as they were typed: those of the station by the study's own keys, `position`, and `setups`, a list in which each has
`was` (its name in the study, '' for a new one), `name`, its own keys, those of its cable, and `bands`, a list of matches.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

from reach import study as studies
from reach.errors import LineError, LocatorError, StudyError
from reach.study import Match, Setup, Study

OWN: Final = "own"  # instead of a class of cable: the user's own figure
STATION: Final = ("callsign", "locator", "power_w")
TOP: Final = ("direction", "title", "about")
MATCH: Final = ("swr", "resistance_ohm", "reactance_ohm")
CABLE: Final = ("length_m", "loss_db_per_100m", "loss_at_mhz")
_NUMBERS: Final = frozenset({"power_w", *MATCH, *CABLE})
_BUDGET_BANDS: Final = (6, 160)  # metres, both included

Form = dict[str, Any]


def form_of(study: Study) -> Form:
    """A study's station and setups as they stand in a form that nobody has touched."""
    given = {**study.station.model_dump(), **{name: getattr(study, name) for name in TOP}, "position": ""}
    return {
        **{name: _written(value) for name, value in given.items()},
        "setups": [_form_of(name, each) for name, each in study.setups.items()],
    }


def _form_of(name: str, setup: Setup) -> Form:
    cable = setup.cable.model_dump() if setup.cable else dict.fromkeys(("kind", *CABLE))
    kind = OWN if cable["loss_db_per_100m"] is not None else cable["kind"]
    texts = {"antenna": setup.antenna, "power_w": setup.power_w, **_match(setup), **cable, "kind": kind}
    bands = [
        {"band": band, **{key: _written(value) for key, value in _match(each).items()}}
        for band, each in setup.bands.items()
    ]
    return {"was": name, "name": name, **{key: _written(value) for key, value in texts.items()}, "bands": bands}


def _match(match: Match) -> dict[str, float | None]:
    return {name: getattr(match, name) for name in MATCH}


def _written(value: object) -> str:
    return "" if value is None else f"{value:.12g}" if isinstance(value, float) else str(value)


class Judged:
    """A form, judged: `station`, `top` and `setups` as a study has them, as far as they can be, and `faults`.

    faults : sentences by the field that they stand beside: 'locator', 'setup-0-swr', 'setup-0-band-1-swr'; 'setups' for all of them
    """

    def __init__(self, form: Form) -> None:
        self.faults: dict[str, str] = {}
        self.station: dict[str, Any] = {name: _value(name, form[name]) for name in STATION if name in form}
        self.top: dict[str, Any] = {
            name: form[name] for name in TOP if form.get(name) or (name == "about" and name in form)
        }
        self.setups: dict[str, dict[str, Any]] | None = None
        self._place(form)
        self._check({"station": self.station, **self.top}, {})
        if form.get("setups") is not None:
            self.setups = {}
            for k, each in enumerate(form["setups"]):
                self._setup(k, each)

    def _place(self, form: Form) -> None:
        from reach.base import locator, position

        try:
            if form.get("position"):
                lon, lat = position.read(form["position"])
                self.station["locator"] = str(locator.from_position(lon, lat)[0])
            elif form.get("locator"):
                self.station["locator"] = locator.checked(form["locator"])
        except LocatorError as error:
            self.faults["position" if form.get("position") else "locator"] = str(error)

    def _setup(self, k: int, form: Form) -> None:
        assert self.setups is not None
        at, name = f"setup-{k}", form["name"]
        if not name:
            self.faults[f"{at}-name"] = "A setup needs a name, such as 'vertical'."
        elif name in self.setups:
            self.faults[f"{at}-name"] = f"Two setups are called {name!r}; give one of them another name."
        given: dict[str, Any] = {
            "antenna": form["antenna"],
            "power_w": _value("power_w", form["power_w"]),
            **_numbers(form, MATCH),
        }
        places = {f"setups.x.{key}": f"{at}-{key}" for key in ("antenna", "power_w", *MATCH)}
        if form["kind"]:
            own = form["kind"] == OWN
            given["cable"] = _numbers(form, CABLE if own else ("length_m",)) | ({} if own else {"kind": form["kind"]})
            places |= {f"setups.x.cable.{key}": f"{at}-{key}" for key in CABLE}
            places |= {"setups.x.cable": f"{at}-kind", "setups.x.cable.kind": f"{at}-kind"}
        given["bands"], more = self._bands(at, form["bands"])
        sound = self._check(
            {"setups": {"x": given}}, {**places, **more, "setups.x": f"{at}-swr"}, otherwise=f"{at}-name"
        )
        if sound is not None and name:
            self.setups[name] = given
            self._line(f"{at}-kind", sound.setups["x"])

    def _bands(self, at: str, rows: list[Form]) -> tuple[dict[str, Any], dict[str, str]]:
        """Matches by band, and the field of each of their keys. Rows that say nothing are none."""
        found: dict[str, Any] = {}
        places: dict[str, str] = {}
        for k, row in enumerate(rows):
            band, numbers = row["band"], _numbers(row, MATCH)
            if not band:
                if any(value is not None for value in numbers.values()):
                    self.faults[f"{at}-band-{k}-band"] = "Say on which band this was measured."
                continue
            if band in found:
                self.faults[f"{at}-band-{k}-band"] = f"{band} stands here twice."
            found[band] = numbers
            places |= {f"setups.x.bands.{band}.{key}": f"{at}-band-{k}-{key}" for key in MATCH}
            places |= {f"setups.x.bands.{band}": f"{at}-band-{k}-swr"}
        return found, places

    def _check(self, given: dict[str, Any], places: Mapping[str, str], *, otherwise: str = "") -> Study | None:
        """What a study makes of it; where it makes none, the sentence goes to its field."""
        try:
            return studies.check(given, name="form")
        except StudyError as error:
            said = str(error).removeprefix("form: ")
            key, _, rest = said.removeprefix("'").partition("': ")
            known = {**{f"station.{name}": name for name in STATION}, **{name: name for name in TOP}, **places}
            field = known.get(key, otherwise) if rest else otherwise
            self.faults.setdefault(field, rest if rest and key in known else said)
            return None

    def _line(self, field: str, setup: Setup) -> None:
        from reach.radio import power

        try:
            power.budget(setup, 1.0, None)
        except LineError as error:
            self.faults.setdefault(field, str(error))


def _numbers(form: Mapping[str, str], names: tuple[str, ...]) -> dict[str, Any]:
    return {name: _value(name, form[name]) for name in names}


def _value(name: str, typed: str) -> Any:
    """What a study is told: of a number its text with a point, None where nothing was typed."""
    return (typed.replace(",", ".").replace("\u2212", "-") or None) if name in _NUMBERS else typed


def seen(form: Form, *, bands: list[str]) -> dict[str, Any]:
    """What a form shows beside its fields.

    bands : that the reports are on; all from 160 to 6 metres where none are known
    Returns `faults`, `place` (as `cell.shown` has it; None without a locator), `budgets` (one a setup; None where it is wrong),
    `cautions`,
    and what can be chosen: `cables`, `bands`.
    """
    from reach.base import bands as known
    from reach.desk import cell
    from reach.radio import feedline

    judged = Judged(form)
    locator = judged.station.get("locator")
    wrong = judged.faults.keys() & {"locator", "position"}
    place = cell.shown(locator) if locator and len(locator) > 2 and not wrong else None
    return {
        "faults": judged.faults,
        "place": place,
        "cautions": _cautions(judged),
        "budgets": _budgets(judged, form, bands),
        "cables": [each.name for each in feedline.classes()],
        "bands": list(known.names()),
    }


def _cautions(judged: Judged) -> list[str]:
    from reach.base.words import DESK
    from reach.tell.sentences import cautions

    powers = [judged.station.get("power_w"), *(each["power_w"] for each in (judged.setups or {}).values())]
    watts = []
    for power in powers:
        try:
            watts.append(studies.check({"station": {"power_w": power}}).station.power_w or 0.0)
        except StudyError:  # said beside its field
            continue
    return cautions.lines(max(watts, default=0.0) or cautions.USUAL_W, DESK)


def _budgets(judged: Judged, form: Form, bands: list[str]) -> list[dict[str, Any] | None]:
    if judged.setups is None:
        return []
    station = {"power_w": None if "power_w" in judged.faults else judged.station.get("power_w")}
    found: list[dict[str, Any] | None] = []
    for k, each in enumerate(form["setups"]):
        wrong = any(field.startswith(f"setup-{k}-") for field in judged.faults)
        one = None if wrong else judged.setups[each["name"]]
        found.append(
            None if one is None else _budget(studies.check({"station": station, "setups": {each["name"]: one}}), bands)
        )
    return found


def _budget(study: Study, reported: list[str]) -> dict[str, Any]:
    """What reaches the antenna of its one setup: a row a band where it is known, sentences where it is not, and how sure it is."""
    from reach.base import bands as known
    from reach.base.words import DESK
    from reach.radio import power
    from reach.tell.sentences import power as sentences

    (setup,) = study.setups.values()
    low, high = _BUDGET_BANDS
    names = reported or [name for name in known.names() if low <= known.wavelength_m(name) <= high]
    rows: list[dict[str, str]] = []
    lacking: dict[str, list[str]] = {}
    swing = 0.0
    for (_, band), each in power.budgets(study, known.in_order({*names, *setup.bands})).items():
        if each.power_at_antenna_w is None:
            lacking.setdefault(sentences.budget(each, DESK)[0], []).append(band)
            continue
        swing = max(swing, each.extra_swing_db or 0.0)
        rows.append(
            {
                "band": band,
                "reaches": sentences.watts(each.power_at_antenna_w, DESK),
                "loss": f"{each.total_loss_db or 0.0:.2f} dB",
                "antenna": "" if each.swr_at_antenna is None else f"{each.swr_at_antenna:.2f}",
                "radio": "" if each.swr_at_radio is None else f"{each.swr_at_radio:.2f}",
            }
        )
    first = next(iter(lacking), "")
    same = len(lacking) == 1 and not rows
    notes = [first] if same else [f"{', '.join(at)}: {said}" for said, at in lacking.items()]
    return {
        "rows": rows,
        "notes": [*notes, *([sentences.swing(swing, DESK)] if sentences.swing(swing, DESK) else [])],
    }


def keep(path: Path, form: Form) -> dict[str, str]:
    """Put a form into a study, its comments kept, and new names of setups into its schedule. Returns faults by field; where there
    are any, nothing is changed."""
    from reach.desk import air
    from reach.tell import study_file

    judged = Judged(form)
    if judged.faults:
        return judged.faults
    base = studies.load(path)
    changes: dict[str, Any] = {"station": judged.station, **judged.top}
    was: dict[str, str] = {}
    if judged.setups is not None:
        was = {each["was"]: each["name"] for each in form["setups"] if each["was"] in base.setups}
        if taken := next(
            (new for old, new in was.items() if old != new and new in base.setups.keys() - was.keys()), None
        ):
            return {"setups": f"{taken!r} is taken out here: keep that first, then give its name to another setup."}
        changes["setups"] = judged.setups
        base = _renamed(base, was)
    try:
        changed = studies.changed(base, **changes)
    except StudyError as error:
        return {"setups": str(error).removeprefix("arguments: ")}
    study_file.rewrite(path, changed)
    if moved := {old: new for old, new in was.items() if old != new}:
        air.renamed(path, moved)
    return {}


def _renamed(base: Study, names: Mapping[str, str]) -> Study:
    """A study in which setups have other names, wherever it names them. names : new by old, each once"""
    from reach.tell import study_file

    moved = {old: new for old, new in names.items() if old != new}
    if not moved:
        return base
    written = base.source
    # By way of names that nobody has, so that two may exchange theirs.
    way = {old: f"{max((*base.setups, *moved.values()), key=len)}-{k}" for k, old in enumerate(moved)}
    for old, between in way.items():
        written = study_file.renamed(written, old, between)
    for old, between in way.items():
        written = study_file.renamed(written, between, moved[old])
    return studies.check(tomllib.loads(written), folder=base.folder, source=written)
