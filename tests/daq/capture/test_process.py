"""The capture as a real process over real pseudo-terminals: how it records and how it ends."""

from __future__ import annotations

import contextlib
import hashlib
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import msgspec
import pytest

from daq.capture.launch import CaptureProcess
from daq.capture.spec import Closed, Closing, RecordingStarted, decode_status
from daq.errors import SpinvoltError
from daq.run.recorded import open_recording
from tests.daq.capture.runs import SPEED, VOLTS, events, eventually, lines, of_channel, spec
from tests.drivers.peers import PtyPeer
from tests.stopwatch import bare_sync_s, stopwatch


def test_two_instruments_are_recorded_side_by_side_until_the_seconds_are_over(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    machine = {"name": "cart", "title": "a cart", "rated_speed_rpm": 3600.0}
    with PtyPeer(VOLTS) as meter, PtyPeer(SPEED) as tach:
        wanted = spec(
            path,
            ("text-volts", meter.address),
            ("text-speed", tach.address),
            seconds=1.6,
            machine=machine,
            note="first",
        )
        with CaptureProcess.start(wanted) as capture:
            closed = capture.wait(30)
    session, machine_entry, volts, speed, *rest, close = lines(path)
    assert (session["entry"], session["version"], session["source"], session["note"]) == (
        "session",
        2,
        "run",
        "first",
    )
    assert machine_entry == {"entry": "machine", "card": machine}
    assert [volts["channel"], volts["instrument"], volts["address"], volts["unit"]] == [
        *(0, "text-volts", meter.address, "V")
    ]
    assert [speed["channel"], speed["quantity"], speed["card"]["protocol"]] == [1, "rotational_speed", "text"]
    readings = [line for line in rest if isinstance(line, list)]
    assert closed == Closed("the 1.6 s are over", len(readings))
    assert close["readings"] == len(readings)
    for channel in (0, 1):
        values = [line[2] for line in of_channel(path, channel)]
        assert len(values) >= 10
        assert values == pytest.approx([values[0] + n / 10 for n in range(len(values))])
        stamps = [line[1] for line in of_channel(path, channel)]
        assert stamps == sorted(stamps)
        assert 0 <= stamps[0]
        assert stamps[-1] <= close["t_ns"]
    body = path.read_bytes().rsplit(b"\n", 2)[0] + b"\n"
    assert close["digest"] == "sha256:" + hashlib.sha256(body).hexdigest()


def test_equal_cards_get_names_of_their_own(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    with PtyPeer(VOLTS) as one, PtyPeer(VOLTS) as two:
        wanted = spec(path, ("text-volts", one.address), ("text-volts", two.address))
        with CaptureProcess.start(wanted) as capture:
            eventually(lambda: len(of_channel(path, 1)) > 0)
            capture.stop()
            capture.wait(30)
    names = [e["instrument"] for e in lines(path) if isinstance(e, dict) and e["entry"] == "channel"]
    assert names == ["text-volts", "text-volts-2"]


def test_marks_and_steps_stand_where_they_came_and_stop_tells_why(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    with PtyPeer(VOLTS) as meter, CaptureProcess.start(spec(path, ("text-volts", meter.address))) as capture:
        eventually(lambda: len(of_channel(path, 0)) > 3)
        capture.mark("full throttle")
        capture.step("warm-up", "done", "two minutes")
        capture.stop("enough")
        closed = capture.wait(30)
    mark, step = (e for e in lines(path) if isinstance(e, dict) and e["entry"] in ("mark", "step"))
    assert mark["text"] == "full throttle"
    assert mark["t_ns"] > of_channel(path, 0)[0][1]
    assert [step["step"], step["state"], step["text"]] == ["warm-up", "done", "two minutes"]
    assert closed.reason == "enough"
    assert lines(path)[-1]["reason"] == "enough"


def test_readings_are_handed_over_in_time_to_be_followed(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    with PtyPeer(VOLTS) as meter, CaptureProcess.start(spec(path, ("text-volts", meter.address))) as capture:
        eventually(lambda: len(of_channel(path, 0)) >= 5)
        for _ in range(4):
            before = path.stat().st_size
            with stopwatch(capture.pid) as watch:
                while path.stat().st_size == before:
                    time.sleep(0.01)
            assert watch.own_s - bare_sync_s(tmp_path) < 0.7


@contextlib.contextmanager
def raw_capture(path: Path, address: str) -> Iterator[subprocess.Popen[bytes]]:
    """The capture without the parent's side of it; killed at the end if it is still there."""
    with subprocess.Popen(
        [sys.executable, "-P", "-m", "daq.capture"], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    ) as process:
        try:
            assert process.stdin is not None
            assert process.stdout is not None
            process.stdin.write(msgspec.json.encode(spec(path, ("text-volts", address))) + b"\n")
            process.stdin.flush()
            assert decode_status(process.stdout.readline()) == RecordingStarted(str(path))
            yield process
        finally:
            process.kill()


@pytest.mark.parametrize("end", ["SIGTERM", "SIGINT", "SIGHUP", "end of input"])
def test_it_closes_the_recording_within_a_second_after_a_signal_or_the_end_of_its_input(
    end: str, tmp_path: Path
) -> None:
    path = tmp_path / "run.jsonl"
    with PtyPeer(VOLTS) as meter, raw_capture(path, meter.address) as process:
        eventually(lambda: len(of_channel(path, 0)) > 3)
        assert process.stdin is not None
        assert process.stdout is not None
        with stopwatch(process.pid) as watch:
            if end == "end of input":
                process.stdin.close()
            else:
                process.send_signal(getattr(signal, end))
            assert decode_status(process.stdout.readline()) == Closing()
            status = decode_status(process.stdout.readline())
        assert watch.own_s - bare_sync_s(tmp_path) < 1.0
        assert process.wait(30) == 0
    assert path.read_bytes().endswith(b"\n")
    close = lines(path)[-1]
    assert isinstance(status, Closed)
    assert (close["entry"], close["readings"]) == ("close", status.readings)
    assert (end if end.startswith("SIG") else "has gone") in close["reason"]


def test_when_the_dashboard_is_killed_the_recording_is_closed_properly(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    parent = (
        "import sys, time, msgspec\n"
        "from daq.capture.launch import CaptureProcess\n"
        "from daq.capture.spec import CaptureSpec\n"
        "capture = CaptureProcess.start(msgspec.json.decode(sys.argv[1], type=CaptureSpec))\n"
        "time.sleep(60)\n"
    )
    with PtyPeer(VOLTS) as meter:
        wanted = msgspec.json.encode(spec(path, ("text-volts", meter.address))).decode()
        dashboard = subprocess.Popen([sys.executable, "-c", parent, wanted])
        eventually(lambda: path.exists() and len(of_channel(path, 0)) > 3)
        dashboard.kill()
        with stopwatch() as watch:
            dashboard.wait()
            eventually(lambda: isinstance(lines(path)[-1], dict))
        assert watch.own_s - bare_sync_s(tmp_path) < 1.5
    assert lines(path)[-1]["entry"] == "close"


def test_control_c_in_the_terminal_reaches_only_the_parent(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    with PtyPeer(VOLTS) as meter, CaptureProcess.start(spec(path, ("text-volts", meter.address))) as capture:
        assert os.getpgid(capture.pid) == capture.pid
        assert os.getsid(capture.pid) == capture.pid
        eventually(lambda: len(of_channel(path, 0)) > 3)


def test_a_control_message_that_is_none_does_no_harm(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    with PtyPeer(VOLTS) as meter, CaptureProcess.start(spec(path, ("text-volts", meter.address))) as capture:
        eventually(lambda: len(of_channel(path, 0)) > 3)
        capture._send(b"\xff not json")
        capture._send(b'{"do":"explode"}')
        capture.mark("still here")
        capture.stop()
        capture.wait(30)
    assert [e["text"] for e in lines(path) if isinstance(e, dict) and e["entry"] == "mark"] == ["still here"]


@pytest.mark.parametrize("line", [b"", b"{}", b"not json", b'{"path":"x","instruments":[]}'])
def test_a_spec_it_does_not_understand_fails_in_words(line: bytes) -> None:
    done = subprocess.run(
        [sys.executable, "-P", "-m", "daq.capture"], input=line + b"\n", capture_output=True, check=False
    )
    assert done.returncode == 1
    assert b"without a spec that it understands" in done.stdout
    assert done.stderr == b""


def test_a_recording_that_exists_is_kept_unless_force_is_given(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    path.write_text("precious\n")
    with PtyPeer(VOLTS) as meter:
        with pytest.raises(SpinvoltError, match="exists already; add --force"):
            CaptureProcess.start(spec(path, ("text-volts", meter.address)))
        assert path.read_text() == "precious\n"
        with CaptureProcess.start(spec(path, ("text-volts", meter.address), force=True)) as capture:
            eventually(lambda: len(of_channel(path, 0)) > 0)
            capture.stop()
            capture.wait(30)
    assert lines(path)[-1]["entry"] == "close"


def test_a_folder_that_is_not_there_is_told(tmp_path: Path) -> None:
    with PtyPeer(VOLTS) as meter, pytest.raises(SpinvoltError, match="no folder"):
        CaptureProcess.start(spec(tmp_path / "no" / "run.jsonl", ("text-volts", meter.address)))


@pytest.mark.skipif(
    sys.platform != "linux", reason="limits another process's file size, which only Linux can"
)
def test_a_disk_that_takes_nothing_is_told_and_nothing_is_lost_when_it_does_again(tmp_path: Path) -> None:
    import resource

    path = tmp_path / "run.jsonl"
    with PtyPeer(VOLTS) as meter, CaptureProcess.start(spec(path, ("text-volts", meter.address))) as capture:
        eventually(lambda: len(of_channel(path, 0)) > 3)
        _, hard = resource.prlimit(capture.pid, resource.RLIMIT_FSIZE)
        resource.prlimit(capture.pid, resource.RLIMIT_FSIZE, (path.stat().st_size + 100, hard))
        statuses: list[str] = []

        def came(name: str) -> bool:
            statuses.extend(type(status).__name__ for status in capture.poll_status())
            return name in statuses

        eventually(lambda: came("Stalled"))
        assert path.read_bytes().endswith(b"\n")
        resource.prlimit(capture.pid, resource.RLIMIT_FSIZE, (hard, hard))
        eventually(lambda: came("Resumed"))
        capture.stop()
        capture.wait(30)
    values = [line[2] for line in of_channel(path, 0)]
    assert values == pytest.approx([values[0] + n / 10 for n in range(len(values))])
    assert [event["text"] for event in events(path, "stall")] == [
        "run.jsonl has reached the greatest size that is allowed for a file. What stands in it is whole. What comes "
        "meanwhile is held in memory."
    ]
    (past,) = [text for text in open_recording(path).result().reasons if "greatest size" in text]
    assert past.startswith("The recording had the greatest size that is allowed for a file from 0:0")
    assert past.endswith("; nothing was lost.")


@pytest.mark.skipif(
    sys.platform != "linux", reason="limits another process's file size, which only Linux can"
)
def test_a_disk_that_stays_full_ends_in_a_failure_and_whole_lines(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import resource

    home = tmp_path / "home"
    home.mkdir()
    monkeypatch.setenv("HOME", str(home))  # where the rest would go
    path = tmp_path / "run.jsonl"
    with PtyPeer(VOLTS) as meter, CaptureProcess.start(spec(path, ("text-volts", meter.address))) as capture:
        eventually(lambda: len(of_channel(path, 0)) > 3)
        limit = path.stat().st_size + 50
        resource.prlimit(capture.pid, resource.RLIMIT_FSIZE, (limit, limit))
        time.sleep(0.5)
        capture.stop()
        with pytest.raises(SpinvoltError, match="ends early"):
            capture.wait(30)
    assert len(of_channel(path, 0)) > 3
    assert path.read_bytes().endswith(b"\n")
    assert lines(path)[-1][0] == 0
