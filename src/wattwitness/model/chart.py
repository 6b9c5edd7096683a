"""Descriptions of charts: what is drawn, in data units, without a drawing library. Shapes are (n,) unless said."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from wattwitness.model.arrays import FloatArray, frozen_floats


class Role(StrEnum):
    """What a mark stands for; the renderer chooses colour and stroke from it, never colour alone."""

    REFERENCE = "reference"
    EXPECTED = "expected"
    UNIT = "unit"
    OTHER = "other"
    DIFFERENCE = "difference"
    INTERVAL = "interval"
    LIMIT = "limit"
    FAULT = "fault"


class Shading(StrEnum):
    """How a stretch is filled, so that kinds of stretches differ without colour."""

    PLAIN = "plain"
    RISING = "rising"
    FALLING = "falling"
    DOTTED = "dotted"


class Scale(StrEnum):
    """How values lie along an axis."""

    LINEAR = "linear"
    LOGARITHMIC = "logarithmic"


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis:
    """An axis with its quantity and unit: ``power``, ``W``.

    ``ticks`` are (value, words) where the places to mark are known, as for durations or named cases; empty: chosen by
    the renderer.
    """

    quantity: str
    unit: str
    scale: Scale = Scale.LINEAR
    ticks: tuple[tuple[float, str], ...] = ()

    @property
    def label(self) -> str:
        """``power, W``; just the quantity where it has no unit."""
        return f"{self.quantity}, {self.unit}" if self.unit else self.quantity


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Line:
    """A line through (x, y); NaN breaks it. ``filled`` fills from zero to the line, as a strip."""

    name: str
    role: Role
    x: FloatArray
    y: FloatArray
    filled: bool = False

    def __post_init__(self) -> None:
        """Copy and freeze the arrays."""
        for name in ("x", "y"):
            object.__setattr__(self, name, frozen_floats(getattr(self, name)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Points:
    """Single points (x, y), each with an optional interval low to high (NaN: none).

    ``cloud``: many faint points that show the spread behind the others.
    """

    name: str
    role: Role
    x: FloatArray
    y: FloatArray
    low: FloatArray
    high: FloatArray
    cloud: bool = False

    def __post_init__(self) -> None:
        """Copy and freeze the arrays."""
        for name in ("x", "y", "low", "high"):
            object.__setattr__(self, name, frozen_floats(getattr(self, name)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """A straight line across a panel at ``y``, with the range ``low`` to ``high`` around it (equal: none)."""

    name: str
    role: Role
    y: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """A shaded stretch of the x axis."""

    name: str
    role: Role
    start: float
    end: float
    shading: Shading = Shading.PLAIN


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A stretch of the x axis that a list beside the chart leads to: ``title`` and ``says`` are its words."""

    title: str
    says: str
    role: Role
    shading: Shading
    start: float
    end: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Panel:
    """One set of axes; ``y_range`` fixes what is seen (``None``: what the data need)."""

    y_axis: Axis
    marks: tuple[Line | Points | Level | Span, ...]
    y_range: tuple[float, float] | None = None
    height_share: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Chart:
    """Panels over one shared x axis. ``alt`` is the text for who cannot see it; ``caption`` one plain sentence.

    ``time_axis``: x is seconds, drawn as h:mm:ss and zoomed together. ``sideways``: x is drawn downward and y along,
    which suits named cases. ``x_range`` fixes what is seen of the x axis (``None``: what the data need). ``places`` are
    listed beside it under ``places_title``. A chart without data has no panels and ``empty`` says why.
    """

    name: str
    title: str
    caption: str
    alt: str
    x_axis: Axis
    panels: tuple[Panel, ...]
    time_axis: bool = False
    sideways: bool = False
    empty: str = ""
    x_range: tuple[float, float] | None = None
    places: tuple[Place, ...] = ()
    places_title: str = ""
