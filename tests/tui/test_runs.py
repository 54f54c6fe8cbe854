"""Runs of real processes: signals, instruments that fail, typed readings, the bench alone."""

from __future__ import annotations

import json
import os
import signal
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.tui.program import spinvolt, start


def test_the_demo_leaves_no_process_behind(recording: Path) -> None:
    listed = subprocess.run(["ps", "-eo", "args"], capture_output=True, text=True, check=True).stdout
    assert str(recording) not in listed
    children = subprocess.run(
        ["ps", "--ppid", str(os.getpid()), "-o", "args="], capture_output=True, text=True, check=False
    ).stdout
    assert "drivers.bench" not in children
    assert "daq.capture" not in children


def test_readings_typed_on_standard_input_are_recorded(tmp_path: Path) -> None:
    arguments = (
        "run",
        "-i",
        "keyboard-pair@keyboard",
        "--machine",
        "nursery-sprayer",
        "--out",
        "typed.jsonl",
    )
    with start(*arguments, folder=tmp_path, stdin=subprocess.PIPE) as process:
        assert process.stdin is not None
        for speed in range(3500, 3600, 10):
            process.stdin.write(f"{speed / 150:.2f} {speed}\n")
        process.stdin.flush()
        assert process.stdout is not None
        for line in process.stdout:
            if "3590 rpm" in line:
                break
        process.send_signal(signal.SIGTERM)
        out, err = process.communicate(timeout=40)
    assert process.returncode == 0, err
    assert "Verdict:" in out
    lines = [json.loads(line) for line in (tmp_path / "typed.jsonl").read_text().splitlines()]
    assert [line[2] for line in lines if isinstance(line, list) and line[0] == 1] == list(
        range(3500, 3600, 10)
    )


def test_a_file_that_is_there_is_not_replaced(recording: Path) -> None:
    before = recording.read_bytes()
    ran = spinvolt("demo", "--headless", "--seconds", "1", "--out", "run.jsonl", folder=recording.parent)
    assert ran.status == 1
    assert "--force" in ran.err
    assert len(ran.err.splitlines()) == 1
    assert recording.read_bytes() == before


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT], ids=lambda number: number.name)
def test_signals_end_a_demo_cleanly(number: signal.Signals, tmp_path: Path) -> None:
    with start("demo", "--headless", folder=tmp_path) as process:
        assert process.stdout is not None
        for line in process.stdout:
            if " rpm" in line:
                break
        process.send_signal(number)
        out, err = process.communicate(timeout=40)
    assert process.returncode == 0
    assert err == ""
    path = Path(out.strip().splitlines()[-1].removeprefix("Recording: "))
    assert path.parent == tmp_path / "recordings"
    assert json.loads(path.read_text().splitlines()[-1])["reason"] == "stopped by hand or by a signal"


def test_a_reader_that_goes_away_is_no_error(tmp_path: Path) -> None:
    with start("cards", folder=tmp_path) as process:
        assert process.stdout is not None
        process.stdout.close()
        assert process.stderr is not None
        assert process.stderr.read() == ""
    assert process.returncode == 0


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[dict[str, str]]:
    """A running bench: the address of each card."""
    with start("bench", folder=tmp_path) as process:
        assert process.stdout is not None
        said = [json.loads(process.stdout.readline()) for _ in range(2)]
        yield {entry["card"]: entry["address"] for entry in said}
        process.terminate()


def test_one_instrument_that_fails_does_not_stop_the_other(bench: dict[str, str], tmp_path: Path) -> None:
    meter = f"bench-meter@{bench['bench-meter']}"
    ran = spinvolt(
        "run",
        "-i",
        meter,
        "-i",
        "text-speed@/dev/no-port",
        "--seconds",
        "1.5",
        "--out",
        "x.jsonl",
        folder=tmp_path,
    )
    assert ran.status == 0
    assert "There is no port /dev/no-port" in ran.out
    assert "There are no speed readings in this run" in ran.out


def test_an_instrument_that_says_nothing_is_told_in_a_sentence(bench: dict[str, str], tmp_path: Path) -> None:
    card = spinvolt("cards", "text-speed", folder=tmp_path).out.replace("silence_s = 5.0", "silence_s = 0.5")
    (tmp_path / "quick.toml").write_text(card)
    address = bench["bench-meter"]  # it waits to be asked
    ran = spinvolt("run", "-i", f"./quick.toml@{address}", "--out", "x.jsonl", folder=tmp_path)
    assert ran.status == 1
    assert len(ran.err.splitlines()) == 1
    assert "No recording was kept" in ran.err
    assert not (tmp_path / "x.jsonl").exists()


def test_the_bench_names_its_instruments_and_ends_when_told(tmp_path: Path) -> None:
    with start("bench", "--seed", "3", folder=tmp_path) as process:
        assert process.stdout is not None
        said = [json.loads(process.stdout.readline()) for _ in range(2)]
        process.terminate()
        process.wait(30)
    assert {entry["card"] for entry in said} == {"bench-meter", "bench-tach"}
    assert process.returncode == 0
