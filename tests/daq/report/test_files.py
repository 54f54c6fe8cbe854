"""The files behind a page: which they are, whether they are whole, and that none of them is written over."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest

import daq
from daq.catalog import machine_card
from daq.errors import JobError, OutputError, RecordingError, UsageError
from daq.job.job import Job
from daq.report import write_report
from tests.daq.report.conftest import RECORDINGS, noon, page_of
from tests.daq.report.reading import Element, read

_HEALTHY = RECORDINGS / "healthy-sweep.jsonl"


def _row(html: str, name: str) -> Element:
    rows = read(html).section("Files this rests on").all("tr")
    return next(row for row in rows if row.words.startswith(name))


def _warnings(html: str) -> str:
    boxes = read(html).with_class("mind")
    return boxes[0].words if boxes else ""


def test_each_file_has_its_digest(repair_page: str, whole_repair: Path) -> None:
    names = [path.name for path in whole_repair.glob("*.jsonl")]
    assert len(names) == 7
    for name in names:
        digest = hashlib.sha256((whole_repair / name).read_bytes()).hexdigest()
        row = _row(repair_page, name)
        assert f"sha256:{digest}" in row.words
        assert row.words.endswith("✓ Whole")
    assert _warnings(repair_page) == ""


def test_recordings_that_were_changed_or_are_gone_are_told_and_not_drawn(repair: Path) -> None:
    changed, gone = repair / "53-stator-ac_voltage.jsonl", repair / "52-battery_current-dc_current.jsonl"
    changed.write_bytes(changed.read_bytes().replace(b"[0,", b"[0, ", 1))
    gone.unlink()
    html = page_of(repair / "job.jsonl")
    assert "✗ Changed" in _row(html, changed.name).words
    assert f"{changed.name}: It was changed since it was read" in _warnings(html)
    row = _row(html, gone.name).words
    assert "✗ Not there" in row
    assert "when it was read" in row
    assert f"{gone.name}: It is not where it was" in _warnings(html)
    tests = {t.attributes["id"]: t for t in read(html).with_class("test")}
    assert "Not judged" in tests["test-ac-output"].words
    assert tests["test-ac-output"].all("figure") == []
    assert len(tests["before-ac-output"].all("figure")) == 2
    assert len(tests["test-charging"].all("figure")) == 1


def test_a_recording_that_was_cut_off_is_told(tmp_path: Path) -> None:
    cut = tmp_path / "cut.jsonl"
    data = _HEALTHY.read_bytes()
    cut.write_bytes(data[: int(0.8 * len(data))])
    html = page_of(cut)
    assert "≈ Cut off" in _row(html, "cut.jsonl").words
    assert "cut.jsonl: The recording was cut off: it has no closing line." in _warnings(html)
    assert len(read(html).all("figure")) == 2


def test_a_recording_that_was_changed_after_it_was_closed_is_told(tmp_path: Path) -> None:
    changed = tmp_path / "changed.jsonl"
    lines = _HEALTHY.read_bytes().splitlines(keepends=True)
    place = next(n for n, line in enumerate(lines) if line.startswith(b"[0,"))
    changed.write_bytes(b"".join(lines[:place] + lines[place + 1 :]))
    html = page_of(changed)
    assert "✗ Not as it was closed" in _row(html, "changed.jsonl").words
    assert _warnings(html).count("changed.jsonl:") >= 1


def test_a_job_file_with_a_spoiled_line_is_told(tmp_path: Path) -> None:
    job = Job.create(tmp_path / "job.jsonl", machine_card("class-10a-regulated-ac"), noon())
    with job.path.open("ab") as file:
        file.write(b"no line at all\n")
    html = page_of(job.path)
    assert "≈ With troubles" in _row(html, job.path.name).words
    assert "can't be understood" in _warnings(html)


@pytest.mark.parametrize("volts", [False, True])
def test_a_recording_without_a_result_still_gives_an_honest_page(tmp_path: Path, volts: bool) -> None:
    """Speed alone, or volts alone: no output can be stated; what there is, is shown."""
    lonely = tmp_path / "lonely.jsonl"
    gone = b"[1," if volts else b"[0,"
    lines = _HEALTHY.read_bytes().splitlines(keepends=True)
    lonely.write_bytes(b"".join(line for line in lines[:-1] if not line.startswith(gone)))
    page = read(page_of(lonely))
    answer = page.with_class("answer")[0].words
    assert "Not enough data" in answer
    assert "No AC output at rated speed can be stated from this recording." in answer
    figures = [figure.all("h4")[0].words for figure in page.all("figure")]
    assert figures == ["Readings as they came"]
    result = daq.open_recording(lonely).result()
    assert len(result.reasons) > 1
    for reason in result.reasons:
        assert reason in page.section("The test").words


def test_a_recording_without_readings_gives_a_page_without_plots(tmp_path: Path) -> None:
    empty = tmp_path / "empty.jsonl"
    lines = _HEALTHY.read_bytes().splitlines(keepends=True)
    empty.write_bytes(b"".join(line for line in lines[:-1] if not line.startswith(b"[")))
    page = read(page_of(empty))
    assert "Not enough data" in page.with_class("answer")[0].words
    assert page.all("figure") == []


def test_a_job_just_begun_gives_a_page(tmp_path: Path) -> None:
    job = Job.create(tmp_path / "new.jsonl", machine_card("class-10a-regulated-ac"), noon())
    page = read(page_of(job.path))
    assert "Nothing was tested yet." in page.section("The test").words
    assert "not done" in page.section("Not tested").words
    assert page.all("figure") == []


def test_what_can_not_stand_in_one_report_is_refused(repair: Path, tmp_path: Path) -> None:
    job, other = repair / "job.jsonl", tmp_path / "other.jsonl"
    other.write_bytes(job.read_bytes())
    with pytest.raises(UsageError, match="both job files"):
        page_of(job, other)
    with pytest.raises(UsageError, match="named twice"):
        page_of(_HEALTHY, RECORDINGS / ".." / "recordings" / "healthy-sweep.jsonl")
    with pytest.raises(UsageError, match="Name a recording"):
        page_of()
    with pytest.raises(RecordingError, match=r"gone\.jsonl"):
        page_of(tmp_path / "gone.jsonl")
    (tmp_path / "torn.jsonl").write_bytes(b'{"entry":"job","version":1}\n')
    with pytest.raises(JobError, match=r"torn\.jsonl"):
        page_of(tmp_path / "torn.jsonl")


@pytest.mark.parametrize("name", ["job.jsonl", "53-stator-ac_voltage.jsonl", "a-link"])
def test_no_file_that_the_report_rests_on_is_written_over(repair: Path, name: str) -> None:
    (repair / "a-link").symlink_to(repair / "job.jsonl")
    before = {path.name: path.read_bytes() for path in repair.iterdir()}
    with pytest.raises(UsageError, match="which the report is made from"):
        write_report([repair / "job.jsonl"], repair / name, noon(), force=True)
    assert {path.name: path.read_bytes() for path in repair.iterdir()} == before


def test_a_path_that_can_be_none_is_a_recording_that_is_not_there(repair: Path) -> None:
    job, page = repair / "job.jsonl", repair / "page.html"
    text = job.read_text("utf-8")
    assert '"path":"53-stator-ac_voltage.jsonl"' in text
    job.write_text(text.replace('"path":"53-stator-ac_voltage.jsonl"', '"path":"a\\u0000b"'), "utf-8")
    page.write_text("an older page")
    write_report([job, _HEALTHY], page, noon(), force=True)
    assert "not where it was" in _warnings(page.read_text("utf-8"))


def test_a_page_that_is_there_is_replaced_only_on_demand(tmp_path: Path) -> None:
    page = tmp_path / "page.html"
    page.write_text("mine")
    with pytest.raises(OutputError, match="add --force"):
        write_report([_HEALTHY], page, noon())
    assert page.read_text() == "mine"
    size = write_report([_HEALTHY], page, noon(), force=True)
    assert page.stat().st_size == size
    assert page.read_text("utf-8") == page_of(_HEALTHY)
    assert [path.name for path in tmp_path.iterdir()] == ["page.html"]
