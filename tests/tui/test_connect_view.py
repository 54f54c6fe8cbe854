"""What the connect screen says, worked out without a screen."""

from __future__ import annotations

from dataclasses import replace

import pytest

from daq.cards.instrument import TransportDefaults
from daq.finding import Example, FoundInstrument, Heard, Listened, Tried
from tui.remembered import Used
from tui.view.connect import addresses, connect_view, example_words, following
from tui.view.connect_state import KEYBOARD, ConnectState, Trial
from tui.view.job_state import Section

METER, TACH, RADIO = "/dev/ttyUSB0", "/dev/ttyUSB1", "ble:AA:BB:CC:DD:EE:FF"
FOUND = (
    FoundInstrument(METER, "USB adapter", ("serial number 12",), None, ("scpi-meter", "text-volts")),
    FoundInstrument(TACH, "", (), None, ("text-speed",), "python3 (process 123)"),
    FoundInstrument(RADIO, "Clamp", (), -61, ("gatt-meter",)),
)
VOLTS = Heard(
    "scpi-meter", "A meter", TransportDefaults(), True, 1.0, 30, 9.9, (Example("ac_voltage", 24.512, "V"),)
)
SLOW = Heard(
    "text-volts",
    "Another",
    TransportDefaults(baud=2400),
    False,
    0.4,
    3,
    1.0,
    (Example("ac_voltage", 4.5, "V"),),
    ("It shows overload.",),
)
SPEED = Heard(
    "text-speed", "", TransportDefaults(), True, 1.0, 9, 2.0, (Example("rotational_speed", 3601.0, "rpm"),)
)
STATE = ConnectState(found=FOUND, looking=False, selected=METER)


def heard(*cards: Heard, address: str = METER) -> dict[str, Trial]:
    return {address: Trial(heard=Listened(address, cards))}


def words(sections: tuple[Section, ...]) -> str:
    return "\n".join(
        line for each in sections for line in (each.title, *(f"{s.mark} {s.text}" for s in each.sentences))
    )


def test_everything_in_reach_has_a_row_and_the_keyboard_too() -> None:
    view = connect_view(STATE)
    assert [row.address for row in view.rows] == [METER, TACH, RADIO, KEYBOARD]
    assert [row.words for row in view.rows] == ["not tried", "in use", "not tried", "always there"]
    assert [row.selected for row in view.rows] == [True, False, False, False]
    assert "serial number 12" in words(view.detail)
    assert "Cards that could fit: scpi-meter, text-volts." in words(view.detail)


def test_nothing_in_reach_leaves_the_keyboard() -> None:
    view = connect_view(ConnectState())
    assert [row.address for row in view.rows] == [KEYBOARD]
    assert view.kind == "take"
    assert view.status == "looking ..."
    assert "Nothing yet." in words(view.chosen)


def test_a_port_is_opened_only_when_it_is_asked_for_and_what_holds_it_is_told() -> None:
    assert connect_view(STATE).kind == "listen"
    view = connect_view(replace(STATE, selected=TACH))
    assert "In use by python3 (process 123)" in words(view.detail)
    assert "Received with -61 dBm." in words(connect_view(replace(STATE, selected=RADIO)).detail)


def test_while_it_listens_enter_waits() -> None:
    view = connect_view(replace(STATE, trials={METER: Trial(progress="2400 baud, 8N1")}))
    assert view.kind == "wait"
    assert "2400 baud, 8N1" in view.doing
    assert view.rows[0].words == "listening"
    assert not view.can_start


def test_a_trial_reading_has_its_unit_and_enter_takes_it() -> None:
    view = connect_view(replace(STATE, trials=heard(VOLTS, SLOW)))
    assert view.kind == "take"
    assert view.doing == f"Enter takes scpi-meter at {METER} (24.512 V AC)."
    assert view.rows[0].words == "24.512 V AC"
    assert view.rows[0].tone == "good"
    told = words(view.detail)
    assert "▶ 24.512 V AC: scpi-meter, 100 % understood" in told
    assert "4.5 V AC: text-volts, 40 % understood" in told
    assert "With the line at 2400 baud, 8N1, not as the card has it." in told
    assert "It shows overload." in told
    assert view.other_cards


def test_another_card_may_be_looked_at() -> None:
    trials = {METER: Trial(heard=Listened(METER, (VOLTS, SLOW)), card=1)}
    view = connect_view(replace(STATE, trials=trials))
    assert "Enter takes text-volts" in view.doing
    assert view.rows[0].tone == "doubt"


@pytest.mark.parametrize(
    ("listened", "row", "told"),
    [
        (
            Listened(METER, (), (), "No permission to open it: join the group dialout."),
            "no way in",
            "join the group",
        ),
        (Listened(METER, (), (Tried("9600 baud, 8N1", 0),)), "not understood", "Nothing came."),
        (
            Listened(METER, (), (Tried("9600 baud, 8N1", 20, "\\x00"),)),
            "not understood",
            "20 bytes, such as \\x00",
        ),
    ],
)
def test_why_there_is_no_reading_is_told(listened: Listened, row: str, told: str) -> None:
    view = connect_view(replace(STATE, trials={METER: Trial(heard=listened)}))
    assert view.rows[0].words == row
    assert view.rows[0].tone == "bad"
    assert told in words(view.detail)
    assert view.kind == "listen"


def test_what_is_chosen_is_shown_and_enter_goes_on_with_it() -> None:
    state = replace(
        STATE, trials=heard(VOLTS), chosen=(Used("scpi-meter", METER),), machine="nursery-sprayer"
    )
    view = connect_view(state)
    assert view.kind == "start"
    assert view.doing == "Enter starts the run: scpi-meter."
    assert view.rows[0].words == "chosen, 24.512 V AC"
    assert view.can_drop
    told = words(view.chosen)
    assert f"● scpi-meter at {METER}" in told
    assert "read the speed" in told
    assert "nursery-sprayer" in told
    assert "goes back with them" in connect_view(replace(state, choose_only=True)).doing


def test_with_volts_and_speed_nothing_is_lacking() -> None:
    state = replace(
        STATE,
        trials={**heard(VOLTS), **heard(SPEED, address=TACH)},
        chosen=(Used("scpi-meter", METER), Used("text-speed", TACH)),
    )
    assert "None of them" not in words(connect_view(state).chosen)
    by_hand = replace(state, chosen=(Used("keyboard-pair", KEYBOARD),), trials={})
    assert "None of them" not in words(connect_view(by_hand).chosen)


def test_after_the_meter_the_next_free_place_is_gone_to() -> None:
    state = replace(STATE, trials=heard(VOLTS), chosen=(Used("scpi-meter", METER),))
    assert following(state) == RADIO, "the tach's port is in use"
    assert following(replace(state, choose_only=True)) == METER
    whole = replace(
        state,
        trials={**heard(VOLTS), **heard(SPEED, address=TACH)},
        chosen=(*state.chosen, Used("text-speed", TACH)),
    )
    assert following(whole) == METER


def test_what_was_used_last_time_comes_first_and_is_told_when_it_is_gone() -> None:
    last = (Used("text-volts", "/dev/ttyACM9"), Used("text-speed", TACH))
    state = replace(STATE, extra=last, selected="/dev/ttyACM9")
    assert addresses(state) == ("/dev/ttyACM9", TACH, METER, RADIO, KEYBOARD)
    view = connect_view(state)
    assert view.rows[0].words == "used last time"
    assert "Used last time with the card text-volts." in words(view.detail)
    assert "It is not in reach now" in words(view.detail)
    assert following(state) == "/dev/ttyACM9"


def test_a_typed_address_that_answered_is_in_reach() -> None:
    state = replace(STATE, found=(), extra=(Used("", METER),), selected=METER)
    assert "not in reach" in words(connect_view(state).detail)
    assert "not in reach" not in words(connect_view(replace(state, trials=heard(VOLTS))).detail)


@pytest.mark.parametrize("address", ["/dev/pts/7", "/dev/serial/by-id/usb-meter", "socket://127.0.0.1:7000"])
def test_what_no_look_around_could_list_is_not_called_out_of_reach(address: str) -> None:
    state = replace(STATE, found=(), extra=(Used("", address),), selected=address)
    assert "not in reach" not in words(connect_view(state).detail)


def test_what_devices_call_themselves_is_cleaned() -> None:
    hostile = FoundInstrument(
        METER, "meter\x1b]0;owned\x07\u202e", ("\x9b2J",), None, ("card\x1b[31m",), "\x1b[2Jvim"
    )
    bad = Heard(
        "c\x1b[1m",
        "",
        TransportDefaults(),
        True,
        1.0,
        1,
        1.0,
        (Example("x", 1.0, "V\x1b[2J"),),
        ("r\x1b[0m",),
    )
    state = replace(STATE, found=(hostile,), trials=heard(bad), remarks=("no\x1b[5m radio",), trouble="t\x07")
    view = connect_view(state)
    rows = "".join(row.address + row.name + row.words for row in view.rows)
    assert "radio" in view.remark
    everything = rows + view.remark + words(view.detail) + words(view.chosen) + view.doing + view.heading
    assert not {"\x1b", "\x07", "\x9b", "\u202e"} & set(everything)


@pytest.mark.parametrize(
    ("example", "text"),
    [
        (Example("ac_voltage", 24.5, "V"), "24.5 V AC"),
        (Example("dc_voltage", 12.0, "V"), "12 V DC"),
        (Example("rotational_speed", 3600.5, "rpm"), "3600.5 rpm"),
        (Example("resistance", 0.25, "ohm"), "0.25 Ω"),
        (Example("temperature", -3.0, "degC"), "-3 °C"),
    ],
)
def test_a_reading_in_words(example: Example, text: str) -> None:
    assert example_words(example) == text
