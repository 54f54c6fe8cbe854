"""Shows a run, on the dashboard or line by line; live, watched and replayed runs alike."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from daq.run.snapshot import Snapshot
    from tui.control import Control
    from tui.dashboard.app import Dashboard
    from tui.dashboard.base_screen import BaseScreen
    from tui.dashboard.feed import Updatable
    from tui.serve.address import ServeAddress

__all__ = ["show_run", "show_screen"]


def show_run(
    run: Updatable, control: Control, *, headless: bool, plain: bool, serve: ServeAddress | None = None
) -> Snapshot | None:
    """Show a run until it ends or the person leaves.

    Args:
        run: gives snapshots.
        control: what the person can do to it.
        headless: line by line.
        plain: ASCII only, on the dashboard.
        serve: show it in browsers instead, at this address.

    Returns:
        The last snapshot shown, if any.

    Raises:
        SpinvoltError: the recording could not be followed.
    """
    if serve is not None:
        from tui.serve.show import serve_run

        return serve_run(run, control, serve, plain=plain)
    if headless:
        from tui.headless import follow_headless
        from tui.progress import progress

        with progress("working out the whole run") as bar:
            run.on_progress = bar
            return follow_headless(run, control, lambda line: print(line, flush=True))
    from tui.dashboard.app import make_app
    from tui.dashboard.feed import ThreadFeed

    feed = ThreadFeed(run)
    _run_app(make_app(feed, control, plain=plain))
    return feed.latest()


def show_screen(screen: BaseScreen, *, plain: bool) -> None:
    """Show the dashboard with that screen first, until the person leaves; needs a terminal.

    Runs that were started from it are closed properly, also where the screen fails.

    Raises:
        SpinvoltError: something went wrong that ended the dashboard.
    """
    from tui.dashboard.app import Dashboard

    _run_app(Dashboard(screen, plain=plain))


def _run_app(app: Dashboard) -> None:
    try:
        app.run()
    finally:
        for end in app.close_sessions():
            print(f"Recording: {end.path}" if not end.trouble else f"{end.trouble} Recording: {end.path}")
    if app.failure is not None:
        raise app.failure
