"""Listening at the virtual bench's real ports: its own process there, the finding process here."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest

from tests.drivers.finding.test_listening import given_time
from tests.drivers.peers import BEHAVIOURS, PtyPeer, text_lines

pytestmark = pytest.mark.skipif(
    sys.platform == "win32", reason="the bench's ports are TCP there, tried elsewhere"
)


def test_meter_and_tach_of_the_bench_are_told_apart() -> None:
    command = [sys.executable, "-m", "drivers.bench", "--seed", "3"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as bench:
        assert bench.stdout is not None
        meter, tach = (json.loads(bench.stdout.readline())["address"] for _ in range(2))
        try:
            speaks = given_time(tach, (), 1.6)
            answers = given_time(meter, ["scpi-meter", "modbus-meter"], 1.2)
        finally:
            bench.terminate()
    assert {one.card for one in speaks.heard if one.is_good} == {"bench-tach", "text-speed"}
    assert speaks.heard[0].readings >= 2
    (best,) = (one for one in answers.heard if one.is_good)
    assert (best.card, best.asked) == ("scpi-meter", True)
    assert best.examples[0].quantity == "ac_voltage"


def test_at_a_real_tach_the_cards_of_the_bench_come_last_and_are_not_recommended() -> None:
    with PtyPeer(text_lines("%.0f rpm\r\n")) as peer:
        heard = given_time(peer.address, (), 0.6).heard
    assert heard[0].card == "text-speed"
    assert [one.card for one in heard if one.is_good] == ["text-speed"]
    assert heard[-1].card == "bench-tach"
    assert "no bench that runs has this port" in heard[-1].remarks[-1]


def test_a_real_meter_is_asked_with_a_general_card() -> None:
    with PtyPeer(BEHAVIOURS["scpi"][1]) as peer:
        heard = given_time(peer.address, (), 0.4).heard
    assert [one.card for one in heard] == ["scpi-meter"]


def test_the_ports_of_a_bench_on_tcp_are_known_too() -> None:
    command = [sys.executable, "-m", "drivers.bench", "--seed", "3", "--tcp"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as bench:
        assert bench.stdout is not None
        _, tach = (json.loads(bench.stdout.readline())["address"] for _ in range(2))
        try:
            good = {one.card for one in given_time(tach, (), 1.6).heard if one.is_good}
        finally:
            bench.terminate()
    assert "bench-tach" in good
