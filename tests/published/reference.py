"""Larger published tables, kept outside the project beside it; tests that need one skip where it is missing."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from wattwitness.model.arrays import FloatArray

REFERENCE = Path(__file__).parents[2].parent / "shared" / "reference"


def table(name: str) -> dict[str, FloatArray]:
    """Columns of the CSV table ``name`` by heading; skips the test, saying why, where the file is not there."""
    path = REFERENCE / name
    if not path.is_file():
        pytest.skip(f"the published table {name} is not beside the project (../shared/reference)")
    heading, *rows = path.read_text(encoding="utf-8").splitlines()
    values = np.array([[float(cell) for cell in row.split(",")] for row in rows])
    return dict(zip(heading.split(","), values.T, strict=True))
