"""CHECKS row W8: 116 000 real sentences, all with good checksums.

The file is ``samples/plaka.log`` of the npm package signalk-server 2.23.0 (Apache-2.0). It is fetched
from the package's registry once and kept in the system's folder for temporary files.
"""

from __future__ import annotations

import hashlib
import shutil
import subprocess
import tarfile
import tempfile
from pathlib import Path

import pytest

from daq.driver_api import Quality, Reading
from drivers.builtin_cards import builtin_cards
from drivers.nmea.decoder import NmeaDecoder
from drivers.nmea.settings import parse_settings
from tests.outside.published import held_against

_PACKAGE = "signalk-server@2.23.0"
_MEMBER = "package/samples/plaka.log"
_SHA256 = "c79c2365ece431cb0bf0fa0f60c0a74c6472edfec49cd4baabadf7ac04eac8fe"
_SENTENCES = 116_000


def _fetch(folder: Path) -> Path:
    """Have npm put the package's archive there, and take the one file out of it."""
    npm = shutil.which("npm")
    if npm is None:
        pytest.skip("npm is not installed, so the sample sentences can't be fetched")
    command = [npm, "pack", _PACKAGE, "--silent", "--pack-destination", str(folder)]
    try:
        subprocess.run(command, check=True, capture_output=True, timeout=60, cwd=folder)
    except (subprocess.CalledProcessError, subprocess.TimeoutExpired) as error:
        pytest.skip(f"the npm registry is not reachable, so the sample sentences can't be fetched: {error}")
    (archive,) = folder.glob("*.tgz")
    with tarfile.open(archive) as packed:
        inner = packed.extractfile(_MEMBER)
        assert inner is not None
        (folder / "plaka.log").write_bytes(inner.read())
    return folder / "plaka.log"


@pytest.fixture(scope="module")
def real_sentences() -> bytes:
    """The whole file."""
    kept = Path(tempfile.gettempdir()) / "spinvolt-tests-plaka.log"
    if not kept.exists() or hashlib.sha256(kept.read_bytes()).hexdigest() != _SHA256:
        with tempfile.TemporaryDirectory() as folder:
            fetched = _fetch(Path(folder))
            part = kept.with_suffix(f".{Path(folder).name}")
            shutil.copyfile(fetched, part)
            part.replace(kept)
    data = kept.read_bytes()
    assert hashlib.sha256(data).hexdigest() == _SHA256
    return data


def _decode(data: bytes) -> list[Reading]:
    card = builtin_cards("nmea-engine")[0]
    return NmeaDecoder(card.channel, parse_settings(card)).feed(data, 0)


@held_against("W8", "D2")
def test_no_real_sentence_is_refused(real_sentences: bytes) -> None:
    assert len(real_sentences.splitlines()) == _SENTENCES
    assert [r for r in _decode(real_sentences + b"\r\n") if r.quality is Quality.BAD_FRAME] == []


@held_against("W8", "D2")
def test_each_of_them_is_refused_once_a_bit_has_flipped(real_sentences: bytes) -> None:
    lines = real_sentences.splitlines()[:10_000]
    hurt = [line[:9] + bytes([line[9] ^ 1]) + line[10:] for line in lines]
    readings = _decode(b"\r\n".join(hurt) + b"\r\n")
    assert len(readings) == len(lines)
    assert {r.quality for r in readings} == {Quality.BAD_FRAME}
