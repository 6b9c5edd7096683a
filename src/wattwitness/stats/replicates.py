"""The spread of single differences where several were taken of each subject."""

from __future__ import annotations

import numpy as np

from wattwitness.model.arrays import FloatArray


def single_difference_variance(subject_means: FloatArray, replicates: FloatArray, within_variance: float) -> float:
    """Return the variance of one difference of one subject: between subjects plus within.

    ``subject_means`` (n,) are the mean differences of n >= 2 subjects, each over ``replicates`` (n,) >= 1 of them;
    ``within_variance`` is that of single differences within a subject. One-way analysis of variance, Bland & Altman
    (1999) Stat. Methods Med. Res. 8:135-160, section 5.3 ("true value varies"; with as many replicates of each
    subject the same as section 5.1), again in (2007) J. Biopharm. Stat. 17:571-582, section 3: the component between
    subjects is (MSB - MSW) / m0 with m0 = (N^2 - sum m^2) / ((n - 1) N), and none where that is negative.
    """
    subjects, total = subject_means.size, replicates.sum()
    grand_mean = np.average(subject_means, weights=replicates)
    between_square = np.sum(replicates * (subject_means - grand_mean) ** 2) / (subjects - 1)
    divisor = (total**2 - np.sum(replicates**2)) / ((subjects - 1) * total)
    return float(max((between_square - within_variance) / divisor, 0.0) + within_variance)
