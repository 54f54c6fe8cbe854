"""The conversation with a SCPI instrument, without I/O: time is a number handed in."""

from __future__ import annotations

import pytest

from daq.driver_api import CardError, ChannelCard, InstrumentCard, Quality, Quantity, Reading
from drivers.scpi import DRIVER
from drivers.scpi.session import ScpiSession
from drivers.scpi.settings import ScpiSettings

S = 1_000_000_000
IDENTITY = b"NURSERY,BENCH,0,1\n"
NO_ERROR = b'0,"No error"\n'
QUERY = b"MEAS:VOLT:AC?\n"
SETTINGS = ScpiSettings(query="MEAS:VOLT:AC?", interval_s=0.2, timeout_s=1.0)


def session(settings: ScpiSettings = SETTINGS, scale: float = 1.0) -> ScpiSession:
    return ScpiSession(ChannelCard(Quantity.AC_VOLTAGE, scale=scale), settings)


def polling(settings: ScpiSettings = SETTINGS) -> ScpiSession:
    """A session that has just sent its first query, at time 0."""
    s = session(settings)
    assert s.advance(0) == b"*IDN?\n"
    s.feed(IDENTITY, 0)
    assert s.advance(0) == b"*CLS\nSYST:ERR?\n"
    s.feed(NO_ERROR, 0)
    assert s.advance(0) == QUERY
    return s


def test_it_asks_who_is_there_sets_up_reads_the_error_queue_and_then_polls() -> None:
    s = polling()
    assert s.feed(b"+1.96200000E+01\r\n", 5) == [Reading(0, 5, 19.62)]
    assert s.remarks == ["The instrument identifies itself as NURSERY,BENCH,0,1."]
    assert s.awaited == "an answer to MEAS:VOLT:AC?"


def test_the_next_query_waits_for_the_interval_and_for_the_answer() -> None:
    s = polling()
    assert s.advance(S // 2) == b""  # no answer yet, and it still has time
    s.feed(b"19.62\n", S // 2)
    assert s.due_ns(S // 2) == S // 2
    assert s.advance(S // 2) == QUERY
    s.feed(b"19.62\n", S // 2 + 1)
    assert s.due_ns(S // 2 + 1) == S // 2 + S // 5
    assert s.advance(S // 2 + 2) == b""
    assert s.advance(S // 2 + S // 5) == QUERY


def test_an_answer_cut_at_every_byte_gives_the_same_reading() -> None:
    answer = b"+1.96200000E+01\r\n"
    for cut in range(answer.index(b"\r") + 1):  # the CR alone ends it
        s = polling()
        assert s.feed(answer[:cut], 1) + s.feed(answer[cut:], 2) == [Reading(0, 2, 19.62)]


@pytest.mark.parametrize(
    ("answer", "quality"),
    [(b"9.9E37\n", Quality.OVERLOAD), (b"-9.9E37\n", Quality.OVERLOAD), (b"9.91E37\n", Quality.NOT_A_NUMBER)],
)
def test_w1_special_numbers_are_never_stored_as_a_value(answer: bytes, quality: Quality) -> None:
    assert polling().feed(answer, 3) == [Reading(0, 3, None, quality)]


def test_the_scale_of_the_card_applies() -> None:
    s = session(scale=10.0)
    for answer in (IDENTITY, NO_ERROR):
        s.advance(0)
        s.feed(answer, 0)
    s.advance(0)
    assert [r.value for r in s.feed(b"1.962\n", 1)] == [pytest.approx(19.62)]


def test_a_late_answer_is_never_taken_for_the_next_ones() -> None:
    s = polling()
    assert s.due_ns(1) == S
    assert s.advance(S) == b"*IDN?\n"
    assert s.timeouts == 1
    assert s.feed(b"11.11\n", S + 1) == []  # the late one
    assert s.advance(S + 2) == b""
    assert s.feed(IDENTITY, S + 3) == []
    assert s.advance(S + 3) == b"SYST:ERR?\n"
    s.feed(NO_ERROR, S + 4)
    assert s.advance(S + 4) == QUERY
    assert s.feed(b"22.22\n", S + 5) == [Reading(0, S + 5, 22.22)]
    assert s.late_answers == 1


def test_a_late_answer_split_by_the_time_limit_is_not_taken_either() -> None:
    s = polling()
    assert s.feed(b"1", S - 1) == []
    s.advance(S)
    assert s.feed(b"9.62\n", S + 1) == []
    assert s.feed(IDENTITY, S + 2) == []


def test_a_late_identity_is_not_taken_for_a_reading() -> None:
    s = polling()
    s.advance(S)  # asks the identity
    s.advance(2 * S)  # and once more
    s.feed(IDENTITY, 2 * S)
    s.advance(2 * S)
    s.feed(NO_ERROR, 2 * S)
    assert s.advance(2 * S) == QUERY
    assert s.feed(IDENTITY, 2 * S + 1) == []
    assert s.feed(b"19.62\n", 2 * S + 2) == [Reading(0, 2 * S + 2, 19.62)]


def test_left_over_answers_of_an_earlier_program_are_not_the_identity() -> None:
    s = session()
    s.advance(0)
    s.feed(b'19.62\n-113,"Undefined header"\n' + IDENTITY, 1)
    assert s.remarks == ["The instrument identifies itself as NURSERY,BENCH,0,1."]
    assert s.late_answers == 2


def test_an_answer_that_is_no_number_is_a_bad_frame_and_the_error_queue_is_read() -> None:
    s = polling()
    assert s.feed(b"what?\n", 1) == [Reading(0, 1, None, Quality.BAD_FRAME)]
    assert s.advance(1) == b"SYST:ERR?\n"
    s.feed(b'-113,"Undefined header"\n', 2)
    assert s.advance(2) == b"SYST:ERR?\n"
    s.feed(NO_ERROR, 3)
    assert s.remarks[-1] == 'The instrument reported an error: -113,"Undefined header".'
    assert s.advance(S) == QUERY
    assert s.awaited == 'an answer to MEAS:VOLT:AC? (the instrument reported -113,"Undefined header")'


def test_a_query_that_is_refused_with_silence_is_explained_by_the_error_queue() -> None:
    s = polling()
    s.advance(S)
    s.feed(IDENTITY, S)
    assert s.advance(S) == b"SYST:ERR?\n"
    s.feed(b'-113,"Undefined header"\n', S)
    assert "-113" in s.remarks[-1]


def test_an_error_queue_that_never_ends_is_left_alone_after_a_while() -> None:
    s = polling()
    s.feed(b"what?\n", 1)
    asked = 0
    while s.advance(S + asked) == b"SYST:ERR?\n":
        asked += 1
        s.feed(b'-350,"Queue overflow"\n', S + asked)
        assert asked < 100
    assert asked == 20
    assert len(s.remarks) == 2


def test_an_instrument_without_an_error_queue_is_asked_for_readings_all_the_same() -> None:
    s = session()
    now = 0
    sent: list[bytes] = []
    while len(sent) < 40 and sent[-1:] != [QUERY]:
        request = s.advance(now)
        sent.append(request)
        if request == b"*IDN?\n":
            s.feed(IDENTITY, now)
        elif request.endswith(b"SYST:ERR?\n"):
            now += S
    assert sent[-1] == QUERY
    assert sum(b"SYST:ERR?" in request for request in sent) == 2


def test_an_instrument_that_answers_nothing_but_the_query_is_read_and_late_answers_run_out_first() -> None:
    s = session(ScpiSettings(query="READ?", setup=(), error_query="", timeout_s=1.0))
    now = 0
    while s.advance(now) != b"READ?\n":
        now = max(s.due_ns(now), now + 1)
        assert now < 20 * S
    assert s.feed(b"19.62\n", now + 1) == [Reading(0, now + 1, 19.62)]
    late = s.due_ns(now) + S // 5
    assert s.advance(late) == b"READ?\n"
    quiet = late + S
    assert s.advance(quiet) == b""  # no answer: it waits for a late one before it asks anew
    assert s.feed(b"11.11\n", quiet + S // 2) == []
    assert s.advance(quiet + S) == b"READ?\n"
    assert s.feed(b"22.22\n", quiet + S + 1) == [Reading(0, quiet + S + 1, 22.22)]


def test_an_instrument_that_echoes_what_it_is_sent_is_understood() -> None:
    s = session()
    for answer in (IDENTITY, NO_ERROR):
        request = s.advance(0)
        s.feed(request.replace(b"\n", b"\r\n") + answer, 0)
    assert s.feed(s.advance(0) + b"19.62\n", 1) == [Reading(0, 1, 19.62)]


@pytest.mark.parametrize("junk", [b"\x00\xff\xfe\n", b"x" * 5000 + b"\n", b"\r\n\r\n"])
def test_after_junk_the_next_answer_is_read_right(junk: bytes) -> None:
    s = polling()
    readings = s.feed(junk, 1)
    assert all(r.value is None and r.quality is Quality.BAD_FRAME for r in readings)
    now = S
    for _ in range(10):
        request = s.advance(now)
        answers = {b"SYST:ERR?\n": NO_ERROR, b"*IDN?\n": IDENTITY, QUERY: b"19.62\n"}
        readings = s.feed(answers.get(request, b"19.62\n"), now)
        if readings:
            break
        now += S // 10
    assert [r.value for r in readings] == [19.62]


def test_lost_bytes_start_the_conversation_anew_and_half_an_answer_is_no_reading() -> None:
    s = polling()
    s.feed(b"1", 1)
    s.lost()
    assert s.feed(b"9.62\n", 2) == []
    assert s.advance(3) == b"*IDN?\n"


def test_half_an_identity_after_lost_bytes_is_not_taken_for_one() -> None:
    s = session()
    s.advance(0)
    s.feed(b"NURS", 1)
    s.lost()
    s.advance(2)
    s.feed(b",BENCH,0,1\n", 3)
    assert s.remarks == []
    s.feed(IDENTITY, 4)
    assert s.remarks == ["The instrument identifies itself as NURSERY,BENCH,0,1."]


def test_a_cut_answer_at_the_end_of_the_link_is_a_bad_frame() -> None:
    s = polling()
    s.feed(b"19.", 1)
    assert [r.quality for r in s.flush()] == [Quality.BAD_FRAME]
    assert s.flush() == []


def test_junk_in_place_of_the_identity_is_a_bad_frame_and_no_identity() -> None:
    s = session()
    s.advance(0)
    assert s.feed(b"a\x1b[2J\xff,b,c,d\n", 1) == [Reading(0, 1, None, Quality.BAD_FRAME)]
    s.feed(IDENTITY, 2)
    assert s.remarks == ["The instrument identifies itself as NURSERY,BENCH,0,1."]


@pytest.mark.parametrize(
    ("settings", "told"),
    [
        ({}, "query"),
        ({"query": ""}, "query = ''"),
        ({"query": "MEAS:VOLT:AC"}, "question mark"),
        ({"query": "MEAS?\n*RST"}, "printable"),
        ({"query": "MEAS?", "timeout_s": 0}, "timeout_s = 0"),
        ({"query": "MEAS?", "interval_s": -1}, "interval_s = -1"),
        ({"query": "MEAS?", "interval": 1}, "interval"),
        ({"query": "MEAS?", "setup": ["*CLS"] * 33}, "33"),
    ],
)
def test_a_bad_setting_is_refused_with_its_key(settings: dict[str, object], told: str) -> None:
    card = InstrumentCard("odd", "odd", "scpi", (ChannelCard(Quantity.AC_VOLTAGE),), settings=settings)
    with pytest.raises(CardError, match="odd") as caught:
        DRIVER.check(card)
    assert told in str(caught.value)
