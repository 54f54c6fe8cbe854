"""At which settings to listen."""

from __future__ import annotations

from daq.cards.instrument import TransportDefaults
from daq.finding.plan import lines_to_try, of_one_supply

SLOW = TransportDefaults(baud=2400, dtr=True, rts=False)
FAST = TransportDefaults(baud=115_200)
PLAIN = TransportDefaults(baud=9600)


def test_the_settings_of_most_cards_come_first_and_each_once() -> None:
    lines = lines_to_try("/dev/ttyUSB0", [SLOW, PLAIN, FAST, PLAIN])
    assert lines[:3] == [PLAIN, SLOW, FAST]
    assert len(lines) == len(set(lines))
    assert TransportDefaults(baud=19_200) in lines, "usual speeds that no card has are tried too"
    assert TransportDefaults(baud=9600, bytesize=7, parity="even") in lines


def test_a_network_address_has_one_setting_but_a_serial_server_has_all() -> None:
    assert lines_to_try("socket://127.0.0.1:7000", [SLOW, PLAIN, PLAIN]) == [PLAIN]
    assert lines_to_try("socket://127.0.0.1:7000", []) == [TransportDefaults()]
    assert len(lines_to_try("rfc2217://127.0.0.1:7000", [PLAIN])) > 5


def test_speed_makes_no_silence_but_feeding_does() -> None:
    assert of_one_supply(PLAIN) == of_one_supply(FAST)
    assert of_one_supply(PLAIN) != of_one_supply(SLOW)
