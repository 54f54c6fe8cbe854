"""A grid of dots in character cells: what trace and scatter are drawn on. No screen in it.

A braille cell holds two columns and four rows of dots. In the plain form a
cell is one dot and its mark says what it is. Each cell has one role, which
gives its colour; roles of a higher rank win, so that a measured dot is never
hidden by the limit line that it touches.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

__all__ = ["PLAIN_MARKS", "RANK", "Raster", "Row"]

RANK = {"": 0, "band": 1, "limit": 2, "fit": 3, "before": 4, "doubt": 5, "after": 6, "data": 7}
"""Roles of a cell, the higher the more it matters; no two are alike."""

PLAIN_MARKS = {"band": ":", "limit": "-", "fit": "/", "before": "o", "doubt": "x", "after": "*", "data": "*"}
"""What a cell is marked with where there is no braille."""

_ROLES = {rank: role for role, rank in RANK.items()}
_BRAILLE = tuple(chr(0x2800 + bits) for bits in range(256))
_BITS = ((0x01, 0x08), (0x02, 0x10), (0x04, 0x20), (0x40, 0x80))

Row = tuple[tuple[str, str], ...]
"""A row as runs of (text, role)."""


class Raster:
    """Dots in cells.

    Attributes:
        dots_x, dots_y: size in dots.
    """

    def __init__(self, columns: int, rows: int, *, plain: bool = False) -> None:
        self.columns = max(columns, 1)
        self.rows = max(rows, 1)
        self._plain = plain
        self._per_x, self._per_y = (1, 1) if plain else (2, 4)
        self.dots_x = self.columns * self._per_x
        self.dots_y = self.rows * self._per_y
        self._bits = [[0] * self.columns for _ in range(self.rows)]
        self._rank = [[0] * self.columns for _ in range(self.rows)]

    def dot(self, x: int, y: int, role: str) -> None:
        """Set one dot; x from the left, y from the top; outside the grid it is left out."""
        if not (0 <= x < self.dots_x and 0 <= y < self.dots_y):
            return
        column, row = x // self._per_x, y // self._per_y
        self._bits[row][column] |= 1 if self._plain else _BITS[y % 4][x % 2]
        if RANK[role] > self._rank[row][column]:
            self._rank[row][column] = RANK[role]

    def dots(self, places: Iterable[tuple[float, float]], role: str) -> None:
        """Set many dots at once, each at the nearest place; what is outside or not a number is left out.

        The loop of the drawing: a call for each dot would cost three times as much.
        """
        rank, plain = RANK[role], self._plain
        bits, ranks = self._bits, self._rank
        wide, high = float(self.dots_x), float(self.dots_y)
        for at_x, at_y in places:
            if not (-0.5 <= at_x < wide - 0.5 and -0.5 <= at_y < high - 0.5):
                continue
            x, y = int(at_x + 0.5), int(at_y + 0.5)
            if plain:
                row, column, bit = y, x, 1
            else:
                row, column, bit = y >> 2, x >> 1, _BITS[y & 3][x & 1]
            bits[row][column] |= bit
            if rank > ranks[row][column]:
                ranks[row][column] = rank

    def level(self, y: int, role: str, *, dash: tuple[int, int] = (1, 0)) -> None:
        """Draw a level line; ``dash`` is dots on, dots off."""
        on, off = dash
        for x in range(self.dots_x):
            if x % (on + off) < on:
                self.dot(x, y, role)

    def line(
        self, start: tuple[int, int], end: tuple[int, int], role: str, *, dash: tuple[int, int] = (1, 0)
    ) -> None:
        """Draw a straight line between two dots, both within ten grids of this one; ``dash``: on, off."""
        (x0, y0), (x1, y1) = start, end
        steps = max(abs(x1 - x0), abs(y1 - y0), 1)
        for step in range(steps + 1):
            x = x0 + math.floor((x1 - x0) * step / steps + 0.5)
            y = y0 + math.floor((y1 - y0) * step / steps + 0.5)
            if step % sum(dash) < dash[0]:
                self.dot(x, y, role)

    def path(
        self, points: Sequence[tuple[int, int] | None], role: str, *, dash: tuple[int, int] = (1, 0)
    ) -> None:
        """Join the points by straight lines; a None is a gap, which stays open."""
        previous: tuple[int, int] | None = None
        for point in points:
            if point is not None:
                self.line(previous or point, point, role, dash=dash)
            previous = point

    def row(self, index: int) -> Row:
        """One row of cells as runs of equal role."""
        ranks, bits = self._rank[index], self._bits[index]
        if not any(ranks):
            return ((" " * self.columns, ""),)
        runs: list[tuple[str, str]] = []
        start, current = 0, ranks[0]
        for at, rank in enumerate([*ranks, -1]):
            if rank != current:
                role = _ROLES[current]
                runs.append((self._marks(bits[start:at], role), role))
                start, current = at, rank
        return tuple(runs)

    def _marks(self, bits: list[int], role: str) -> str:
        if not role:
            return " " * len(bits)
        if self._plain:
            return PLAIN_MARKS[role] * len(bits)
        return "".join([_BRAILLE[one] for one in bits])
