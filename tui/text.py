"""Strings made fit for a screen; the report on paper needs the same, so the core has it."""

from __future__ import annotations

from daq.model.text import clean

__all__ = ["clean"]
