"""Whether 10,000 readings a second arrive, all of them and stamped in time, beside a dashboard.

``python -m tests.benchmarks.ingest [SECONDS]`` (default 600). Wanted (issue 7): no loss, stamps within 5 ms at the
99th percentile, a reader within twice a bare one.

Two instruments, each a process of its own on a pseudo-terminal, send 5,000 numbered lines a second and note
when. The real program with its dashboard records them. A third one sends as much to a bare reader, which stamps
each line and keeps the stamp: what the machine itself adds. Before that a reader thread and nothing else, and the
drivers' own link, read 10,000 lines a second side by side, for what a line costs each.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from pathlib import Path

import msgspec
import numpy as np
from numpy.typing import NDArray

from tests.benchmarks.capture_cost import cpu_s
from tests.benchmarks.stamp_shift import dashboard, leave
from tests.faults.rig import Counter, Seen, readings_lost

SECONDS = 600.0
RATE = 5000.0
LEAST_PACE = 0.99
READER_S = 20.0
MOST_LINK = 2.0
MOST_LATE_MS = 5.0
_SETTLES_S = 5.0
_ON_THE_WAY_NS = 200_000_000
Int64 = NDArray[np.int64]


def main() -> int:
    """Print the figures; the exit status is 0 when they are met."""
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else SECONDS
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        met = readers(folder)
        with (
            Counter("text-volts", folder, 1 / RATE) as meter,
            Counter("text-speed", folder, 1 / RATE) as tach,
            Counter("text-volts", folder, 1 / RATE) as other,
        ):
            met = record(folder, (meter, tach), other, seconds) and met
    return 0 if met else 1


def readers(folder: Path) -> bool:
    """Print what a line costs a bare reader and the drivers' link; whether their ratio is as wanted."""
    cost: dict[str, float] = {}
    kinds = ("bare", "link")
    with Counter("text-volts", folder, 0.5 / RATE) as one, Counter("text-volts", folder, 0.5 / RATE) as two:
        commands = [
            [sys.executable, "-m", "tests.benchmarks.reader_child", kind, counter.address]
            for kind, counter in zip(kinds, (one, two), strict=True)
        ]
        children = [
            subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
            for command in commands
        ]
        time.sleep(READER_S)
        for kind, child in zip(kinds, children, strict=True):
            lines, spent_s = child.communicate("")[0].split()
            cost[kind] = float(spent_s) / int(lines)
            print(f"{kind}: {lines} lines, {1e6 * cost[kind]:.1f} us each")
    ratio = cost["link"] / cost["bare"]
    print(f"reader: the drivers' link over a bare thread, at 10,000 lines a second: {ratio:.2f}")
    return ratio <= MOST_LINK


def record(folder: Path, instruments: tuple[Counter, Counter], other: Counter, seconds: float) -> bool:
    """Let both record side by side for so long, then hold what they kept against what was sent."""
    path, log = folder / "run.jsonl", folder / "bare.bin"
    named = [f"{one.card}@{one.address}" for one in instruments]
    bare_command = [sys.executable, "-m", "tests.faults.bare", other.address, str(log)]
    with (
        dashboard(named, path, seconds + _SETTLES_S) as (screen, terminal),
        subprocess.Popen(bare_command, stdin=subprocess.PIPE) as bare,
    ):
        time.sleep(_SETTLES_S)
        watched = {"capture": capture_of(screen.pid), "bare reader": bare.pid, "dashboard": screen.pid}
        begun_ns = time.monotonic_ns()
        before = {name: cpu_s(pid) for name, pid in watched.items()}
        time.sleep(seconds - 1.0)
        took = {name: cpu_s(pid) - before[name] for name, pid in watched.items()}
        end_ns = time.monotonic_ns()
        leave(screen, terminal, path)
        bare.kill()
    span = (begun_ns, end_ns)
    kept_all = [tell(one, seen, span) for one, seen in zip(instruments, written_in(path), strict=True)]
    kept = np.frombuffer(log.read_bytes(), "<i8").reshape(-1, 2)
    noted_ns = other.sent()[1]
    kept = kept[kept[:, 0] < len(noted_ns)]  # the newest may be read before its sender has noted it
    tell_lateness("bare reader", kept[:, 1], noted_ns[kept[:, 0]], span)
    for name, spent_s in took.items():
        print(f"{name}: {100 * spent_s / ((end_ns - begun_ns) / 1e9):.1f} % of a core")
    return all(kept_all)


def written_in(path: Path) -> list[Seen]:
    """The readings of both channels as the file has them: their numbers soon pass what volts or rpm can be."""
    lines = path.read_bytes().splitlines()
    rows = np.array([msgspec.json.decode(line) for line in lines if line.startswith(b"[")], dtype=np.float64)
    parts = [rows[rows[:, 0] == channel] for channel in (0, 1)]
    return [Seen(part[:, 2].astype(np.int64), (1000 * part[:, 1]).astype(np.int64)) for part in parts]


def capture_of(pid: int) -> int:
    """The one child of the dashboard that captures."""
    for child in Path(f"/proc/{pid}/task/{pid}/children").read_text(encoding="ascii").split():
        if b"capture" in Path(f"/proc/{child}/cmdline").read_bytes():
            return int(child)
    raise RuntimeError("the dashboard has no capture process")


def tell(instrument: Counter, seen: Seen, span: tuple[int, int]) -> bool:
    """Print one instrument's losses and lateness; whether they are as wanted."""
    numbers, t_ns = seen
    sent = instrument.sent()[1]
    inside = (sent >= span[0]) & (sent < span[1] - _ON_THE_WAY_NS)
    missing = int(np.setdiff1d(np.flatnonzero(inside), numbers).size)
    within = sent[numbers] >= span[0]  # the first lines may have come before the port was open
    lost = readings_lost(Seen(numbers[within], t_ns[within]))
    pace = inside.sum() / ((span[1] - _ON_THE_WAY_NS - span[0]) / 1e9)
    print(
        f"{instrument.card}: {len(numbers)} readings, {pace:.0f} a second; missing {missing}, out of order {lost}"
    )
    in_time = tell_lateness(instrument.card, t_ns, sent[numbers], span)
    if pace < LEAST_PACE * RATE:
        print(
            f"{instrument.card}: the sender itself did not keep {RATE:.0f} a second: this counts as not met"
        )
    return in_time and not missing and not lost and pace >= LEAST_PACE * RATE


def tell_lateness(name: str, t_ns: Int64, sent_ns: Int64, span: tuple[int, int]) -> bool:
    """Print how late the stamps are on the quickest of all; whether the 99th percentile is as wanted."""
    late_ms = (t_ns - sent_ns - (t_ns - sent_ns).min()) / 1e6
    late_ms = late_ms[(sent_ns >= span[0]) & (sent_ns < span[1])]
    middle, hundredth, most = np.quantile(late_ms, [0.5, 0.99, 1.0])
    print(
        f"{name}: stamps late by {middle:.3f} ms (middle), {hundredth:.3f} ms (1 in 100), {most:.3f} ms (most)"
    )
    return bool(hundredth <= MOST_LATE_MS)


if __name__ == "__main__":
    sys.exit(main())
