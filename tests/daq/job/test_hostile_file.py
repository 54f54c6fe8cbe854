"""A job file edited by hand into nonsense, at any place: named, kept, not judged; never more than a clear sentence."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daq.errors import JobError
from daq.job.job import Job
from daq.job.summary import summarise
from daq.model.clock import ManualClock
from tests.daq.job.bench_job import BenchJob
from tests.daq.job.whole_job import do_step, start_job
from tui.jobtext import next_lines, status_lines, summary_lines

NONSENSE: list[Any] = [
    None, True, -1, 0, 1e308, -1e308, 1e-320, 2**63, 10**30, "", "x" * 5000, "../../../etc/passwd", "/dev/zero",
    "job.jsonl", "\x1b[31m", [], {}, [1, 2], {"a": 1}, "NaN", "after_repair", "regulated", "2026-13-99T00:00:00Z",
]  # fmt: skip


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A job with every kind of line: typed, recorded, skipped, noted, repaired."""
    folder = tmp_path_factory.mktemp("hostile")
    job = start_job(folder)
    do_step("battery_rest", job, BenchJob(folder))
    job.type_reading("loads", "load_current", "6.1 A")
    job.type_reading("ac_output", "output", "16.6 3600")
    job.skip("wiggle", "out of reach")
    job.note("oil was low")
    job.repaired("new flywheel")
    job.type_reading("ac_output", "output", "27.6 3600")
    return job.path


def places(thing: Any, way: tuple[str | int, ...] = ()) -> Iterator[tuple[str | int, ...]]:
    """The way to every value within."""
    items: Any = (
        thing.items() if isinstance(thing, dict) else enumerate(thing) if isinstance(thing, list) else ()
    )
    for key, value in items:
        yield (*way, key)
        yield from places(value, (*way, key))


def spoiled(lines: list[dict[str, Any]], draw: st.DataObject) -> list[dict[str, Any]]:
    for _ in range(draw.draw(st.integers(1, 3))):
        line = lines[draw.draw(st.integers(0, len(lines) - 1))]
        ways = list(places(line))
        if not ways:
            continue
        *way, last = draw.draw(st.sampled_from(ways))
        spot: Any = line
        for key in way:
            spot = spot[key]
        spot[last] = draw.draw(st.sampled_from(NONSENSE))
    return lines


@settings(max_examples=60, deadline=None)
@given(draw=st.data())
def test_any_value_may_be_nonsense(whole: Path, draw: st.DataObject) -> None:
    lines = [json.loads(line) for line in whole.read_text("utf-8").splitlines()]
    file = whole.with_name("spoiled.jsonl")
    data = "".join(json.dumps(line) + "\n" for line in spoiled(lines, draw)).encode()
    file.write_bytes(data[: draw.draw(st.integers(1, len(data)))] if draw.draw(st.booleans()) else data)
    before = file.read_bytes()
    try:
        status = Job.open(file, ManualClock()).status()
    except JobError:  # the sentence for a file that is no job any more
        return
    said = [
        *status_lines(status),
        *next_lines(status, "f"),
        *summary_lines(summarise(status, ManualClock().utc())),
    ]
    assert not any(ord(char) < 32 for line in said for char in line)
    assert file.read_bytes() == before


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('"typed":"16.6 3600"', '"typed":"26.6 3600"', "it was changed by hand"),
        ('"step":"loads"', '"step":"gremlins"', "names a test that there isn't: 'gremlins'"),
        ('"slot":"load_current"', '"slot":"rest_voltage"', "where it does not belong"),
        ('"round":2', '"round":7', "is for round 7, but only 1 repair came before it"),
        ('"reason":"out of reach"', '"reason":" "', "skips a test without a reason"),
        ('"verdict":"fail"', '"verdict":"pass"', "The readings count."),
        ('"degrees_of_freedom":null', '"degrees_of_freedom":-1', "which can't be under 1"),
        ('"u_rated_voltage_v":', '"u_rated_voltage_v":-', "which can't be under 0"),
        ('"digest":"sha256:', '"digest":"sha256:0', "was changed since it was read. Kept, not judged."),
    ],
)
def test_each_kind_of_edit_is_named_and_the_rest_counts(old: str, new: str, said: str, whole: Path) -> None:
    text = whole.read_text("utf-8")
    assert old in text
    file = whole.with_name("edited.jsonl")
    file.write_text(text.replace(old, new, 1), "utf-8")
    status = Job.open(file, ManualClock()).status()
    report = "\n".join(summary_lines(summarise(status, ManualClock().utc())))
    assert said in report
    assert status.step("ac_output").state == ("pass" if '"round":2' not in old else "open")


def test_lines_that_make_no_sense_are_counted_by_kind(whole: Path) -> None:
    lines = whole.read_text("utf-8").splitlines(keepends=True)
    typed = next(line for line in lines if '"slot":"load_current"' in line)
    changed = [typed.replace('"6.1 A"', f'"{n}.5 A"') for n in range(400)]
    elsewhere = [typed.replace('"step":"loads"', f'"step":"gremlins {n}"') for n in range(300)]
    file = whole.with_name("many.jsonl")
    file.write_text("".join([*lines, *changed, *elsewhere]), "utf-8")
    status = Job.open(file, ManualClock()).status()
    first = len(lines) + 1
    assert [each.text for each in status.state.troubles] == [
        f"400 lines of many.jsonl are kept, not judged, the first in line {first}: it says '0.5 A' was typed, but "
        "holds another value: it was changed by hand.",
        f"300 lines of many.jsonl are kept, not judged, the first in line {first + 400}: it names a test that there "
        "isn't: 'gremlins 0'.",
    ]
    assert status.step("loads").state == Job.open(whole, ManualClock()).status().step("loads").state


def test_sentences_alike_do_not_fill_the_screen(whole: Path) -> None:
    """A verdict that does not hold in each of hundreds of rounds."""
    lines = whole.read_text("utf-8").splitlines()
    reading = {
        **next(line for line in map(json.loads, lines) if line.get("slot") == "load_current"),
        "typed": "6.1 A",
    }
    verdict = {**next(line for line in map(json.loads, lines) if line["entry"] == "verdict"), "step": "loads"}
    repair = next(line for line in map(json.loads, lines) if line["entry"] == "repair")
    more = [
        json.dumps(line)
        for round_ in range(3, 103)
        for line in (
            repair,
            {**reading, "round": round_},
            {**verdict, "round": round_, "verdict": "cut_short"},
        )
    ]
    file = whole.with_name("rounds.jsonl")
    file.write_text("\n".join([*lines, *more]) + "\n", "utf-8")
    status = Job.open(file, ManualClock()).status()
    assert len(status.troubles) == 100
    told = [line for line in status_lines(status) if line.startswith("Job file:")]
    assert len(told) == 1
    assert "'cut short' for loads" in told[0]
    assert told[0].endswith("(100 times)")


def test_a_recording_that_was_moved_leaves_the_reading_with_a_note(whole: Path) -> None:
    folder = whole.parent / "elsewhere"
    folder.mkdir()
    file = folder / "job.jsonl"
    file.write_bytes(whole.read_bytes())
    step = Job.open(file, ManualClock()).status().step("battery_rest")
    assert step.state == "pass"
    assert any("is not there; the reading is as it was written" in note for note in step.observed[0].notes)
