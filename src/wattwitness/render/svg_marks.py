"""Marks of a chart as SVG elements, told apart by form as well as by the class their colour hangs on."""

from __future__ import annotations

import math

import numpy as np

from wattwitness.model.arrays import FloatArray
from wattwitness.model.chart import Level, Line, Points, Role, Shading, Span
from wattwitness.render.layout import Map, thinned
from wattwitness.render.svg_elements import at, circle, path, rect

FORMS = {Role.UNIT: "circle", Role.EXPECTED: "diamond", Role.OTHER: "square", Role.FAULT: "triangle"}

HATCH_STEP = 7.0


def draw_mark(mark: Line | Points | Level | Span, across: Map, along: Map, columns: int, letter: float) -> str:
    """One mark, with x ``across`` and y ``along``; a line is thinned to ``columns``, points grow with ``letter``."""
    if isinstance(mark, Line):
        return _line(mark, across, along, columns)
    if isinstance(mark, Points):
        return _points(mark, across, along, letter)
    if isinstance(mark, Level):
        return _level(mark, across, along)
    start, end = across(mark.start), across(mark.end)
    left, right = max(min(start, end), across.start), min(max(start, end), across.end)
    return draw_stretch(mark.role, mark.shading, left, along.end, max(right - left, 1.5), along.start - along.end)


def draw_stretch(role: Role, shading: Shading, x: float, y: float, width: float, height: float) -> str:
    """A shaded rectangle whose filling, drawn line by line, tells its kind as well as its colour does."""
    found = rect(f"band {role}", x, y, width, height)
    if shading is Shading.DOTTED:
        dots = [
            f"M{at(x + across)} {at(y + down)}h.1"
            for across in np.arange(HATCH_STEP / 2, width, HATCH_STEP)
            for down in np.arange(HATCH_STEP / 2, height, HATCH_STEP)
        ]
        found += path(f"dots {role}", "".join(dots)) if dots else ""
    elif shading is not Shading.PLAIN:
        found += path(f"hatch {role}", _slanted(x, y, width, height, rising=shading is Shading.RISING))
    return found + path(f"edge {role}", f"M{at(x)} {at(y)}v{at(height)}M{at(x + width)} {at(y)}v{at(height)}")


def _slanted(x: float, y: float, width: float, height: float, *, rising: bool) -> str:
    """Lines at 45 degrees across a rectangle, cut at its edges."""
    found = []
    for begin in np.arange(HATCH_STEP / 2 - height, width, HATCH_STEP):
        left, right = max(begin, 0.0), min(begin + height, width)
        if right <= left:
            continue
        top, bottom = left - begin, right - begin
        if rising:
            top, bottom = height - top, height - bottom
        found.append(f"M{at(x + left)} {at(y + top)}L{at(x + right)} {at(y + bottom)}")
    return "".join(found)


def draw_form(role: Role, x: float, y: float, size: float) -> str:
    """A marker whose form tells the role as well as its colour does."""
    form, css = FORMS.get(role, "dash"), f"mark {role}"
    if form == "circle":
        return circle(css, x, y, size)
    if form == "square":
        return rect(css, x - size, y - size, 2 * size, 2 * size)
    reach = at(size * 1.35)
    if form == "diamond":
        return path(css, f"M{at(x)} {at(y - size * 1.35)}l{reach} {reach}l-{reach} {reach}l-{reach} -{reach}Z")
    if form == "triangle":
        return path(css, f"M{at(x)} {at(y - size * 1.35)}l{reach} {at(size * 2.5)}h-{at(size * 2.7)}Z")
    return rect(css, x - size * 1.5, y - 1.5, 3 * size, 3)


def draw_bar_across(mark: Points, down: Map, along: Map, letter: float) -> str:
    """Points of a sideways chart: cases down, values along; an open end runs to the edge without a cap."""
    found = []
    for x, y, low, high in zip(mark.x, mark.y, mark.low, mark.high, strict=True):
        row = down(x) + letter * 0.45
        left = along(low) if math.isfinite(low) else along.start
        right = along(high) if math.isfinite(high) else along.end
        caps = "".join(
            f"M{at(end)} {at(row - 7)}v14" for end, value in ((left, low), (right, high)) if math.isfinite(value)
        )
        found.append(path(f"bar {mark.role}", f"M{at(left)} {at(row)}H{at(right)}{caps}"))
        found.append(draw_form(mark.role, along(y), row, letter * 0.42))
    return "".join(found)


def draw_level_across(mark: Level, along: Map, top: float, height: float) -> str:
    """A level of a sideways chart, from top to bottom."""
    band = ""
    if mark.high > mark.low:
        band = rect(f"band {mark.role}", along(mark.low), top, along(mark.high) - along(mark.low), height)
    return band + path(f"line level {mark.role}", f"M{at(along(mark.y))} {at(top)}v{at(height)}")


def _line(mark: Line, across: Map, along: Map, columns: int) -> str:
    x, y = thinned(mark.x, mark.y, columns)
    xs, ys = across.many(x), along.many(y)
    line = path(f"line {mark.role}", _outline(xs, ys))
    if not mark.filled:
        return line
    zero = along(min(max(0.0, along.low), along.high))
    return path(f"fill {mark.role}", _area(xs, ys, zero)) + line


def _stretches(xs: FloatArray, ys: FloatArray) -> list[tuple[FloatArray, FloatArray]]:
    """The unbroken stretches of a line."""
    drawn = np.isfinite(xs) & np.isfinite(ys)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], drawn, [False]]).astype(int)))
    return [(xs[start:end], ys[start:end]) for start, end in zip(edges[::2], edges[1::2], strict=True)]


def _joined(xs: FloatArray, ys: FloatArray) -> str:
    return " ".join(f"{at(x)} {at(y)}" for x, y in zip(xs, ys, strict=True))


def _outline(xs: FloatArray, ys: FloatArray) -> str:
    # A single point between gaps is drawn as a dot: round ends make one of a line without length.
    return "".join(f"M{_joined(x, y)}{'h.1' if x.size == 1 else ''}" for x, y in _stretches(xs, ys))


def _area(xs: FloatArray, ys: FloatArray, zero: float) -> str:
    return "".join(f"M{at(x[0])} {at(zero)} {_joined(x, y)} {at(x[-1])} {at(zero)}Z" for x, y in _stretches(xs, ys))


def _points(mark: Points, across: Map, along: Map, letter: float) -> str:
    found = []
    for x, y, low, high in zip(across.many(mark.x), along.many(mark.y), mark.low, mark.high, strict=True):
        if math.isfinite(low) or math.isfinite(high):
            found.append(_bar(mark.role, float(x), low, high, along))
        if mark.cloud:
            found.append(circle(f"cloud {mark.role}", float(x), float(y), 2.2))
        else:
            found.append(draw_form(mark.role, float(x), float(y), letter * 0.33))
    return "".join(found)


def _bar(role: Role, x: float, low: float, high: float, along: Map) -> str:
    """An upright interval; an open end runs to the edge without a cap."""
    bottom = along(low) if math.isfinite(low) else along.start
    top = along(high) if math.isfinite(high) else along.end
    caps = "".join(f"M{at(x - 4)} {at(end)}h8" for end, value in ((bottom, low), (top, high)) if math.isfinite(value))
    return path(f"bar {role}", f"M{at(x)} {at(bottom)}V{at(top)}{caps}")


def _level(mark: Level, across: Map, along: Map) -> str:
    band, width = "", across.end - across.start
    if mark.high > mark.low:
        band = rect(f"band {mark.role}", across.start, along(mark.high), width, along(mark.low) - along(mark.high))
    return band + path(f"line level {mark.role}", f"M{at(across.start)} {at(along(mark.y))}h{at(width)}")
