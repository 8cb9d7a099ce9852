"""W5: correct digits of the coefficients on NIST's reference data sets of degree one and two.

The truth is the exact solution of the decimal data, to 20 digits. Decimal data that are no binary numbers are rounded
on the way in, which nobody can undo: `digits` of the case says how many an exact solution of the rounded data keeps.
"""

from __future__ import annotations

import json
import warnings
from collections.abc import Callable, Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any

import numpy as np
import statsmodels.api as sm
from scipy.optimize import curve_fit
from timing import Row

import groundstate as gs

CASES = Path(gs.__file__).parent / "cases"
MOST = 17.0


def digits(found: Any, truth: list[Decimal]) -> float:
    """Correct digits of the worst coefficient; no more than double precision shows."""
    least = MOST
    for value, true in zip(found, truth, strict=True):
        off = abs(Decimal(float(value)) - true) / (abs(true) or 1)
        least = min(least, float(-off.log10()) if off else MOST)
    return max(least, 0.0)


def peers(x: Any, y: Any, powers: list[int]) -> dict[str, Callable[[], Any]]:
    design = np.column_stack([x**p for p in powers])
    degree = powers[-1]
    through_zero = powers[0] == 1
    works: dict[str, Callable[[], Any]] = {
        "numpy.linalg.lstsq": lambda: np.linalg.lstsq(design, y, rcond=None)[0],
        "statsmodels pinv": lambda: sm.OLS(y, design).fit(method="pinv").params,
        "statsmodels qr": lambda: sm.OLS(y, design).fit(method="qr").params,
        "scipy curve_fit": lambda: curve_fit(
            lambda x, *c: sum(one * x**p for one, p in zip(c, powers, strict=True)), x, y, p0=np.ones(len(powers))
        )[0],
    }
    if not through_zero:
        works["numpy.polyfit"] = lambda: np.polyfit(x, y, degree)[::-1]
        works["Polynomial.fit"] = lambda: np.polynomial.Polynomial.fit(x, y, degree).convert().coef
    return works


def rows() -> Iterator[Row]:
    for path in sorted(CASES.glob("nist-strd-*.json")):
        case = json.loads(path.read_text(encoding="utf-8"))
        given = case["input"]
        if case["kind"] != "calibration" or "coefficient" not in " ".join(case["expected"]):
            continue
        x = np.array(given["concentration"], dtype=float)
        y = np.array(given["absorbance"], dtype=float)
        shape = given["shape"]
        names = sorted(name for name in case["expected"] if name.startswith("coefficient."))
        truth = [Decimal(case["expected"][name]) for name in names]
        powers = ([1] if "through_zero" in shape else [0, 1]) + ([2] if "quadratic" in shape else [])
        cal = gs.calibrate(x, y, shape=shape, allow="flagged")
        ours = digits(np.asarray(cal.coefficients)[-len(truth) :], truth)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            theirs = {name: digits(work(), truth) for name, work in peers(x, y, powers).items()}
        limit = float(case["tolerance"]["digits"])
        best = max(theirs, key=lambda name: theirs[name])
        shown = ", ".join(f"{name.split('.')[-1]} {d:.1f}" for name, d in theirs.items())
        # More digits than the rounded data hold are luck.
        ratio = ours / min(theirs[best], limit)
        name = case["title"].split(": ")[-1].removeprefix("NIST StRD ").split(",")[0]
        what = f"W5 digits, {name}, {shape.replace('_', ' ')} (data hold {limit:.1f})"
        yield Row(what, shown, f"{ours:.1f}", f"{theirs[best]:.1f}", ratio, 1.0)
