"""pymodbus's own server as a process: ``python -m tests.drivers.modbus.server_process rtu|tcp``.

Prints the address for the caller on its first line, then serves until ended.
RTU runs over two pseudo-terminals whose far ends are joined, like two serial
ports with a cable between them.
"""

from __future__ import annotations

import asyncio
import os
import socket
import sys
import tty
from collections.abc import Callable

from pymodbus.server import ModbusSerialServer, ModbusTcpServer
from pymodbus.simulator import DataType, SimData, SimDevice

UNITS = [
    SimDevice(
        1,
        simdata=[
            SimData(0, values=[19.62, 180.0], datatype=DataType.FLOAT32),
            SimData(10, values=-1234, datatype=DataType.INT16),
            SimData(20, values=358_000, datatype=DataType.UINT32),
            SimData(30, values=[float("nan"), float("inf")], datatype=DataType.FLOAT32),
        ],
    ),
    SimDevice(17, simdata=[SimData(0x6B, values=[0xAE41, 0x5652, 0x4340], datatype=DataType.REGISTERS)]),
]


def _pass_on(source: int, target: int) -> None:
    os.write(target, os.read(source, 4096))


def _cable() -> tuple[str, str]:
    """Two serial devices joined by a cable."""
    masters, names = [], []
    for _ in range(2):
        master, slave = os.openpty()
        tty.setraw(slave)
        masters.append(master)
        names.append(os.ttyname(slave))
    loop = asyncio.get_running_loop()
    for source, target in (masters, masters[::-1]):
        loop.add_reader(source, _pass_on, source, target)
    return names[0], names[1]


def _deaf_for_others(place: int) -> Callable[[bool, bytes], bytes]:
    """A line on which nobody answers for a unit that is not there; the server itself would refuse."""
    present = {unit.id for unit in UNITS}

    def trace(sending: bool, data: bytes) -> bytes:
        return data if sending or (len(data) > place and data[place] in present) else b""

    return trace


async def _serve(kind: str) -> None:
    server: ModbusSerialServer | ModbusTcpServer
    if kind == "rtu":
        near, address = _cable()
        server = ModbusSerialServer(UNITS, port=near, baudrate=9600, trace_packet=_deaf_for_others(0))
    else:
        with socket.create_server(("127.0.0.1", 0)) as free:
            port = free.getsockname()[1]
        address = f"socket://127.0.0.1:{port}"
        server = ModbusTcpServer(UNITS, address=("127.0.0.1", port), trace_packet=_deaf_for_others(6))
    await server.serve_forever(background=True)
    print(address, flush=True)
    await asyncio.Event().wait()


if __name__ == "__main__":
    asyncio.run(_serve(sys.argv[1]))
