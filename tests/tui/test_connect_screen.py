"""The connect screen through Textual's pilot, and with real ports and processes in a terminal of its own."""

from __future__ import annotations

import asyncio
import shlex
import threading
from collections.abc import AsyncIterator, Callable, Iterator, Sequence
from contextlib import asynccontextmanager
from pathlib import Path

import pytest
from textual.binding import Binding
from textual.pilot import Pilot
from textual.widgets import Input

from daq.cards.instrument import TransportDefaults
from daq.errors import SpinvoltError
from daq.finding import Found, FoundInstrument, Listened, Live
from tests.faults.rig import counted, wait_until
from tests.tui.program import COMMAND, spinvolt_here
from tests.tui.snapshots import assert_same_screen, screen_text
from tests.tui.test_connect_view import FOUND, METER, SLOW, SPEED, TACH, VOLTS
from tests.tui.test_terminal import Tmux, tmux
from tui.benchprocess import BenchProcess
from tui.commands import bench
from tui.dashboard.app import Dashboard
from tui.dashboard.ask_screen import AskScreen
from tui.dashboard.connect_screen import ConnectScreen
from tui.remembered import Remembered, Used, load_remembered, save_remembered

__all__ = ["tmux"]

NO_RADIO = "Bluetooth isn't available here: there is no adapter."
FREE_TACH = FoundInstrument(TACH, "", (), None, ("text-speed",))


class Reach:
    """What is in reach and what it says; stands where the finding process stands."""

    def __init__(self, *instruments: FoundInstrument, remarks: tuple[str, ...] = (NO_RADIO,)) -> None:
        self.found = Found(instruments, remarks)
        self.says: dict[str, Listened] = {
            METER: Listened(METER, (VOLTS, SLOW)),
            TACH: Listened(TACH, (SPEED,)),
        }
        self.listened: list[tuple[str, tuple[str, ...]]] = []
        self.cancel: threading.Event | None = None
        self.failure = ""
        self.live: list[Live] = []
        self.reading: list[tuple[str, str]] = []
        """What is being read, and so held."""
        self.pulled = ""
        self.let_go = threading.Event()
        self.let_go.set()

    def find(
        self,
        seconds: float = 4.0,
        *,
        on_progress: Callable[[str], None] | None = None,
        cancel: threading.Event | None = None,
    ) -> Found:
        self.cancel = cancel
        if self.failure:
            raise SpinvoltError(self.failure)
        return self.found

    def read_on(
        self,
        address: str,
        card: str,
        line: TransportDefaults,
        on_live: Callable[[Live], None],
        cancel: threading.Event,
    ) -> Listened:
        """Tells what it is told to, and holds the port until it is called off and the test lets it go."""
        self.reading.append((address, card))
        while not cancel.wait(0.005):
            while self.live:
                on_live(self.live.pop(0))
            if self.pulled:
                self.reading.remove((address, card))
                return Listened(address, trouble=self.pulled)
        self.let_go.wait(20)
        self.reading.remove((address, card))
        return Listened(address)

    def listen(
        self,
        address: str,
        cards: Sequence[str] = (),
        seconds: float = 3.0,
        *,
        on_progress: Callable[[str], None] | None = None,
        cancel: threading.Event | None = None,
    ) -> Listened:
        self.listened.append((address, tuple(cards)))
        assert on_progress is not None
        on_progress("9600 baud, 8N1")
        return self.says[address]


@pytest.fixture
def kept(tmp_path: Path) -> Path:
    return tmp_path / "instruments.toml"


@asynccontextmanager
async def shown(
    reach: Reach,
    kept: Path,
    size: tuple[int, int] = (80, 24),
    *,
    plain: bool = False,
    choose_only: bool = False,
) -> AsyncIterator[tuple[Dashboard, Pilot[None], list[object]]]:
    told: list[object] = []
    screen = ConnectScreen(
        remembered=kept,
        find_them=reach.find,
        listen_to=reach.listen,
        read_from=reach.read_on,
        choose_only=choose_only,
    )
    app = Dashboard(screen, plain=plain, light=False)
    async with app.run_test(size=size) as pilot:
        while not screen.ready:
            await pilot.pause(0.01)
        await until(pilot, lambda: "looking" not in screen_text(app))
        yield app, pilot, told


async def until(pilot: Pilot[None], true: Callable[[], bool]) -> None:
    for _ in range(3000):
        if true():
            return
        await pilot.pause(0.01)
    raise AssertionError(screen_text(pilot.app))


async def tried(pilot: Pilot[None], *keys: str) -> None:
    """Press keys, and wait until nothing is listened to any more."""
    await pilot.press(*keys)
    await until(pilot, lambda: "Listening at" not in screen_text(pilot.app))


@pytest.mark.parametrize("size", [(80, 24), (120, 40)], ids=["80x24", "120x40"])
async def test_what_is_in_reach_looks_as_it_did(kept: Path, size: tuple[int, int]) -> None:
    async with shown(Reach(*FOUND), kept, size) as (app, pilot, _):
        await tried(pilot, "enter")
        assert_same_screen(app, f"connect-{size[0]}x{size[1]}")


async def test_plain_is_ascii_only(kept: Path) -> None:
    async with shown(Reach(*FOUND), kept, plain=True) as (app, pilot, _):
        await tried(pilot, "enter", "enter")
        assert screen_text(app).isascii()
        assert "* /dev/ttyUSB0" in screen_text(app)


async def test_no_bluetooth_is_one_sentence_and_that_one_whole(kept: Path) -> None:
    long = f"{NO_RADIO[:-1]} (common in containers). Plug an adapter in, or take a computer that has one."
    async with shown(Reach(remarks=(long,)), kept) as (app, _, _):
        seen = " ".join(screen_text(app).split())
    assert "Bluetooth isn't available here: there is no adapter (common in containers)." in seen
    assert "Plug an adapter in" not in seen


async def test_nothing_is_opened_before_it_is_asked_for(kept: Path) -> None:
    reach = Reach(*FOUND)
    async with shown(reach, kept) as (_, pilot, _):
        await pilot.press("down", "up")
        assert reach.listened == []
        await tried(pilot, "enter")
        assert reach.listened == [(METER, ())]
    assert reach.cancel is not None
    assert reach.cancel.is_set(), "what goes on is called off with the screen"


async def test_what_comes_and_goes_is_seen(kept: Path) -> None:
    reach = Reach(*FOUND[:1])
    async with shown(reach, kept) as (app, pilot, _):
        screen = app.first
        assert isinstance(screen, ConnectScreen)
        reach.found = Found((FREE_TACH,))
        await screen._look(0.0)
        await pilot.pause()
        text = screen_text(app)
    assert TACH in text
    assert METER not in text


async def test_looking_that_fails_is_told_and_the_keyboard_is_left(kept: Path) -> None:
    reach = Reach()
    reach.failure = "The finding process ended without a word."
    async with shown(reach, kept, (120, 40)) as (app, _, _):
        text = screen_text(app)
    assert "The finding process ended" in text
    assert "keyboard" in text


async def test_listening_that_fails_is_told(kept: Path) -> None:
    reach = Reach(*FOUND)
    reach.says[METER] = Listened(METER, trouble="No permission to open it.")
    async with shown(reach, kept) as (app, pilot, _):
        await tried(pilot, "enter")
        assert "✗ No permission to open it." in screen_text(app)


async def test_meter_then_tach_then_the_run(kept: Path) -> None:
    async with shown(Reach(FOUND[0], FREE_TACH), kept) as (app, pilot, _):
        await tried(pilot, "enter")
        assert "Enter takes scpi-meter" in screen_text(app)
        await tried(pilot, "enter")
        assert f"{TACH}: Enter opens it" in screen_text(app)
        await tried(pilot, "enter")
        await tried(pilot, "enter")
        assert "Enter starts the run: scpi-meter, text-speed." in screen_text(app)
        assert "None of them" not in screen_text(app)
        await pilot.press("x")
        await pilot.pause()
        assert "Enter takes text-speed" in screen_text(app)


async def test_the_choice_goes_back_to_who_asked_and_is_remembered(kept: Path) -> None:
    told: list[object] = []
    reach = Reach(FOUND[0])
    first = ConnectScreen(
        remembered=kept, find_them=reach.find, listen_to=reach.listen, read_from=reach.read_on
    )
    app = Dashboard(first, light=False)
    async with app.run_test(size=(80, 24)) as pilot:
        while not first.ready:
            await pilot.pause(0.01)
        again = ConnectScreen(
            remembered=kept,
            find_them=reach.find,
            listen_to=reach.listen,
            read_from=reach.read_on,
            choose_only=True,
        )
        app.push_screen(again, told.append)
        await until(pilot, lambda: again.ready and METER in screen_text(app))
        await tried(pilot, "enter")
        await tried(pilot, "right")
        await tried(pilot, "enter")
        await pilot.press("enter")
        await until(pilot, lambda: app.screen is first)
    (answer,) = told
    assert isinstance(answer, list)
    ((card, address),) = answer
    assert (card.name, card.transport.baud, address) == ("text-volts", 2400, METER)
    assert load_remembered(kept)[0].instrument == (Used("text-volts", METER, SLOW.line),)


async def test_what_was_used_last_time_is_tried_by_enter_alone(kept: Path) -> None:
    save_remembered(
        kept, Remembered((Used("scpi-meter", METER), Used("text-speed", TACH)), "nursery-sprayer")
    )
    reach = Reach(FOUND[0], FREE_TACH)
    async with shown(reach, kept) as (app, pilot, _):
        assert "nursery-sprayer" in screen_text(app)
        await tried(pilot, "enter")
        await tried(pilot, "enter")
        assert reach.listened == [(METER, ("scpi-meter",)), (TACH, ("text-speed",))]
        assert "Enter starts the run: scpi-meter, text-speed." in screen_text(app)


async def test_a_remembered_file_of_nonsense_is_told(kept: Path) -> None:
    await asyncio.to_thread(kept.write_text, "instrument = 7")
    async with shown(Reach(), kept, (120, 40)) as (app, _, _):
        assert "can't be used" in " ".join(screen_text(app).split())


async def test_an_address_is_typed_and_listened_to(kept: Path) -> None:
    reach = Reach()
    reach.says["socket://127.0.0.1:7"] = Listened("socket://127.0.0.1:7", (VOLTS,))
    async with shown(reach, kept) as (app, pilot, _):
        await pilot.press("a", *"card@x", "enter")
        await pilot.pause()
        assert "is no address" in screen_text(app)
        app.screen.query_one(Input).value = "socket://127.0.0.1:7"
        await pilot.press("enter")
        await pilot.pause()
        await tried(pilot, "enter")
        assert "Enter takes scpi-meter at socket://127.0.0.1:7" in screen_text(app)


async def test_a_machine_is_named(kept: Path) -> None:
    async with shown(Reach(), kept) as (app, pilot, _):
        await pilot.press("m", *"nothing", "enter")
        await pilot.pause()
        assert isinstance(app.screen, AskScreen)
        assert "✗ " in screen_text(app)
        app.screen.query_one(Input).value = "nursery-sprayer"
        await pilot.press("enter")
        await pilot.pause()
        assert "nursery-sprayer" in screen_text(app)


def test_every_key_has_a_label_and_a_tooltip() -> None:
    for binding in ConnectScreen.BINDINGS:
        assert isinstance(binding, Binding)
        assert binding.id
        assert binding.description
        assert binding.tooltip


def test_without_a_terminal_an_instrument_must_be_named(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for arguments in ((), ("--headless",), ("--serve",)):
        ran = spinvolt_here("run", *arguments, folder=tmp_path, capsys=capsys)
        assert ran.status == 2
        assert "-i/--instrument" in ran.err
        assert ran.err.count("\n") == 1


@pytest.fixture
def instruments() -> Iterator[list[tuple[str, str]]]:
    """A virtual engine's meter and tach, on ports of their own."""
    import argparse

    command = bench.bench_command(argparse.Namespace(fault="healthy", script="hold", seed=1))
    with BenchProcess(command) as running:
        yield running.instruments


def test_from_typed_addresses_to_a_result(
    tmux: Tmux, tmp_path: Path, instruments: list[tuple[str, str]]
) -> None:
    program = shlex.join([*COMMAND, "run", "--machine", "nursery-sprayer"])
    tmux.start(f"{program}; echo STATUS $?; sleep 60")
    tmux.wait_for("always there")
    for _, address in instruments:
        tmux.keys("a")
        tmux.wait_for("Type it, then Enter.")
        tmux.keys(address, "Enter")
        tmux.wait_for(f"{address}: Enter opens it")
        tmux.keys("Enter")
        tmux.wait_for("Enter takes ", timeout_s=40)
        tmux.keys("Enter")
        tmux.wait_for(f"● {address}")
    tmux.wait_for("Enter starts the run: ")
    tmux.keys("Enter")
    tmux.wait_for("● recording")
    (path,) = (tmp_path / "recordings").iterdir()
    wait_until(lambda: counted(path, 0) > 2 and counted(path, 1) > 2, "readings of both")
    tmux.keys("q")
    tmux.wait_for("always there")
    tmux.keys("q")
    tmux.wait_for("STATUS 0")
    assert "Recording:" in tmux.screen()
    assert '"close"' in path.read_text().splitlines()[-1]
    last, trouble = load_remembered(tmp_path / "spinvolt_config" / "instruments.toml")
    assert trouble == ""
    assert [used.address for used in last.instrument] == [address for _, address in instruments]
    assert last.machine == "nursery-sprayer"


@pytest.mark.parametrize(
    ("command", "keys"), [("run", ()), ("recordings", ("o",))], ids=["run", "from-recordings"]
)
def test_an_interrupted_run_tells_its_result_as_any_other(
    tmux: Tmux, tmp_path: Path, command: str, keys: tuple[str, ...]
) -> None:
    tmux.start(f"{shlex.join(COMMAND)} {command}; echo STATUS $?; sleep 60")
    for key in keys:
        tmux.wait_for("o connect")
        tmux.keys(key)
    tmux.wait_for("keyboard")
    tmux.keys("End")  # past whatever ports this computer has
    tmux.wait_for("Enter takes the keyboard")
    tmux.keys("Enter")
    tmux.wait_for("Enter starts the run: keyboard-pair.")
    tmux.keys("Enter")
    tmux.wait_for("● recording")
    tmux.keys("k")
    tmux.wait_for("Type what the displays show")
    tmux.keys("24.6 3600", "Enter")
    tmux.wait_for("Taken: 24.6 V, 3600 rpm")
    tmux.keys("C-c")
    said = tmux.wait_for("STATUS 0")
    assert said.count("Verdict: NOT ENOUGH DATA") == 1, said
    assert said.count("Recording: ") == 1, said
    assert said.index("Verdict: ") < said.index("Recording: ")
