"""The report as an HTML page, and into a file."""

from __future__ import annotations

import base64
import hashlib
import os
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from daq.model.clock import Clock
from daq.model.progress import one_of, unheard
from daq.output import check_free, replacing
from daq.report.content import Page

if TYPE_CHECKING:
    from daq.report.files import Inputs

__all__ = ["html_of", "report_page", "write_report"]


def report_page(paths: Sequence[Path], clock: Clock, progress: Callable[[float], None] | None = None) -> str:
    """A report as one self-contained HTML page, the same bytes for the same files and the same moment.

    Args:
        paths: one job file, recordings, or both.
        clock: tells when the report is made.
        progress: called with the part of the recordings read, from 0 to 1.

    Raises:
        UsageError: what was named can't stand in one report.
        JobError: the job file can't be read.
        RecordingError: a recording can't be opened.
    """
    from daq.report.files import open_inputs

    return _html_on(open_inputs(paths, clock, progress), clock, unheard, unheard)


def write_report(
    paths: Sequence[Path],
    target: str | os.PathLike[str],
    clock: Clock,
    *,
    force: bool = False,
    progress: Callable[[float], None] | None = None,
    working_out: Callable[[float], None] = unheard,
    writing: Callable[[float], None] = unheard,
) -> int:
    """Write a report into a file, which appears whole or not at all.

    Args:
        paths: one job file, recordings, or both.
        target: the HTML file.
        clock: tells when the report is made.
        force: whether the file may exist already.
        progress: called with the part of the recordings read, from 0 to 1.
        working_out: called with the part of the recordings worked out, after that.
        writing: called with the part of the page made, after that.

    Returns:
        How many bytes were written.

    Raises:
        UsageError: what was named can't stand in one report, or the report would overwrite one of them.
        OutputError: it exists and ``force`` is not given, or it can't be written.
        JobError: the job file can't be read.
        RecordingError: a recording can't be opened.
    """
    from daq.report.files import check_target, open_inputs

    check_target(Path(target), paths)
    check_free(Path(target), force=force)
    inputs = open_inputs(paths, clock, progress)
    check_target(Path(target), inputs.paths)
    data = _html_on(inputs, clock, working_out, writing).encode("utf-8")
    with replacing(target, force=force) as draft:
        draft.write_bytes(data)
    writing(1.0)
    return len(data)


def _html_on(
    inputs: Inputs, clock: Clock, working_out: Callable[[float], None], writing: Callable[[float], None]
) -> str:
    from daq.report.from_job import job_page
    from daq.report.from_runs import further_runs, runs_page

    for place, run in enumerate(inputs.runs):
        run.analysis(progress=one_of(working_out, place, len(inputs.runs)))
    writing(0.0)
    now = clock.utc()
    if inputs.job is None:
        return html_of(runs_page(inputs.runs, now, writing))
    page = job_page(inputs.job, now)
    return html_of(page.with_further(further_runs(inputs.runs, progress=writing)) if inputs.runs else page)


def html_of(page: Page) -> str:
    """Lay a page out."""
    from importlib.resources import files

    from jinja2 import Environment, FunctionLoader, StrictUndefined
    from markupsafe import Markup

    from daq.report.cleaning import cleaned

    folder = files("daq.report") / "template"
    environment = Environment(
        loader=FunctionLoader(lambda name: (folder / name).read_text("utf-8")),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    style = (folder / "page.css").read_text("utf-8")
    return environment.get_template("page.html").render(
        page=cleaned(page),
        style=Markup(style),  # our own file, without any text from outside
        style_hash=base64.b64encode(hashlib.sha256(style.encode()).digest()).decode(),
        drawn=Markup,
    )
