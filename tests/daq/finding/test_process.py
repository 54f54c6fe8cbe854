"""The finding process and plugins that misbehave in it: real processes, real plugins on the path."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path

import msgspec
import pytest

from daq.errors import SpinvoltError
from daq.finding import find, listen
from daq.finding.entries import Found, Listened

Install = Callable[[str], None]


@pytest.fixture
def plugin(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Install:
    """Installs a plugin whose module is the text given."""

    def install(text: str) -> None:
        about = tmp_path / "odd_probe-1.dist-info"
        about.mkdir()
        (about / "METADATA").write_text("Name: odd-probe\nVersion: 1\n")
        (about / "entry_points.txt").write_text("[spinvolt.drivers]\nodd-probe = odd_probe:DRIVER\n")
        (tmp_path / "odd_probe.py").write_text(text)
        monkeypatch.setenv("PYTHONPATH", str(tmp_path))

    return install


@pytest.mark.parametrize(
    ("printed", "ask"),
    [
        (Listened("somewhere"), lambda: find(0.0)),
        (Found(), lambda: listen("/dev/null", seconds=0.1)),
    ],
)
def test_an_answer_to_another_question_is_not_taken(
    plugin: Install, printed: Found | Listened, ask: Callable[[], object]
) -> None:
    plugin(f"print({msgspec.json.encode(printed).decode()!r}, flush=True)\nDRIVER = None\n")
    with pytest.raises(SpinvoltError, match="answered something else than it was asked"):
        ask()


def test_a_plugin_that_fails_without_a_word_is_told(plugin: Install) -> None:
    plugin("import os\nos._exit(3)\n")
    with pytest.raises(SpinvoltError, match=r"ended without an answer\.$"):
        find(0.0)


def test_what_a_plugin_prints_in_the_way_does_not_hinder_the_answer(plugin: Install) -> None:
    plugin("print('hello', flush=True)\nDRIVER = None\n")
    told: list[str] = []
    found = find(0.0, on_progress=told.append)
    assert any("odd-probe" in remark for remark in found.remarks)
    assert "hello" not in told


def test_a_plugin_that_hangs_is_left_when_the_looking_is_called_off(plugin: Install, tmp_path: Path) -> None:
    mark = tmp_path / "process-id"
    plugin(
        f"import os, signal, time\nsignal.signal(signal.SIGTERM, signal.SIG_IGN)\n"
        f"open({str(mark)!r}, 'w').write(str(os.getpid()))\ntime.sleep(600)\n"
    )
    cancel = threading.Event()

    def cancel_once_it_hangs() -> None:
        for _ in range(1500):
            if mark.exists() and mark.read_text():
                break
            time.sleep(0.02)
        cancel.set()

    helper = threading.Thread(target=cancel_once_it_hangs)
    helper.start()
    with pytest.raises(SpinvoltError, match="called off"):
        find(0.0, cancel=cancel)
    helper.join()
    with pytest.raises(ProcessLookupError):
        os.kill(int(mark.read_text()), 0)


@pytest.mark.parametrize(
    ("request_text", "told", "usage"),
    [
        (b"not a request\n", "JSON is malformed", True),
        (b'{"seconds": 0.1, "address": "keyboard"}\n', "nothing to listen to at the keyboard", True),
        (
            b'{"seconds": 0.1, "address": "ble:AA", "cards": ["nosuch"]}\n',
            "There is no instrument card 'nosuch'",
            False,
        ),
    ],
)
def test_a_request_that_makes_no_sense_is_answered_in_words(
    request_text: bytes, told: str, usage: bool
) -> None:
    done = subprocess.run(
        [sys.executable, "-P", "-m", "daq.finding"],
        input=request_text,
        capture_output=True,
        timeout=30,
        check=False,
    )
    answer = json.loads(done.stdout)
    assert done.returncode == 1
    assert told in answer["text"]
    assert answer.get("usage", False) is usage
