"""The page's colours, taken from the style that pictures have, so that both look like one house."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any, Final

from reach.draw import style

STEPS: Final = 48  # colours of a ramp
SHADES: Final = 9  # of cells that are drawn without a script: as many as the eye tells apart, and a path each
_CANVAS: Final = ("paper", "sea", "land", "border", "ink", "muted", "hair", "ring", "night")


def for_canvas() -> dict[str, Any]:
    """Colours for what is drawn by script: {"light": {"colours": {...}, "ramp": [...], "counts": [...]}, "dark": ...}."""
    return {
        name: {
            "colours": {key: getattr(look, key) for key in _CANVAS},
            "ramp": _hex(look.ramp),
            "counts": _hex(look.counts),
        }
        for name, look in style.THEMES.items()
    }


def css() -> str:
    """The same colours as custom properties: light, dark by the reader's choice or the system's, light on paper."""
    light, dark = (_properties(style.theme(name)) for name in ("light", "dark"))
    return _in_both(f"color-scheme: light; {light}", f"color-scheme: dark; {dark}")


def shades() -> str:
    """Classes s0 .. s8 of groups called counts and far, few to many and near to far, in both looks."""
    ramps = ("counts", "far")
    classes = [f".{ramp} .s{k} {{ fill: var(--{ramp}-{k}); }}" for ramp in ramps for k in range(SHADES)]
    light, dark = (
        " ".join(
            f"--{ramp}-{k}: {colour};"
            for ramp in ramps
            for k, colour in enumerate(_hex(getattr(style.theme(name), ramp), SHADES))
        )
        for name in ("light", "dark")
    )
    return _in_both(light, dark) + "\n" + "\n".join(classes)


def _in_both(light: str, dark: str) -> str:
    """Properties of the light and of the dark look, each where it holds."""
    return "\n".join(
        (
            f":root {{ {light} }}",
            f":root[data-theme=dark] {{ {dark} }}",
            f"@media (prefers-color-scheme: dark) {{ :root:not([data-theme=light]) {{ {dark} }} }}",
            f"@media print {{ :root, :root[data-theme], :root:not([data-theme=light]) {{ {light} }} }}",
        )
    )


def _properties(look: style.Theme) -> str:
    plain = {name: value for name, value in asdict(look).items() if isinstance(value, str) and value.startswith("#")}
    named = {**plain, "a": look.setups[0], "b": look.setups[1]}
    return " ".join(f"--{name}: {value};" for name, value in named.items())


def _hex(stops: tuple[str, ...], steps: int = STEPS) -> list[str]:
    colours = style.ramp(stops, steps)(range(steps))[:, :3]
    return ["#" + "".join(f"{round(255 * part):02x}" for part in colour) for colour in colours]
