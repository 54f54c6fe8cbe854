"""Tables that a test has made, shown at the end of the report; as `record_property("table", text)` gives them."""

from __future__ import annotations

import pytest


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Show every table, whether its test passed or failed; it comes over from worker processes too."""
    for outcome in ("passed", "failed"):
        for report in terminalreporter.stats.get(outcome, ()):
            for name, text in getattr(report, "user_properties", ()):
                if name == "table":
                    title, _, table = str(text).partition("\n")
                    terminalreporter.section(title)
                    terminalreporter.write_line(table)
