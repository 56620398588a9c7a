"""Headers: trade terms in any dress, units, the user's own word, and errors that teach."""

import pytest

from reach.base.ways import Medium
from reach.errors import InputError
from reach.read import headers

SOUND = ["Time", "Callsign", "Locator", "SNR", "Band"]


@pytest.mark.parametrize(
    ("header", "column"),
    [
        ("callsign", "rx_call"),
        ("CALLSIGN", "rx_call"),
        ("Call sign", "rx_call"),
        ("heard_by", "rx_call"),
        ("Heard by", "rx_call"),
        ("  Reporter ", "rx_call"),
        ("RX-Call", "rx_call"),
        ("rxCall", "rx_call"),
        ("\ufeffcallsign", "rx_call"),
        ("Grid square", "rx_locator"),
        ("QTH-Locator", "rx_locator"),
        ("Locator (6 characters)", "rx_locator"),
        ("SNR", "snr_db"),
        ("SNR (dB)", "snr_db"),
        ("snr_db", "snr_db"),
        ("S/N", "snr_db"),
        ("Report [dB]", "snr_db"),
        ("SNR (dB in 2500 Hz)", "snr_db"),
        ("Time", "time_utc"),
        ("UTC", "time_utc"),
        ("time_utc", "time_utc"),
        ("Date/Time (UTC)", "time_utc"),
        ("Time (hh:mm)", "time_utc"),
        ("Date (dd.mm.yyyy)", "date"),
        ("Date", "date"),
        ("Band", "band"),
        ("Frequency", "freq"),
        ("Freq (MHz)", "freq_mhz"),
        ("QRG [kHz]", "freq_khz"),
        ("frequency_hz", "freq_hz"),
        ("MHz", "freq_mhz"),
        ("Power", "power_w"),
        ("Power (W)", "power_w"),
        ("Power dBm", "power_dbm"),
        ("pwr_mw", "power_mw"),
        ("Transmitter", "tx_call"),
        ("Transmitter grid", "tx_locator"),
        ("Antenna", "setup"),
        ("Mode", "mode"),
        ("Time (local)", None),  # not UTC: to be refused, not guessed
        ("Local time", None),
        ("Freq (GHz)", None),
        ("Power (kW)", None),
        ("Remarks", None),
        ("distance_km", None),
        ("", None),
    ],
)
def test_recognises(header, column):
    assert headers.recognise(header) == column


def test_no_trade_term_names_two_columns():
    seen = {}
    for column, names in headers.ALIASES.items():
        for name in names:
            for term in [name, *(f"{name} {unit}" for unit in headers.UNITS.get(column, {}))]:
                plain = "".join(c for c in term.casefold() if c.isalnum())
                kind = headers.recognise(term).split("_")[0]
                assert seen.setdefault(plain, kind) == kind, term


def test_every_alias_is_recognised_as_its_column():
    for column, names in headers.ALIASES.items():
        for name in (column, *names):
            assert headers.recognise(name.upper()) == column


def test_places_and_what_is_left_over():
    found = headers.match(["Remarks", "Time", "Callsign", " ", "Locator", "SNR", "Band", "km"])
    assert found.place == {"time_utc": 1, "rx_call": 2, "rx_locator": 4, "snr_db": 5, "band": 6}
    assert found.unused == ("Remarks", "km")


@pytest.mark.parametrize(
    ("names", "pair"),
    [
        (["Time", "UTC"], "'Time' and 'UTC' both name the time"),
        (["Call", "Reporter"], "'Call' and 'Reporter' both name the receiver's callsign"),
        (["Freq (Hz)", "Freq (MHz)"], "both name the frequency"),
        (["Power (W)", "dBm"], "both name the power"),
        (["SNR", "SNR"], "two columns are headed 'SNR'"),
    ],
)
def test_two_headers_for_one_thing_are_both_named(names, pair):
    with pytest.raises(InputError, match=r"^spots\.csv: ") as error:
        headers.match(names, name="spots.csv")
    assert pair in str(error.value)


def test_the_error_shows_the_option_that_helps():
    with pytest.raises(InputError, match=r"columns=\{'callsign': 'Heard by'\}"):
        headers.match(["Call", "Heard by"])
    assert headers.match(["Call", "Heard by"], {"callsign": "Heard by"}).place == {"rx_call": 1}


@pytest.mark.parametrize(
    ("columns", "names", "place"),
    [
        ({"callsign": "Who"}, ["Who"], {"rx_call": 0}),
        ({"callsign": "who "}, ["WHO"], {"rx_call": 0}),
        ({"locator": "Where"}, ["Where"], {"rx_locator": 0}),
        ({"frequency": "QRG kHz"}, ["QRG kHz"], {"freq_khz": 0}),
        ({"frequency": "Channel"}, ["Channel"], {"freq": 0}),
        ({"frequency_khz": "Channel"}, ["Channel"], {"freq_khz": 0}),
        ({"freq_hz": "Channel"}, ["Channel"], {"freq_hz": 0}),
        ({"power": "Output dBm"}, ["Output dBm"], {"power_dbm": 0}),
        ({"power": "Window"}, ["Window"], {"power_w": 0}),
        ({"transmitter_locator": "Home"}, ["Home"], {"tx_locator": 0}),
        ({"time": "B"}, ["Time", "B"], {"time_utc": 1}),
        ({"transmitter": "Call", "callsign": "Reporter"}, ["Call", "Reporter"], {"tx_call": 0, "rx_call": 1}),
    ],
)
def test_the_user_goes_before_the_map(columns, names, place):
    assert headers.match(names, columns).place == place


@pytest.mark.parametrize(
    ("columns", "names", "message"),
    [
        ({"calsign": "A"}, ["A"], "did you mean 'callsign'"),
        ({"xyzzy": "A"}, ["A"], "known are time, date, callsign"),
        ({"callsign": "A", "transmitter": "A"}, ["A"], "asked to hold two things"),
        ({"callsign": "A"}, ["A", "A"], "2 columns are headed 'A'"),
        ({"frequency_hz": "A", "frequency_khz": "B"}, ["A", "B"], "both name the frequency"),
    ],
)
def test_a_choice_that_cannot_be_is_refused(columns, names, message):
    with pytest.raises(InputError, match=message):
        headers.match(names, columns)


def test_what_every_spot_needs():
    only_date = ["Date", "Callsign", "Locator", "SNR", "MHz"]
    for enough in (SOUND, only_date):
        headers.require(headers.match(enough), enough)
        for k in range(len(enough)):  # and nothing of it can be missed
            rest = enough[:k] + enough[k + 1 :]
            with pytest.raises(InputError):
                headers.require(headers.match(rest), rest)


@pytest.mark.parametrize(
    ("without", "words", "option"),
    [
        ("Time", "the time", "time"),
        ("Callsign", "the receiver's callsign", "callsign"),
        ("Locator", "the receiver's locator", "locator"),
        ("SNR", "the SNR", "snr"),
        ("Band", "the band or frequency", "band"),
    ],
)
def test_a_missing_column_is_one_sentence_with_the_headers_and_the_option(without, words, option):
    names = [name for name in SOUND if name != without]
    with pytest.raises(InputError) as error:
        headers.require(headers.match(names), names, name="spots.csv")
    listed = ", ".join(map(repr, names))
    assert error.value.said(Medium.OPTION) == (
        f"spots.csv: no column for {words} among the headers {listed}; "
        f"say which one it is with --column {option}=HEADER."
    )


def test_several_missing_columns_are_named_together():
    with pytest.raises(InputError, match="no column for the time, the SNR and the band or frequency among"):
        headers.require(headers.match(["Callsign", "Locator"]), ["Callsign", "Locator"])
