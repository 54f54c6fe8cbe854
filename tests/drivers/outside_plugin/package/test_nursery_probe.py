"""The checks that spinvolt asks of every driver, run for this one: copy the file and change the four names on top.

Run it in a checkout of spinvolt, with the package installed beside it::

    python -m pytest -c pyproject.toml --rootdir . PATH/TO/test_nursery_probe.py
"""

from __future__ import annotations

import pytest
from nursery_probe import DRIVER  # type: ignore[import-not-found]  # known where it is installed

from tests.drivers.conformance import CHECKS, Check, PeerMaker
from tests.drivers.peers import Behaviour, PtyPeer, TcpPeer

CARD = DRIVER.cards()[0]
BEHAVIOUR = Behaviour(
    unasked=lambda n: b"%04X;" % (3600 + n),  # the n-th message; it counts up, so that a lost one shows
    step=1.0,  # by so much in what channel 0 reads
    spoil=lambda message: message[:2] + b"?" + message[3:],  # whole in form, and yet no reading
)
LINES = [PtyPeer, TcpPeer]


@pytest.mark.parametrize("line", LINES)
@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.__name__)
async def test_conformance(check: Check, line: PeerMaker) -> None:
    await check(DRIVER, CARD, BEHAVIOUR, line)
