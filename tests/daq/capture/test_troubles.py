"""What goes wrong with instruments in a real capture process: told in words, and never the other's trouble."""

from __future__ import annotations

from pathlib import Path

import pytest

from daq.capture.launch import CaptureProcess
from daq.capture.spec import InstrumentSpec, Refused
from daq.errors import SpinvoltError
from tests.daq.capture.runs import (
    HICCUP_S,
    JUNK,
    SPEED,
    VOLTS,
    card,
    events,
    eventually,
    of_channel,
    quiet,
    spec,
)
from tests.drivers.peers import SILENT, Behaviour, PtyPeer, TcpPeer


def failure(path: Path, *instruments: tuple[str, str] | InstrumentSpec) -> str:
    """The sentence of a run that ends by itself, and leaves nothing behind."""
    with pytest.raises(SpinvoltError) as caught, CaptureProcess.start(spec(path, *instruments)) as capture:
        capture.wait(30)
    assert not path.exists()
    return str(caught.value)


def test_no_such_port_is_told_and_leaves_nothing(tmp_path: Path) -> None:
    text = failure(tmp_path / "run.jsonl", ("text-volts", "/dev/ttyUSB99"))
    assert "There is no port /dev/ttyUSB99." in text


def test_all_instruments_that_fail_are_told_at_once(tmp_path: Path) -> None:
    text = failure(tmp_path / "run.jsonl", ("text-volts", "/dev/ttyUSB98"), ("text-speed", "/dev/ttyUSB99"))
    assert "/dev/ttyUSB98" in text
    assert "/dev/ttyUSB99" in text


def test_a_second_run_on_the_same_port_is_told_that_it_is_busy(tmp_path: Path) -> None:
    first = tmp_path / "first.jsonl"
    with PtyPeer(VOLTS) as meter, CaptureProcess.start(spec(first, ("text-volts", meter.address))):
        text = failure(tmp_path / "second.jsonl", ("text-volts", meter.address))
        assert "in use by a run of spinvolt (process " in text
        seen = len(of_channel(first, 0))
        eventually(lambda: len(of_channel(first, 0)) > seen)


def test_silence_ends_a_run_that_never_had_a_reading(tmp_path: Path) -> None:
    with PtyPeer(SILENT) as meter:
        text = failure(tmp_path / "run.jsonl", quiet("text-volts", meter.address))
    assert "Nothing has come from text-volts" in text
    assert "awaited a line with a number (ac voltage); last bytes seen: none" in text
    assert text.endswith("No recording was kept.")


def test_silence_of_an_instrument_that_is_asked_names_the_question(tmp_path: Path) -> None:
    with PtyPeer(SILENT) as meter:
        text = failure(tmp_path / "run.jsonl", quiet("scpi-meter", meter.address))
    assert "awaited an answer to *IDN?" in text


def test_junk_ends_a_run_that_never_had_a_reading(tmp_path: Path) -> None:
    with PtyPeer(JUNK) as meter:
        text = failure(tmp_path / "run.jsonl", quiet("text-volts", meter.address, HICCUP_S))
    assert "sent only junk" in text
    assert r"\x80\x81\x13 q\r\n" in text
    assert "9600 baud" in text


def test_a_patient_run_waits_for_the_first_reading(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    late = Behaviour(unasked=lambda n: b"19.6 V\r\n", period_s=1.2)
    with PtyPeer(late) as meter:
        wanted = spec(path, quiet("text-volts", meter.address), patient=True)
        with CaptureProcess.start(wanted):
            eventually(lambda: len(of_channel(path, 0)) >= 1)
            eventually(lambda: len(events(path, "link_back")) >= 1)
    assert events(path, "silent")[0]["instrument"] == "text-volts"


@pytest.mark.parametrize(("trouble", "kind"), [(SILENT, "silent"), (JUNK, "junk")])
def test_one_in_trouble_does_not_stop_the_other(trouble: Behaviour, kind: str, tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    with PtyPeer(trouble) as meter, PtyPeer(SPEED) as tach:
        wanted = spec(path, quiet("text-volts", meter.address, HICCUP_S), ("text-speed", tach.address))
        with CaptureProcess.start(wanted) as capture:
            eventually(lambda: len(events(path, kind)) == 1)
            seen = len(of_channel(path, 1))
            eventually(lambda: len(of_channel(path, 1)) > seen + 10)
            capture.stop()
            assert capture.wait(30).readings > 10
    assert events(path, kind)[0]["instrument"] == "text-volts"
    assert len(events(path, kind)) == 1


def test_one_that_can_not_be_opened_is_told_and_tried_again_until_it_can(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    port = tmp_path / "port"
    with PtyPeer(SPEED) as tach, PtyPeer(VOLTS) as meter:
        wanted = spec(path, ("text-speed", tach.address), ("text-volts", str(port)))
        with CaptureProcess.start(wanted) as capture:
            eventually(lambda: len(events(path, "refused")) == 1)
            port.symlink_to(meter.address)
            eventually(lambda: len(of_channel(path, 1)) > 3)
            refused = [s for s in (*capture.early, *capture.poll_status()) if isinstance(s, Refused)]
    assert [status.instrument for status in refused] == ["text-volts"]
    assert "There is no port" in refused[0].text
    assert "is connected now" in events(path, "link_back")[0]["text"]


@pytest.mark.parametrize("kind", [PtyPeer, TcpPeer])
def test_one_that_is_unplugged_is_told_and_taken_back_when_it_returns(
    kind: type[PtyPeer | TcpPeer], tmp_path: Path
) -> None:
    path = tmp_path / "run.jsonl"
    port = tmp_path / "port"
    with PtyPeer(SPEED) as tach, kind(VOLTS) as meter:
        address = meter.address
        if kind is PtyPeer:
            port.symlink_to(meter.address)
            address = str(port)
        with CaptureProcess.start(spec(path, ("text-speed", tach.address), ("text-volts", address))):
            eventually(lambda: len(of_channel(path, 1)) > 3)
            meter.unplug()
            eventually(lambda: len(events(path, "link_lost")) == 1)
            assert of_channel(path, 1)[-1][2:] == [None, 8]
            speeds = len(of_channel(path, 0))
            again = PtyPeer(VOLTS) if kind is PtyPeer else TcpPeer(VOLTS, port=int(address.rsplit(":")[-1]))
            with again:
                if kind is PtyPeer:
                    port.unlink()
                    port.symlink_to(again.address)
                eventually(lambda: of_channel(path, 1)[-1][2] is not None)
                assert len(of_channel(path, 0)) > speeds
    lost, back = events(path, "link_lost")[0], events(path, "link_back")[0]
    assert "broke" in lost["text"]
    assert "check the plug" in lost["text"]
    assert "is connected again" in back["text"]
    assert lost["t_ns"] < back["t_ns"]


@pytest.mark.parametrize(
    ("changes", "address", "told"),
    [
        ({"protocol": "smoke-signals"}, "/dev/null", "smoke-signals"),
        ({"settings": {"max_line": 3}}, "/dev/null", "max_line = 3"),
        ({"channel": []}, "/dev/null", "1 to 64"),
        ({}, "keyboard", "serial port"),
    ],
)
def test_a_card_or_address_that_makes_no_sense_ends_the_run_at_once(
    changes: dict[str, object], address: str, told: str, tmp_path: Path
) -> None:
    path = tmp_path / "run.jsonl"
    wanted = spec(path, ("text-volts", address))
    wanted.instruments[:] = [InstrumentSpec(card("text-volts", **changes), address)]
    with pytest.raises(SpinvoltError) as caught:
        CaptureProcess.start(wanted)
    assert told in str(caught.value)
    assert not path.exists()


def test_a_run_ended_before_any_reading_keeps_no_recording(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    with PtyPeer(SILENT) as meter:
        with CaptureProcess.start(spec(path, ("text-volts", meter.address))) as capture:
            capture.stop("changed my mind")
            with pytest.raises(SpinvoltError, match="No reading came before the end .changed my mind."):
                capture.wait(30)
    assert not path.exists()


def test_what_the_instrument_says_of_itself_stands_in_the_recording(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    answers = {
        b"*IDN?": b"NURSERY,BENCH,0,1\n",
        b"SYST:ERR?": b'0,"No error"\n',
        b"MEAS:VOLT:AC?": b"+9.90000000E+37\n",
    }
    meter = Behaviour(answer=lambda request: answers.get(request, b""))
    with PtyPeer(meter) as line, CaptureProcess.start(spec(path, ("scpi-meter", line.address))):
        eventually(lambda: len(of_channel(path, 0)) >= 2)
        eventually(lambda: len(events(path, "note")) > 1)  # of its range, too
    notes = [event["text"] for event in events(path, "note")]
    assert notes[0] == "The instrument identifies itself as NURSERY,BENCH,0,1."
    assert "NURSERY" not in "".join(notes[1:])
    assert {tuple(line[2:]) for line in of_channel(path, 0)} == {(None, 1)}
