"""The recordings screen: what is in the folder, and what can be done with it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType

from tui.dashboard.base_screen import BaseScreen
from tui.dashboard.recording_actions import export_recording, write_report
from tui.dashboard.widgets.heading import Heading
from tui.dashboard.widgets.listing import Listing
from tui.dashboard.widgets.paragraphs import Paragraphs
from tui.places import recordings_folder
from tui.shelf.folder import Found, list_folder
from tui.shelf.worker import Summaries, SummaryProcess
from tui.view.shelf import Choice, marked_pair, shelf_view, toggled

if TYPE_CHECKING:
    from tui.shelf.summary import Summary

__all__ = ["ShelfScreen", "make_shelf_screen"]

_LOOK_PERIOD_S = 0.25
_LOOKS_PER_LISTING = 8


def make_shelf_screen() -> ShelfScreen:
    """The recordings screen of the usual folder."""
    return ShelfScreen(recordings_folder(), SummaryProcess())


class ShelfScreen(BaseScreen):
    """What is in the folder, the newest first; looked at again and again while the screen is shown."""

    NAME = "recordings"
    CAPTION = "The recordings"
    EXPLAINS: ClassVar[tuple[str, ...]] = (
        "Each row is a recording: when it began, the machine, how long it is, its rated output with its "
        "uncertainty (95\u00a0%), and the verdict. {good}\u00a0pass  {bad}\u00a0fail  {doubt}\u00a0too close to call",
        "Recording: closed properly; cut off (its whole lines are there, the rest is missing); changed after it "
        "was closed; damaged in parts; or going on at this moment, to be watched.",
        "Comparing: mark one with the space bar, go to another, press c. The older one counts as before.",
        "An export or a report lies beside its recording and never replaces a file.",
    )
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding(
            "enter",
            "open",
            "open",
            key_display="enter",
            id="shelf.open",
            tooltip="Show the run with its result",
        ),
        Binding("y", "play", "play", id="shelf.play", tooltip="Play the recording from its beginning"),
        Binding(
            "space", "mark", "mark", id="shelf.mark", tooltip="Mark for comparing, or take the mark away"
        ),
        Binding(
            "c", "compare", "compare", id="shelf.compare", tooltip="Compare the marked ones, before and after"
        ),
        Binding(
            "e",
            "export",
            "export",
            id="shelf.export",
            tooltip="Write the aligned rows as CSV beside the recording",
        ),
        Binding("w", "report", "report", id="shelf.report", tooltip="Write the report beside the recording"),
        Binding("up", "move(-1)", "up", show=False, id="shelf.up", tooltip="One recording up"),
        Binding("down", "move(1)", "down", show=False, id="shelf.down", tooltip="One recording down"),
        Binding("pageup", "turn(-1)", "page up", show=False, id="shelf.pageup", tooltip="A page up"),
        Binding("pagedown", "turn(1)", "page down", show=False, id="shelf.pagedown", tooltip="A page down"),
        Binding("home", "move(-1000000)", "newest", show=False, id="shelf.home", tooltip="To the newest"),
        Binding("end", "move(1000000)", "oldest", show=False, id="shelf.end", tooltip="To the oldest"),
    ]
    CSS_PATH = "shelf_screen.tcss"

    def __init__(self, folder: Path, summaries: Summaries) -> None:
        """Show a folder.

        Args:
            folder: where the recordings are.
            summaries: works their results out; closed with the screen.
        """
        super().__init__()
        self._folder = folder
        self._summaries = summaries
        self._found: list[Found] = []
        self._known: dict[Path, Summary] = {}
        self._asked: dict[Path, tuple[int, int]] = {}
        self._choice = Choice()
        self._looks = 0
        self._told = ""
        self._heading = Heading(id="heading")
        self._listing = Listing(id="listing")
        self._detail = Paragraphs(id="detail")

    def compose(self) -> ComposeResult:
        yield self._heading
        yield self._listing
        yield self._detail
        yield from self.foot()

    def on_mount(self) -> None:
        """Look at once, then again and again."""
        self.look()
        self.set_interval(_LOOK_PERIOD_S, self.look)

    def on_unmount(self) -> None:
        """End the process that works results out."""
        self._summaries.close()

    def look(self) -> None:
        """See what is new in the folder and what was worked out."""
        if not self.is_current:
            return
        if self._looks % _LOOKS_PER_LISTING == 0:
            self._list()
        self._looks += 1
        for summary in self._summaries.take():
            self._known[Path(summary.path)] = summary
        self._show()

    def _list(self) -> None:
        at = self._index
        try:
            self._found = list_folder(self._folder)
        except OSError as error:
            self._tell_once(f"{self._folder} can't be read: {error.strerror}.")
            return
        self._told = ""
        for found in reversed(self._found):
            as_it_is = (found.modified_ns, found.size_bytes)
            if self._asked.get(found.path) != as_it_is:
                self._asked[found.path] = as_it_is
                self._summaries.want(found.path)
        self._keep_choice(at)

    def _tell_once(self, trouble: str) -> None:
        """Say what is wrong, and not again while it stays so."""
        if trouble != self._told:
            self._told = trouble
            self.dashboard.tell(trouble, severity="error", timeout_s=12)

    def _keep_choice(self, at: int) -> None:
        """Where the chosen recording is gone the one in its row is chosen; a mark goes with its recording."""
        there = [one.path for one in self._found]
        before = self._choice
        selected = before.selected
        if selected not in there:
            selected = there[min(at, len(there) - 1)] if there else None
        self._choice = Choice(selected, tuple(path for path in before.marked if path in there))
        if (selected is None) is not (before.selected is None):
            self.refresh_bindings()

    def _show(self) -> None:
        view = shelf_view(self._folder, self._found, self._known, self._choice, self._summaries.busy())
        self._heading.show(view.heading, view.status)
        self._listing.show(view)
        self._detail.show(view.detail)

    def _select(self, index: int) -> None:
        if self._found:
            inside = min(max(index, 0), len(self._found) - 1)
            self._choice = self._choice._replace(selected=self._found[inside].path)
            self._show()

    @property
    def _index(self) -> int:
        return next((at for at, one in enumerate(self._found) if one.path == self._choice.selected), 0)

    def action_move(self, by: int) -> None:
        """Move the cursor."""
        self._select(self._index + by)

    def action_turn(self, by: int) -> None:
        """Turn pages."""
        self._select(self._index + by * self._listing.page)

    def on_listing_chosen(self, event: Listing.Chosen) -> None:
        """A click chooses, a double click opens."""
        self._select(event.index)
        if event.twice:
            self.action_open()

    def on_listing_moved(self, event: Listing.Moved) -> None:
        """The wheel moves the cursor."""
        self._select(self._index + event.by)

    def action_open(self) -> None:
        """Show the run."""
        if self._choice.selected is not None:
            self.dashboard.show_recording(self._choice.selected)

    def action_play(self) -> None:
        """Play the run."""
        if self._choice.selected is not None:
            self.dashboard.show_recording(self._choice.selected, from_start=True)

    def action_mark(self) -> None:
        """Mark for comparing."""
        self._choice = toggled(self._choice)
        self._show()

    def action_compare(self) -> None:
        """Compare two."""
        pair = marked_pair(self._choice, self._found)
        if pair is None:
            self.dashboard.tell(
                "Mark one with the space bar, go to another, then press c.", title="Which two?"
            )
            return
        self.dashboard.show_comparison(*pair)

    def action_export(self) -> None:
        """Write the aligned rows."""
        if self._choice.selected is not None:
            export_recording(self, self._choice.selected)

    def action_report(self) -> None:
        """Write the report."""
        if self._choice.selected is not None:
            write_report(self, self._choice.selected)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Without a recording there is nothing to do with one."""
        needing = {"open", "play", "mark", "compare", "export", "report", "move", "turn"}
        if action in needing:
            return self._choice.selected is not None
        return super().check_action(action, parameters)
