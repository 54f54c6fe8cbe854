"""Puts a changed module's source in the place of the running one, for ``mutation_check.py``.

Everybody else has taken functions and classes of the module by name, so new ones would reach nobody. Instead
the running functions are given the code of the changed ones, and plain values are exchanged wherever they
have been taken.
"""

from __future__ import annotations

import sys
import types
from collections.abc import Iterator
from functools import cached_property
from typing import Any

__all__ = ["put_in_place"]


def put_in_place(module: str, source: str) -> None:
    """Change a module that is in use; raises whatever the changed source raises when it is imported.

    Args:
        module: its path within the repository.
        source: the whole changed source.
    """
    name = module.removesuffix(".py").replace("/", ".")
    running = sys.modules[name]
    changed = types.ModuleType(name)
    exec(compile(source, running.__file__ or module, "exec"), changed.__dict__)
    for key, value in vars(changed).items():
        if key.startswith("__") or key not in vars(running):
            continue
        before = vars(running)[key]
        if isinstance(value, type):
            if value.__module__ == name:
                _class(before, value)
        elif isinstance(value, types.FunctionType):
            _functions(before, value)
        elif not isinstance(value, types.ModuleType) and _differ(before, value):
            _everywhere(key, before, value)


def _class(running: type, changed: type) -> None:
    for key, value in vars(changed).items():
        if key in {"__dict__", "__weakref__", "__doc__", "__module__"}:
            continue
        before = vars(running).get(key)
        if any(True for _ in _parts(value)):
            _functions(before, value)
        elif (
            not key.startswith("__")
            and not isinstance(value, types.MemberDescriptorType)
            and _differ(before, value)
        ):
            setattr(running, key, value)


def _functions(running: Any, changed: Any) -> None:
    for old, new in zip(_parts(running), _parts(changed), strict=True):
        old.__code__ = new.__code__
        old.__defaults__ = new.__defaults__
        old.__kwdefaults__ = new.__kwdefaults__


def _parts(value: Any) -> Iterator[types.FunctionType]:
    """The plain functions within a method, property or wrapped function."""
    if isinstance(value, types.FunctionType):
        yield getattr(value, "__wrapped__", value)
    elif isinstance(value, (classmethod, staticmethod)):
        yield from _parts(value.__func__)
    elif isinstance(value, property):
        yield from _parts(value.fget)
    elif isinstance(value, cached_property):
        yield from _parts(value.func)


def _differ(before: Any, value: Any) -> bool:
    try:
        return bool(before != value)
    except ValueError:  # arrays
        return True


def _everywhere(key: str, before: Any, value: Any) -> None:
    for each in list(sys.modules.values()):
        if each.__name__.split(".")[0] in {"daq", "tui", "tests"} and vars(each).get(key) is before:
            setattr(each, key, value)
