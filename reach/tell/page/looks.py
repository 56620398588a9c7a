"""The page's colours, taken from the style that pictures have, so that both look like one house."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any, Final

from reach.draw import style

STEPS: Final = 48  # colours of a ramp
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
    light, dark = f"color-scheme: light; {light}", f"color-scheme: dark; {dark}"
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


def _hex(stops: tuple[str, ...]) -> list[str]:
    colours = style.ramp(stops, STEPS)(range(STEPS))[:, :3]
    return ["#" + "".join(f"{round(255 * part):02x}" for part in colour) for colour in colours]
