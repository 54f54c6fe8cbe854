"""Cautions of the job sheet that rest on a standard (C3, C4): in the sheet, and with every step that needs them."""

from __future__ import annotations

import pytest

from daq.job.sheet.steps import Sheet, load_sheet
from tests.outside.published import held_against

HAZARDOUS_V_RMS = 30.0
"""C4: IEC 61010-1:2010, 6.3: hazardous in normal condition above 30 V rms (MEMORY)."""


@pytest.fixture(scope="module")
def sheet() -> Sheet:
    return load_sheet()


@held_against("C3")
def test_the_laser_is_told_wherever_the_speed_is_measured(sheet: Sheet) -> None:
    said = sheet.caution["laser"]
    assert "class 2 laser (IEC 60825-1)" in said
    assert "never look into the beam" in said
    for name in ("charging", "ac_output"):
        step = sheet.step_named(name)
        assert step is not None
        assert said in sheet.cautions_of(step)


@held_against("C4")
def test_an_unplugged_stator_is_told_to_be_hazardous(sheet: Sheet) -> None:
    said = sheet.caution["stator_volts"]
    assert f"{HAZARDOUS_V_RMS:.0f} V AC rms, which IEC 61010-1 counts as hazardous (from memory)" in said
    step = sheet.step_named("ac_output")
    assert step is not None
    assert said in sheet.cautions_of(step)
