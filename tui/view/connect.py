"""What is known of the instruments in reach in, everything the connect screen shows out."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING

from daq.model.counted import counted
from tui.text import clean
from tui.view.connect_state import KEYBOARD, ConnectKind, ConnectRow, ConnectState, ConnectView, Trial
from tui.view.job_state import Section, Sentence
from tui.view.state import Tone

if TYPE_CHECKING:
    from daq.finding import Example, FoundInstrument, Heard

__all__ = ["addresses", "best", "connect_view", "example_words", "following", "quantities", "understood"]

_UNITS = {"ohm": "Ω", "degC": "°C"}
_QUANTITIES = {
    "ac_voltage": "AC",
    "dc_voltage": "DC",
    "dc_current": "DC",
}
_LONG = 1000
_LISTED = re.compile(r"ble:|COM\d+$|/dev/(tty(USB|ACM|S)\d|cu\.)")
"""Addresses that a look around lists where they are in reach; links, pseudo-terminals and networks it does not."""
_MOST_CARDS = 4


def addresses(state: ConnectState) -> tuple[str, ...]:
    """Every address on the screen: those of last time and typed ones, what was found, and the keyboard."""
    listed = [*(each.address for each in state.extra), *(each.address for each in state.found), KEYBOARD]
    return tuple(dict.fromkeys(listed))


def understood(trial: Trial | None) -> Heard | None:
    """The card that is looked at among those that understood something."""
    heard = trial.heard.heard if trial is not None and trial.heard is not None else ()
    return heard[min(trial.card, len(heard) - 1)] if trial is not None and heard else None


def best(state: ConnectState, address: str) -> Heard | None:
    """What was heard at an address."""
    return understood(state.trials.get(address))


def quantities(state: ConnectState) -> frozenset[str]:
    """What the chosen instruments were heard to read."""
    heard = [best(state, each.address) for each in state.chosen]
    return frozenset(example.quantity for one in heard if one is not None for example in one.examples)


def following(state: ConnectState) -> str:
    """The row to go to once one was taken: what is left of last time; else what is free, while something is lacking."""
    untried = [each.address for each in state.extra if each.card and each.address not in state.trials]
    if not untried and not state.choose_only and any(_lacking(state)):
        untried = [
            each.address
            for each in state.found
            if not each.in_use_by and each.cards and each.address not in state.trials
        ]
    return untried[0] if untried else state.selected


def example_words(example: Example) -> str:
    """A trial reading: "24.51 V AC", "3601 rpm"."""
    kind = _QUANTITIES.get(example.quantity, "")
    return f"{example.value:.6g} {_UNITS.get(example.unit, clean(example.unit, 12))} {kind}".rstrip()


def connect_view(state: ConnectState) -> ConnectView:
    """Work out everything the connect screen shows."""
    listed = addresses(state)
    at = state.selected if state.selected in listed else listed[0]
    state = replace(state, selected=at)
    kind, doing = _next(state)
    tried = state.trials.get(at)
    cards = tried.heard.heard if tried is not None and tried.heard is not None else ()
    return ConnectView(
        heading="connect instruments",
        status="looking ..." if state.looking else "",
        rows=tuple(_row(state, address) for address in listed),
        detail=tuple(each for each in _detail(state, at) if each.sentences),
        chosen=tuple(each for each in _chosen(state) if each.sentences),
        remark=_remark(state),
        kind=kind,
        doing=doing,
        can_start=bool(state.chosen) and kind != "wait",
        can_drop=any(each.address == at for each in state.chosen),
        other_cards=len(cards) > 1,
    )


def _is_chosen(state: ConnectState, address: str) -> bool:
    return any(each.address == address for each in state.chosen)


def _next(state: ConnectState) -> tuple[ConnectKind, str]:
    at = clean(state.selected)
    trial = state.trials.get(state.selected)
    ends = "goes back with them" if state.choose_only else "starts the run"
    if trial is not None and trial.progress:
        return "wait", f"Listening at {at}: {clean(trial.progress)}"
    if _is_chosen(state, state.selected):
        return "start", f"Enter {ends}: {', '.join(clean(each.card) for each in state.chosen)}."
    if state.selected == KEYBOARD:
        return "take", "Enter takes the keyboard: readings are typed, volts and rpm together."
    heard = understood(trial)
    if trial is not None and heard is not None:
        readings = _readings(trial, heard) or "no reading yet"
        return "take", f"Enter takes {clean(heard.card)} at {at} ({readings})."
    again = "listens again" if trial is not None else "opens it, listens, and shows a reading"
    return "listen", f"{at}: Enter {again}."


def _row(state: ConnectState, address: str) -> ConnectRow:
    shape, words, tone = _trial_words(state, address)
    found = _found(state, address)
    name = "readings that you type" if address == KEYBOARD else clean(found.name) if found else ""
    return ConnectRow(
        address=clean(address),
        shape="●" if _is_chosen(state, address) else shape,
        name=name,
        words=f"chosen, {words}" if _is_chosen(state, address) else words,
        tone="good" if _is_chosen(state, address) else tone,
        selected=address == state.selected,
    )


def _trial_words(state: ConnectState, address: str) -> tuple[str, str, Tone]:
    trial = state.trials.get(address)
    if address == KEYBOARD:
        return "○", "always there", "quiet"
    if trial is None:
        found = _found(state, address)
        if found is not None and found.in_use_by:
            return "✗", "in use", "bad"
        if any(each.address == address and each.card for each in state.extra):
            return "○", "used last time", "quiet"
        return "○", "not tried", "quiet"
    if trial.progress:
        return "…", "listening", "doubt"
    heard = understood(trial)
    if heard is None:
        return "✗", "not understood" if not _trouble(trial) else "no way in", "bad"
    if trial.lost:
        return "✗", "gone", "bad"
    readings = _readings(trial, heard)
    return ("✓", readings, "good") if heard.is_good else ("≈", readings or "doubtful", "doubt")


def _readings(trial: Trial, heard: Heard) -> str:
    """What it reads at this moment; else the last of what was heard."""
    live = trial.live
    examples = heard.examples if live is None else live.examples
    words = [example_words(each) for each in examples]
    return ", ".join([*words, live.words] if live is not None and live.words else words)


def _trouble(trial: Trial) -> str:
    return clean(trial.heard.trouble, _LONG) if trial.heard is not None else ""


def _found(state: ConnectState, address: str) -> FoundInstrument | None:
    return next((each for each in state.found if each.address == address), None)


def _detail(state: ConnectState, address: str) -> Iterator[Section]:
    found = _found(state, address)
    if address == KEYBOARD:
        told = "For instruments that only have a display: k on the run screen opens a line to type into."
        yield Section("The keyboard", (Sentence(told),))
    else:
        yield Section(clean(address), tuple(_about(state, address, found)))
    trial = state.trials.get(address)
    if trial is not None:
        yield Section("Trial reading", tuple(_trial(trial)))


def _about(state: ConnectState, address: str, found: FoundInstrument | None) -> Iterator[Sentence]:
    last = next((each for each in state.extra if each.address == address and each.card), None)
    if last is not None:
        yield Sentence(f"Used last time with the card {clean(last.card)}.")
    if found is None:
        if not state.looking and address not in state.trials and _LISTED.match(address):
            yield Sentence("It is not in reach now: plugged in, switched on, near?", "doubt", "≈")
        return
    if found.name or found.details:
        yield Sentence(clean(", ".join((found.name, *found.details)).strip(", "), _LONG))
    if found.signal_dbm is not None:
        yield Sentence(f"Received with {found.signal_dbm} dBm.")
    if found.in_use_by:
        yield Sentence(f"In use by {clean(found.in_use_by)}: close that first.", "bad", "✗")
    cards = ", ".join(clean(card) for card in found.cards) or "none known"
    yield Sentence(f"Cards that could fit: {cards}.", "dim")


def _trial(trial: Trial) -> Iterator[Sentence]:
    from daq.finding import line_words

    if trial.progress or trial.heard is None:
        yield Sentence(clean(trial.progress), "quiet", "…")
        return
    heard = understood(trial)
    if trial.live is not None and heard is not None:
        yield Sentence(f"Now: {_readings(trial, heard)}", "strong", "●")
    if trial.lost:
        yield Sentence(clean(trial.lost, _LONG), "bad", "✗")
    if trial.heard.trouble:
        yield Sentence(_trouble(trial), "bad", "✗")
    for place, heard in enumerate(trial.heard.heard[:_MOST_CARDS]):
        readings = ", ".join(example_words(each) for each in heard.examples) or "no reading"
        mark = "▶" if place == trial.card else " "
        words = f"{readings}: {clean(heard.card)}, {100 * heard.share:.0f} % understood"
        yield Sentence(words, "good" if heard.is_good else "doubt", mark)
        line = (
            ""
            if heard.line_of_card
            else f"With the line at {line_words(heard.line)}, not as the card has it."
        )
        yield from (Sentence(clean(each, _LONG), "dim") for each in (line, *heard.remarks) if each)
    if not trial.heard.heard and not trial.heard.trouble:
        yield from _nothing_understood(trial)


def _nothing_understood(trial: Trial) -> Iterator[Sentence]:
    tried = trial.heard.tried if trial.heard is not None else ()
    came = [each for each in tried if each.bytes_received]
    if not came:
        yield Sentence("Nothing came. Is the instrument on, and set to send its readings?", "bad", "✗")
    for each in came[:_MOST_CARDS]:
        yield Sentence(
            f"{each.line}: {counted(each.bytes_received, 'byte')}, such as {clean(each.sample, 60)}",
            "doubt",
            "≈",
        )


def _chosen(state: ConnectState) -> Iterator[Section]:
    sentences = [
        Sentence(f"{clean(each.card)} at {clean(each.address)}", "good", "●") for each in state.chosen
    ]
    if sentences and not state.choose_only:
        sentences += _lacking(state)
    yield Section("To record with", tuple(sentences or [Sentence("Nothing yet.", "dim")]))
    machine = clean(state.machine) or "none: no rated speed and no limit are known; m names one"
    if not state.choose_only:
        yield Section("Machine", (Sentence(machine, "text" if state.machine else "dim"),))
    if state.trouble:
        yield Section("Last time's instruments", (Sentence(clean(state.trouble, _LONG), "doubt", "≈"),))


def _remark(state: ConnectState) -> str:
    """Where it could not be looked, in one line: the first sentence of each remark."""
    return " ".join(f"{clean(each, _LONG).split('. ')[0].rstrip('.')}." for each in state.remarks)


def _lacking(state: ConnectState) -> Iterator[Sentence]:
    if any(each.address == KEYBOARD for each in state.chosen):
        return
    read = quantities(state)
    if read and not read & {"ac_voltage", "dc_voltage"}:
        yield Sentence("None of them was heard to read volts.", "doubt", "≈")
    if read and not read & {"rotational_speed", "revolutions"}:
        yield Sentence(
            "None of them was heard to read the speed: without it there is no rated output.", "doubt", "≈"
        )
