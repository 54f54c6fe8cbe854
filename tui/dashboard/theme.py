"""Colours. Blue is good, orange is bad, and each comes with a word and a shape besides.

The pairs keep a contrast of at least 4.5:1 against their background, dark and
light (tests/tui/test_small_parts.py works it out by WCAG 2.2, success criterion 1.4.3).
"""

from __future__ import annotations

from textual.theme import Theme

__all__ = ["DARK", "LIGHT", "VARIABLES"]

VARIABLES = {
    "sv-good": "#5ab4f0",
    "sv-bad": "#ff9d4d",
    "sv-doubt": "#e9cf5f",
    "sv-quiet": "#9aa7b5",
    "sv-ink": "#0d1218",
    "sv-dim": "#8f9cab",
    "sv-rule": "#3a4655",
    "sv-band": "#14293b",
    "sv-edge": "#3f7fb0",
    "sv-panel": "#161d26",
}
"""What every colour of ours is called, with the values of the dark theme."""

_LIGHT_VARIABLES = {
    "sv-good": "#005a9c",
    "sv-bad": "#a34100",
    "sv-doubt": "#6d5600",
    "sv-quiet": "#4d5966",
    "sv-ink": "#ffffff",
    "sv-dim": "#55606c",
    "sv-rule": "#b4bec9",
    "sv-band": "#dbe9f6",
    "sv-edge": "#5a8fbd",
    "sv-panel": "#e9edf1",
}

DARK = Theme(
    name="spinvolt-dark",
    primary="#5ab4f0",
    secondary="#9aa7b5",
    accent="#ff9d4d",
    warning="#e9cf5f",
    error="#ff9d4d",
    success="#5ab4f0",
    foreground="#eef2f6",
    background="#0d1218",
    surface="#0d1218",
    panel="#161d26",
    dark=True,
    variables={**VARIABLES, "footer-key-foreground": "#5ab4f0", "footer-background": "#161d26"},
)

LIGHT = Theme(
    name="spinvolt-light",
    primary="#005a9c",
    secondary="#4d5966",
    accent="#a34100",
    warning="#6d5600",
    error="#a34100",
    success="#005a9c",
    foreground="#10161d",
    background="#f8fafb",
    surface="#f8fafb",
    panel="#e9edf1",
    dark=False,
    variables={**_LIGHT_VARIABLES, "footer-key-foreground": "#005a9c", "footer-background": "#e9edf1"},
)
