"""One self-contained page on a job or on recordings: the answer on top, then everything that it rests on.

``report_page`` gives the page as text, ``write_report`` puts it into a file. What
draws and lays out (matplotlib, jinja2) is imported when a page is made.
"""

from __future__ import annotations

from daq.report.page import report_page, write_report

__all__ = ["report_page", "write_report"]
