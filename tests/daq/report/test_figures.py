"""The plots: few points without losing a peak, words that stay words, and what each of them shows."""

from __future__ import annotations

import dataclasses
import re
import xml.etree.ElementTree as ET
from collections import Counter
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import daq
from daq.align.marks import Mark
from daq.model.quantity import Quantity
from daq.model.reading import Quality, Reading
from daq.report.figures.look import drawing, panels, places
from daq.report.figures.rated_time import rated_over_time
from daq.report.figures.readings import Level, readings_over_time
from daq.report.figures.svg import inline_svg
from daq.report.figures.thinning import COLUMNS, thinned, thinned_words
from daq.report.figures.volts_speed import volts_against_speed
from daq.run.analysis import analyse
from daq.run.channels import RunData
from daq.run.recorded import RecordedRun
from tests.daq.job.bench_job import write_recording
from tests.daq.report.conftest import RECORDINGS, page_of
from tests.daq.report.reading import read
from tests.runs import channel_of, machine_of, run_of


@given(st.integers(0, 3000), st.integers(0, 2**32 - 1))
def test_thinning_keeps_the_lowest_and_highest_of_every_strip(count: int, seed: int) -> None:
    random = np.random.default_rng(seed)
    x, y = random.uniform(0.0, 50.0, count), random.normal(0.0, 1.0, count)
    y[random.random(count) < 0.1] = np.nan
    kept = thinned(x, y, columns=40)
    good = np.isfinite(y)
    assert bool(np.all(np.isfinite(y[kept])))
    assert bool(np.all(np.diff(kept) > 0))
    if int(good.sum()) <= 80:
        assert len(kept) == int(good.sum())
        return
    assert len(kept) <= 80
    low, width = float(np.min(x[good])), float(np.ptp(x[good]))
    strip = np.minimum(((x - low) / width * 40).astype(int), 39)
    for each in range(40):
        inside = np.flatnonzero(good & (strip == each))
        if len(inside):
            assert {int(inside[np.argmin(y[inside])]), int(inside[np.argmax(y[inside])])} <= set(
                kept.tolist()
            )


def test_one_spike_in_a_million_is_seen() -> None:
    y = np.zeros(1_000_000)
    y[123_456] = 9.0
    assert 123_456 in thinned(np.arange(1e6), y)
    assert len(thinned(np.full(1000, 3.0), np.arange(1000.0))) == 2


def test_thinning_is_told() -> None:
    assert thinned_words(100, 100) == ""
    said = thinned_words(1_234_567, 640)
    assert said.startswith("Of 1 234 567 readings the lowest and highest in each of 320 equal strips")


def test_a_long_run_gives_a_small_page_and_says_so(tmp_path: Path) -> None:
    """An hour and a half of four readings a second, written out as a recording."""
    t = np.arange(0.0, 5400.0, 0.25)
    speed = np.round(3000.0 + 600.0 * np.sin(t / 40.0))
    readings: list[Reading] = []
    for at, n in zip(t.tolist(), speed.tolist(), strict=True):
        readings.append(Reading(0, int((at + 0.01) * 1e9), round(0.00766 * n, 2)))
        readings.append(Reading(1, int((at + 0.02) * 1e9), n))
    long = write_recording(tmp_path / "long.jsonl", Quantity.AC_VOLTAGE, readings)
    html = page_of(long)
    assert len(html) < 400_000
    captions = [caption.words for caption in read(html).all("figcaption")]
    assert sum("equal strips are drawn; all of them count" in words for words in captions) == 2


def test_words_stay_words_and_no_style_is_left() -> None:
    with drawing():
        figure, (axes,) = panels((1.0,))
        axes.plot([0, 1, 2], [0, 1, 4], "o--")
        axes.fill_between([0, 2], [0, 0], [1, 1], hatch="//", facecolor="none")
        axes.set_title("a <b> & $x_1$ name")
        svg = inline_svg(figure, name="f-1", title="T & <t>", description="d")
    root = ET.fromstring(svg)
    texts = ["".join(text.itertext()) for text in root.iter("text")]
    assert "a <b> & $x_1$ name" in texts
    assert root.find("title") is not None
    assert "".join(root.find("title").itertext()) == "T & <t>"  # type: ignore[union-attr]  # it was found
    assert "style=" not in svg
    assert "font-family" not in svg
    assert "xmlns" not in svg
    ids = [e.attrib["id"] for e in root.iter() if "id" in e.attrib]
    assert all(each.startswith("f-1-") for each in ids)
    for reference in re.findall(r'(?:url\(#|href="#)([^)"]*)', svg):
        assert reference in ids


def test_other_settings_of_matplotlib_are_left_as_they_were() -> None:
    import matplotlib as mpl

    with mpl.rc_context({"font.size": 23.0, "axes.facecolor": "red"}):
        with drawing():
            assert mpl.rcParams["font.size"] == 10
            assert mpl.rcParams["axes.facecolor"] == "none"
        assert mpl.rcParams["font.size"] == 23.0


def test_words_of_levels_that_lie_close_go_apart() -> None:
    assert places([10.0, 5.0, 0.0], 12.0) == ["center"] * 3
    assert places([10.0, 9.0], 12.0) == ["bottom", "top"]
    assert places([10.0, 2.0, 1.0], 12.0) == ["center", "bottom", "top"]


@pytest.fixture(scope="module")
def healthy() -> RecordedRun:
    return daq.open_recording(RECORDINGS / "healthy-sweep.jsonl")


def test_rated_volts_show_the_limit_the_result_and_what_was_left_out(healthy: RecordedRun) -> None:
    figure = rated_over_time(healthy.analysis(), healthy.data.machine, "f")
    assert figure is not None
    texts = _texts(figure.drawing)
    result = healthy.result()
    assert "limit: at" in texts
    assert "least 20 V" in texts
    assert f"{result.rated_voltage_V:.2f}" in texts
    assert f"± {result.expanded_uncertainty_V:.2f} V" in texts
    assert "Left out of the result: 1 no speed." in figure.caption
    wider = rated_over_time(healthy.analysis(), healthy.data.machine, "f", 2.0)
    assert wider is not None
    assert f"± {2.0 * (result.standard_uncertainty_V or 0.0):.2f} V" in _texts(wider.drawing)


def test_rows_left_out_are_drawn_as_crosses() -> None:
    run = daq.open_recording(RECORDINGS / "gap-and-false-tach.jsonl")
    figure = rated_over_time(run.analysis(), run.data.machine, "f")
    assert figure is not None
    assert "false speed" in figure.caption
    assert "drawn as crosses" in figure.caption
    marks = Counter(use.attrib["href"] for use in ET.fromstring(figure.drawing).iter("use"))
    result = run.result()
    assert result.rows - result.rows_rejected in marks.values()
    assert 9 in marks.values(), "rows resting on false speed have a value, those without speed have none"


def test_rows_that_only_repeat_a_value_are_told_and_not_drawn() -> None:
    run = daq.open_recording(RECORDINGS / "gap-and-false-tach.jsonl")
    analysis = run.analysis()
    rows = dataclasses.replace(analysis.rows, mark=analysis.rows.mark.copy())
    rows.mark[np.flatnonzero(rows.mark == Mark.GOOD)[10:30]] = Mark.REPEATED
    figure = rated_over_time(dataclasses.replace(analysis, finish_rows=lambda: rows), run.data.machine, "f")
    assert figure is not None
    assert "20 repeated" in figure.caption
    assert "drawn as crosses but for those that only repeat" in figure.caption
    marks = Counter(use.attrib["href"] for use in ET.fromstring(figure.drawing).iter("use"))
    assert int(np.sum(rows.mark == Mark.GOOD)) in marks.values()
    assert 9 in marks.values()


def test_volts_against_speed_has_the_line_where_there_is_one(healthy: RecordedRun) -> None:
    figure = volts_against_speed(healthy.analysis(), "f")
    assert figure is not None
    line = healthy.analysis().output.proportion.line  # type: ignore[union-attr]  # a result is there
    assert line is not None
    assert f"rises through them by {1000.0 * line.slope:.2f} V" in figure.description
    assert "Away from the line, V" in _texts(figure.drawing)
    t = np.arange(0.0, 30.0, 0.3)
    flat = run_of((t + 0.1, np.full(len(t), 27.0)), (t, np.full(len(t), 3600.0)), machine=machine_of())
    steady = volts_against_speed(analyse(flat), "f")
    assert steady is not None
    assert "too little for a line" in steady.caption
    assert "Away from the line, V" not in _texts(steady.drawing)


def test_readings_show_levels_and_openings(healthy: RecordedRun) -> None:
    level = Level(Quantity.AC_VOLTAGE, 20.0, "limit:\n20 V", limit=True)
    figure = readings_over_time(healthy.data, "f", "Volts as read", [level])
    assert figure is not None
    texts = _texts(figure.drawing)
    assert {"AC voltage, V", "Rotational speed, rpm", "limit:", "20 V"} <= set(texts)
    alone = readings_over_time(healthy.data, "f", "Volts as read", speed=False)
    assert alone is not None
    assert "Rotational speed, rpm" not in _texts(alone.drawing)
    assert COLUMNS >= 200


def test_an_open_circuit_is_drawn_at_the_upper_edge() -> None:
    t = np.arange(0.0, 10.0, 0.25)
    channel = channel_of(0, Quantity.RESISTANCE, t, np.where(t < 5.0, 0.25, np.nan))
    channel.quality[t >= 5.0] = Quality.OVERLOAD
    figure = readings_over_time(RunData((channel,), None), "f", "Ohms")
    assert figure is not None
    assert figure.caption == "Triangles at the upper edge: 20 readings over range (open)."
    nothing = channel_of(0, Quantity.RESISTANCE, t, np.full(len(t), np.nan))
    nothing.quality[:] = Quality.OVERLOAD
    assert readings_over_time(RunData((nothing,), None), "f", "Ohms") is None


def _texts(svg: str) -> list[str]:
    return ["".join(text.itertext()) for text in ET.fromstring(svg).iter("text")]
