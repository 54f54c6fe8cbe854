"""Which setting is asked after next, and what becomes of the answer. Pure."""

from __future__ import annotations

from collections.abc import Callable

from daq.driver_api import Quantity
from drivers.scpi.meter_setting import MeterSetting
from drivers.scpi.settings import ScpiSettings

__all__ = ["SettingQueries"]

_MISSES = 2
"""A query that was left unanswered this often is not put again."""


class SettingQueries:
    """Puts the card's queries after function and range, one after the other, every so often.

    Attributes:
        setting: what has been learnt.
        pending: the query that is to be put now; empty when the round is over.
    """

    def __init__(self, quantity: Quantity, settings: ScpiSettings) -> None:
        self.setting = MeterSetting(quantity)
        self._every_ns = round(settings.check_every_s * 1e9)
        self._takers: dict[str, Callable[[bytes], bool]] = {}
        if settings.function_query:
            self._takers[settings.function_query] = self._function
        if settings.range_query:
            self._takers[settings.range_query] = self.setting.range_is
        if settings.auto_range_query:
            self._takers[settings.auto_range_query] = self.setting.auto_is
        self._misses = dict.fromkeys(self._takers, 0)
        self._round: list[str] = []
        self._next_ns = 0

    @property
    def pending(self) -> str:
        """The query to be put now; empty when the round is over."""
        return self._round[0] if self._round else ""

    def start_if_due(self, now_ns: int) -> bool:
        """Begin a round if it is time for one."""
        if not self._takers or now_ns < self._next_ns:
            return False
        self._next_ns = now_ns + self._every_ns
        self._round = list(self._takers)
        return True

    def answered(self, answer: bytes) -> None:
        """Take the answer to the pending query; one that makes no sense counts as none."""
        query = self._round.pop(0)
        if self._takers[query](answer):
            self._misses[query] = 0
        else:
            self._missed(query)
        if self.setting.wrong:
            self._round.clear()  # the range of what it should measure says nothing now

    def missed(self) -> None:
        """The pending query got no answer; the rest of the round waits for the next one."""
        if self._round:
            self._missed(self._round[0])
            self._round.clear()

    def give_up(self, query: str) -> None:
        """Do not put a query again."""
        if self._takers.pop(query, None) is not None:
            self.setting.remarks.append(
                f"The instrument does not answer {query}: that setting can't be checked here, so check it by eye."
            )

    def _missed(self, query: str) -> None:
        self._misses[query] += 1
        if self._misses[query] >= _MISSES:
            self.give_up(query)

    def _function(self, answer: bytes) -> bool:
        self.setting.function_is(answer)
        return True
