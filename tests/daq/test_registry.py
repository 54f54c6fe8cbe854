"""Which drivers are found, and what is said of plugins that can't be used: real entry points, real modules."""

from __future__ import annotations

from importlib.metadata import EntryPoint
from pathlib import Path

import pytest

from daq.driver_api import DRIVER_API_VERSION
from daq.errors import DriverError
from daq.registry import GROUP, load_registry

_MODULE = f"""
from daq.driver_api import Driver


class Plugin(Driver):
    def __init__(self, name, version=1):
        self.name = name
        self.api_version = version

    def check(self, card):
        pass

    def connect(self, card, address, clock):
        raise OSError("not here")


good = Plugin("pulley")
again = Plugin("pulley")
other_name = Plugin("belt")
newer = Plugin("newer", {DRIVER_API_VERSION + 1})
no_driver = 42
"""


@pytest.fixture
def plugins(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    """Name of a module with plugins, good and bad, where Python finds it."""
    (tmp_path / "nursery_plugins.py").write_text(_MODULE)
    (tmp_path / "nursery_breaks.py").write_text(
        "raise RuntimeError('the library of the sensor is missing')\n"
    )
    monkeypatch.syspath_prepend(str(tmp_path))
    return "nursery_plugins"


def _point(name: str, value: str) -> EntryPoint:
    return EntryPoint(name, value, GROUP)


def test_a_good_plugin_is_found_by_its_protocol(plugins: str) -> None:
    registry = load_registry([_point("pulley", f"{plugins}:good")])
    assert registry.driver("pulley").name == "pulley"
    assert registry.broken == ()


@pytest.mark.parametrize(
    ("name", "value", "reason"),
    [
        ("pulley", "nursery_breaks:driver", "RuntimeError: the library of the sensor is missing"),
        ("pulley", "nursery_is_not_there:driver", "ModuleNotFoundError"),
        ("pulley", "nursery_plugins:not_there", "AttributeError"),
        ("number", "nursery_plugins:no_driver", "it names something of type int, which is no Driver"),
        (
            "newer",
            "nursery_plugins:newer",
            f"it was written for driver contract {DRIVER_API_VERSION + 1}, this spinvolt has {DRIVER_API_VERSION}",
        ),
        ("pulley", "nursery_plugins:other_name", "it calls itself 'belt' but its entry point says 'pulley'"),
    ],
)
def test_a_plugin_that_cannot_be_used_is_listed_with_its_reason(
    plugins: str, name: str, value: str, reason: str
) -> None:
    registry = load_registry([_point(name, value), _point("sound", f"{plugins}:good")])
    broken = registry.broken[0]
    assert (broken.name, broken.origin) == (name, value)
    assert reason in broken.reason
    with pytest.raises(DriverError, match=f"The driver for protocol '{name}' can't be loaded: ") as caught:
        registry.driver(name)
    assert reason in str(caught.value)


def test_of_two_plugins_for_one_protocol_the_first_speaks_it(plugins: str) -> None:
    registry = load_registry([_point("pulley", f"{plugins}:good"), _point("pulley", f"{plugins}:again")])
    assert registry.driver("pulley") is __import__(plugins).good
    assert [each.reason for each in registry.broken] == [
        "protocol 'pulley' is already spoken by another plugin"
    ]


def test_a_protocol_without_a_plugin_is_told_with_those_there_are(plugins: str) -> None:
    registry = load_registry([_point("pulley", f"{plugins}:good"), _point("bad", f"{plugins}:no_driver")])
    with pytest.raises(DriverError, match="No driver is installed for protocol 'gears'; installed: pulley"):
        registry.driver("gears")
    with pytest.raises(DriverError, match="installed: none"):
        load_registry([]).driver("gears")


def test_the_drivers_that_come_with_the_program_all_load() -> None:
    registry = load_registry()
    assert {"counter", "keyboard", "scpi", "text"} <= set(registry.drivers)
    assert registry.broken == ()
