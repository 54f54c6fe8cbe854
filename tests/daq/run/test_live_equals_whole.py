"""A run that was followed while its file grew ends with what opening it whole gives, bit for bit."""

from __future__ import annotations

import tempfile
from pathlib import Path

import msgspec
import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from daq.model.reading import Reading
from daq.recording.entries import MachineEntry
from daq.recording.follow import FileFollower
from daq.run.live import KEEP_S, LiveRun
from daq.run.recorded import open_recording
from daq.run.rows import AlignedRows
from tests.daq.align.builders import Kind, random_run
from tests.daq.recording.builders import record
from tests.runs import machine_of

SECONDS = 45.0


def recorded(path: Path, kind: Kind, seed: int) -> bytes:
    """A run as a capture writes it, a false tach reading and a missing value among it."""
    run = random_run(kind, np.random.default_rng(seed), SECONDS)
    run.speed[30] *= 2.0
    readings = [
        Reading(number, round(t * 1e9), value)
        for number, times, values in ((0, run.volts_t, run.volts), (1, run.speed_t, run.speed))
        for t, value in zip(times.tolist(), values.tolist(), strict=True)
    ]
    readings.sort(key=lambda reading: reading.t_ns)
    readings[40] = Reading(readings[40].channel, readings[40].t_ns, None)
    machine = MachineEntry(card=msgspec.to_builtins(machine_of(3600.0, 20.0)))
    return record(path, [machine, *readings]).read_bytes()


def same_bits(one: AlignedRows, other: AlignedRows) -> None:
    for name in AlignedRows.__dataclass_fields__:
        assert getattr(one, name).tobytes() == getattr(other, name).tobytes(), name


@given(
    kind=st.sampled_from(["sweep", "steps", "hunting", "steady"]),
    seed=st.integers(0, 50),
    cuts=st.lists(st.floats(0.0, 1.0), max_size=5),
)
@settings(max_examples=8, deadline=None)
def test_followed_in_any_pieces_it_ends_with_the_same_rows_and_result(
    kind: Kind, seed: int, cuts: list[float]
) -> None:
    """The file is cut anywhere, in the middle of a line too."""
    assert SECONDS < KEEP_S
    with tempfile.TemporaryDirectory() as folder:
        data = recorded(Path(folder) / "done.jsonl", kind, seed)
        edges = [0, *sorted(int(cut * len(data)) for cut in cuts), len(data)]
        path = Path(folder) / "run.jsonl"
        path.write_bytes(b"")
        with FileFollower(path) as source, path.open("ab", buffering=0) as file:
            live = LiveRun(source)
            for begin, end in zip(edges[:-1], edges[1:], strict=True):
                file.write(data[begin:end])
                snapshot = live.update()
        assert snapshot.finished
        whole = open_recording(path).analysis()
    assert snapshot.result == whole.result
    same_bits(snapshot.rows, whole.rows)


def test_what_is_no_reading_changes_no_row_and_costs_no_analysis(tmp_path: Path) -> None:
    data = recorded(tmp_path / "done.jsonl", "sweep", 3)
    path = tmp_path / "run.jsonl"
    path.write_bytes(data[: data.rindex(b'{"entry":"close"')])
    with FileFollower(path) as source, path.open("ab", buffering=0) as file:
        live = LiveRun(source)
        before = live.update()
        file.write(
            b'{"entry":"event","t_ns":60000000000,"kind":"silent","text":"nothing comes","instrument":""}\n'
        )
        after = live.update()
    assert after.events[-1].text == "nothing comes"
    assert after.t_s > before.t_s
    assert after.rows is before.rows
    assert after.result is before.result


def test_a_long_stretch_is_analysed_once_a_second_a_short_one_twice(tmp_path: Path) -> None:
    data = recorded(tmp_path / "done.jsonl", "sweep", 3)
    lines = data[: data.rindex(b'{"entry":"close"')].splitlines(keepends=True)
    path = tmp_path / "run.jsonl"
    path.write_bytes(b"")
    analyses: list[tuple[AlignedRows, float]] = []
    with FileFollower(path) as source, path.open("ab", buffering=0) as file:
        live = LiveRun(source)
        quarter, most = len(lines) // 4, 3 * len(lines) // 4
        for piece in (*lines[:quarter], b"".join(lines[quarter:most]), *lines[most:]):
            file.write(piece)
            snapshot = live.update()
            if not analyses or snapshot.rows is not analyses[-1][0]:
                analyses.append((snapshot.rows, snapshot.t_s))
    early = [t for _, t in analyses if 2.0 <= t < 10.0]
    late = [t for _, t in analyses if 36.0 <= t < 44.0]
    assert 10 <= len(early) <= 16
    assert 6 <= len(late) <= 8
