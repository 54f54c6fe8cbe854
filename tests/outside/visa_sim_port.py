"""A simulated instrument of pyvisa-sim on a pseudo-terminal, as a process of its own.

pyvisa-sim is a library of simulated instruments without a port; these lines are
the cable. Bytes from the terminal go into the simulation as they come, and its
bytes go out: what is asked and answered, errors too, is the simulation's own.

``python visa_sim_port.py FILE.yaml [MESSAGE ...]`` sends it the messages and then prints its port.
"""

from __future__ import annotations

import os
import pty
import select
import sys
import tty

import pyvisa
from pyvisa import constants

ASLEEP_MS = 5


def main() -> None:
    simulation, *messages = sys.argv[1:]
    device = pyvisa.ResourceManager(f"{simulation}@sim").open_resource("ASRL1::INSTR")
    assert isinstance(device, pyvisa.resources.MessageBasedResource)
    device.timeout = ASLEEP_MS
    for message in messages:
        device.write_raw(message.encode() + b"\n")
    near, far = pty.openpty()
    tty.setraw(far)
    print(os.ttyname(far), flush=True)
    while True:
        readable, _, _ = select.select([near], [], [], 1.0)
        if readable:
            for byte in os.read(near, 4096):
                device.write_raw(bytes([byte]))
            os.write(near, answer_of(device))


def answer_of(device: pyvisa.resources.MessageBasedResource) -> bytes:
    """All the simulation has to say now."""
    said = b""
    while True:
        try:
            said += device.read_raw()
        except pyvisa.errors.VisaIOError as error:
            if error.error_code != constants.StatusCode.error_timeout:
                raise
            return said


if __name__ == "__main__":
    main()
