"""Numbers on the command line: within a range, and never something that is no number."""

from __future__ import annotations

import math
from typing import Any

import click


class Between(click.FloatRange):
    """A number within a range. ``nan`` compares with nothing, and would pass any range: it is refused."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Read the number, or say what is wrong with it."""
        number: Any = super().convert(value, param, ctx)
        if isinstance(number, float) and math.isnan(number):
            self.fail(f"{value!r} is no number.", param, ctx)
        return number
