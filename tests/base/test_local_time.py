"""Local time beside UTC, against dates at which clocks are known to have changed."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from reach.base import local_time, tongue
from reach.base.local_time import Change, LocalTime
from reach.tell.sentences import local_time as sentences


def at(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


def test_a_summer_evening_is_two_hours_ahead_in_berlin():
    local = LocalTime.over("Europe/Berlin", at("2026-05-16T18:00"), at("2026-05-16T23:58"))
    assert (local.first_min, local.changes) == (120, ())
    assert local.hours(23) == ("01:00",)
    assert local.below(23) == "01"
    assert sentences.axis(sentences.TIME, local) == "time [UTC]; below: Europe/Berlin at UTC+2"
    assert sentences.note(local) == ""


def test_an_hour_of_a_half_hour_zone_is_not_rounded():
    local = LocalTime.over("Asia/Kolkata", at("2026-05-16T18:00"), at("2026-05-16T23:58"))
    assert (local.below(20), local.below(0)) == ("01:30", "05:30")
    assert sentences.zone(local) == "Asia/Kolkata at UTC+5:30"


def test_west_of_greenwich_the_sign_is_a_minus():
    local = LocalTime.over("America/St_Johns", at("2026-01-16T02:00"), at("2026-01-16T03:00"))
    assert sentences.offset(local.first_min) == "UTC\N{MINUS SIGN}3:30"
    assert local.hours(2) == ("22:30",)


def test_clocks_that_change_meanwhile_are_told_with_the_minute():
    """In the European Union clocks change at 01:00 UTC on the last Sunday of March and October (directive 2000/84/EC)."""
    local = LocalTime.over("Europe/Berlin", at("2026-03-20T12:34:56"), at("2026-11-01T00:00"))
    assert local.changes == (Change(at("2026-03-29T01:00"), 120), Change(at("2026-10-25T01:00"), 60))
    assert local.hours(20) == ("21:00", "22:00")
    assert local.below(20) == "21\n22"
    assert f"{local.at(at('2026-03-29T00:59')):%H:%M} {local.at(at('2026-03-29T01:00')):%H:%M}" == "01:59 03:00"
    said = sentences.note(local)
    assert "29\N{NO-BREAK SPACE}March\N{NO-BREAK SPACE}2026 to UTC+2" in said
    assert "25\N{NO-BREAK SPACE}October\N{NO-BREAK SPACE}2026 to UTC+1" in said
    assert sentences.zone(local) == "Europe/Berlin at UTC+1 and UTC+2"
    assert sentences.hour("X", local, 20) == "X (21:00\N{EN DASH}22:00 or 22:00\N{EN DASH}23:00, Europe/Berlin)"


def test_many_changes_are_counted():
    local = LocalTime.over("Europe/Berlin", at("2022-01-01T00:00"), at("2026-01-01T00:00"))
    assert len(local.changes) == 8
    assert "changed 8 times" in sentences.note(local)


def test_a_zone_that_moved_half_an_hour_for_good():
    """Lord Howe Island's summer time is half an hour: 10:30 and 11:00 ahead of UTC."""
    local = LocalTime.over("Australia/Lord_Howe", at("2026-03-01T00:00"), at("2026-05-01T00:00"))
    assert local.offsets_min == (660, 630)
    assert local.below(0) == "11\n10:30"


def test_without_a_zone_every_text_is_as_it_was():
    assert sentences.axis(sentences.TIME, None) == "time [UTC]"
    assert sentences.hour("X", None, 3) == sentences.hours("X", None, [3]) == sentences.at("X", None) == "X"
    assert sentences.note(None) == ""


@pytest.mark.parametrize("wrong, meant", [("europe/berlin", "Europe/Berlin"), ("Europa/Berlin", "Europe/Berlin")])
def test_a_zone_of_no_such_name_is_told_the_nearest(wrong, meant):
    with pytest.raises(ValueError, match=f"a zone has a name such as '{meant}'"):
        local_time.checked(wrong)


def test_it_is_said_in_the_readers_language():
    local = LocalTime.over("Europe/Berlin", at("2026-05-16T18:00"), at("2026-05-16T23:58"))
    with tongue.speaking("de"):
        assert sentences.axis(sentences.TIME, local) != sentences.axis("time [UTC]", None)
        assert "Europe/Berlin" in sentences.whose(local)
        assert "Local" not in sentences.whose(local)
