"""Every chart as SVG and PNG: at 16:9 with letters that a video can show, and at the width of a page's column.

The same results give the same bytes: no date, no random names, the font that comes with the library. Figures are drawn
for light paper.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from wattwitness.model.chart import Chart
from wattwitness.model.comparison import Comparison
from wattwitness.model.errors import OutputExists
from wattwitness.render.figure_drawing import Sheet, draw
from wattwitness.render.saving import make_folder, save
from wattwitness.sections.registry import sections_of
from wattwitness.words.names import pair_names, sentence_start
from wattwitness.words.numbers import percent_level

if TYPE_CHECKING:
    from matplotlib.figure import Figure

MM_PER_INCH = 25.4
PNG_EFFORT = 4  # of 9: files a few percent larger in a third of the time


@dataclass(frozen=True, slots=True, kw_only=True)
class Edition:
    """A size that figures are drawn at, and the files it is written as: pixels per inch of each PNG by its suffix."""

    suffix: str
    sheet: Sheet
    pngs: tuple[tuple[str, float], ...]


VIDEO = Edition(
    suffix="-16x9",
    sheet=Sheet(width_in=12.8, height_in=7.2, letter_pt=17, line_pt=2.2),
    pngs=(("-1920x1080", 150.0), ("-3840x2160", 300.0)),
)
COLUMN = Edition(
    suffix="-column",
    sheet=Sheet(width_in=85 / MM_PER_INCH, height_in=None, letter_pt=7, line_pt=0.9),
    pngs=(("", 300.0),),
)
EDITIONS = (VIDEO, COLUMN)
STYLE = {
    "font.family": "DejaVu Sans",
    "svg.hashsalt": "wattwitness",
    "svg.fonttype": "path",
    "path.simplify": True,
    "path.simplify_threshold": 0.3,
    "agg.path.chunksize": 20000,
    "axes.unicode_minus": True,
    "text.parse_math": False,
    "text.usetex": False,
}


def write_figures(comparison: Comparison, folder: Path, *, replace: bool = True) -> tuple[Path, ...]:
    """Draw every chart that has data into ``folder``, which is made if it is missing; return what was written.

    Raises OutputExists, before anything is drawn, where a file of one of the names is there and ``replace`` is not
    given; OutputNotWritable.
    """
    charts = charts_of(comparison)
    make_folder(folder)
    if not replace:
        for path in (path for chart in charts for path in _paths(chart, folder)):
            if path.exists():
                raise OutputExists(
                    "There is a figure of that name already.",
                    where=str(path),
                    hint="Name another folder, or ask for the figures to be replaced.",
                )
    written: list[Path] = []
    with _style():
        for chart in charts:
            for edition in EDITIONS:
                written += _write(chart, edition, folder, _about(comparison))
    return tuple(written)


def charts_of(comparison: Comparison) -> tuple[Chart, ...]:
    """Every chart of the report that has something to draw, each once."""
    charts = {
        block.name: block
        for section in sections_of(comparison)
        for block in section.blocks
        if isinstance(block, Chart) and block.panels
    }
    return tuple(charts.values())


def chart_files(chart: Chart, edition: Edition, about: str) -> dict[str, bytes]:
    """One chart in one edition, as content by the ending of its file's name: ``.svg``, ``-1920x1080.png``."""
    with _style():
        figure = draw(chart, edition.sheet, about=about)
        files = {f"{edition.suffix}.svg": _bytes(figure, "svg", 72.0, chart)}
        for suffix, dots in edition.pngs:
            files[f"{suffix or edition.suffix}.png"] = _bytes(figure, "png", dots, chart)
    return files


def _about(comparison: Comparison) -> str:
    """What a figure that stands alone is of."""
    level = percent_level(comparison.settings.level)
    reference, unit = pair_names(comparison.pairs[0])
    subject = unit if len(comparison.pairs) == 1 else f"{len(comparison.pairs)} units"
    return sentence_start(f"{subject} against {reference}; intervals {level}")


def _paths(chart: Chart, folder: Path) -> Iterator[Path]:
    for edition in EDITIONS:
        yield folder / f"{chart.name}{edition.suffix}.svg"
        for suffix, _ in edition.pngs:
            yield folder / f"{chart.name}{edition.suffix if not suffix else ''}{suffix}.png"


def _write(chart: Chart, edition: Edition, folder: Path, about: str) -> list[Path]:
    figure = draw(chart, edition.sheet, about=about)
    svg, *pngs = (path for path in _paths(chart, folder) if _belongs(path, chart, edition))
    save(_bytes(figure, "svg", 72.0, chart), svg, replace=True)
    for path, (_, dots) in zip(pngs, edition.pngs, strict=True):
        save(_bytes(figure, "png", dots, chart), path, replace=True)
    return [svg, *pngs]


def _belongs(path: Path, chart: Chart, edition: Edition) -> bool:
    endings = [edition.suffix, *(suffix for suffix, _ in edition.pngs if suffix)]
    return any(path.stem == chart.name + ending for ending in endings)


def _bytes(figure: Figure, kind: str, dots: float, chart: Chart) -> bytes:
    """One file's bytes, without a date, with the chart's words for who cannot see it."""
    buffer = io.BytesIO()
    words = {"Title": chart.title, "Description": chart.alt}
    if kind == "svg":
        figure.savefig(buffer, format="svg", metadata={"Date": None, "Creator": "wattwitness", **words})
    else:
        effort = {"compress_level": PNG_EFFORT}
        words["Software"] = "wattwitness"
        figure.savefig(buffer, format="png", dpi=dots, metadata=words, pil_kwargs=effort)
    return buffer.getvalue()


@contextmanager
def _style() -> Iterator[None]:
    """The drawing library's settings while we draw, whatever the user's own are; restored after."""
    import matplotlib as mpl

    with mpl.rc_context():
        mpl.rcdefaults()
        for name, value in STYLE.items():
            mpl.rcParams[name] = value  # type: ignore[index]
        yield
