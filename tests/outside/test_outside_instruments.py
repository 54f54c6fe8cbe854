"""Instruments written from the standards alone, in processes of their own, drive the real capture over TCP."""

from __future__ import annotations

import contextlib
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from daq.capture.launch import CaptureProcess
from daq.capture.spec import CaptureSpec, InstrumentSpec
from daq.errors import SpinvoltError
from tests.daq.capture.runs import SOON_S, card, events, eventually, lines, of_channel
from tests.outside.published import held_against

HERE = Path(__file__).parent
GOOD, OVERLOAD, NOT_A_NUMBER, BAD_FRAME, LOST = 0, 1, 2, 6, 8


@contextlib.contextmanager
def serving(server: str, *options: str) -> Iterator[str]:
    """Start a server; gives the address it is reached at."""
    process = subprocess.Popen([sys.executable, HERE / server, *options], stdout=subprocess.PIPE)
    with process:
        assert process.stdout is not None
        try:
            yield f"socket://127.0.0.1:{int(process.stdout.readline())}"
        finally:
            process.kill()


def capturing(path: Path, *instruments: tuple[dict[str, Any], str]) -> CaptureProcess:
    return CaptureProcess.start(
        CaptureSpec(path=str(path), instruments=[InstrumentSpec(c, address) for c, address in instruments])
    )


def scpi(**settings: Any) -> dict[str, Any]:
    fast = {"query": "MEAS:VOLT:AC?", "setup": ["*CLS"], "interval_s": 0.02, "timeout_s": 3.0}
    return card("scpi-meter", settings=fast | settings)


def values(path: Path, channel: int = 0) -> list[float | None]:
    return [value for _, _, value, _ in of_channel(path, channel)]


def test_a_scpi_meter_and_a_line_tachometer_are_recorded_exactly(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    with (
        serving("scpi_server.py") as meter,
        serving("line_server.py", "--template", "n={:.0f} rpm", "--base", "3500", "--step", "1") as tach,
    ):
        with capturing(path, (scpi(), meter), (card("text-speed"), tach)) as capture:
            eventually(lambda: min(len(of_channel(path, 0)), len(of_channel(path, 1))) >= 20)
            capture.stop()
            closed = capture.wait(30)
    volts, speeds = values(path, 0), values(path, 1)
    assert volts == pytest.approx([10 + n / 100 for n in range(1, len(volts) + 1)])
    first = int(speeds[0] or 0)
    assert first in (3501, 3502)  # the first line may have begun before the port was open
    assert speeds == [float(first + n) for n in range(len(speeds))]
    assert closed.readings == len(volts) + len(speeds)
    assert "OUTSIDE,VOLTMETER,0,1.0" in events(path, "note")[0]["text"]


@pytest.mark.parametrize(
    "settings", [{"setup": ["CONF:VOLT:AC"], "query": "READ?"}, {"query": ":measure:voltage:ac?"}]
)
def test_other_forms_of_the_question_work_as_the_card_gives_them(
    settings: dict[str, Any], tmp_path: Path
) -> None:
    path = tmp_path / "run.jsonl"
    with serving("scpi_server.py") as meter, capturing(path, (scpi(**settings), meter)):
        eventually(lambda: len(of_channel(path, 0)) >= 5)
    assert values(path) == pytest.approx([10 + n / 100 for n in range(1, len(values(path)) + 1)])


@held_against("W1")
def test_w1_infinity_and_not_a_number_are_flagged_and_never_a_value(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    with serving("scpi_server.py", "--specials") as meter, capturing(path, (scpi(), meter)):
        eventually(lambda: len(of_channel(path, 0)) >= 8)
    seen = [(value, quality) for _, _, value, quality in of_channel(path, 0)][:8]
    one_round = [(None, OVERLOAD), (None, OVERLOAD), (None, NOT_A_NUMBER)]
    assert seen == [*one_round, (10.04, GOOD), *one_round, (10.08, GOOD)]


def test_late_answers_never_stand_in_for_the_answers_that_were_due(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    late = ("--late-every", "5", "--late-s", "0.3")
    with serving("scpi_server.py", *late) as meter, capturing(path, (scpi(timeout_s=0.2), meter)):
        eventually(lambda: len(of_channel(path, 0)) >= 14)
    seen = [round(100 * (value or 0.0)) - 1000 for value in values(path)]
    assert [n for n in seen if n % 5 == 0] == []
    assert seen == sorted(set(seen))
    due = [n for n in range(1, seen[-1] + 1) if n % 5]
    # A busy machine may make one more late; three late ones that each cost the next one would be three less.
    assert len(due) - len(seen) <= 1


def test_a_question_that_the_meter_refuses_is_told_with_the_meters_own_words(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    with serving("scpi_server.py", "--refuse", "MEAS") as meter:
        with capturing(path, (scpi(timeout_s=0.2) | {"silence_s": SOON_S}, meter)) as capture:
            with pytest.raises(SpinvoltError) as caught:
                capture.wait(30)
    assert "an answer to MEAS:VOLT:AC?" in str(caught.value)
    assert '-113,"Undefined header"' in str(caught.value)
    assert not path.exists()


def test_a_setup_command_that_is_refused_is_noted_and_the_readings_come_all_the_same(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    setup = ["*CLS", "VOLT:AC:RANG:AUTO ON"]
    with serving("scpi_server.py") as meter, capturing(path, (scpi(setup=setup), meter)):
        eventually(lambda: len(of_channel(path, 0)) >= 3)
        eventually(lambda: len(events(path, "note")) >= 2)
    assert any('-113,"Undefined header"' in event["text"] for event in events(path, "note"))


def test_junk_between_the_lines_costs_a_bad_frame_each_and_no_reading(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    options = ("--template", "AC {:.2f} V", "--junk-every", "4")
    with serving("line_server.py", *options) as meter, capturing(path, (card("text-volts"), meter)):
        eventually(lambda: len(of_channel(path, 0)) >= 30)
    readings = of_channel(path, 0)
    good = [value for _, _, value, quality in readings if quality == GOOD]
    assert good == pytest.approx([good[0] + n / 100 for n in range(len(good))])
    assert {quality for _, _, _, quality in readings} == {GOOD, BAD_FRAME}
    bad = sum(quality == BAD_FRAME for _, _, _, quality in readings)
    assert len(good) // 4 - 1 <= bad <= len(good) // 4 + 1


def test_a_server_that_drops_the_connection_leaves_a_gap_and_no_invented_reading(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    options = ("--template", "{:.2f} V", "--drop-after", "10")
    with serving("line_server.py", *options) as meter, capturing(path, (card("text-volts"), meter)):
        eventually(lambda: len(events(path, "link_back")) >= 1)
        eventually(lambda: sum(quality == GOOD for _, _, _, quality in of_channel(path, 0)) >= 14)
    readings = of_channel(path, 0)
    gap = next(n for n, line in enumerate(readings) if line[3] == LOST)
    assert [line[2] for line in readings[gap - 3 : gap]] == pytest.approx([10.08, 10.09, 10.10])
    assert readings[gap][2] is None
    assert readings[gap + 1][2] in (pytest.approx(10.11), pytest.approx(10.12))
    assert "link" in events(path, "link_lost")[0]["text"]
    assert lines(path)[-1]["entry"] == "close"
