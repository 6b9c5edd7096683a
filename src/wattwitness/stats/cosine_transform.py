"""The cosine transform of a series: coefficients of a slowly wandering error that are all but independent."""

from __future__ import annotations

import numpy as np

from wattwitness.model.arrays import FloatArray


def cosine_coefficients(values: FloatArray) -> FloatArray:
    """Return the orthonormal cosine transform of type II along the last axis; same shape, coefficient 0 the mean's.

    Coefficient k belongs to the frequency k / (2 n) per sample. The squares add up to those of ``values``.
    """
    count = values.shape[-1]
    index = np.arange(count)
    mirrored = np.fft.rfft(np.concatenate([values, values[..., ::-1]], axis=-1), axis=-1)[..., :count]
    coefficients = np.real(mirrored * np.exp(-0.5j * np.pi * index / count)) / np.sqrt(2 * count)
    coefficients[..., 0] /= np.sqrt(2)
    return np.asarray(coefficients, dtype=np.float64)
