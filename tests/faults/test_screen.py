"""Names from a stranger's file on the dashboard: shown as they are, and never obeyed."""

from __future__ import annotations

import asyncio
import io
from pathlib import Path

import pytest

from daq.model.quantity import Quantity
from daq.recording.entries import ChannelEntry, EventEntry, MachineEntry, MarkEntry, SessionEntry
from daq.recording.follow import FileFollower
from daq.recording.writer import RecordingWriter
from tests.daq.recording.builders import readings
from tests.faults.strangers import unfit_characters
from tests.tui.program import spinvolt_here
from tui.control import Watching
from tui.dashboard.app import make_app
from tui.dashboard.feed import ThreadFeed
from tui.followed import followed_file
from tui.progress import ProgressBar

MARKUP = "[red]hot[/] [@click=app.quit]here[/]"
DRIVING = "\x1b[2J\x1b]0;owned\x07\x9b31m\u202e"


def strangers_recording(path: Path, *, close: bool = False) -> Path:
    """A run whose every name and text tries to drive the screen."""
    odd = f"{MARKUP} {DRIVING}"
    channels = [
        ChannelEntry(
            channel=n,
            quantity=quantity,
            unit=quantity.unit,
            instrument=f"{MARKUP}{n}{DRIVING}",
            address=odd,
            card={"name": odd},
            card_channel=0,
        )
        for n, quantity in enumerate((Quantity.AC_VOLTAGE, Quantity.ROTATIONAL_SPEED))
    ]
    session = SessionEntry(program=odd, started_utc="2026-03-01T08:00:00Z", source="run", note=odd)
    machine = {"name": odd, "title": odd, "rated_speed_rpm": 3600.0, "minimum_ac_voltage_v": 20.0}
    with RecordingWriter.create(path, session, force=False) as writer:
        writer.write([MachineEntry(card=machine), *channels])
        writer.write(readings(100))
        writer.write([EventEntry(t_ns=10**10, kind="silent", text=odd, instrument=channels[0].instrument)])
        writer.write([MarkEntry(t_ns=10**10, text=odd)])
        writer.flush()
        if close:
            writer.close(10**10, odd)
    return path


@pytest.mark.parametrize("size", [(80, 24), (200, 60)], ids=str)
async def test_names_are_shown_on_the_dashboard_and_never_obeyed(
    tmp_path: Path, size: tuple[int, int]
) -> None:
    path = strangers_recording(tmp_path / "odd.jsonl")
    with FileFollower(path) as source:
        app = make_app(ThreadFeed(followed_file(source)), Watching(path), light=False)
        async with app.run_test(size=size) as pilot:
            shown = ""
            async with asyncio.timeout(40):
                while "rpm" not in shown or "[red]hot" not in shown:
                    await pilot.pause(0.1)
                    strips = app.screen._compositor.render_strips()
                    shown = "\n".join("".join(segment.text for segment in strip) for strip in strips)
            assert not unfit_characters(shown)
            for strip in strips:
                for segment in strip:
                    meta = segment.style.meta if segment.style is not None else {}
                    assert "quit" not in str(meta.get("@click", "")), segment


@pytest.mark.parametrize(
    "command", ["result odd.jsonl", "replay odd.jsonl --headless --rate 0", "compare odd.jsonl odd.jsonl"]
)
def test_names_are_printed_and_never_obeyed(
    tmp_path: Path, command: str, capsys: pytest.CaptureFixture[str]
) -> None:
    strangers_recording(tmp_path / "odd.jsonl", close=True)
    ran = spinvolt_here(*command.split(), folder=tmp_path, capsys=capsys)
    assert ran.status == 0
    assert not unfit_characters(ran.out + ran.err)


@pytest.mark.parametrize("command", ["result", "replay --headless --rate 0", "watch --headless", "cards"])
def test_a_file_may_be_called_what_it_likes(
    tmp_path: Path, command: str, capsys: pytest.CaptureFixture[str]
) -> None:
    name = "run\x1b[2J\x9b31m\u202e.jsonl"
    strangers_recording(tmp_path / name)
    word, *options = command.split()
    ran = spinvolt_here(word, name, *options, folder=tmp_path, capsys=capsys)
    assert ran.out + ran.err
    assert not unfit_characters(ran.out + ran.err)


def test_a_progress_bar_shows_a_name_and_does_not_obey_it() -> None:
    class Screen(io.StringIO):
        def isatty(self) -> bool:
            return True

    screen, times = Screen(), iter([0.0, 5.0])
    bar = ProgressBar("reading a\x1b[2J\x9b31m.jsonl", screen, lambda: next(times))
    bar(0.1)
    bar(0.5)
    assert "reading a" in screen.getvalue()
    assert unfit_characters(screen.getvalue()) == ["\r"]


@pytest.mark.parametrize(
    "change", [(b",0]\n[0,", b",1]\n[0,"), (b'"pole_pairs":6', b'"pole_pairs":5'), (b"Sprayer", b"Sprayed")]
)
def test_a_recording_changed_after_its_close_is_told_by_every_command(
    tmp_path: Path, change: tuple[bytes, bytes], capsys: pytest.CaptureFixture[str]
) -> None:
    sound = (Path(__file__).parent / "corpus" / "recording-sweep.jsonl").read_bytes()
    assert change[0] in sound
    (tmp_path / "sound.jsonl").write_bytes(sound)
    (tmp_path / "run.jsonl").write_bytes(sound.replace(*change, 1))
    for command in (
        "result run.jsonl",
        "result run.jsonl --json",
        "replay run.jsonl --headless --rate 0",
        "watch run.jsonl --headless",
        "compare sound.jsonl run.jsonl",
        "compare run.jsonl sound.jsonl",
        "export run.jsonl --to run.csv",
    ):
        ran = spinvolt_here(*command.split(), folder=tmp_path, capsys=capsys)
        assert ran.status == 0, ran.err
        assert "was changed after it was closed" in ran.out + ran.err, (command, ran.out)
    ran = spinvolt_here("recordings", ".", "--headless", folder=tmp_path, capsys=capsys)
    assert {line.rpartition(", ")[2] for line in ran.out.splitlines()} == {
        "changed: run.jsonl",
        "closed: sound.jsonl",
    }
    ran = spinvolt_here("report", "run.jsonl", "--to", "run.html", folder=tmp_path, capsys=capsys)
    assert ran.status == 0, ran.err
    for name in ("run.csv-metadata.json", "run.html"):
        assert "was changed after it was closed" in (tmp_path / name).read_text("utf-8"), name
