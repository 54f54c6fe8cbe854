"""Recordings of very many channels: ten are drawn, those that the result rests on first, and the rest is told."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest

from daq.model.quantity import Quantity
from daq.model.reading import Reading
from daq.report.content import Figure
from daq.report.figures.readings import Level, readings_over_time
from daq.run.channels import ChannelData, RunData
from tests.daq.report.conftest import page_of
from tests.daq.report.recorded import channel_entry, volts_and_speed, written
from tests.runs import channel_of
from tests.tui.browser import CHROMIUM, browser

_AC, _DC, _RPM = Quantity.AC_VOLTAGE, Quantity.DC_VOLTAGE, Quantity.ROTATIONAL_SPEED
_LETTER_PX = 703, 926
"""Room on a sheet of Letter (ANSI/ASME Y14.1, 216 x 279 mm) within the page's own margins, at 96 px to the inch."""
_WHERE = "in the recording and in the CSV that export makes of it."


def _channel(number: int, quantity: Quantity, count: int = 20, value: float = 3000.0) -> ChannelData:
    return channel_of(number, quantity, np.arange(float(count)), np.full(count, value))


def _drawn(channels: Sequence[ChannelData], levels: Sequence[Level] = ()) -> tuple[Figure, list[str]]:
    figure = readings_over_time(RunData(tuple(channels), None), "f", "Readings as they came", levels)
    assert figure is not None
    return figure, _titles(figure)


def _titles(figure: Figure) -> list[str]:
    texts = ["".join(text.itertext()) for text in ET.fromstring(figure.drawing).iter("text")]
    return [
        text for text in texts if text.startswith(("AC voltage", "DC voltage", "Rotational", "Temperature"))
    ]


def test_ten_are_drawn_with_the_volts_and_the_speed_of_the_result_among_them() -> None:
    quantities = [_AC, _RPM] * 30
    channels = [_channel(n, quantity, 50 if n in {44, 45} else 20) for n, quantity in enumerate(quantities)]
    figure, titles = _drawn(channels)
    assert titles == [
        *("AC voltage, V (channel 0)", "Rotational speed, rpm (channel 1)"),
        *("AC voltage, V (channel 2)", "Rotational speed, rpm (channel 3)"),
        *("AC voltage, V (channel 4)", "Rotational speed, rpm (channel 5)"),
        *("AC voltage, V (channel 6)", "Rotational speed, rpm (channel 7)"),
        *("AC voltage, V (channel 44)", "Rotational speed, rpm (channel 45)"),
    ]
    said = f"50 further channels are not drawn; they are {_WHERE}"
    assert figure.caption.endswith(said)
    assert figure.description.endswith(said)
    assert figure.description.count("readings of") == 10


@pytest.mark.parametrize(
    ("count", "said"),
    [(10, ""), (11, f"1 further channel is not drawn; it is {_WHERE}")],
)
def test_what_is_left_out_is_told_only_where_something_is(count: int, said: str) -> None:
    figure, titles = _drawn([_channel(n, Quantity.TEMPERATURE) for n in range(count)])
    assert len(titles) == 10
    assert figure.caption == said


def test_what_a_level_was_taken_from_and_what_holds_a_value_come_before_the_others() -> None:
    channels = [_channel(n, Quantity.TEMPERATURE, value=np.nan if n < 5 else 20.0) for n in range(30)]
    channels.append(_channel(30, _DC, value=12.6))
    _, titles = _drawn(channels, [Level(_DC, 12.6, "taken:\n12.6 V", limit=False)])
    expected = [f"Temperature, °C (channel {n})" for n in range(5, 14)]
    assert titles == [*expected, "DC voltage, V"]


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> str:
    """The page on volts and speed with forty thermometers beside them."""
    lines = volts_and_speed(24.0, seconds=10.0)
    further = [channel_entry(n, Quantity.TEMPERATURE, f"probe-{n}") for n in range(2, 42)]
    later = [Reading(n, 11_000_000_000 + n, 20.0) for n in range(2, 42)]
    folder = tmp_path_factory.mktemp("many")
    return page_of(written(folder / "many.jsonl", [*lines[:2], *further, *lines[2:], *later]))


def test_the_page_on_such_a_recording_draws_ten_and_says_so(page: str) -> None:
    assert page.count(">Temperature, °C (channel ") == 8
    assert f"32 further channels are not drawn; they are {_WHERE}" in page.replace("\u00a0", " ")


@pytest.mark.skipif(CHROMIUM is None, reason="Chromium is not installed (Debian: chromium)")
async def test_the_plot_of_many_channels_fits_a_printed_sheet(page: str, tmp_path: Path) -> None:
    file = tmp_path / "page.html"
    file.write_text(page, "utf-8")
    async with browser(tmp_path) as tab:
        await tab.open(file.as_uri())
        await tab.wait_for("document.readyState === 'complete' && document.querySelector('figure') !== null")
        await tab.call("Emulation.setEmulatedMedia", media="print")
        await tab.size(*_LETTER_PX)
        heights = await tab.evaluate(
            "[...document.querySelectorAll('figure')].map(e => e.getBoundingClientRect().height)"
        )
        assert 0.8 * _LETTER_PX[1] < max(heights) < _LETTER_PX[1]
