"""The tables of the walk: column names, dtypes, units. Described here once, used everywhere.

Longitude comes before latitude, `rx_` and `tx_` say whose, the unit ends the name. Each step takes one of these
tables and returns a new one; no step writes into its argument.
"""

from __future__ import annotations

from typing import Final

# The spot table: what `vet` returns. One row a spot.
SPOT: Final = {
    "time_utc": ("datetime64[us, UTC]", "start of the transmission, or when it was reported"),
    "rx_call": ("category", "who heard it: a callsign or a listener's identifier, upper case"),
    "rx_locator": ("category", "where, as JN58td"),
    "snr_db": ("float32", "dB in a 2500 Hz reference bandwidth"),
    "band": ("category", "by wavelength, 20m"),
    "freq_mhz": ("float64", "MHz, NaN where unknown"),
    "mode": ("category", "as in the file, upper case, null where unknown"),
    "tx_call": ("category", "the transmitter"),
    "tx_locator": ("category", "its locator"),
    "power_w": ("float32", "power at the radio in W, NaN where unknown"),
    "setup": ("category", "antenna with its feedline and power, null where unknown"),
    "session": ("category", "a stretch of time on one setup, null where unknown"),
    "source": ("category", "the file the row came from"),
    "line": ("int64", "the line in that file, the first line being 1"),
}

# Ends the name of a raw column that stands once more as the file has it, where its cells were rewritten to be understood.
WRITTEN: Final = "_as_written"

# Only where corrections were applied: the locator as it came, null where nothing was changed.
AS_RECEIVED: Final = "rx_locator_as_received"

# Added by `place`.
PLACED: Final = {
    "rx_lon_deg": ("float64", "centre of the receiver's cell, degrees east"),
    "rx_lat_deg": ("float64", "centre of the receiver's cell, degrees north"),
    "distance_km": ("float64", "geodesic on WGS 84, cell centre to cell centre"),
    "distance_uncertainty_km": ("float64", "half diagonals of both cells together: the true distance lies within this"),
    "bearing_deg": ("float64", "initial bearing at the station, 0 <= b < 360, from true north; NaN at distance 0"),
    "country": ("category", "country of the cell's centre (within 25 km), null at sea"),
}

# Added by `suspects`: how far the receiver's locator can be trusted. The spot table carries it from there on, and the
# tally with it, so that nobody joins it again.
TRUSTED: Final = {"trust": ("category", "corroborated, unconfirmed or suspect")}

# What `vet` and the suspects find: one row a problem, in file order. Codes and values; `tell.sentences.problems` makes the
# explanation from them.
PROBLEMS: Final = {
    "source": ("str", "the file"),
    "line": ("int64", "the line in that file"),
    "callsign": ("str", "as in the file"),
    "locator": ("str", "as in the file"),
    "rule": ("str", "a short stable code, such as locator-letter-for-digit; vet.ledger.RULES has all"),
    "severity": ("str", "rejected, suspect or note"),
    "value": ("str", "what it is about: mostly the offending cell; for each rule see vet.ledger.RULES"),
    "other": ("str", "a second value where the rule has one: what the first was held against"),
    "detail": (
        "str",
        "a code or number that tells more where the rule has one: which part of a time, a unit, a region",
    ),
    "kept_source": ("str", "of duplicates: the file of the row that is kept, empty where there is one file only"),
    "kept_line": ("int64", "of duplicates: its line; 0 otherwise"),
    "evidence": ("object", "of suspects: a tuple of suspects.evidence.Piece; None otherwise"),
    "suggestion": ("str", "the obvious repair, empty where there is none; never applied unasked"),
}
SEVERITIES: Final = ("rejected", "suspect", "note")

# What a locator can be trusted with, the same for all rows of one (rx_call, rx_locator).
CORROBORATED: Final = "corroborated"  # the world and its other reports agree with it
UNCONFIRMED: Final = "unconfirmed"  # nothing speaks against it and nothing for it
SUSPECT: Final = "suspect"  # something speaks against it
TRUST: Final = (CORROBORATED, UNCONFIRMED, SUSPECT)

# The tally: one row a distinct key; counts can be added.
TALLY_KEY: Final = ("tx_call", "tx_locator", "rx_call", "rx_locator", "band", "setup", "hour_utc", "snr_db")
TALLY: Final = {
    "tx_call": ("category", ""),
    "tx_locator": ("category", ""),
    "rx_call": ("category", ""),
    "rx_locator": ("category", ""),
    "band": ("category", ""),
    "setup": ("category", "null where unknown"),
    "hour_utc": ("datetime64[s, UTC]", "start of the hour"),
    "snr_db": ("int16", "whole dB, halves to even"),
    "reports": ("int64", "how many spots"),
    "first_utc": ("datetime64[us, UTC]", "the earliest of them"),
    "last_utc": ("datetime64[us, UTC]", "the latest of them"),
}
# What a cell of the tally knows of its path and receiver beyond its key, where the spots knew it.
CARRIED: Final = {**PLACED, **TRUSTED}

# One row a distinct (rx_call, rx_locator), from the tally: what maps and the page draw.
RECEIVERS: Final = {
    "rx_call": ("category", ""),
    "rx_locator": ("category", ""),
    "rx_lon_deg": ("float64", ""),
    "rx_lat_deg": ("float64", ""),
    "distance_km": ("float64", ""),
    "distance_uncertainty_km": ("float64", ""),
    "bearing_deg": ("float64", ""),
    "country": ("category", ""),
    "reports": ("int64", ""),
    "median_snr_db": ("float64", ""),
    "best_snr_db": ("float64", ""),
    "first_utc": ("datetime64[us, UTC]", ""),
    "last_utc": ("datetime64[us, UTC]", ""),
    "trust": ("category", "corroborated, unconfirmed or suspect"),
}

SECTOR_DEG: Final = 30  # width of a bearing sector; the first is centred on north
RING_EDGES_KM: Final = (0, 500, 1000, 1500, 2000, 3000, 5000, 7500, 10000, 15000, 20100)
