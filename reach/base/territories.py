"""The ISO 3166-1 codes of countries as the bundled borders name them, which CLDR knows the names of in every language."""

from __future__ import annotations

from functools import cache
from typing import Final

# Natural Earth shortens some names, and some are spelt otherwise than in CLDR.
_SPELT_OTHERWISE: Final = {
    "Antigua and Barb.": "AG", "Bosnia and Herz.": "BA", "Br. Indian Ocean Ter.": "IO", "British Virgin Is.": "VG",
    "Cabo Verde": "CV", "Cayman Is.": "KY", "Central African Rep.": "CF", "Congo": "CG", "Cook Is.": "CK",
    "Czech Rep.": "CZ", "Côte d'Ivoire": "CI", "Dem. Rep. Congo": "CD", "Dominican Rep.": "DO", "Eq. Guinea": "GQ",
    "Faeroe Is.": "FO", "Falkland Is.": "FK", "Fr. Polynesia": "PF", "Fr. S. Antarctic Lands": "TF",
    "Heard I. and McDonald Is.": "HM", "Hong Kong": "HK", "Macao": "MO", "Marshall Is.": "MH", "Myanmar": "MM",
    "N. Mariana Is.": "MP", "Palestine": "PS", "Pitcairn Is.": "PN", "S. Geo. and the Is.": "GS", "S. Sudan": "SS",
    "Saint Helena": "SH", "Saint Lucia": "LC", "Solomon Is.": "SB", "St-Barthélemy": "BL", "St-Martin": "MF",
    "St. Kitts and Nevis": "KN", "St. Pierre and Miquelon": "PM", "St. Vin. and Gren.": "VC",
    "São Tomé and Principe": "ST", "Trinidad and Tobago": "TT", "Turkey": "TR", "Turks and Caicos Is.": "TC",
    "U.S. Minor Outlying Is.": "UM", "U.S. Virgin Is.": "VI", "United States of America": "US", "Vatican": "VA",
    "W. Sahara": "EH", "Wallis and Futuna Is.": "WF", "eSwatini": "SZ", "Åland": "AX",
}  # fmt: skip
# Polygons that ISO gives no code: they keep their English names.
WITHOUT_CODE: Final = frozenset(
    {"", "Ashmore and Cartier Is.", "Indian Ocean Ter.", "N. Cyprus", "Siachen Glacier", "Somaliland"}
)


@cache
def _by_english_name() -> dict[str, str]:
    from babel import Locale

    known = Locale("en").territories
    return {name: code for code, name in known.items() if len(code) == 2 and code.isalpha()} | _SPELT_OTHERWISE


def code(name: str) -> str:
    """The code of a country by its name in the bundled borders; "" where it has none."""
    return _by_english_name().get(name, "")
