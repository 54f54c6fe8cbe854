"""A SCPI voltmeter on TCP, a process of its own, written from the standards and from nothing of this project.

From IEEE 488.2-1992: program messages end with NL, hold units apart by ``;`` (7.3); the common
commands that every device has (10.); a response message is the responses apart by ``;`` with NL (8.4);
the message exchange drops an unread response when a new query comes (6.3.2.3).
From SCPI-99: headers in short or long form in either case, optional nodes (vol. 1, 6.2); the MEASure,
CONFigure, READ and FETCh instructions (vol. 2, 3.); the error queue, first in first out, -350 in place
of what does not fit (vol. 2, 21.8); 9.9E37 for infinity and 9.91E37 for not a number (vol. 1, 7.2.1).
All of it is from memory of the standards, clause numbers too.

``python scpi_server.py [--late-every N --late-s S] [--specials] [--refuse WORD]`` prints its port.
The n-th measurement, from 1, is 10 + n/100 V.
"""

from __future__ import annotations

import argparse
import re
import socket
import time
from collections import deque

HEADERS = {
    "measure": re.compile(r":?MEAS(?:URE)?(?::SCAL(?:AR)?)?:VOLT(?:AGE)?:AC\?", re.IGNORECASE),
    "configure": re.compile(r":?CONF(?:IGURE)?(?::SCAL(?:AR)?)?:VOLT(?:AGE)?:AC", re.IGNORECASE),
    "read": re.compile(r":?READ\?", re.IGNORECASE),
    "fetch": re.compile(r":?FETC(?:H)?\?", re.IGNORECASE),
    "error": re.compile(r":?SYST(?:EM)?:ERR(?:OR)?(?::NEXT)?\?", re.IGNORECASE),
    "identity": re.compile(r"\*IDN\?", re.IGNORECASE),
    "clear": re.compile(r"\*CLS", re.IGNORECASE),
    "reset": re.compile(r"\*RST", re.IGNORECASE),
    "complete": re.compile(r"\*OPC\?", re.IGNORECASE),
    "wait": re.compile(r"\*WAI", re.IGNORECASE),
}
QUEUE_SIZE = 5


class Meter:
    """The device behind the message exchange."""

    def __init__(self, options: argparse.Namespace) -> None:
        self.options = options
        self.errors: deque[str] = deque()
        self.count = 0

    def error(self, entry: str) -> None:
        if len(self.errors) < QUEUE_SIZE:
            self.errors.append(entry)
        else:
            self.errors[-1] = '-350,"Queue overflow"'

    def message(self, text: str) -> str:
        """Do one program message; the response message without its NL, empty where nothing was asked."""
        responses = (self.unit(unit.strip()) for unit in text.split(";") if unit.strip())
        return ";".join(response for response in responses if response)

    def unit(self, unit: str) -> str:
        header, _, _ = unit.partition(" ")
        if self.options.refuse and self.options.refuse in unit.upper():
            self.error('-113,"Undefined header"')
            return ""
        for name, pattern in HEADERS.items():
            if pattern.fullmatch(header):
                return self.do(name)
        self.error('-113,"Undefined header"')
        return ""

    def do(self, name: str) -> str:
        if name == "identity":
            return "OUTSIDE,VOLTMETER,0,1.0"
        if name == "error":
            return self.errors.popleft() if self.errors else '0,"No error"'
        if name == "clear":
            self.errors.clear()
        if name == "complete":
            return "1"
        return self.measure() if name in ("measure", "read", "fetch") else ""

    def measure(self) -> str:
        self.count += 1
        if self.options.late_every and self.count % self.options.late_every == 0:
            time.sleep(self.options.late_s)
        volts = 10 + self.count / 100
        if self.options.specials:
            special = {1: "9.90000000E+37", 2: "-9.90000000E+37", 3: "9.91000000E+37", 0: f"{volts:.2f}"}
            return special[self.count % 4]
        # One of the three forms after the other: NR3, NR2, and NR2 with a sign.
        return (f"{volts:+.8E}", f"{volts:.2f}", f"+{volts:.3f}")[self.count % 3]


def serve(connection: socket.socket, meter: Meter) -> None:
    held = b""
    while data := connection.recv(4096):
        held += data
        *messages, held = held.split(b"\n")
        for message in messages:
            response = meter.message(message.decode("ascii", "replace").rstrip("\r"))
            if response:
                connection.sendall(response.encode("ascii") + b"\n")


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--late-every", type=int, default=0)
    parser.add_argument("--late-s", type=float, default=0.0)
    parser.add_argument("--specials", action="store_true")
    parser.add_argument("--refuse", default="")
    meter = Meter(parser.parse_args())
    with socket.create_server(("127.0.0.1", 0)) as listener:
        print(listener.getsockname()[1], flush=True)
        while True:
            connection, _ = listener.accept()
            with connection:
                serve(connection, meter)


if __name__ == "__main__":
    main()
