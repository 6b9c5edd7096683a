"""Readings noted by hand are counted as readings, not as seconds ridden."""

from __future__ import annotations

from dataclasses import replace

from tests.factories import comparison, pair, plain
from wattwitness.model.section import Paragraph
from wattwitness.sections import answer


def test_readings_are_not_called_seconds() -> None:
    seconds = pair()
    readings = replace(seconds, unit=replace(seconds.unit, spot=True), common_seconds=111)
    section = answer.build(comparison(readings))
    assert section is not None
    words = plain(" ".join(block.text for block in section.blocks if isinstance(block, Paragraph)))
    assert "compared at 111 noted readings" in words
    assert "1 min 51 s" not in words
