"""Three looks of the dashboard: night for the barn lamp, day for a window, contrast for tired eyes.

Hues are apart in blue and orange and in lightness, so that they also differ for keepers who tell
red and green badly; every state is a word and a mark first (see `words`).
"""

from __future__ import annotations

from textual.theme import Theme

NIGHT = Theme(
    name="night",
    primary="#8cc7e8",
    secondary="#e9b872",
    accent="#8cc7e8",
    foreground="#d9e0df",
    background="#10171a",
    surface="#172024",
    panel="#1f2b30",
    warning="#f4c25b",
    error="#ff9563",
    success="#8fd3ae",
    dark=True,
    variables={
        "dim": "#92a2a6",
        "strong": "#f4f7f6",
        "closing": "#ffc44d",
        "late": "#ff9563",
        "open": "#a5c9da",
        "held": "#eba6dc",
        "good": "#8fd3ae",
        "cursor": "#24414f",
        "rule": "#35454b",
    },
)
DAY = Theme(
    name="day",
    primary="#00578a",
    secondary="#7a5200",
    accent="#00578a",
    foreground="#20282b",
    background="#faf7f0",
    surface="#f1ece0",
    panel="#e6dfcf",
    warning="#7a5200",
    error="#a33a00",
    success="#00603f",
    dark=False,
    variables={
        "dim": "#5c676b",
        "strong": "#000000",
        "closing": "#7a5200",
        "late": "#a33a00",
        "open": "#00578a",
        "held": "#8a1d70",
        "good": "#00603f",
        "cursor": "#cfe3ee",
        "rule": "#c6bda9",
    },
)
CONTRAST = Theme(
    name="contrast",
    primary="#ffff00",
    secondary="#ffffff",
    accent="#ffff00",
    foreground="#ffffff",
    background="#000000",
    surface="#000000",
    panel="#1a1a1a",
    warning="#ffd24d",
    error="#ffb38a",
    success="#ffffff",
    dark=True,
    variables={
        "dim": "#d0d0d0",
        "strong": "#ffffff",
        "closing": "#ffd24d",
        "late": "#ffb38a",
        "open": "#9fe3ff",
        "held": "#ffb3f0",
        "good": "#ffffff",
        "cursor": "#004a6e",
        "rule": "#ffffff",
    },
)
THEMES = (NIGHT, DAY, CONTRAST)


def after(name: str) -> str:
    """The look that follows the one called ``name``."""
    names = [theme.name for theme in THEMES]
    place = names.index(name) if name in names else -1
    return names[(place + 1) % len(names)]


def known(name: str) -> str:
    """``name`` where a look is called so, else the usual look."""
    return name if name in [theme.name for theme in THEMES] else NIGHT.name
