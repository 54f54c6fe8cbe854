"""A driver from a package of its own: installed, found by its entry point, and held to the shared checks."""

from __future__ import annotations

import importlib
import json
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from random import Random
from typing import Any

import pytest

from daq.driver_api import Driver, Quality
from daq.registry import load_registry
from tests.drivers.conformance import CHECKS
from tests.drivers.decoder_kit import (
    Sample,
    check_cut_everywhere,
    check_junk,
    check_one_stream,
    check_resync,
    mutated_stream,
)
from tests.drivers.peers import Behaviour, PtyPeer

SOURCE = Path(__file__).parent / "package"
ROOT = Path(__file__).parents[3]
BEHAVIOUR = Behaviour(unasked=lambda n: b"%04X;" % (3600 + n % 100))


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """The package, installed by pip into a folder of its own that is on the module path."""
    folder = tmp_path_factory.mktemp("outside")
    source = folder / "source"  # pip builds in place, and the work tree must stay clean
    shutil.copytree(SOURCE, source)
    target = folder / "site"
    command = [sys.executable, "-m", "pip", "install", "--quiet", "--no-deps", "--no-index"]
    command += ["--no-build-isolation", "--disable-pip-version-check", "--target", str(target), str(source)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=100)
    assert done.returncode == 0, done.stderr
    sys.path.append(str(target))
    importlib.invalidate_caches()
    try:
        yield target
    finally:
        sys.path.remove(str(target))
        sys.modules.pop("nursery_probe", None)
        importlib.invalidate_caches()


@pytest.fixture
def probe(installed: Path) -> Driver:
    registry = load_registry()
    assert registry.broken == ()
    return registry.driver("nursery-probe")


def test_its_own_test_module_runs_every_check_as_developers_md_says(installed: Path) -> None:
    own = installed.parent / "source" / "test_nursery_probe.py"
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "-c", "pyproject.toml", "--rootdir", ".", "-v", str(own)],
        cwd=ROOT,
        env=os.environ | {"PYTHONPATH": str(installed), "PYTEST_ADDOPTS": "-p no:xdist -p no:cacheprovider"},
        capture_output=True,
        text=True,
        timeout=120,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    passed = re.findall(r"test_conformance\[(\w+)-(\w+)\] PASSED", done.stdout)
    assert sorted(passed) == sorted(
        (check.__name__, line) for check in CHECKS for line in ("PtyPeer", "TcpPeer")
    )


def test_its_decoder_stands_what_ours_must(probe: Driver) -> None:
    decoder = sys.modules["nursery_probe"].ProbeDecoder
    sample = Sample(
        "nursery-probe",
        decoder,
        [b"0E10;", b"0DFC;", b"0000;"],
        [[(0, 3600.0, Quality.GOOD)], [(0, 3580.0, Quality.GOOD)], [(0, 0.0, Quality.GOOD)]],
        junk=b"\x00\xffjunk;",
    )
    check_cut_everywhere(sample)
    check_junk(sample)
    check_resync(sample)
    for seed in range(20):
        check_one_stream(sample, mutated_stream(sample, Random(seed), 20))


def test_the_command_line_lists_its_card(installed: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "tui", "cards"],
        env=os.environ | {"PYTHONPATH": str(installed)},
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert done.returncode == 0, done.stderr
    assert "nursery-probe" in done.stdout


def test_ports_tells_what_it_finds_and_listens_with_its_card(installed: Path, tmp_path: Path) -> None:
    """Beside a plugin that prints where the answers go, which must do no harm."""
    loud = tmp_path / "loud_probe-1.dist-info"
    loud.mkdir()
    (loud / "METADATA").write_text("Metadata-Version: 2.1\nName: loud-probe\nVersion: 1\n")
    (loud / "entry_points.txt").write_text("[spinvolt.drivers]\nloud-probe = loud_probe:DRIVER\n")
    (tmp_path / "loud_probe.py").write_text("print('hello from a plugin', flush=True)\nDRIVER = None\n")
    environment = os.environ | {"PYTHONPATH": f"{installed}{os.pathsep}{tmp_path}"}

    def ports(*arguments: str) -> dict[str, Any]:
        command = [sys.executable, "-m", "tui", "ports", "--json", *arguments]
        done = subprocess.run(command, env=environment, capture_output=True, text=True, timeout=60)
        assert done.returncode == 0, done.stderr
        return json.loads(done.stdout)  # type: ignore[no-any-return]  # an object, as the first test of it says

    found = ports("--seconds", "0")
    assert ("Nursery probe", ["nursery-probe"]) in [(one["name"], one["cards"]) for one in found["ports"]]
    assert (
        "Driver loud-probe can't be loaded: it names something of type NoneType, which is no Driver."
        in found["remarks"]
    )
    with PtyPeer(BEHAVIOUR) as peer:
        for seconds in ("0.5", "3"):  # a busy machine may keep it from speaking for all of the shorter time
            if heard := ports("--listen", peer.address, "--seconds", seconds)["listened"][0]["heard"]:
                break
    assert (heard[0]["card"], heard[0]["asked"], heard[0]["share"]) == ("nursery-probe", False, 1.0)


def test_a_broken_plugin_is_listed_and_hurts_nobody(installed: Path, tmp_path: Path) -> None:
    broken = tmp_path / "broken_probe-1.dist-info"
    broken.mkdir()
    (broken / "METADATA").write_text("Metadata-Version: 2.1\nName: broken-probe\nVersion: 1\n")
    (broken / "entry_points.txt").write_text("[spinvolt.drivers]\nbroken-probe = no_such_module:DRIVER\n")
    sys.path.append(str(tmp_path))
    try:
        registry = load_registry()
    finally:
        sys.path.remove(str(tmp_path))
    assert [b.name for b in registry.broken] == ["broken-probe"]
    assert "No module named 'no_such_module'" in registry.broken[0].reason
    assert {"nursery-probe", "text", "scpi"} <= set(registry.drivers)
