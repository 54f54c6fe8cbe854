"""What the screen says once a run is over: that it is closed, where it lies, and what can be done now."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tui.text import clean

if TYPE_CHECKING:
    from tui.view.state import ViewState

__all__ = ["ended_sentence", "replay_sentence"]

# What is wrong stands first: a narrow screen cuts a sentence at its end.
_CUT_OFF = "Cut off: this recording was never closed"


def ended_sentence(view: ViewState, name: str, *, first: bool) -> str:
    """The sentence of a run that has ended.

    Args:
        view: what is being shown; it has ended.
        name: the recording's file name.
        first: leaving this screen leaves the program.
    """
    leaves = "q leaves" if first else "q goes back"
    if view.cut_off:
        return f"{_CUT_OFF}; {leaves}. It lies in {clean(name, 80)}."
    return f"Closed; {leaves}. It lies in {clean(name, 80)}. {view.now}"


def replay_sentence(view: ViewState) -> str:
    """The sentence at a replay's end."""
    if view.cut_off:
        return f"{_CUT_OFF}; space plays it from its beginning."
    return f"The whole run's result; space plays it from its beginning. {view.now}"
