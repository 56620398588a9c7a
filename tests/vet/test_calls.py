"""Callsigns and listeners' identifiers."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reach.vet import cells


@pytest.mark.parametrize(
    "text",
    [
        "EI4QTB", "ei4qtb/p", "F/EI4QTB", "F/EI4QTB/P", "EI4QTB/MM", "EI4QTB/4", "EA8/EI4QTB", "G4QRA", "K1QSA",
        "2E0QRA",
        "3D2QR", "3DA0QR", "9A1Q", "4X1QTA", "E51QRA", "S57QTA", "T77Q", "A61QT", "5B4QRA", "C6AQR", "VI2026Q",
        "TM100QRA",
        "II2S70Q", "JA1QTA", "R6QSV", "EI4QTB-1", "OE/DL6QSW", " DL2QTC ",
    ],
)  # fmt: skip
def test_callsigns(text):
    assert cells.is_callsign(text)


@pytest.mark.parametrize(
    "text",
    [
        "", "NL9222", "BRS-12345", "DE12345", "OH-SWL", "MONITOR-2", "LISTENER", "R3A-847", "12345", "QRA1A", "Q1QAA",
        "1A1QRA", "EI4", "4QTB", "EI4QTB/", "/P", "EI4QTB//P", "EI 4QTB", "ÉI4QTB", "garden-sdr",
    ],
)  # fmt: skip
def test_no_callsigns(text):
    assert not cells.is_callsign(text)


@pytest.mark.parametrize(
    ("text", "call"),
    [
        ("DL2QTC", "DL2QTC"),
        ("  dl2qtc ", "DL2QTC"),
        ("NL9222", "NL9222"),
        ("Garden  SDR", "GARDEN SDR"),
        ("Küche", "KÜCHE"),
        ("x", "X"),
        ("Y" * cells.LONGEST, "Y" * cells.LONGEST),
    ],
)
def test_identifiers_are_accepted_in_upper_case(text, call):
    assert cells.callsign(text) == (call, None)


@pytest.mark.parametrize(
    ("text", "rule"),
    [
        ("", "callsign-blank"),
        (" \t", "callsign-blank"),
        ("?", "callsign-unreadable"),
        ("---", "callsign-unreadable"),
        ("DL2\x07QTC", "callsign-unreadable"),
        ("Y" * (cells.LONGEST + 1), "callsign-too-long"),
    ],
)
def test_what_names_nobody_is_rejected(text, rule):
    call, finding = cells.callsign(text)
    assert call is None
    assert (finding.rule, finding.severity) == (rule, "rejected")


@pytest.mark.parametrize(
    ("text", "rule", "suggestion"),
    [
        ("DL2 QTC", "callsign-blank-inside", "DL2QTC"),
        ("SMØQTC", "callsign-not-ascii", "SM0QTC"),
        ("DL２QTC", "callsign-not-ascii", "DL2QTC"),
    ],
)
def test_nearly_a_callsign_is_kept_with_a_note(text, rule, suggestion):
    call, finding = cells.callsign(text)
    assert call == text.upper()
    assert (finding.rule, finding.severity, finding.suggestion) == (rule, "note", suggestion)


@given(st.text(max_size=40))
def test_any_text_is_accepted_as_it_is_or_has_a_reason(text):
    call, finding = cells.callsign(text)
    assert (call is None) == (finding is not None and finding.severity == "rejected")
    if call is not None:
        assert call == " ".join(text.split()).upper()
        assert call.isprintable()
