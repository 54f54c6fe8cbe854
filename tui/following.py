"""Shows a run, on the dashboard or line by line; live, watched and replayed runs alike."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack
from typing import TYPE_CHECKING

from daq.errors import SpinvoltError
from tui.wrapped import say

if TYPE_CHECKING:
    from pathlib import Path

    from daq.run.snapshot import Snapshot
    from tui.control import Control
    from tui.dashboard.app import Dashboard
    from tui.dashboard.base_screen import BaseScreen
    from tui.dashboard.feed import Updatable
    from tui.serve.address import ServeAddress
    from tui.session import RunEnd

__all__ = ["show_run", "show_screen"]


def show_run(
    run: Updatable, control: Control, *, headless: bool, plain: bool, serve: ServeAddress | None = None
) -> Snapshot | None:
    """Show a run until it ends or the person leaves.

    Args:
        run: gives snapshots.
        control: what the person can do to it.
        headless: line by line.
        plain: ASCII only, on the dashboard; so it is also where the terminal can't do better.
        serve: show it in browsers instead, at this address.

    Returns:
        The last snapshot shown, if any.

    Raises:
        SpinvoltError: the recording could not be followed.
        KeyboardInterrupt: a run that one only looks on at was over, and its working out was interrupted.
    """
    if serve is not None:
        from tui.serve.show import serve_run

        return serve_run(run, control, serve, plain=plain)
    if headless:
        return _told(run, control)
    from tui.dashboard.app import make_app
    from tui.dashboard.feed import ThreadFeed
    from tui.terminal import draws_plain_only

    feed = ThreadFeed(run, control.path)
    _run_app(make_app(feed, control, plain=plain or draws_plain_only()))
    return feed.latest()


def _told(run: Updatable, control: Control) -> Snapshot | None:
    """Follow a run line by line.

    While it goes on the signals ask for the end, and it is seen between two looks. The working out of the whole
    run is one look; it is interrupted as in every command that does nothing else.
    """
    from tui.headless import asked_to_stop, follow_headless
    from tui.progress import progress
    from tui.wrapped import say_one

    with progress("working out the whole run") as bar, ExitStack() as signals:
        if control.records:
            run.on_progress = bar
            return follow_headless(run, control, say_one)
        asked = signals.enter_context(asked_to_stop())

        def worked_out(part: float) -> None:
            signals.close()
            if asked():
                raise KeyboardInterrupt
            bar(part)

        run.on_progress = worked_out
        return follow_headless(run, control, say_one, asked=asked)


def show_screen(screen: BaseScreen, *, plain: bool, results: bool = True) -> None:
    """Show the dashboard with that screen first, until the person leaves; needs a terminal.

    Runs that were started from it are closed properly, also where the screen fails, and told on standard output.

    Args:
        screen: the first.
        plain: ASCII only; so it is also where the terminal can't do better.
        results: runs are told with their result, as a run without this screen is; a job judges its readings itself.

    Raises:
        SpinvoltError: something went wrong that ended the dashboard.
    """
    from tui.dashboard.app import Dashboard
    from tui.terminal import draws_plain_only

    _run_app(Dashboard(screen, plain=plain or draws_plain_only()), results=results)


def _run_app(app: Dashboard, *, results: bool = False) -> None:
    from tui.interrupts import usual_interrupts

    try:
        with usual_interrupts():
            app.run()
    finally:
        for end in app.close_sessions():
            say(_end_lines(end, results=results))
    if app.failure is not None:
        raise app.failure


def _end_lines(end: RunEnd, *, results: bool) -> Iterator[str]:
    """What is said of a run after the dashboard: the trouble, the result, and where its recording lies."""
    from tui.resulttext import recording_line

    if end.trouble:
        yield end.trouble
    if not end.path.exists():
        return
    if results and not end.closing:  # a part of it is judged by nobody
        yield from _result_lines(end.path)
    yield recording_line(end.path, end.left)


def _result_lines(path: Path) -> list[str]:
    """The result, or why there is none: the other runs are told in any case."""
    from daq.run.recorded import work_out
    from tui.progress import progress
    from tui.resulttext import result_lines

    try:
        with progress(f"working out {path.name}") as bar:
            return result_lines(work_out(path, bar).result())
    except SpinvoltError as error:
        return [str(error)]
