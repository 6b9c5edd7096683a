"""Pictures of the documentation: taken by the tests, and held against what the pages look like now."""

from __future__ import annotations

import io
import os
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from playwright.sync_api import Page

FOLDER = Path(__file__).parents[2] / "docs" / "images" / "bench"
TAKE_ANEW = "WATTWITNESS_PICTURES"
"""Set by “make screenshot”: the pictures are taken anew instead of being compared."""

TILE = 32
MOST_APART = 0.05
"""Of full brightness, on average over tiles: other fonts move letters, another page moves more than that."""


def picture(page: Page, name: str) -> None:
    """Take the picture called ``name``, or fail where the one in the documentation shows something else."""
    page.mouse.move(0, 0)
    taken = page.screenshot(animations="disabled", caret="hide")
    path = FOLDER / f"{name}.png"
    if os.environ.get(TAKE_ANEW):
        FOLDER.mkdir(parents=True, exist_ok=True)
        path.write_bytes(taken)
        return
    assert path.is_file(), f"the documentation has no picture “{name}”: make screenshot"
    apart = _apart(path.read_bytes(), taken)
    assert apart < MOST_APART, f"the picture “{name}” shows another page ({apart:.3f} apart): make screenshot"


def _apart(first: bytes, second: bytes) -> float:
    one, other = _tiles(first), _tiles(second)
    return 1.0 if one.shape != other.shape else float(np.abs(one - other).mean())


def _tiles(content: bytes) -> np.ndarray:
    """Mean brightness of tiles, so that a letter more or less counts for little."""
    from matplotlib.image import imread

    grey = np.asarray(imread(io.BytesIO(content), format="png"))[..., :3].mean(axis=2)
    rows, columns = (size // TILE * TILE for size in grey.shape)
    return np.asarray(grey[:rows, :columns].reshape(rows // TILE, TILE, columns // TILE, TILE).mean(axis=(1, 3)))
