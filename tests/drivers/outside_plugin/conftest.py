"""The package's own test module is run from a copy, with the package installed, as its author would."""

from __future__ import annotations

collect_ignore = ["package"]
