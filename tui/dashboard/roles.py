"""How text can be styled on a canvas: each role a colour, perhaps a ground of its own, perhaps bold.

They are no component classes of Textual's: each of those is worked out from the style
sheet for each widget, at the start several times over, which took half of the time to
the first frame.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from rich.style import Style
from textual.color import Color

__all__ = ["ROLES", "role_style"]


class _Role(NamedTuple):
    colour: str
    """A variable of the theme."""
    ground: str = ""
    """The same; "": the widget's own background."""
    bold: bool = False


ROLES: Mapping[str, _Role] = {
    "text": _Role("foreground"),
    "strong": _Role("foreground", bold=True),
    "dim": _Role("sv-dim"),
    "rule": _Role("sv-rule"),
    "good": _Role("sv-good", bold=True),
    "bad": _Role("sv-bad", bold=True),
    "doubt": _Role("sv-doubt", bold=True),
    "quiet": _Role("sv-quiet"),
    "fill-good": _Role("sv-ink", "sv-good", bold=True),
    "fill-bad": _Role("sv-ink", "sv-bad", bold=True),
    "fill-doubt": _Role("sv-ink", "sv-doubt", bold=True),
    "fill-quiet": _Role("sv-ink", "sv-quiet", bold=True),
    "band": _Role("sv-edge"),
    "limit": _Role("sv-bad"),
    "fit": _Role("sv-good"),
    "data": _Role("foreground"),
    "before": _Role("sv-quiet"),
    "after": _Role("sv-good"),
    "in": _Role("foreground", "sv-band"),
    "band-in": _Role("sv-edge", "sv-band"),
    "limit-in": _Role("sv-bad", "sv-band"),
    "fit-in": _Role("sv-good", "sv-band"),
    "doubt-in": _Role("sv-doubt", "sv-band"),
    "data-in": _Role("foreground", "sv-band"),
    "text-in": _Role("foreground", "sv-band"),
    "strong-in": _Role("foreground", "sv-band", bold=True),
    "good-in": _Role("sv-good", "sv-band", bold=True),
    "bad-in": _Role("sv-bad", "sv-band", bold=True),
    "quiet-in": _Role("sv-quiet", "sv-band"),
}
"""The names that end in ``in`` lie within a plot's band, or on the chosen row."""


def role_style(role: str, variables: Mapping[str, str], background: Color) -> Style:
    """The style of a role.

    Args:
        role: one of ``ROLES``.
        variables: the theme's colours by name.
        background: of the widget.
    """
    colour, ground, bold = ROLES[role]
    behind = Color.parse(variables[ground]) if ground else background
    return Style(
        color=Color.parse(variables[colour]).rich_color,
        bgcolor=behind.rich_color,
        bold=True if bold else None,
    )
