"""Figures for video and page: the sizes asked for, the same bytes each time, nothing of the user's settings."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import matplotlib as mpl
import pytest

from tests.factories import COMPARISONS, comparison, pair
from wattwitness.charts import difference_by_power, panels
from wattwitness.model.errors import OutputExists, OutputNotWritable
from wattwitness.model.publication import Publication
from wattwitness.model.section import Section
from wattwitness.render import figures
from wattwitness.render.figures import write_figures
from wattwitness.sections.publication import of_comparison


def two_charts() -> Publication:
    """Drawing all charts takes seconds: two of them, one with many points, show the same."""
    short = pair(seconds=900)
    section = Section(name="two", title="Two", blocks=(panels.build(short), difference_by_power.build(short)))
    return replace(of_comparison(comparison(short)), sections=(section,))


@pytest.fixture
def column_only(monkeypatch: pytest.MonkeyPatch) -> None:
    """The small edition alone, where its size is not the point."""
    monkeypatch.setattr(figures, "EDITIONS", (figures.COLUMN,))


def size_of(png: Path) -> tuple[int, int]:
    head = png.read_bytes()[:24]
    return int.from_bytes(head[16:20], "big"), int.from_bytes(head[20:24], "big")


def test_each_chart_is_written_in_every_edition(tmp_path: Path) -> None:
    written = write_figures(two_charts(), tmp_path / "new" / "figures")
    assert sorted(path.name for path in written) == sorted(
        path.name for path in (tmp_path / "new" / "figures").iterdir()
    )
    assert {path.name for path in written} == {
        f"{name}{ending}"
        for name in ("panels", "difference_by_power")
        for ending in ("-16x9.svg", "-1920x1080.png", "-3840x2160.png", "-column.svg", "-column.pdf", "-column.png")
    }
    for path in written:
        if "1920" in path.name:
            assert size_of(path) == (1920, 1080)
        elif "3840" in path.name:
            assert size_of(path) == (3840, 2160)
        elif path.name.endswith("column.png"):
            assert abs(size_of(path)[0] - 85 / 25.4 * 400) <= 1


def test_the_same_results_give_the_same_bytes_whatever_the_settings(tmp_path: Path) -> None:
    first = write_figures(two_charts(), tmp_path / "a")
    with mpl.rc_context({"font.size": 40, "axes.facecolor": "red", "svg.hashsalt": "other", "text.parse_math": True}):
        second = write_figures(two_charts(), tmp_path / "b")
        assert mpl.rcParams["font.size"] == 40, "the user's settings come back"
    assert [path.read_bytes() for path in first] == [path.read_bytes() for path in second]


@pytest.mark.usefixtures("column_only")
def test_vector_figures_refer_to_nothing_and_carry_words(tmp_path: Path) -> None:
    for path in write_figures(two_charts(), tmp_path):
        if path.suffix == ".svg":
            text = path.read_text("utf-8")
            assert "<script" not in text
            assert not re.findall(r'(?:href|src)="(?!#)', text)
            assert "reads 4.3" in text or "3.4" in text
            assert "<dc:date>" not in text


@pytest.mark.usefixtures("column_only")
def test_figures_of_others_are_left_alone(tmp_path: Path) -> None:
    theirs = tmp_path / "panels-column.png"
    theirs.write_bytes(b"theirs")
    with pytest.raises(OutputExists):
        write_figures(two_charts(), tmp_path, replace=False)
    assert theirs.read_bytes() == b"theirs"
    assert list(tmp_path.iterdir()) == [theirs]
    write_figures(two_charts(), tmp_path, replace=True)
    assert theirs.read_bytes().startswith(b"\x89PNG")


def test_a_folder_that_cannot_be_made_is_said(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    with pytest.raises(OutputNotWritable):
        write_figures(two_charts(), tmp_path / "file" / "figures")


def test_charts_without_data_give_no_figure() -> None:
    assert of_comparison(COMPARISONS["same_source"]()).charts == ()
    names = {chart.name for chart in of_comparison(COMPARISONS["reference_without_power"]()).charts}
    assert names == {"panels", "clock_windows"}


@pytest.mark.parametrize("name", ["huge_values", "hostile_names", "three_minutes", "with_jumps"])
@pytest.mark.usefixtures("column_only")
def test_every_chart_can_be_drawn(name: str, tmp_path: Path) -> None:
    made = of_comparison(COMPARISONS[name]())
    assert len(write_figures(made, tmp_path)) == 3 * len(made.charts)
