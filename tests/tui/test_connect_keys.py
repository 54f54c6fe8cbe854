"""The connect screen's other keys, the mouse, and a run that it starts: a real capture, typed into by hand."""

from __future__ import annotations

from pathlib import Path

import pytest

from daq.errors import SpinvoltError
from daq.finding import Found, Listened
from tests.tui.screen_text import screen_name, screen_text, wait_until
from tests.tui.test_connect_screen import FREE_TACH, Reach, shown, tried, until
from tests.tui.test_connect_view import FOUND, METER, SLOW, TACH
from tui.connecting import RunOptions
from tui.dashboard.app import Dashboard
from tui.dashboard.connect_screen import ConnectScreen
from tui.remembered import Remembered, Used, load_remembered, save_remembered
from tui.session import RunEnd


@pytest.fixture
def kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    for name in ("SPINVOLT_CONFIG", "SPINVOLT_RECORDINGS"):
        monkeypatch.setenv(name, str(tmp_path / name.lower()))
    return tmp_path / "instruments.toml"


async def test_n_listens_again_but_never_to_the_keyboard(kept: Path) -> None:
    reach = Reach(FOUND[0])
    async with shown(reach, kept) as (app, pilot, _):
        await tried(pilot, "enter")
        reach.says[METER] = Listened(METER, trouble="It was unplugged.")
        await tried(pilot, "n")
        await wait_until(app, pilot, "✗ It was unplugged.")
        await pilot.press("down", "n")
        await pilot.pause()
        assert "Enter takes the keyboard" in screen_text(app)
    assert [address for address, _ in reach.listened] == [METER, METER]


async def test_a_listening_process_that_fails_is_told_as_the_ports_trouble(kept: Path) -> None:
    class Failing(Reach):
        def listen(self, *_: object, **__: object) -> Listened:
            raise SpinvoltError("The listening process ended without a word.")

    async with shown(Failing(FOUND[0]), kept, (120, 40)) as (app, pilot, _):
        await pilot.press("enter")
        await wait_until(app, pilot, "✗ The listening process ended without a word.")
        assert "no way in" in screen_text(app)


async def test_a_click_chooses_and_a_double_click_does_what_enter_does(kept: Path) -> None:
    reach = Reach(FOUND[0], FREE_TACH)
    async with shown(reach, kept) as (app, pilot, _):
        await pilot.click("#places", offset=(6, 1))
        await wait_until(app, pilot, f"{TACH}: Enter opens it")
        assert reach.listened == []
        await pilot.double_click("#places", offset=(6, 1))
        await wait_until(app, pilot, f"Enter takes text-speed at {TACH}")
        await pilot.double_click("#places", offset=(6, 1))
        await wait_until(app, pilot, "● /dev/ttyUSB1")


async def test_the_cards_go_round_and_what_was_taken_is_dropped(kept: Path) -> None:
    async with shown(Reach(FOUND[0]), kept) as (app, pilot, _):
        await tried(pilot, "enter")
        await pilot.press("enter")
        await wait_until(app, pilot, f"● {METER}")
        await pilot.press("left")
        await wait_until(app, pilot, f"Enter takes {SLOW.card} at {METER}")
        assert "●" not in screen_text(app)
        await pilot.press("right")
        await wait_until(app, pilot, f"Enter takes scpi-meter at {METER}")


async def test_radio_that_was_heard_once_stays_while_only_ports_are_looked_at(kept: Path) -> None:
    reach = Reach(*FOUND, remarks=())
    async with shown(reach, kept) as (app, pilot, _):
        screen = app.first
        assert isinstance(screen, ConnectScreen)
        reach.found = Found(FOUND[:1])
        await screen._look(0.0)
        assert FOUND[2].address in screen_text(app)
        await screen._look(4.0)
        await pilot.pause()
        assert FOUND[2].address not in screen_text(app)


async def test_a_run_is_started_once_told_at_its_end_and_the_next_goes_to_the_usual_folder(
    kept: Path, tmp_path: Path
) -> None:
    ends: list[RunEnd] = []
    reach, out = Reach(), tmp_path / "named.jsonl"
    options = RunOptions(machine="nursery-sprayer", out=out, ended=ends.append)
    screen = ConnectScreen(
        options, remembered=kept, find_them=reach.find, listen_to=reach.listen, read_from=reach.read_on
    )
    app = Dashboard(screen, light=False)
    async with app.run_test(size=(120, 40)) as pilot:
        await until(pilot, lambda: screen.ready)
        await pilot.press("g")
        assert screen_name(app) == "connect", "with nothing taken there is nothing to start"
        await wait_until(app, pilot, "Enter takes the keyboard")
        await pilot.press("enter")
        await wait_until(app, pilot, "Enter starts the run: keyboard-pair.")
        await pilot.press("g", "g")
        await wait_until(app, pilot, "A run is going on already; stop it first.")
        await wait_until(app, pilot, "● recording")
        await pilot.press("k", *"24.6 3600", "enter", "escape")
        await pilot.press("q")
        await wait_until(app, pilot, "Recording: ")
        await wait_until(app, pilot, "Enter starts the run")
        await pilot.press("enter")
        await wait_until(app, pilot, "● recording")
        await pilot.press("q")
        await wait_until(app, pilot, "No reading came before the end")
    assert [end.closed for end in ends] == [True, False]
    assert ends[0].path == out
    assert ends[1].path.parent == tmp_path / "spinvolt_recordings"
    assert load_remembered(kept)[0].instrument == (Used("keyboard-pair", "keyboard"),)


async def test_a_machine_card_that_is_gone_is_told_and_no_run_is_started(kept: Path) -> None:
    save_remembered(kept, Remembered((), "a-cart-long-gone"))
    async with shown(Reach(), kept, (120, 40)) as (app, pilot, _):
        await pilot.press("enter", "enter")
        await wait_until(app, pilot, "a-cart-long-gone")
        await until(pilot, lambda: len(app.told) == 1)
        assert not app.run_going_on
        assert screen_name(app) == "connect"


async def test_a_choice_that_can_not_be_kept_is_told_and_still_given(kept: Path) -> None:
    kept.parent.joinpath("file").touch()
    reach, told = Reach(), list[object]()
    first = ConnectScreen(
        remembered=kept, find_them=reach.find, listen_to=reach.listen, read_from=reach.read_on
    )
    app = Dashboard(first, light=False)
    async with app.run_test(size=(120, 40)) as pilot:
        await until(pilot, lambda: first.ready)
        nowhere = kept.parent / "file" / "instruments.toml"
        again = ConnectScreen(
            remembered=nowhere,
            find_them=reach.find,
            listen_to=reach.listen,
            read_from=reach.read_on,
            choose_only=True,
        )
        app.push_screen(again, told.append)
        await until(pilot, lambda: again.ready and again.is_current)
        await pilot.press("enter", "enter")
        await wait_until(app, pilot, "The instruments are not remembered")
    (answer,) = told
    assert isinstance(answer, list)
    ((card, address),) = answer
    assert (card.name, address) == ("keyboard-pair", "keyboard")


async def test_end_goes_to_the_last_row_and_home_to_the_first(kept: Path) -> None:
    async with shown(Reach(FOUND[0], FREE_TACH), kept) as (app, pilot, _):
        await wait_until(app, pilot, f"{METER}: Enter opens it")
        await pilot.press("end")
        await wait_until(app, pilot, "Enter takes the keyboard")
        await pilot.press("home")
        await wait_until(app, pilot, f"{METER}: Enter opens it")
