"""The connect screen: what is in reach, which card fits, and a trial reading before anything is recorded."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import msgspec
from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical

from daq.errors import SpinvoltError
from daq.finding import DEFAULT_LOOK_S, Found, Listened, find, listen, read_on
from tui.connecting import RunOptions, cards_of, chosen_spec, machine_titles, machine_trouble
from tui.dashboard.ask_screen import AskScreen
from tui.dashboard.base_screen import BaseScreen
from tui.dashboard.connect_keys import CONNECT_KEYS
from tui.dashboard.connect_trials import Trials
from tui.dashboard.widgets.connectlist import ConnectList
from tui.dashboard.widgets.heading import Heading
from tui.dashboard.widgets.sections import Sections
from tui.remembered import Remembered, Used, load_remembered, remembered_path, save_remembered
from tui.text import clean
from tui.view.connect import addresses, best, connect_view, following
from tui.view.connect_help import ADDRESS_HELP, CONNECT_EXPLAINS, machine_help
from tui.view.connect_state import KEYBOARD, ConnectState, ConnectView, Trial
from tui.view.job_state import Section, Sentence

if TYPE_CHECKING:
    from tui.session import RunEnd

__all__ = ["ConnectScreen", "make_connect_screen"]

_LOOK_AGAIN_S = 3.0
_LONG_S = 12.0
_KEYBOARD_CARD = "keyboard-pair"


def make_connect_screen() -> ConnectScreen:
    """The connect screen, as it is gone to by a key."""
    return ConnectScreen()


class ConnectScreen(BaseScreen):
    """Looks, listens where the person says so, and starts a run; what was chosen is remembered.

    Attributes:
        state: what is known and chosen; :meth:`set_trial` and :meth:`take` change it.
        view: what is being shown.
    """

    NAME = "connect"
    CAPTION = "Connect instruments"
    EXPLAINS = CONNECT_EXPLAINS
    BINDINGS = CONNECT_KEYS
    CSS_PATH = "connect_screen.tcss"

    def __init__(
        self,
        options: RunOptions | None = None,
        *,
        choose_only: bool = False,
        remembered: Path | None = None,
        find_them: Callable[..., Found] = find,
        listen_to: Callable[..., Listened] = listen,
        read_from: Callable[..., Listened] = read_on,
    ) -> None:
        """Connect instruments.

        Args:
            options: how a run is recorded.
            choose_only: start none; leaving tells ``list[(InstrumentCard, address)]``.
            remembered: where the choice is kept; None: in the configuration folder.
            find_them: looks; as :func:`daq.finding.find`.
            listen_to: listens; as :func:`daq.finding.listen`.
            read_from: reads on; as :func:`daq.finding.read_on`.
        """
        super().__init__()
        self._options = options or RunOptions()
        self._kept_in = remembered or remembered_path()
        self._find = find_them
        self._trials = Trials(self, listen_to, read_from)
        self._waits_for_ports = False
        last, trouble = load_remembered(self._kept_in)
        self.state = ConnectState(
            extra=last.instrument,
            selected=last.instrument[0].address if last.instrument else "",
            machine=self._options.machine or last.machine,
            trouble=trouble,
            choose_only=choose_only,
        )
        self._runs = 0
        self.view: ConnectView | None = None
        self._heading = Heading(id="heading")
        self._list = ConnectList(id="places")
        self._detail = Sections(id="detail")
        self._chosen = Sections(id="chosen")
        self._remark = Sections(id="remark")
        self._doing = Sections(id="doing")

    def compose(self) -> ComposeResult:
        yield self._heading
        yield self._list
        with Horizontal(id="below"):
            with Vertical(id="about"):
                yield self._detail
            yield self._chosen
        yield self._remark
        yield self._doing
        yield from self.foot()

    def on_mount(self) -> None:
        """Look at once, and go on looking."""
        self._show()
        self.run_worker(self._look_on(), group="look", exclusive=True)

    def on_unmount(self) -> None:
        """Call off whatever is looked for or listened to."""
        self._trials.gone.set()
        self._trials.end_live()

    def on_screen_suspend(self) -> None:
        """Another screen may want the port."""
        self._trials.end_live()

    def _change(self, **changes: object) -> None:
        self.state = replace(self.state, **changes)  # type: ignore[arg-type]  # fields of the state, by name
        if (live := self._trials.live) is not None and live.address != self.selected:
            self._trials.end_live()
        if self.is_attached:
            self._show()

    def _show(self) -> None:
        view = connect_view(self.state)
        self.view = view
        self._heading.show(view.heading, view.status)
        self._list.show(view.rows)
        self._list.styles.height = min(max(len(view.rows), 3), max(self.size.height // 2 - 2, 3))
        self._detail.show(view.detail)
        self._chosen.show(view.chosen)
        self._remark.show((Section("", (Sentence(view.remark, "dim"),)),) if view.remark else ())
        waits = view.kind == "wait"
        doing = Sentence(view.doing, "quiet", "…") if waits else Sentence(view.doing, "strong", "▶")
        self._doing.show((Section("", (doing,)),))
        self.refresh_bindings()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Offer only what makes sense with the chosen row."""
        view = self.view
        wanted = {
            "start": view is not None and view.can_start,
            "drop": view is not None and view.can_drop,
            "card": view is not None and view.other_cards,
            "machine": not self.state.choose_only,
        }
        return wanted.get(action, super().check_action(action, parameters))

    async def _look_on(self) -> None:
        """Serial ports at once; then radio too, again and again while the screen is in front."""
        seconds = 0.0
        while not self._trials.gone.is_set():
            if self.is_current and not self._trials.listening:
                await self._look(seconds)
                # Where there is no radio, that is said once and not tried again.
                seconds = 0.0 if seconds and self.state.remarks else DEFAULT_LOOK_S
            await asyncio.sleep(_LOOK_AGAIN_S if seconds == 0.0 or self._trials.listening else 0.1)

    async def _look(self, seconds: float) -> None:
        try:
            found = await asyncio.to_thread(self._find, seconds, cancel=self._trials.gone)
        except SpinvoltError as error:
            self._change(looking=False, remarks=(str(error),))
            return
        remarks = found.remarks or (self.state.remarks if seconds == 0.0 else ())
        radio = tuple(each for each in self.state.found if each.address.startswith("ble:"))
        instruments = found.instruments if seconds else (*found.instruments, *radio)
        if (live := self._trials.live) is not None:  # who has that port is this screen
            instruments = tuple(
                msgspec.structs.replace(each, in_use_by="") if each.address == live.address else each
                for each in instruments
            )
        self._change(found=instruments, remarks=remarks, looking=seconds == 0.0 and not remarks)

    def set_trial(self, address: str, trial: Trial) -> None:
        """Show what was heard at an address."""
        self._change(trials={**self.state.trials, address: trial})

    # What the keys do.

    def action_next(self) -> None:
        """Do the obvious next thing."""
        if self.view is None:
            return
        address = self.selected
        match self.view.kind:
            case "listen":
                self._trials.listen(address)
            case "take":
                self.take(address)
            case "start":
                self.action_start()

    @property
    def selected(self) -> str:
        """Address of the chosen row."""
        listed = addresses(self.state)
        return self.state.selected if self.state.selected in listed else listed[0]

    def take(self, address: str) -> None:
        """Take the instrument at an address."""
        heard = best(self.state, address)
        if address == KEYBOARD:
            used = Used(_KEYBOARD_CARD, KEYBOARD)
        elif heard is not None:
            used = Used(heard.card, address, None if heard.line_of_card else heard.line)
        else:
            return
        others = tuple(each for each in self.state.chosen if each.address != address)
        self._change(chosen=(*others, used), selected=address)
        self._change(selected=following(self.state))

    def action_drop(self) -> None:
        """Don't take the selected one."""
        self._change(chosen=tuple(each for each in self.state.chosen if each.address != self.selected))

    def action_listen(self) -> None:
        """Listen again."""
        self._trials.listen(self.selected)

    def action_card(self, by: int) -> None:
        """Another card that understood something."""
        trial = self.state.trials.get(self.selected)
        if trial is not None and trial.heard is not None and trial.heard.heard:
            self._trials.end_live()
            self.action_drop()
            self.set_trial(
                self.selected, Trial(heard=trial.heard, card=(trial.card + by) % len(trial.heard.heard))
            )

    def action_move(self, by: int) -> None:
        """Another row."""
        listed = addresses(self.state)
        at = listed.index(self.selected)
        self._change(selected=listed[min(max(at + by, 0), len(listed) - 1)])

    def on_connect_list_chosen(self, event: ConnectList.Chosen) -> None:
        """A click chooses, a double click does what Enter does."""
        self._change(selected=addresses(self.state)[event.index])
        if event.twice:
            self.action_next()

    def action_read(self, by: int) -> None:
        """Read on about the selected one."""
        self._detail.turn(by * self._detail.page)

    def action_address(self) -> None:
        """Type an address."""

        def take(text: str) -> str:
            address = text.strip()
            if not address.isprintable() or "@" in address:
                return (
                    f"{clean(address)!r} is no address: the card is found by listening, it is not typed here."
                )
            extra = (*(each for each in self.state.extra if each.address != address), Used("", address))
            self._change(extra=extra, selected=address)
            return ""

        self.app.push_screen(
            AskScreen("An address", (ADDRESS_HELP,), take=take, example="socket://192.168.1.20:7000")
        )

    def action_machine(self) -> None:
        """Name the machine card."""

        def take(text: str) -> str:
            trouble = machine_trouble(text.strip())
            if not trouble:
                self._change(machine=text.strip())
            return clean(trouble, 500)

        self.app.push_screen(
            AskScreen(
                "The machine", (machine_help(machine_titles()),), take=take, example="class-10a-regulated-ac"
            )
        )

    def action_start(self) -> None:
        """Start the run, or go back with the instruments; they are remembered."""
        if self.state.chosen and not self._trials.listening and not self._waits_for_ports:
            if self._trials.all_over:
                self._start()
            else:
                self._waits_for_ports = True
                self.run_worker(self._start_when_free(), group="start")

    async def _start_when_free(self) -> None:
        await self._trials.ports_free()
        self._waits_for_ports = False
        self._start()

    def _start(self) -> None:
        try:
            if self.state.choose_only:
                cards = cards_of(self.state.chosen)
                self._remember()
                self.depart(cards)
                return
            self._begin()
        except SpinvoltError as error:
            self.dashboard.tell(str(error), severity="error", timeout_s=_LONG_S)

    def _begin(self) -> None:
        from tui.recordrun import recording_path

        options = self._options
        out = options.out if self._runs == 0 else None
        spec = chosen_spec(
            recording_path(out),
            self.state.chosen,
            machine=self.state.machine,
            seconds=options.seconds,
            force=options.force,
            numbered=out is None,
        )
        self._remember()
        self.dashboard.begin_run(spec, self._ended)

    def _remember(self) -> None:
        trouble = save_remembered(self._kept_in, Remembered(self.state.chosen, self.state.machine))
        if trouble:
            self.dashboard.tell(trouble, severity="warning", timeout_s=_LONG_S)

    def _ended(self, end: RunEnd) -> None:
        self._runs += 1
        self._options.ended(end)
        self.dashboard.tell(end.trouble or f"Recording: {end.path}", timeout_s=_LONG_S)
