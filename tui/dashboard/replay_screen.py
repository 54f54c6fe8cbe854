"""The run screen over a recording: the same picture, with pause, step, seek and rate."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding, BindingType
from textual.widget import Widget

from tui.control import Watching
from tui.dashboard.run_screen import RunScreen
from tui.dashboard.widgets.scrub import Scrub
from tui.view.ending import replay_sentence
from tui.view.scrub import ScrubView, scrub_view

if TYPE_CHECKING:
    from pathlib import Path

    from daq.run.snapshot import Snapshot
    from tui.replaying import ReplayFeed
    from tui.view.state import ViewState

__all__ = ["ReplayScreen"]

_SEEK_S = 5.0
_FAR_S = 30.0


class ReplayScreen(RunScreen):
    """A recording; its whole result once the end is reached."""

    NAME = "replay"
    CAPTION = "A recording"
    EXPLAINS: ClassVar[tuple[str, ...]] = (
        "This is the run as it was seen while it was recorded; at its end the result of the whole run is shown.",
        "The line near the bottom shows where the speed was in the window; click or pull on it to go there.",
        *RunScreen.EXPLAINS,
    )
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding(
            "space",
            "play_pause",
            "pause/play",
            id="replay.toggle",
            tooltip="Pause, or play on; at the end: from the beginning",
        ),
        Binding("left", f"seek(-{_SEEK_S:g})", "back", key_display="←", id="replay.back", tooltip="5 s back"),
        Binding("right", f"seek({_SEEK_S:g})", "on", key_display="→", id="replay.on", tooltip="5 s on"),
        Binding(
            "shift+left",
            f"seek(-{_FAR_S:g})",
            "far back",
            show=False,
            id="replay.farback",
            tooltip="30 s back",
        ),
        Binding(
            "shift+right", f"seek({_FAR_S:g})", "far on", show=False, id="replay.faron", tooltip="30 s on"
        ),
        Binding(
            "full_stop",
            "step(1)",
            "step",
            key_display=".",
            id="replay.step",
            tooltip="Stand still at the next volts reading",
        ),
        Binding(
            "comma",
            "step(-1)",
            "step back",
            key_display=",",
            show=False,
            id="replay.stepback",
            tooltip="Stand still at the volts reading before",
        ),
        Binding(
            "plus,equals_sign",
            "faster(1)",
            "faster",
            key_display="+",
            id="replay.faster",
            tooltip="Play faster",
        ),
        Binding("minus", "faster(-1)", "slower", key_display="-", id="replay.slower", tooltip="Play slower"),
        Binding("home", "start", "beginning", show=False, id="replay.start", tooltip="To the beginning"),
        Binding(
            "end",
            "finish",
            "end",
            show=False,
            id="replay.end",
            tooltip="To the end, with the whole run's result",
        ),
    ]

    def __init__(self, feed: ReplayFeed, path: Path) -> None:
        super().__init__(feed, Watching(path))
        self._replay = feed
        self._scrub = Scrub(id="scrub")

    def extra_rows(self) -> Iterable[Widget]:
        yield self._scrub

    def tell_happened(self, snapshot: Snapshot) -> None:
        """Nothing: it is over, and whoever looks back finds it among the result's reasons."""

    def status(self) -> str:
        return self._scrubbed().state

    def ended_words(self, view: ViewState) -> str:
        return replay_sentence(view)

    def tick(self) -> None:
        """Show the newest snapshot, and where the replay is."""
        super().tick()
        if self.ready:
            self._scrub.show(self._scrubbed())

    def _scrubbed(self) -> ScrubView:
        state = self._replay.state()
        # The moment that is shown above, not the one that the replay has run on to meanwhile: one frame, one time.
        position_s = state.position_s if self._shown is None else self._shown.t_s
        return scrub_view(
            position_s,
            state.length_s,
            paused=state.paused,
            ended=self.finished,
            cut_off=self.cut_off,
            rate=state.rate,
            speed=state.speed,
        )

    def on_scrub_sought(self, event: Scrub.Sought) -> None:
        """Go where the mouse points."""
        self._replay.seek(event.time_s)

    def action_play_pause(self) -> None:
        """Pause or play."""
        self._replay.toggle()

    def action_seek(self, by_s: float) -> None:
        """Go on or back."""
        self._replay.seek_by(by_s)

    def action_step(self, by: int) -> None:
        """One volts reading on or back."""
        self._replay.step(by)

    def action_faster(self, by: int) -> None:
        """The next rate."""
        self._replay.faster(by)

    def action_start(self) -> None:
        """To the beginning."""
        self._replay.seek(0.0)

    def action_finish(self) -> None:
        """To the end."""
        state = self._replay.state()
        if state.length_s is not None:
            self._replay.seek(state.length_s)
