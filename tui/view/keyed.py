"""What to do now where readings are typed: no cable is at fault while nobody types."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from daq.model.reading import Quality
from tui.text import clean
from tui.view.current import STALE_S, lasts_s
from tui.view.numbers import seconds
from tui.view.state import Tone

if TYPE_CHECKING:
    from daq.run.snapshot import Snapshot

__all__ = ["Typing", "typed_sentence"]

Typing = Literal["key", "line", "elsewhere"]
"""How readings are typed here: behind the key k, as a line of standard input, or by someone else."""
_DO: dict[Typing, str] = {
    "key": "Press k and type what the displays show",
    "line": "Type what the displays show, in one line",
    "elsewhere": "The readings are typed by whoever records this run",
}
_KEYBOARD = "keyboard"


def typed_sentence(snapshot: Snapshot, typing: Typing) -> tuple[str, Tone] | None:
    """The sentence where typed readings are what is due; None where something else is to be said."""
    typed = [health for health in snapshot.health if health.address == _KEYBOARD]
    others = [health for health in snapshot.health if health.address != _KEYBOARD]
    silent = any(each.age_s is None or each.age_s > lasts_s(each.usual_s) for each in others)
    if snapshot.finished or not typed or silent:
        return None
    if not others and (refused := _refused(snapshot, typed[0].text)):
        return refused, "doubt"
    ages = [health.age_s for health in typed if health.age_s is not None]
    if not ages:
        return f"{_DO[typing]}.", "doubt"
    if min(ages) > STALE_S:
        return f"{_DO[typing]}; the last line came {seconds(min(ages))} ago.", "doubt"
    return None


def _refused(snapshot: Snapshot, text: str) -> str:
    """Why the newest line was not taken, or ""."""
    newest = min(
        (each for each in (snapshot.voltage, snapshot.speed) if each is not None),
        key=lambda each: each.age_s,
        default=None,
    )
    if newest is None or newest.quality is not Quality.BAD_FRAME:
        return ""
    return clean(text, 400) or "The last line was not taken: type it again."
