"""The few SVG elements that charts are made of, as text: classes, never style attributes."""

from __future__ import annotations

from html import escape


def at(value: float) -> str:
    """A coordinate to a tenth; a wild one is held where any drawing program still takes it."""
    held = min(max(float(value), -1e5), 1e5)
    text = f"{held:.1f}".removesuffix(".0")
    return "0" if text == "-0" else text


def path(css: str, d: str) -> str:
    """A path."""
    return f'<path class="{css}" d="{d}"/>'


def rect(css: str, x: float, y: float, width: float, height: float) -> str:
    """A rectangle."""
    return f'<rect class="{css}" x="{at(x)}" y="{at(y)}" width="{at(width)}" height="{at(height)}"/>'


def circle(css: str, x: float, y: float, radius: float) -> str:
    """A circle."""
    return f'<circle class="{css}" cx="{at(x)}" cy="{at(y)}" r="{at(radius)}"/>'


def words(css: str, x: float, y: float, text: str) -> str:
    """A line of text, escaped."""
    return f'<text class="{css}" x="{at(x)}" y="{at(y)}">{escape(text)}</text>'


def window(x: float, y: float, width: float, height: float, inside: str) -> str:
    """A drawing within the drawing that clips what lies outside it; needs no identifier, unlike a clip path."""
    place = f'x="{at(x)}" y="{at(y)}" width="{at(width)}" height="{at(height)}"'
    return f'<svg {place} viewBox="{at(x)} {at(y)} {at(width)} {at(height)}">{inside}</svg>'
