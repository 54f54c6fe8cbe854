"""The job screen: the tests with their state, the chosen one in full, what was found, and what Enter does next."""

from __future__ import annotations

import asyncio
import os
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal

from daq.errors import SpinvoltError
from tui import jobrecord
from tui.background import free_name, run_beside
from tui.dashboard.ask_screen import AskScreen
from tui.dashboard.base_screen import BaseScreen
from tui.dashboard.widgets.heading import Heading
from tui.dashboard.widgets.sections import Sections
from tui.dashboard.widgets.steplist import StepList
from tui.jobleft import left_over
from tui.jobtext import STATE_WORDS
from tui.text import clean
from tui.view.job import STATE_SHAPES, STATE_TONES, job_view
from tui.view.job_next import planned, typing_of
from tui.view.job_state import JobView, NextThing, Role, Section, Sentence

if TYPE_CHECKING:
    from daq.cards.instrument import InstrumentCard
    from daq.job.job import Job
    from daq.job.plan import RecordingPlan
    from daq.job.status import StepStatus
    from tui.dashboard.run_screen import RunScreen
    from tui.session import LiveSession, RunEnd

__all__ = ["JobScreen"]


class JobScreen(BaseScreen):
    """A job on a machine. Each reading is in the job file before the next key is taken."""

    NAME = "job"
    CAPTION = "The job"
    EXPLAINS: ClassVar[tuple[str, ...]] = (
        "The tests in their order, each with its state; the next one to do says so, the arrow marks the chosen one.",
        "The chosen test in full: where leads and dial go, set-up, cautions, what it is for. PgDn reads on.",
        "What was found: the likeliest faults with what speaks for (+) and against (-) them, whether the charging "
        "system can carry its loads, and the verdicts. "
        "{good}\u00a0pass  {bad}\u00a0fail  {doubt}\u00a0too close to call",
        "Enter does the obvious next thing; what it will be stands above the keys. The job file keeps every step: "
        "leave whenever you like and open it again days later, with another meter.",
    )
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding(
            "enter", "next", "next", key_display="enter", id="job.next", tooltip="Do the obvious next thing"
        ),
        Binding(
            "i", "type_in", "type in", id="job.type", tooltip="Type the reading, instead of recording it"
        ),
        Binding("s", "skip", "skip", id="job.skip", tooltip="Leave the chosen test out, with a reason"),
        Binding("t", "turn_pane", "findings", id="job.pane", tooltip="The test, or what was found so far"),
        Binding("e", "repaired", "repaired", id="job.repaired", tooltip="Say what was repaired"),
        Binding("n", "note", "note", id="job.note", tooltip="Write a note into the job file"),
        Binding(
            "c", "connect", "instruments", id="job.connect", tooltip="Choose the instruments to record with"
        ),
        Binding("w", "report", "report", id="job.report", tooltip="Write the report beside the job file"),
        Binding("up", "move(-1)", "up", show=False, id="job.up", tooltip="The test above"),
        Binding("down", "move(1)", "down", show=False, id="job.down", tooltip="The test below"),
        Binding("pagedown", "read(1)", "read on", show=False, id="job.more", tooltip="Read on below"),
        Binding("pageup", "read(-1)", "read back", show=False, id="job.back", tooltip="Read again above"),
    ]
    CSS_PATH = "job_screen.tcss"

    def __init__(self, job: Job, instruments: Sequence[tuple[InstrumentCard, str]] = ()) -> None:
        """Show a job.

        Args:
            job: it is open.
            instruments: those at hand, with their addresses; none: readings are typed.
        """
        super().__init__()
        self._job = job
        self._instruments = tuple(instruments)
        self._chosen: str | None = None
        self._busy = ""
        self._told: tuple[Section, ...] = ()
        self._given_up: set[Path] = set()
        self.view: JobView | None = None
        self._heading = Heading(id="heading")
        self._answer = Sections(id="answer")
        self._list = StepList(id="steps")
        self._step = Sections(id="step")
        self._found = Sections(id="found")
        self._doing = Sections(id="doing")

    def compose(self) -> ComposeResult:
        yield self._heading
        yield self._answer
        with Horizontal(id="job"):
            yield self._list
            yield self._step
            yield self._found
        yield self._doing
        yield from self.foot()

    def on_mount(self) -> None:
        """Show where the job stands."""
        self.show_job()

    def show_job(self) -> None:
        """Show where the job stands now."""
        try:
            status = self._job.status()
            left = left_over(self._job.path, status, self._given_up)
        except (SpinvoltError, OSError) as error:
            self.dashboard.fail(error)
            return
        readable = jobrecord.readable(self._instruments)
        view = job_view(status, readable, self._chosen, left.path.name if left else "")
        self.view = view
        self._heading.show(view.heading, view.status)
        self._answer.show((Section("", view.answer),))
        self._list.show(view.rows)
        self._step.show((*self._told, *view.step))
        self._found.show(view.found)
        doing = (
            Sentence(self._busy, "quiet", "…") if self._busy else Sentence(view.next.sentence, "strong", "▶")
        )
        self._doing.show((Section("", (doing,)),))
        self.refresh_bindings()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Offer only what makes sense with the chosen test."""
        view = self.view
        if view is None:
            return super().check_action(action, parameters)
        wanted = {
            "type_in": view.next.kind in {"record", "take"} and bool(self._shown().step.slot),
            "skip": view.skippable,
            "repaired": any(row.tone in {"good", "bad"} for row in view.rows),
        }
        return wanted.get(action, super().check_action(action, parameters))

    def _shown(self) -> StepStatus:
        """The test that is shown in full."""
        status = self._job.status()
        name = next((row.name for row in self.view.rows if row.chosen), "") if self.view else ""
        return status.step(name) if name else status.steps[0]

    # What the keys do.

    def action_next(self) -> None:
        """Do the obvious next thing."""
        if self.view is None or self._busy:
            return
        next_ = self.view.next
        match next_.kind:
            case "record":
                self._ask(next_, lambda _: self._record(next_))
            case "type":
                self._ask_reading(next_)
            case "repair":
                self.action_repaired()
            case "report":
                self.action_report()
            case _:
                self._take_left_over()

    def action_type_in(self) -> None:
        """Type the reading that would be recorded."""
        if self.view is not None and not self._busy:
            slots = self.view.next.slots
            self._ask_reading(typing_of(self._job.status(), self._shown(), slots[0] if slots else None))

    def action_skip(self) -> None:
        """Leave the chosen test out."""
        step = self._shown().step
        why = Section(step.title, (Sentence("Why is it left out? The reason stands in the report."),))
        self._ask_text(
            "Leave a test out", (why,), "plug out of reach", lambda text: self._job.skip(step.name, text)
        )

    def action_repaired(self) -> None:
        """Say what was repaired."""
        next_ = self.view.next if self.view is not None else None
        ready = next_.ready if next_ is not None and next_.kind == "repair" else ()
        done = Section("What was done?", (Sentence("In a few words; what failed is due again after it."),))
        self._ask_text(
            "After the repair", ready or (done,), "new connector at the stator's plug", self._job.repaired
        )

    def action_note(self) -> None:
        """Write a note."""
        note = Section("A note for the job file", (Sentence("It stands in the report too."),))
        self._ask_text("Note", (note,), "owner says the battery was flat twice", self._job.note)

    def action_report(self) -> None:
        """Write the report beside the job file, while the screen goes on."""
        path, target = self._job.path, free_name(self._job.path, ".html")
        self._say("Report", f"Writing the report of {path.name} ...", "quiet", "…")
        self.show_job()
        self.run_worker(self._report(path, target), group="report", exclusive=True)

    async def _report(self, path: Path, target: Path) -> None:
        outcome = await run_beside(["report", str(path), "--to", str(target)])
        # The person knows the folder: the name is what is new.
        sentence = outcome.sentence.replace(f"{path.parent}{os.sep}", "")
        if outcome.done:
            self._say("Report", sentence, "good", "✓")
        else:
            self._say("Report: not done", sentence, "bad", "✗")
        self.show_job()

    def action_connect(self) -> None:
        """Choose instruments."""
        from tui.dashboard.connect_screen import ConnectScreen

        def chosen(instruments: Sequence[tuple[InstrumentCard, str]] | None) -> None:
            if instruments is not None:
                self._instruments = tuple(each for each in instruments if each[1] != "keyboard")
                self.show_job()

        self.app.push_screen(ConnectScreen(choose_only=True), chosen)

    def action_move(self, by: int) -> None:
        """Go to another test."""
        if self.view is None:
            return
        names = [row.name for row in self.view.rows]
        at = next(place for place, row in enumerate(self.view.rows) if row.chosen)
        self._choose(names[min(max(at + by, 0), len(names) - 1)])

    def on_step_list_chosen(self, event: StepList.Chosen) -> None:
        """A click chooses a test."""
        self._choose(event.name)

    def _choose(self, name: str) -> None:
        self._chosen = name
        self._told = ()
        self._step.top = 0
        self.set_class(False, "-findings")
        self.show_job()

    def action_turn_pane(self) -> None:
        """The test or the findings, where only one has room."""
        self.toggle_class("-findings")

    def action_read(self, by: int) -> None:
        """Read on."""
        pane = self._found if self.has_class("-findings") else self._step
        pane.turn(by * pane.page)

    # How it is done.

    def _ask(self, next_: NextThing, then: Callable[[object], None]) -> None:
        """Show what must be seen to; go on where the person says so."""
        self.app.push_screen(AskScreen(next_.title, next_.ready), lambda told: then(told) if told else None)

    def _ask_text(
        self, title: str, sections: tuple[Section, ...], example: str, take: Callable[[str], object]
    ) -> None:
        def taken(text: str) -> str:
            try:
                take(text)
            except SpinvoltError as error:
                return clean(str(error), 500)
            return ""

        self.app.push_screen(AskScreen(title, sections, take=taken, example=example), lambda _: self._go_on())

    def _ask_reading(self, next_: NextThing) -> None:
        def take(text: str) -> None:
            self._tell(self._job.type_reading(next_.step, next_.slots[0], text))

        self._ask_text(next_.title, next_.ready, next_.example, take)

    def _go_on(self) -> None:
        """The next test, once the chosen one is done; the same one while something of it is to be read."""
        if self._chosen is not None and not self._shown().open:
            self._chosen = None
        self.show_job()

    def _record(self, next_: NextThing) -> None:
        """Record on the run screen, and take the recording in when that is left."""
        each = self._job.status().step(next_.step)
        plan = planned(each, jobrecord.readable(self._instruments))
        if plan is None:
            return
        spec = jobrecord.plan_spec(
            plan,
            jobrecord.instruments_for(plan, self._instruments),
            self._job.machine,
            jobrecord.recording_path(self._job.path, plan),
            None,
        )
        self.dashboard.begin_run(
            spec, lambda end: self._recorded(end, plan), screen_of=_screen_for(next_.title, plan)
        )

    def _recorded(self, end: RunEnd, plan: RecordingPlan) -> None:
        self._told = ()
        if end.trouble:
            self._say("The recording", end.trouble, "doubt", "?")
        if end.path.exists() and not end.closing:
            self._take_in(plan, end.path)
        else:
            self.show_job()

    def _take_left_over(self) -> None:
        from daq.job.plan import plan_recording

        left = left_over(self._job.path, self._job.status(), self._given_up)
        if left is None:
            self.show_job()
            return
        each = self._job.status().step(left.step)
        slot = self._job.slot_named(each.step, left.slot)
        plan = plan_recording(each, {slot.quantity} if slot.quantity is not None else ())
        if slot not in plan.slots:
            plan = plan_recording(each, (), slot)
        self._take_in(plan, left.path)

    def _take_in(self, plan: RecordingPlan, path: Path) -> None:
        """Work a recording out beside the screen; nothing else is done meanwhile."""
        self._busy = f"Working out {path.name} ..."
        self.show_job()
        self.run_worker(self._taken_in(plan, path), group="take", exclusive=True)

    async def _taken_in(self, plan: RecordingPlan, path: Path) -> None:
        try:
            each = await asyncio.to_thread(self._job.take_planned, plan, path)
        except SpinvoltError as error:
            self._say(f"Not taken in: {path.name}", str(error), "bad", "✗")
            self._given_up.add(path)
        else:
            self._tell(each)
        finally:
            self._busy = ""
        self._go_on()

    def _tell(self, each: StepStatus) -> None:
        """Ring once and say what the test says, once it is whole; until then nothing older stays."""
        if not self._busy:
            self._told = ()
        if each.open or each.judgement is None:
            return
        self.app.bell()
        sentences = " ".join(line.sentence for line in each.judgement.lines)
        title = f"{each.step.title}: {STATE_WORDS[each.state]}"
        self._say(title, sentences, STATE_TONES[each.state], STATE_SHAPES[each.state])

    def _say(self, title: str, sentence: str, role: Role, mark: str) -> None:
        """Say something above the chosen test, where it lies over no caution; it stays until the next thing."""
        # What went wrong with a recording stays beside what was read from it.
        before = tuple(told for told in self._told if told.title != title) if self._busy else ()
        self._told = (*before, Section(title, (Sentence(clean(sentence, 500), role, mark),)))
        self._step.top = 0
        self.set_class(False, "-findings")


def _screen_for(title: str, plan: RecordingPlan) -> Callable[[LiveSession], RunScreen] | None:
    """What shows a recording: volts together with the speed the run screen, all else its reading alone."""
    from daq.job.sheet.meter_moves import engine_words
    from tui.dashboard.taking_screen import TakingScreen
    from tui.view.taking import Taking

    if any(slot.kind == "run" for slot in plan.slots):
        return None
    engine = " Then: ".join(engine_words(state) for state in plan.engine)
    taking = Taking(title, plan.quantity, engine, plan.seconds)

    def make(session: LiveSession) -> RunScreen:
        return TakingScreen(session.feed, session.control, taking, close=session.close)

    return make
