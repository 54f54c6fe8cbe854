"""Takes the battery readings out of a packaged NMEA 2000 log: run it once, keep what it writes.

Origin: the npm package signalk-server, version 2.23.0, file samples/aava-n2k.data, licence Apache-2.0.
Get it with the ordinary client, ``npm pack signalk-server@2.23.0``, and unpack it; then

    python tests/outside/data/extract_charging_data.py package/samples/aava-n2k.data battery_charging.csv

PGN 127508 (battery status) in the log's lines: instance (1 byte), volts (2 bytes, 0.01 V), amps (2 bytes,
signed, 0.1 A, positive into the battery), temperature (2 bytes, 0.01 K), sequence number (1 byte), little-endian;
0xFFFF, and 0x7FFF for amps, mean "not there". The layout is from memory; that all 1,005 readings come out as
those of a 12 V battery at 26.7 °C speaks for it.
"""

from __future__ import annotations

import csv
import hashlib
import struct
import sys
from pathlib import Path

PGN_BATTERY_STATUS = "127508"
SOURCE_SHA256 = "65abc4a8db5e6a970d47cd204c25126857b99577bec67b653ddf0b128fad1b8f"


def extract(source: Path, target: Path) -> int:
    """Write the readings as CSV; gives how many there are."""
    data = source.read_bytes()
    if hashlib.sha256(data).hexdigest() != SOURCE_SHA256:
        raise SystemExit(f"{source.name} is not the file this was written for (its sha256 differs).")
    count = 0
    with target.open("w", newline="", encoding="ascii") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(["utc", "voltage_V", "current_A", "temperature_degC"])
        for line in data.decode("ascii").splitlines():
            stamp, _, pgn, _, _, _, *octets = line.split(",")
            if pgn != PGN_BATTERY_STATUS:
                continue
            _, volts, amps, kelvin = struct.unpack("<BHhH", bytes(int(octet, 16) for octet in octets[:7]))
            if 0xFFFF in (volts, kelvin) or amps == 0x7FFF:
                continue
            writer.writerow([stamp, f"{volts / 100:.2f}", f"{amps / 10:.1f}", f"{kelvin / 100 - 273.15:.2f}"])
            count += 1
    return count


if __name__ == "__main__":
    print(extract(Path(sys.argv[1]), Path(sys.argv[2])), "readings")
