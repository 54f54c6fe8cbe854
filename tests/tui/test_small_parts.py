"""Progress bar, places, result in words, colours."""

from __future__ import annotations

import io
from datetime import datetime
from pathlib import Path

import pytest
from textual.theme import Theme

from daq.errors import OutputError
from tests.tui.builders import result
from tui.dashboard.theme import DARK, LIGHT, VARIABLES
from tui.places import new_recording_path, recordings_folder
from tui.progress import ProgressBar
from tui.resulttext import result_lines


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_a_bar_appears_after_a_second_and_is_wiped_off() -> None:
    stream, now_s = Terminal(), [0.0]
    bar = ProgressBar("reading run.jsonl", stream, lambda: now_s[0])
    now_s[0] = 50.0
    bar(0.2)
    assert stream.getvalue() == ""
    now_s[0] = 51.5
    bar(0.5)
    assert stream.getvalue() == "\rreading run.jsonl [###############...............]  50 % "
    now_s[0] = 51.55
    bar(0.6)
    assert "60 %" not in stream.getvalue()
    bar.clear()
    assert stream.getvalue().endswith("\r\x1b[K")


def test_one_bar_goes_on_over_the_stages_of_the_work_each_in_its_own_words() -> None:
    stream, now_s = Terminal(), [0.0]
    bar = ProgressBar("reading run.jsonl", stream, lambda: now_s[0])
    reading, working = bar.stage("reading run.jsonl", 0.0, 0.4), bar.stage("working \x1b[2Jout", 0.4, 1.0)
    reading(0.0)
    now_s[0] = 2.0
    reading(1.0)
    working(0.0)
    now_s[0] = 3.0
    working(0.5)
    bar.clear()
    assert stream.getvalue() == (
        "\rreading run.jsonl [############..................]  40 % "
        "\r\x1b[K\rworking out [############..................]  40 % "
        "\rworking out [#####################.........]  70 % "
        "\r\x1b[K"
    ), "the next stage is told at once, and nothing of the longer words stands beside it"


def test_quick_work_shows_nothing_and_wipes_nothing() -> None:
    stream = Terminal()
    bar = ProgressBar("x", stream, lambda: 0.0)
    bar(1.0)
    bar.clear()
    assert stream.getvalue() == ""


def test_no_bar_where_there_is_no_terminal() -> None:
    stream, now_s = io.StringIO(), [0.0]
    bar = ProgressBar("x", stream, lambda: now_s[0])
    bar(0.1)
    now_s[0] = 5.0
    bar(0.5)
    assert stream.getvalue() == ""


def test_recordings_get_names_that_are_not_taken(tmp_path: Path) -> None:
    folder = tmp_path / "new"
    when = datetime(2026, 11, 25, 10, 30, 5)
    first = new_recording_path(when, folder)
    first.touch()
    assert first.name == "spinvolt-20261125-103005.jsonl"
    assert new_recording_path(when, folder).name == "spinvolt-20261125-103005-2.jsonl"


def test_the_environment_names_the_folder(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("SPINVOLT_RECORDINGS", str(tmp_path))
    assert recordings_folder() == tmp_path
    monkeypatch.delenv("SPINVOLT_RECORDINGS")
    assert recordings_folder().name == "spinvolt"


def test_a_folder_that_cannot_be_made(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    with pytest.raises(OutputError, match="can't be made"):
        new_recording_path(datetime(2026, 1, 1), tmp_path / "file" / "folder")


def test_a_result_in_words() -> None:
    assert result_lines(result()) == [
        "Verdict: PASS. The rated output meets its limit.",
        "Rated output: 24.61 V ± 0.31 V at 3600 rpm, unloaded (95 % coverage, k = 2.01).",
        "Limit: at least 20.0 V; the chance that the output meets it is over 99.9 %.",
        "Proportion: 6.836 V for each 1000 rpm; a straight line through the rows meets 0 rpm at 0.02 V ± 0.10 V.",
        "Lag: the volts arrive 0.310 s ± 0.040 s after the speed of the same instant.",
        "Rows: 412 aligned, 8 of them left out.",
        "Reasons:",
        "  - The rated output is above the limit by more than its uncertainty.",
    ]


def test_a_result_without_data_in_words() -> None:
    bare = result(
        verdict="not_enough_data",
        rated_voltage_V=None,
        minimum_V=None,
        lag_s=None,
        volts_per_1000rpm=None,
        rows=0,
        rows_rejected=0,
        reasons=[],
    )
    assert result_lines(bare) == [
        "Verdict: NOT ENOUGH DATA for a rated output.",
        "Rated output: not known.",
        "Lag: not stated, since this run does not show it; what that can cost is in the uncertainty.",
        "Rows: 0 aligned, 0 of them left out.",
    ]


def luminance(colour: str) -> float:
    """Relative luminance, WCAG 2.2."""
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_contrast_is_worked_out_rightly() -> None:
    assert contrast("#ffffff", "#000000") == pytest.approx(21.0)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.01)


@pytest.mark.parametrize("theme", [DARK, LIGHT], ids=lambda theme: theme.name)
@pytest.mark.parametrize("name", ["sv-good", "sv-bad", "sv-doubt", "sv-quiet", "sv-dim"])
def test_every_tone_can_be_read(theme: Theme, name: str) -> None:
    colour = theme.variables[name]
    assert theme.background is not None
    assert contrast(colour, theme.background) >= 4.5
    assert contrast(colour, theme.variables["sv-panel"]) >= 4.5
    if name != "sv-dim":
        assert contrast(colour, theme.variables["sv-ink"]) >= 4.5


def test_both_themes_have_every_colour() -> None:
    assert set(VARIABLES) <= set(LIGHT.variables)
    assert set(VARIABLES) <= set(DARK.variables)
