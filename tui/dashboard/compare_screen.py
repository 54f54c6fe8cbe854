"""The compare screen: two recordings, before and after, over each other."""

from __future__ import annotations

import asyncio
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal

from daq.errors import SpinvoltError
from tui.dashboard.base_screen import BaseScreen
from tui.dashboard.widgets.heading import Heading
from tui.dashboard.widgets.paragraphs import Paragraphs
from tui.dashboard.widgets.plot import Plot
from tui.dashboard.widgets.rated import RatedOutput
from tui.dashboard.widgets.verdict import VerdictPanel

if TYPE_CHECKING:
    from tui.view.compare import CompareView

__all__ = ["CompareScreen"]

_PROGRESS_PERIOD_S = 0.2


class CompareScreen(BaseScreen):
    """Works both runs out in a thread, then shows what changed.

    Attributes:
        view: what is shown; None until both runs were worked out.
    """

    NAME = "compare"
    CAPTION = "Two runs compared"
    EXPLAINS: ClassVar[tuple[str, ...]] = (
        "Change: rated output after less rated output before, with its uncertainty (95\u00a0%). A change larger than "
        "its uncertainty is significant: the repair, or whatever was done between the runs, made a difference.",
        "Plots: every counted row of both runs against its speed. Dashed line: before; full line: after. "
        "In plain drawing o is before and * is after.",
        "The older recording counts as before; s swaps the two. Reasons that do not fit are read on with the down key.",
    )
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding(
            "t", "next_plot", "plot", id="compare.plot", tooltip="The other plot, where only one has room"
        ),
        Binding("s", "swap", "swap", id="compare.swap", tooltip="Take the other one as before"),
        Binding(
            "down",
            "read(1)",
            "read on",
            key_display="↓",
            id="compare.on",
            tooltip="The reasons, a row further",
        ),
        Binding(
            "up", "read(-1)", "read back", show=False, id="compare.back", tooltip="The reasons, a row back"
        ),
    ]
    CSS_PATH = "compare_screen.tcss"

    def __init__(self, before: Path, after: Path) -> None:
        super().__init__()
        self._pair = (before, after)
        self._parts = [0.0, 0.0]
        self._rated_first = True
        self.view: CompareView | None = None
        self._heading = Heading(id="heading")
        self._change = RatedOutput(id="rated")
        self._meaning = VerdictPanel(id="verdict")
        self._told = Paragraphs(scrolls=True, id="told")
        self._rated_plot = Plot(id="rated-plot")
        self._volts_plot = Plot(id="volts-plot")

    def compose(self) -> ComposeResult:
        yield self._heading
        with Horizontal(id="top"):
            yield self._change
            yield self._meaning
        yield self._told
        with Horizontal(id="both"):
            yield self._rated_plot
            yield self._volts_plot
        yield from self.foot()

    def on_mount(self) -> None:
        """Begin to work the runs out."""
        self._choose_plot()
        self._heading.show("comparing ...", "")
        self._timer = self.set_interval(_PROGRESS_PERIOD_S, self._show_progress)
        self.work_out()

    def work_out(self) -> None:
        """Work both runs out, beside the screen."""
        self.run_worker(self._work_out(*self._pair), exclusive=True)

    async def _work_out(self, before: Path, after: Path) -> None:
        from tui.comparing import compare_recordings

        try:
            self.view = await asyncio.to_thread(compare_recordings, before, after, self._parts)
        except SpinvoltError as error:
            self.dashboard.tell(str(error), severity="error", timeout_s=15)
            self.depart()
            return
        self._timer.pause()
        self._show(self.view)

    def _show_progress(self) -> None:
        from tui.view.working import done_words

        names = " and ".join(path.name for path in self._pair)
        self._heading.show("comparing two runs", done_words(self._parts))
        self._told.show(((f"Working out {names} ...", "quiet"),))

    def _show(self, view: CompareView) -> None:
        self._heading.show(view.heading, "before and after")
        self._change.show(view.change)
        self._meaning.show(view.meaning)
        self._told.show(view.told)
        self._rated_plot.show(view.rated)
        self._volts_plot.show(view.volts)

    def _choose_plot(self) -> None:
        self._rated_plot.set_class(self._rated_first, "-chosen")
        self._volts_plot.set_class(not self._rated_first, "-chosen")

    def action_next_plot(self) -> None:
        """The other plot."""
        self._rated_first = not self._rated_first
        self._choose_plot()

    def action_read(self, by: int) -> None:
        """Scroll the reasons."""
        self._told.scroll_rows(by)

    def action_swap(self) -> None:
        """Take the other one as before."""
        self._pair = (self._pair[1], self._pair[0])
        self.work_out()
