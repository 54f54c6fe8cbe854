"""The pictures of README and the docs are those that the program draws today."""

from __future__ import annotations

import time
from collections.abc import Iterator

import pytest

from tui.pictures.__main__ import PICTURES, RECORDINGS, Picture, draw, draw_screen
from tui.pictures.screens import SCREENS, ScreenPicture

STALE = "looks different today: `python -m tui.pictures` makes it anew; look at it"


@pytest.fixture(autouse=True)
def _in_one_zone(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """The pictures show local times."""
    with monkeypatch.context() as patch:
        patch.setenv("TZ", "UTC")
        time.tzset()
        yield
    time.tzset()


@pytest.mark.parametrize("picture", PICTURES, ids=lambda each: each.name)
def test_a_picture_of_a_run_is_not_stale(picture: Picture) -> None:
    kept = (RECORDINGS / "pictures" / f"{picture.name}.svg").read_text("utf-8")
    assert draw(picture, RECORDINGS / picture.recording) == kept, f"{picture.name} {STALE}"


@pytest.mark.parametrize("picture", SCREENS, ids=lambda each: each.name)
def test_a_picture_of_a_screen_is_not_stale(picture: ScreenPicture) -> None:
    kept = (RECORDINGS / "pictures" / f"{picture.name}.svg").read_text("utf-8")
    assert draw_screen(picture) == kept, f"{picture.name} {STALE}"
