"""What the long fuzzing feeds: each target takes bytes, raises where something is held wrong, and tells what was taken.

Only a :class:`SpinvoltError` may come out of a reader; a target takes that as the reader's right.
"""

from __future__ import annotations

import atexit
import contextlib
import os
import random
import shutil
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np

from daq.cards.instrument import parse_instrument_card
from daq.cards.machine import parse_machine_card
from daq.catalog import load_catalog
from daq.errors import SpinvoltError
from daq.importing.csv_log import import_logs
from daq.job.job import Job
from daq.job.summary import summarise
from daq.model.clock import ManualClock
from daq.model.quantity import Quantity
from daq.recording.entries import FORMAT_VERSION, TICK_NS
from daq.recording.follow import FileFollower
from daq.recording.parse import _parse_bulk, _parse_linewise
from daq.recording.reader import read_recording
from daq.registry import load_registry
from daq.report import write_report
from tests.drivers.decoder_kit import check_one_stream
from tests.drivers.decoder_samples import SAMPLES
from tests.faults.strangers import seeds, unfit_characters
from tui.remembered import Remembered, load_remembered, save_remembered
from tui.text import clean

__all__ = ["TARGETS", "seeds_of", "sound_seeds_of"]

_REGISTRY = load_registry()
_FOLDER = Path(
    tempfile.mkdtemp(prefix="spinvolt-fuzz-", dir="/dev/shm" if os.path.isdir("/dev/shm") else None)
)


_REMEMBERED = b"""# The instruments that were used last.

machine = "nursery-sprayer"

[[instrument]]
card = "scpi-meter"
address = "/dev/ttyUSB0"

[[instrument]]
card = "text-speed"
address = "socket://192.168.1.20:7000"

[instrument.line]
baud = 2400
parity = "even"
dtr = true
"""

atexit.register(shutil.rmtree, _FOLDER, ignore_errors=True)


def decoders(data: bytes) -> bool:
    """The first byte picks the decoder, the second the cuts of the stream."""
    if len(data) < 3:
        return False
    sample = SAMPLES[data[0] % len(SAMPLES)]
    check_one_stream(sample, _cut(data[2:], data[1]))
    return True


def _cut(data: bytes, seed: int) -> Iterator[bytes]:
    rng = random.Random(seed)
    while data:
        size = rng.randrange(1, 40)
        yield data[:size]
        data = data[size:]


def recording(data: bytes) -> bool:
    """The whole reader, the follower, and both ways of parsing: all must see the same."""
    path = _FOLDER / "odd.jsonl"
    path.write_bytes(data)
    taken = False
    with contextlib.suppress(SpinvoltError):
        whole = read_recording(path)
        _check_sentences(whole.problems)
        with FileFollower(path, until_end=True) as follower:
            count = 0
            while not follower.finished:
                count += len(follower.poll().t_ns)
            assert follower.problems == whole.problems
            assert count == whole.readings
        for entry in whole.channels:
            assert (np.diff(whole.columns(entry.channel).t_ns) >= 0).all()
        taken = True
    _check_both_ways(data)
    return taken


def _check_both_ways(data: bytes) -> None:
    block = data[: data.rfind(b"\n") + 1]
    tick_ns = TICK_NS[FORMAT_VERSION]
    quick = _parse_bulk(block, tick_ns) if block else None
    if quick is None:
        return
    slow = _parse_linewise(block, tick_ns)
    assert slow.bad_count == 0, "the bulk way took what the other refuses"
    for one, other in zip(quick.columns, slow.columns, strict=True):
        np.testing.assert_array_equal(one, other)
    assert quick.entries == slow.entries


def card(data: bytes) -> bool:
    """Instrument and machine cards, and what a driver makes of one."""
    text = data.decode("utf-8", "replace")
    taken = False
    with contextlib.suppress(SpinvoltError):
        parse_machine_card(text, origin="odd.toml")
        taken = True
    with contextlib.suppress(SpinvoltError):
        instrument = parse_instrument_card(text, origin="odd.toml")
        driver = _REGISTRY.driver(instrument.protocol)
        driver.check(instrument)
        taken = True
    return taken


def cards_folder(data: bytes) -> bool:
    """A file among the user's own cards: listed with its reason, and all other cards are there."""
    path = _FOLDER / "cards" / "odd.toml"
    path.parent.mkdir(exist_ok=True)
    path.write_bytes(data)
    catalog = load_catalog(_REGISTRY, _FOLDER)
    _check_sentences([broken.reason for broken in catalog.broken if broken.reason.isprintable()])
    origins = [found.origin for found in catalog.instruments.values()]
    origins += [found.origin for found in catalog.machines.values()]
    assert origins.count(str(path)) + len(catalog.broken) == 1
    assert "text-volts" in catalog.instruments
    with contextlib.suppress(SpinvoltError):
        catalog.in_file(str(path))
    return not catalog.broken


def remembered(data: bytes) -> bool:
    """The instruments that were used last: what is read could be kept, and what can't be read is told."""
    path = _FOLDER / "instruments.toml"
    path.write_bytes(data)
    found, trouble = load_remembered(path)
    if trouble:
        assert found == Remembered()
        assert "recursion" not in trouble
        _check_sentences([clean(trouble)])
    else:
        assert save_remembered(_FOLDER / "again.toml", found) == ""
    return found != Remembered()


def csv(data: bytes) -> bool:
    """A log that comes in: what it becomes must be a sound recording."""
    log, out = _FOLDER / "odd.csv", _FOLDER / "new.jsonl"
    log.write_bytes(data)
    try:
        import_logs(out, [(Quantity.AC_VOLTAGE, log, None)], None, force=True)
    except SpinvoltError as error:
        _check_sentences([str(error)])
        return False
    made = read_recording(out)
    assert made.complete
    assert all("can't be" in problem for problem in made.problems), made.problems
    return True


def job(data: bytes) -> bool:
    """A job file, judged and summed up, and as a page."""
    path = _FOLDER / "job.jsonl"
    path.write_bytes(data)
    clock = ManualClock()
    with contextlib.suppress(SpinvoltError):
        summarise(Job.open(path, clock).status(), clock.utc())
        write_report([path], _FOLDER / "job.html", clock, force=True)
        return True
    return False


def _check_sentences(sentences: list[str]) -> None:
    for sentence in sentences:
        assert not unfit_characters(sentence), sentence
        assert "\n" not in sentence


TARGETS: dict[str, Callable[[bytes], bool]] = {
    "decoders": decoders,
    "recording": recording,
    "card": card,
    "cards_folder": cards_folder,
    "remembered": remembered,
    "csv": csv,
    "job": job,
}


def seeds_of(target: str) -> list[bytes]:
    """Where the fuzzing begins."""
    if target == "decoders":
        return [bytes([n, 7]) + b"".join(sample.frames) for n, sample in enumerate(SAMPLES)]
    if target in {"card", "cards_folder"}:
        return [*seeds("instrument"), *seeds("machine")]
    if target == "remembered":
        return [_REMEMBERED, _REMEMBERED.replace(b"baud = 2400", b"baud = " + b"[" * 5000)]
    found = seeds(target)
    # A few lines of each kind are quicker to change than hundreds of readings.
    return [*found, *(b"\n".join(data.split(b"\n")[:12]) + b"\n" for data in found)]


def sound_seeds_of(target: str) -> list[bytes]:
    """Those that the reader must take."""
    if target == "remembered":
        return [_REMEMBERED]
    if target in {"card", "cards_folder"}:
        return [*seeds("instrument", sound=True), *seeds("machine", sound=True)]
    return seeds(target, sound=True)
