"""The one place where screens are registered: what can be gone to by a key from anywhere.

A screen is a subclass of :class:`tui.dashboard.base_screen.BaseScreen` in a
module of its own; its line here gives it a key, a label and a place in the
command palette. The module is imported when the screen is first gone to.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass
from importlib import import_module
from typing import TYPE_CHECKING, cast

from tui.terminal import BROWSER_VARIABLE

if TYPE_CHECKING:
    from tui.dashboard.base_screen import BaseScreen

__all__ = ["PLACES", "Place", "place_named"]


@dataclass(frozen=True)
class Place:
    """A screen that can be gone to from any other."""

    name: str
    """The screen's ``NAME``."""
    key: str
    label: str
    tooltip: str
    factory: str
    """``module:callable``; called without arguments, gives a new screen."""

    def make(self) -> BaseScreen:
        """Build the screen."""
        module, _, name = self.factory.partition(":")
        return cast("Callable[[], BaseScreen]", getattr(import_module(module), name))()


_PLACES: tuple[Place, ...] = (
    Place(
        "recordings",
        "r",
        "recordings",
        "What is in the recordings folder: open, play, compare, export",
        "tui.dashboard.shelf_screen:make_shelf_screen",
    ),
    Place(
        "connect",
        "o",
        "connect",
        "Find instruments and start a run",
        "tui.dashboard.connect_screen:make_connect_screen",
    ),
)

PLACES = () if os.environ.get(BROWSER_VARIABLE) else _PLACES
"""None in a browser: who looks on there sees what is served, and starts and opens nothing else."""


def place_named(name: str) -> Place:
    """The place of that name.

    Raises:
        KeyError: there is none.
    """
    return {place.name: place for place in PLACES}[name]
