"""`reach locator`: from a locator to a position and back, and the path between two places."""

from __future__ import annotations

from typing import Any

import click

from reach.base.words import TERMINAL
from reach.cli import console


@click.command("locator", context_settings={"ignore_unknown_options": True}, short_help="Locator to position and back.")
@click.argument("places", nargs=-1, required=True, metavar="PLACE [PLACE]")
@click.option("--characters", type=click.Choice(["4", "6", "8", "10"]), default="6", help="Length of a locator made.")
@click.option("--json", "as_json", is_flag=True, help="One JSON object.")
def command(places: tuple[str, ...], characters: str, as_json: bool) -> None:
    """Turn a locator into a position, a position into a locator, and tell the path between two places.

    A PLACE is a locator (IO51es) or a latitude and a longitude in degrees, north and east positive (51.77 -9.63).

    \b
      reach locator IO51es
      reach locator 51.77 -9.63
      reach locator IO51es FN31pr
      reach locator IO51es 40.7 -74.0
    """
    found = [_describe(place, int(characters)) for place in _places(places)]
    if len(found) > 2:
        raise click.UsageError("Give one place, or two for the path between them.")
    answer: dict[str, Any] = {"places": found}
    if len(found) == 2:
        answer["path"] = _path(*found)
    console.as_json(answer) if as_json else _print(answer)


def _places(words: tuple[str, ...]) -> list[str | tuple[float, float]]:
    """Words as locators or pairs of degrees."""
    places: list[str | tuple[float, float]] = []
    rest = [part for word in words for part in word.replace(",", " ").split()]
    while rest:
        word = rest.pop(0)
        latitude = _degrees(word)
        if latitude is None:
            places.append(word)
            continue
        longitude = _degrees(rest.pop(0)) if rest else None
        if longitude is None:
            raise click.UsageError(f"{word!r} is a latitude without a longitude; give both, such as 51.77 -9.63.")
        places.append((longitude, latitude))
    return places


def _degrees(word: str) -> float | None:
    try:
        return float(word)
    except ValueError:
        return None


def _describe(place: str | tuple[float, float], characters: int) -> dict[str, Any]:
    from reach.base import locator
    from reach.place import path

    if isinstance(place, str):
        name = locator.checked(place)
        (lon,), (lat,) = locator.centre([name])
        width, height = locator.cell_deg([name])
        radius = path.cell_radius_km([name])[0]
        return {
            "locator": name,
            "longitude_deg": round(float(lon), 6),
            "latitude_deg": round(float(lat), 6),
            "cell_width_deg": float(width[0]),
            "cell_height_deg": float(height[0]),
            "uncertainty_km": round(float(radius), 3),
        }
    lon, lat = place
    return {
        "locator": str(locator.from_position(lon, lat, characters)[0]),
        "longitude_deg": lon,
        "latitude_deg": lat,
        "uncertainty_km": 0.0,
    }


def _path(start: dict[str, Any], end: dict[str, Any]) -> dict[str, Any]:
    import math

    from reach.place import path
    from reach.tell.sentences import power as sentences

    ends = start["longitude_deg"], start["latitude_deg"], end["longitude_deg"], end["latitude_deg"]
    (distance_km,), (bearing_deg,) = path.inverse(*ends)
    uncertainty_km = start["uncertainty_km"] + end["uncertainty_km"]
    within_deg = path.bearing_within_deg(distance_km, uncertainty_km)
    _, (back_deg,) = path.inverse(*ends[2:], *ends[:2])
    return {
        "geometry": sentences.fewest_hops(float(distance_km), TERMINAL) if distance_km > 0 else "",
        "distance_km": round(float(distance_km), 3),
        "uncertainty_km": round(uncertainty_km, 3),
        "bearing_deg": None if math.isnan(bearing_deg) else round(float(bearing_deg), 2),
        "bearing_uncertainty_deg": None if math.isnan(within_deg) else round(float(within_deg), 2),
        "bearing_back_deg": None if math.isnan(back_deg) else round(float(back_deg), 2),
    }


def _print(answer: dict[str, Any]) -> None:
    for place in answer["places"]:
        lat, lon = place["latitude_deg"], place["longitude_deg"]
        line = (
            f"{place['locator']}  {abs(lat):.4f} {'N' if lat >= 0 else 'S'}  {abs(lon):.4f} {'E' if lon >= 0 else 'W'}"
        )
        near = f"  (centre of its cell; the station is within {place['uncertainty_km']:.1f} km)"
        click.echo(line + (near if "cell_width_deg" in place else ""))
    if "path" in answer:
        from reach.place.path import ANTIPODE_KM

        path = answer["path"]
        about = f" +/- {path['uncertainty_km']:.0f}" if path["uncertainty_km"] else ""
        click.echo(f"distance {path['distance_km']:.0f}{about} km on WGS 84")
        if path["bearing_deg"] is not None:
            click.echo(f"bearing  {path['bearing_deg']:.1f} degrees, back {path['bearing_back_deg']:.1f} degrees")
            if path["distance_km"] > ANTIPODE_KM:
                said = TERMINAL.bearing(path["bearing_deg"], path["bearing_uncertainty_deg"])
                click.echo(f"near the antipode: {said.replace('°', ' degrees')}")
            click.echo(path["geometry"])
