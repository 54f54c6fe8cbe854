"""An adapter that was pulled is found again under whatever name it comes back."""

from __future__ import annotations

import pytest
from serial.tools.list_ports_common import ListPortInfo

from daq.driver_api import TransportDefaults, TransportError, TransportReason
from daq.model.clock import SystemClock
from drivers.transports.link import SerialLink
from drivers.transports.returned import Adapters
from tests.drivers.peers import PtyPeer, text_lines


def usb_port(device: str, serial_number: str | None = "7", vid: int | None = 0x1209) -> ListPortInfo:
    port = ListPortInfo(device)
    port.vid, port.pid, port.serial_number = vid, None if vid is None else 1, serial_number
    return port


class Computer:
    """Its ports, as the test plugs them in."""

    def __init__(self, *ports: ListPortInfo) -> None:
        self.ports = list(ports)

    def __call__(self) -> list[ListPortInfo]:
        return self.ports


def test_an_adapter_is_found_under_its_new_name_and_not_where_another_took_its_old_one() -> None:
    computer = Computer(usb_port("/dev/ttyUSB0"), usb_port("/dev/ttyUSB1", "8"))
    adapters = Adapters(computer)
    assert adapters.device("/dev/ttyUSB0") == "/dev/ttyUSB0"
    adapters.opened("/dev/ttyUSB0", "/dev/ttyUSB0")
    computer.ports = [usb_port("/dev/ttyUSB1", "8"), usb_port("/dev/ttyUSB2")]
    assert adapters.device("/dev/ttyUSB0") == "/dev/ttyUSB2"
    computer.ports = [usb_port("/dev/ttyUSB0", "9"), usb_port("/dev/ttyUSB3")]
    assert adapters.device("/dev/ttyUSB0") == "/dev/ttyUSB3"
    computer.ports = [usb_port("/dev/ttyUSB0", "9")]
    with pytest.raises(TransportError, match="/dev/ttyUSB0 is another adapter now") as raised:
        adapters.device("/dev/ttyUSB0")
    assert raised.value.reason is TransportReason.NOT_FOUND
    computer.ports = []
    assert adapters.device("/dev/ttyUSB0") == "/dev/ttyUSB0"  # whose opening then tells that it is gone


def test_adapters_that_are_alike_and_ports_on_no_usb_stay_with_their_names() -> None:
    for ports in (
        [usb_port("/dev/ttyUSB0", None), usb_port("/dev/ttyUSB1", None)],
        [usb_port("/dev/ttyS0", None, vid=None)],
    ):
        computer = Computer(*ports)
        adapters = Adapters(computer)
        adapters.opened(ports[0].device, ports[0].device)
        computer.ports = [usb_port("/dev/ttyUSB5", None), usb_port("/dev/ttyS5", None, vid=None)]
        assert adapters.device(ports[0].device) == ports[0].device


async def test_a_link_reads_on_where_the_adapter_came_back_and_says_so() -> None:
    with PtyPeer(text_lines("%.1f V\r\n")) as first, PtyPeer(text_lines("%.1f V\r\n")) as second:
        computer = Computer(usb_port(first.address))
        adapters = Adapters(computer)
        for ports, remarks in (
            ([usb_port(first.address)], []),
            (
                [usb_port(second.address), usb_port(first.address, "other")],
                [
                    f"The adapter that was {first.address} has come back as {second.address} and is read there."
                ],
            ),
        ):
            computer.ports = ports
            link = SerialLink(first.address, TransportDefaults(), SystemClock(), adapters=adapters)
            await link.open()
            assert await link.receive()
            assert link.remarks == remarks
            await link.aclose()


async def test_an_adapter_plugged_in_just_before_its_name_is_opened_is_not_taken_for_the_one_that_was_there() -> (
    None
):
    with PtyPeer(text_lines("%.1f V\r\n")) as peer:
        own, other = [usb_port(peer.address)], [usb_port(peer.address, "8")]
        looks = iter([own, [], other, own, own])
        adapters = Adapters(lambda: next(looks))
        adapters.opened(peer.address, peer.address)
        link = SerialLink(peer.address, TransportDefaults(), SystemClock(), adapters=adapters)
        with pytest.raises(TransportError, match="is another adapter now") as raised:
            await link.open()
        assert raised.value.reason is TransportReason.NOT_FOUND
        again = SerialLink(peer.address, TransportDefaults(), SystemClock(), adapters=adapters)
        await again.open()  # its own is back, and the port was let go
        assert await again.receive()
        await again.aclose()
