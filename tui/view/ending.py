"""What the screen says once a run is over: that it is closed, where it lies, and what can be done now."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tui.text import clean

if TYPE_CHECKING:
    from tui.view.state import ViewState

__all__ = ["ended_sentence", "replay_sentence"]


def ended_sentence(view: ViewState, name: str, *, first: bool) -> str:
    """The sentence of a run that has ended.

    Args:
        view: what is being shown; it has ended.
        name: the recording's file name.
        first: leaving this screen leaves the program.
    """
    leaves = "q leaves" if first else "q goes back"
    return f"Closed; {leaves}. It lies in {clean(name, 80)}. {view.now}"


def replay_sentence(view: ViewState) -> str:
    """The sentence at a replay's end."""
    return f"The whole run's result; space plays it from its beginning. {view.now}"
