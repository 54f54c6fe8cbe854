"""Shows a run, on the dashboard or line by line; live, watched and replayed runs alike."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from daq.run.snapshot import Snapshot
    from tui.control import Control
    from tui.dashboard.feed import Updatable

__all__ = ["show_run"]


def show_run(run: Updatable, control: Control, *, headless: bool, plain: bool) -> Snapshot | None:
    """Show a run until it ends or the person leaves.

    Args:
        run: gives snapshots.
        control: what the person can do to it.
        headless: line by line.
        plain: ASCII only, on the dashboard.

    Returns:
        The last snapshot shown, if any.

    Raises:
        SpinvoltError: the recording could not be followed.
    """
    if headless:
        from tui.headless import follow_headless
        from tui.progress import progress

        with progress("working out the whole run") as bar:
            run.on_progress = bar
            return follow_headless(run, control, lambda line: print(line, flush=True))
    from tui.dashboard.app import make_app
    from tui.dashboard.feed import ThreadFeed

    feed = ThreadFeed(run)
    app = make_app(feed, control, plain=plain)
    app.run()
    if app.failure is not None:
        raise app.failure
    return feed.latest()
