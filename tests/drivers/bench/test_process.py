"""The bench as others start it: a real process on real ports, spoken to byte by byte."""

from __future__ import annotations

import json
import os
import select
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from itertools import pairwise
from pathlib import Path
from typing import IO, Any

import pytest

from tests.stopwatch import stopwatch

pytestmark = pytest.mark.skipif(
    sys.platform == "win32", reason="pseudo-terminals and signals are tested here"
)

END_WITHIN_S = 1.0


class Process:
    """A running bench and its lines."""

    def __init__(self, popen: subprocess.Popen[str]) -> None:
        self.popen = popen

    @property
    def stdin(self) -> IO[str]:
        assert self.popen.stdin is not None
        return self.popen.stdin

    def line(self) -> dict[str, Any]:
        assert self.popen.stdout is not None
        found: dict[str, Any] = json.loads(self.popen.stdout.readline())
        return found

    def tell(self, wish: dict[str, Any]) -> dict[str, Any]:
        self.stdin.write(json.dumps(wish) + "\n")
        self.stdin.flush()
        return self.line()

    def addresses(self) -> tuple[str, str]:
        meter, tach = self.line(), self.line()
        assert (meter["card"], tach["card"]) == ("bench-meter", "bench-tach")
        return meter["address"], tach["address"]

    def end_s(self, end: Callable[[], object]) -> float:
        """What the process itself takes to end."""
        with stopwatch(self.popen.pid) as watch:
            end()
            self.popen.wait(timeout=30.0)
        return watch.own_s


@contextmanager
def bench(*options: str) -> Iterator[Process]:
    command = [sys.executable, "-m", "drivers.bench", *options]
    pipe = subprocess.PIPE
    with subprocess.Popen(command, text=True, stdin=pipe, stdout=pipe, stderr=pipe) as popen:
        try:
            yield Process(popen)
        finally:
            with suppress(ProcessLookupError):
                popen.kill()
            for stream in (popen.stdin, popen.stdout, popen.stderr):
                with suppress(BrokenPipeError):
                    assert stream is not None
                    stream.close()


@contextmanager
def opened(address: str) -> Iterator[int]:
    descriptor = os.open(address, os.O_RDWR | os.O_NOCTTY)
    try:
        yield descriptor
    finally:
        os.close(descriptor)


def read_line(descriptor: int, within_s: float = 30.0) -> bytes:
    until_s, found = time.monotonic() + within_s, b""
    while not found.endswith(b"\n"):
        ready, _, _ = select.select([descriptor], [], [], max(0.0, until_s - time.monotonic()))
        assert ready, f"nothing more came within {within_s} s after {found!r}"
        found += os.read(descriptor, 1)
    return found


def ask(descriptor: int, question: bytes) -> bytes:
    os.write(descriptor, question + b"\n")
    return read_line(descriptor)


def test_meter_and_tach_speak_on_real_pseudo_terminals() -> None:
    with bench("--script", "work", "--seed", "4") as process:
        meter_address, tach_address = process.addresses()
        with opened(meter_address) as meter, opened(tach_address) as tach:
            assert ask(meter, b"*IDN?").count(b",") == 3
            first, second = (float(ask(meter, b"MEAS:VOLT:AC?")) for _ in range(2))
            assert 26.0 < first < 30.0
            assert 26.0 < second < 30.0
            number, unit = read_line(tach).split()
            assert unit == b"rpm"
            assert 3500 < int(number) < 3700
            os.write(meter, b"NONSENSE\n")
            assert ask(meter, b"SYST:ERR?") == b'-113,"Undefined header"\n'


def test_readings_come_in_real_time_and_do_not_drift() -> None:
    with bench("--script", "work") as process:
        _, tach_address = process.addresses()
        with opened(tach_address) as tach:
            came_s: list[float] = []
            for _ in range(6):
                read_line(tach)
                came_s.append(time.monotonic())
            # A busy machine may hand over the first or the last of six late: six others then take their time.
            while came_s[-1] - came_s[-6] != pytest.approx(2.5, abs=0.2):
                assert len(came_s) < 30, [after - before for before, after in pairwise(came_s)]
                read_line(tach)
                came_s.append(time.monotonic())


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_a_signal_ends_it_and_the_ports_go(number: signal.Signals) -> None:
    with bench() as process:
        meter_address, _ = process.addresses()
        with opened(meter_address) as meter:
            ask(meter, b"*IDN?")
            assert process.end_s(lambda: process.popen.send_signal(number)) < END_WITHIN_S
            assert process.popen.returncode == 0
            with pytest.raises(OSError, match=r"."):
                os.write(meter, b"*IDN?\n")
        assert process.popen.stderr is not None
        assert process.popen.stderr.read() == ""


def test_the_end_of_standard_input_ends_it_when_asked_to() -> None:
    with bench("--end-with-stdin") as process:
        process.addresses()
        assert process.end_s(process.stdin.close) < END_WITHIN_S
        assert process.popen.returncode == 0


def test_the_end_of_standard_input_alone_does_not() -> None:
    with bench() as process:
        meter_address, _ = process.addresses()
        process.stdin.close()
        with opened(meter_address) as meter:
            for _ in range(3):
                assert float(ask(meter, b"READ?")) > 1.0
        assert process.popen.poll() is None


def test_a_stated_duration_ends_it() -> None:
    since_s = time.monotonic()
    with bench("--duration", "0.5") as process:
        process.addresses()
        process.popen.wait(timeout=30.0)  # by itself; how fast is the computer's affair
        assert time.monotonic() - since_s >= 0.5
        assert process.popen.returncode == 0


def test_truth_is_in_its_file_before_the_addresses_are_told(tmp_path: Path) -> None:
    file = tmp_path / "truth.json"
    with bench("--fault", "weak_magnets", "--truth", str(file)) as process:
        process.addresses()
        truth = json.loads(file.read_text(encoding="utf-8"))["truth"]
    assert truth["rated_speed_rpm"] == 3600.0
    assert 16.0 < truth["rated_voltage_V"] < 17.0


def test_lines_on_standard_input_change_the_bench() -> None:
    with bench("--script", "work") as process:
        meter_address, _ = process.addresses()
        assert process.tell({"leads": "battery"})["done"] == {"leads": "battery"}
        with opened(meter_address) as meter:
            assert 11.5 < float(ask(meter, b"MEAS:VOLT:DC?")) < 14.8
        assert "no place" in process.tell({"leads": "moon"})["error"]


def test_tcp_where_asked_for() -> None:
    with bench("--tcp", "--script", "work") as process:
        meter_address, tach_address = process.addresses()
        ports = [
            int(address.removeprefix("socket://127.0.0.1:")) for address in (meter_address, tach_address)
        ]
        with (
            socket.create_connection(("127.0.0.1", ports[0]), timeout=30.0) as meter,
            socket.create_connection(("127.0.0.1", ports[1]), timeout=30.0) as tach,
        ):
            meter.sendall(b"READ?\n")
            assert 26.0 < float(meter.makefile("rb").readline()) < 30.0
            assert tach.makefile("rb").readline().endswith(b" rpm\r\n")


def write_for(fd: int, seconds: float) -> None:
    until_s = time.monotonic() + seconds
    while time.monotonic() < until_s:
        os.write(fd, b"?")
        time.sleep(0.02)


def test_one_instrument_can_go_while_the_other_stays() -> None:
    with bench("--unplug", "tach:1.5") as process:
        meter_address, tach_address = process.addresses()
        with opened(meter_address) as meter, opened(tach_address) as tach:
            with pytest.raises(OSError, match=r"."):
                write_for(tach, 30.0)
            assert float(ask(meter, b"READ?")) > 1.0


def test_it_goes_on_when_nobody_reads_what_it_prints() -> None:
    with bench() as process:
        meter_address, _ = process.addresses()
        assert process.popen.stdout is not None
        process.popen.stdout.close()
        for _ in range(3):
            process.stdin.write('{"truth": true}\n')
            process.stdin.flush()
        with opened(meter_address) as meter:
            assert float(ask(meter, b"READ?")) > 1.0
        process.popen.send_signal(signal.SIGTERM)
        process.popen.wait(timeout=30.0)
        assert process.popen.returncode == 0
        assert process.popen.stderr is not None
        assert process.popen.stderr.read() == ""


@pytest.mark.parametrize(
    "options",
    [
        ["--fault", "gremlins"],
        ["--script", "race"],
        ["--tach-gap", "12"],
        ["--tach-gap", "nan:1"],
        ["--false-tach", "1.5"],
        ["--unplug", "engine:3"],
        ["--duration", "-1"],
        ["--surprise"],
    ],
)
def test_wrong_usage_is_status_2_and_says_what(options: list[str]) -> None:
    from drivers.bench.options import parse_options

    with pytest.raises(SystemExit) as ended:
        parse_options(options)
    assert ended.value.code == 2


def test_a_truth_file_that_can_not_be_written_is_one_sentence(tmp_path: Path) -> None:
    with bench("--truth", str(tmp_path / "no" / "such" / "folder")) as process:
        process.popen.wait(timeout=30.0)
        assert process.popen.returncode == 1
        assert process.popen.stderr is not None
        said = process.popen.stderr.read()
    assert said.startswith("The bench can't go on:")
    assert said.count("\n") == 1
