"""Listening at real pseudo-terminals and sockets, by the finding process as the program starts it."""

from __future__ import annotations

import subprocess
import sys
import termios
import threading
from collections.abc import Callable, Sequence
from pathlib import Path

import msgspec
import pytest

from daq.capture.launch import CaptureProcess
from daq.capture.spec import CaptureSpec, InstrumentSpec
from daq.catalog import instrument_card
from daq.errors import SpinvoltError, UsageError
from daq.finding import DEFAULT_LISTEN_S, Listened, find, line_words, listen
from daq.recording.reader import read_recording
from daq.registry import load_registry
from tests.drivers.peers import BEHAVIOURS, SILENT, Behaviour, PtyPeer, TcpPeer, text_lines

BRIEF_S = 0.4


def given_time(
    address: str,
    cards: Sequence[str] = (),
    seconds: float = BRIEF_S,
    *,
    again_s: float = DEFAULT_LISTEN_S,
    came: Callable[[Listened], bool] = lambda result: bool(result.heard),
) -> Listened:
    """Listen to one that speaks or answers. A busy machine may hold it up for the whole of a short spell: nothing came
    then, and what is heard in the time that the program itself takes counts.
    """
    result = listen(address, cards, seconds=seconds)
    return result if came(result) else listen(address, cards, seconds=again_s)


class FussyPeer(PtyPeer):
    """A line as real ones are: at any but the instrument's own speed, junk is what one gets.

    Speed alone: Linux lets no pseudo-terminal have a parity.
    """

    def __init__(self, behaviour: Behaviour, speed: int) -> None:
        super().__init__(Behaviour(unasked=lambda n: self._garbled(behaviour, n)))
        self._speed = speed

    def _garbled(self, behaviour: Behaviour, n: int) -> bytes:
        assert behaviour.unasked is not None
        data = behaviour.unasked(n)
        right = termios.tcgetattr(self._slave)[4] == self._speed
        return data if right else bytes(0x80 | (byte ^ 0x55) for byte in data)


@pytest.mark.parametrize("protocol", ["counter", "frame", "nmea", "text"])
def test_an_instrument_that_speaks_is_told_by_its_card_and_hears_nothing(protocol: str) -> None:
    card, behaviour = BEHAVIOURS[protocol]
    with PtyPeer(behaviour) as peer:
        result = given_time(peer.address, came=lambda result: any(one.readings > 5 for one in result.heard))
        assert peer.received == b"", "nobody has asked to be asked"
    assert result.trouble == ""
    mine = next(one for one in result.heard if one.card == card)
    assert mine.share == pytest.approx(1.0)
    assert mine.readings > 5
    assert result.heard[0].card == card or protocol == "nmea", [one.card for one in result.heard]


def test_an_instrument_that_is_asked_is_found_by_asking() -> None:
    card, behaviour = BEHAVIOURS["scpi"]
    right = behaviour.answer
    assert right is not None
    still = Behaviour(
        answer=lambda request: b"+1.962E+01\n" if request == b"MEAS:VOLT:AC?" else right(request)
    )
    for seconds in (
        BRIEF_S,
        DEFAULT_LISTEN_S,
    ):  # a busy machine may keep it from answering for all of the shorter time
        with PtyPeer(still) as peer:
            result = listen(peer.address, seconds=seconds)
            asked = peer.received
        if [one.share for one in result.heard] == [1.0]:
            break
    best = result.heard[0]
    assert (best.card, best.asked, best.share) == (card, True, 1.0)
    assert [(e.value, e.unit) for e in best.examples] == [(19.62, "V")]
    assert asked.startswith(b"*IDN?\n"), "who it is comes before anything that could change a setting"
    assert b"CURR" not in asked, "once it has answered, no other card switches its function"


def test_answers_that_make_no_sense_lower_the_share() -> None:
    right = BEHAVIOURS["scpi"][1].answer
    assert right is not None
    asked = 0

    def answer(request: bytes) -> bytes:
        nonlocal asked
        asked += request == b"MEAS:VOLT:AC?"
        return b"what?\n" if request == b"MEAS:VOLT:AC?" and asked % 2 == 0 else right(request)

    with PtyPeer(Behaviour(answer=answer)) as peer:
        result = given_time(peer.address, ["scpi-meter"], 1.0)
    (one,) = result.heard
    assert 0.3 < one.share < 0.8
    assert not one.is_good


def test_one_that_answers_nothing_is_asked_who_it_is_and_nothing_more() -> None:
    with PtyPeer(SILENT) as peer:
        result = listen(peer.address, ["scpi-meter", "scpi-ohms"], seconds=BRIEF_S)
        assert peer.received == b"*IDN?\n", "once for all cards that begin in the same way"
    assert result.heard == ()
    assert sum(tried.bytes_received for tried in result.tried) == 0


def test_silence_is_told_without_trying_every_speed() -> None:
    with PtyPeer(SILENT) as peer:
        # Long enough for a machine that stops for a second: all lines together have so many times these seconds.
        result = listen(peer.address, ["text-volts", "segment-meter"], seconds=0.3)
        assert peer.received == b""
    assert [tried.line for tried in result.tried] == ["9600 baud, 8N1", "2400 baud, 8N1, DTR up, RTS down"]
    assert (result.heard, result.trouble) == ((), "")


def test_a_speed_that_no_card_has_is_found() -> None:
    with FussyPeer(text_lines("%.1f rpm\r\n"), termios.B19200) as peer:
        result = given_time(peer.address, ["text-speed"], 0.3)
    best = result.heard[0]
    assert (best.card, line_words(best.line), best.line_of_card) == ("text-speed", "19200 baud, 8N1", False)
    assert best.is_good


def test_a_meter_on_ohms_is_heard_and_not_asked() -> None:
    with PtyPeer(text_lines("%.1f ohm\r\n")) as peer:
        result = given_time(peer.address)
        assert peer.received == b""
    assert len(result.tried) == 1, "its speed is known"
    assert not any(one.is_good for one in result.heard)
    assert all("wrong function" in one.remarks[0] for one in result.heard)


def _all_spells(result: Listened) -> bool:
    """Whether something came at each line that was listened at, as one that never pauses sends it."""
    return all(one.bytes_received for one in result.tried if not one.line.startswith(("asked", "not asked")))


def test_junk_is_shown_and_understood_by_no_card() -> None:
    with PtyPeer(Behaviour(unasked=lambda n: b"\xfe\x81\x07")) as peer:
        result = given_time(peer.address, ["text-volts", "frame-speed"], 0.2, again_s=0.5, came=_all_spells)
    assert result.heard == ()
    assert len(result.tried) > 5
    assert "\\xfe\\x81" in result.tried[0].sample


def test_junk_without_end_is_asked_with_few_cards_before_the_time_is_up() -> None:
    with PtyPeer(Behaviour(unasked=lambda n: b"\xfe\x81\x07")) as peer:
        result = given_time(peer.address, (), 0.2, again_s=0.5, came=_all_spells)
    lines = [tried.line for tried in result.tried]
    assert any(line.startswith("not asked with") and line.endswith("since the time was up") for line in lines)
    assert sum(not line.startswith("not asked") for line in lines) <= 15
    assert "asked with scpi-meter" in lines, "a board may say something of itself before it waits to be asked"
    assert not any("bench-" in line for line in lines)


def test_over_the_network_one_spell_is_enough() -> None:
    with TcpPeer(text_lines("AC %.1f V\r\n")) as peer:
        result = given_time(peer.address)
    assert result.heard[0].card == "text-volts"
    assert len(result.tried) == 1


def test_a_port_that_a_run_holds_is_left_alone_and_says_who_has_it(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    card = msgspec.to_builtins(instrument_card("text-volts", load_registry()))
    with PtyPeer(text_lines("AC %.1f V\r\n")) as peer:
        spec = CaptureSpec(path=str(path), instruments=[InstrumentSpec(card, peer.address)])
        with CaptureProcess.start(spec) as capture:
            before = termios.tcgetattr(peer._slave)
            result = listen(peer.address, seconds=BRIEF_S)
            assert termios.tcgetattr(peer._slave) == before, "the line is set as the run has set it"
            assert peer.received == b""
            holder = f"a run of spinvolt (process {capture.pid})"
            capture.stop()
            capture.wait(30)
    assert result.trouble == f"Port {peer.address} is in use by {holder}: end that one first."
    assert result.heard == ()
    values = [round(10 * value) for value in read_recording(path).columns(0).value.tolist()]
    assert values == list(range(values[0], values[0] + len(values))), "the run has lost nothing"


@pytest.mark.parametrize(
    ("address", "words"), [("/dev/ttyUSB-none", "There is no port"), ("/etc/passwd", "is no serial port")]
)
def test_what_is_no_port_is_trouble_in_words(address: str, words: str) -> None:
    assert words in listen(address, ["text-volts"], seconds=0.1).trouble


def test_what_makes_no_sense_is_wrong_usage() -> None:
    with pytest.raises(UsageError, match="nothing to listen to at the keyboard"):
        listen("keyboard")
    with pytest.raises(UsageError, match="serial port or a network address"):
        listen("ble:C4:11:5E:00:00:01", ["text-volts"])
    with pytest.raises(SpinvoltError, match="no instrument card 'nosuch'"):
        listen("/dev/ttyUSB0", ["nosuch"])


def test_it_can_be_called_off() -> None:
    cancel = threading.Event()
    told: list[str] = []

    def stop_at_once(text: str) -> None:
        told.append(text)
        cancel.set()

    with PtyPeer(SILENT) as peer, pytest.raises(SpinvoltError, match="called off"):
        listen(peer.address, seconds=30.0, on_progress=stop_at_once, cancel=cancel)
    assert told == [f"Listening at {peer.address}, 9600 baud, 8N1 ..."]


def test_a_process_that_is_left_alone_ends() -> None:
    """Its standard input ends with whoever wanted to know, however that one ends."""
    with PtyPeer(SILENT) as peer:
        request = msgspec.json.encode({"seconds": 30.0, "address": peer.address, "cards": ["text-volts"]})
        process = subprocess.Popen(
            [sys.executable, "-P", "-m", "daq.finding"], stdin=subprocess.PIPE, stdout=subprocess.PIPE
        )
        with process:
            assert process.stdin is not None
            assert process.stdout is not None
            process.stdin.write(request + b"\n")
            process.stdin.flush()
            assert b"Listening" in process.stdout.readline()
            process.stdin.close()
            assert process.wait(30) == 1


def test_a_plugin_that_takes_the_process_down_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "fatal_probe-1.dist-info").mkdir()
    (tmp_path / "fatal_probe-1.dist-info" / "METADATA").write_text("Name: fatal-probe\nVersion: 1\n")
    (tmp_path / "fatal_probe-1.dist-info" / "entry_points.txt").write_text(
        "[spinvolt.drivers]\nfatal-probe = fatal_probe:DRIVER\n"
    )
    (tmp_path / "fatal_probe.py").write_text(
        "import os, sys\nprint('first words', file=sys.stderr)\nprint('out of order', file=sys.stderr, flush=True)\n"
        "os._exit(3)\n"
    )
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    with pytest.raises(SpinvoltError, match=r"ended without an answer: out of order\."):
        find(0.0)
