"""Statistics of small samples: replicates, outliers, robust estimates, equal variances.

A test says what the figures say. Whether a value may be left out is decided by whoever answers for the result: nothing
here drops one. Every function takes one array of numbers (or several, for variances) and returns a frozen result with
the statistic, the critical value, p, and the citation of the test.
"""

from groundstate._core import (
    ExtremeDeviates,
    OutlierTest,
    Replicates,
    Robust,
    VarianceTest,
    dixon,
    generalized_esd,
    grubbs,
    mad,
    median,
    replicates,
    robust,
    variance_homogeneity,
)

__all__ = [
    "ExtremeDeviates",
    "OutlierTest",
    "Replicates",
    "Robust",
    "VarianceTest",
    "dixon",
    "generalized_esd",
    "grubbs",
    "mad",
    "median",
    "replicates",
    "robust",
    "variance_homogeneity",
]
