"""The page as text: nothing breaks out of it, nothing is asked of outside, its policy is its own."""

from __future__ import annotations

import base64
import hashlib
import json
import re
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as st_numpy

from tests.factories import COMPARISONS, SERIAL, comparison, pair
from wattwitness.charts import bias_by_block, panels
from wattwitness.charts.registry import CHARTS
from wattwitness.model.errors import OutputExists, OutputNotWritable
from wattwitness.render import html as html_module
from wattwitness.render.html import page, write_html
from wattwitness.render.page_data import charts_data, coded, is_zoomable
from wattwitness.render.svg import PAPERS, chart_svg
from wattwitness.sections.publication import of_comparison

VOID = {"meta", "link", "br"}


class Outline(HTMLParser):
    """Elements, attributes and the text of scripts and styles, as a browser would see them."""

    def __init__(self) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.inside: dict[str, list[str]] = {"script": [], "style": []}
        self.open: list[str] = []
        self.misnested: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)
        if tag in self.inside:
            self.inside[tag].append("")

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        if not self.open or self.open.pop() != tag:
            self.misnested.append(tag)

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] in self.inside:
            self.inside[self.open[-1]][-1] += data


def outline(text: str) -> Outline:
    found = Outline()
    found.feed(text)
    found.close()
    return found


@pytest.mark.parametrize("name", list(COMPARISONS))
class TestEveryPage:
    def test_is_well_nested_with_unique_ids(self, name: str) -> None:
        found = outline(page(of_comparison(COMPARISONS[name]())))
        assert found.misnested == []
        assert found.open == []
        ids = [attributes["id"] for _, attributes in found.elements if "id" in attributes]
        assert len(ids) == len(set(ids))

    def test_refers_to_nothing_outside(self, name: str) -> None:
        for tag, attributes in outline(page(of_comparison(COMPARISONS[name]()))).elements:
            for key, value in attributes.items():
                assert not key.startswith("on"), (tag, key)
                assert key != "style", tag
                if key in ("src", "href"):
                    assert value is not None
                    assert value.startswith(("#", "data:")), value

    def test_runs_only_what_its_policy_names(self, name: str) -> None:
        found = outline(page(of_comparison(COMPARISONS[name]())))
        policy = next(
            attributes["content"] or ""
            for tag, attributes in found.elements
            if tag == "meta" and attributes.get("http-equiv") == "Content-Security-Policy"
        )
        assert policy.startswith("default-src 'none'")
        assert "unsafe" not in policy
        run = [text for text in found.inside["script"] if not text.startswith("[")]
        assert len(run) == len(found.inside["script"]) - 1
        for text in (*run, *found.inside["style"]):
            digest = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
            assert f"'sha256-{digest}'" in policy

    def test_carries_data_that_cannot_break_out(self, name: str) -> None:
        text = page(of_comparison(COMPARISONS[name]()))
        block = re.search(r'<script type="application/json" id="ride-data">(.*?)</script>', text, re.DOTALL)
        assert block is not None
        assert "<" not in block.group(1)
        assert "\u2028" not in block.group(1)
        assert isinstance(json.loads(block.group(1)), list)

    def test_keeps_serial_numbers_to_itself(self, name: str) -> None:
        assert SERIAL not in page(of_comparison(COMPARISONS[name]()))


def test_the_page_names_what_others_wrote() -> None:
    text = page(of_comparison(comparison()))
    if not (html_module.ASSETS / "vendor" / "LICENSE").is_file():
        pytest.skip("the chart library is not built in: run make assets")
    assert "MIT License" in text
    assert "Permission is hereby granted" in text


def test_without_the_chart_library_the_page_stays_whole(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    for name in ("page.js", "page.css"):
        (tmp_path / name).write_text((html_module.ASSETS / name).read_text("utf-8"), "utf-8")
    monkeypatch.setattr(html_module, "ASSETS", tmp_path)
    text = page(of_comparison(comparison()))
    assert "uPlot=" not in text
    assert "Permission is hereby granted" not in text
    assert '<svg class="chart wide"' in text


def test_the_same_comparison_gives_the_same_bytes() -> None:
    assert page(of_comparison(comparison())) == page(of_comparison(comparison()))


def test_twelve_hours_stay_small() -> None:
    assert len(page(of_comparison(comparison(pair(seconds=12 * 3600))))) < 4_000_000


def decode(values: list[Any]) -> list[float]:
    """What the page's script does, in Python."""
    found: list[float] = []
    last = 0
    for item in values:
        if isinstance(item, list):
            found += [float("nan")] * item[0]
        else:
            last += item
            found.append(last / 10)
    return found


@given(st_numpy.arrays(np.float64, st.integers(0, 60), elements=st.one_of(st.floats(-1e6, 1e6), st.just(float("nan")))))
def test_coded_series_come_back_to_a_twentieth(values: np.ndarray[Any, np.dtype[np.float64]]) -> None:
    back = np.array(decode(coded(values)), dtype=float)
    assert back.shape == values.shape
    assert np.array_equal(np.isnan(back), np.isnan(values))
    assert np.all(np.abs(back - values)[~np.isnan(values)] <= 0.0501)


def test_runs_of_missing_values_are_short() -> None:
    assert coded(np.array([1.0, np.nan, np.nan, 1.5, np.nan])) == [10, [2], 5, [1]]


def test_only_lines_on_one_even_grid_are_zoomed_by_the_script() -> None:
    assert is_zoomable(panels.build(pair()))
    assert not is_zoomable(bias_by_block.build(pair()))
    assert not is_zoomable(panels.build(COMPARISONS["ambiguous"]().pairs[0]))


def test_data_hold_no_sign_that_ends_a_script() -> None:
    assert "<" not in charts_data([panels.build(COMPARISONS["hostile_names"]().pairs[0])])


@pytest.mark.parametrize("paper", PAPERS, ids=lambda paper: paper.css_class)
def test_drawings_hold_no_wild_coordinate(paper: Any) -> None:
    for make in COMPARISONS.values():
        for chart in (spec.build(make().pairs[0]) for spec in CHARTS):
            if chart.panels:
                drawing = chart_svg(chart, paper)
                assert "nan" not in drawing
                assert "inf" not in re.sub(r"<text.*?</text>", "", drawing)


def test_a_page_is_written_whole_or_not_at_all(tmp_path: Path) -> None:
    path = tmp_path / "report.html"
    write_html(of_comparison(comparison()), path)
    before = path.read_bytes()
    assert before.startswith(b"<!doctype html>")
    with pytest.raises(OutputExists):
        write_html(of_comparison(comparison()), path, replace=False)
    with pytest.raises(OutputNotWritable):
        write_html(of_comparison(comparison()), tmp_path / "missing" / "report.html")
    with pytest.raises(OutputNotWritable):
        write_html(of_comparison(comparison()), tmp_path)
    assert path.read_bytes() == before
    assert [item.name for item in tmp_path.iterdir()] == ["report.html"]


def test_a_failed_write_leaves_the_old_page(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "report.html"
    path.write_text("old")

    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", full)
    with pytest.raises(OutputNotWritable, match="No space left on device"):
        write_html(of_comparison(comparison()), path)
    assert path.read_text() == "old"
    assert [item.name for item in tmp_path.iterdir()] == ["report.html"]
