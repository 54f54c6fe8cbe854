"""For all tests: what may run side by side, and the tables that tests have made, shown at the end of the report."""

from __future__ import annotations

import os
import signal
from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, settings

from tests.sharing import group_of

os.environ.setdefault("OMP_NUM_THREADS", "1")  # before numpy is there, as the program has it
# Hypothesis' own limits go by the clock: an example fails where a busy machine stops for a fifth of a second. What may
# take no longer has a test of its own, by the processor's time.
settings.register_profile("any machine", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("any machine")
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    # A shell starts what it runs in the background so, and what the tests start would inherit it.
    signal.signal(signal.SIGINT, signal.default_int_handler)
if TYPE_CHECKING:
    from xdist.remote import Producer
    from xdist.scheduler import LoadScopeScheduling


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Producer) -> LoadScopeScheduling:
    """With ``-n`` the modules go to the processes by their groups."""
    from xdist.scheduler import LoadScopeScheduling

    class ByGroup(LoadScopeScheduling):  # type: ignore[misc]  # xdist tells no types
        def _split_scope(self, nodeid: str) -> str:
            return group_of(config.rootpath / nodeid.partition("::")[0])

    return ByGroup(config, log)


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Show every table that `record_property("table", text)` gave, of tests that passed and that failed.

    It comes over from worker processes too.
    """
    for outcome in ("passed", "failed"):
        for report in terminalreporter.stats.get(outcome, ()):
            for name, text in getattr(report, "user_properties", ()):
                if name == "table":
                    title, _, table = str(text).partition("\n")
                    terminalreporter.section(title)
                    terminalreporter.write_line(table)
