"""Invented runs of 162 readings: six levels three times, then four blocks of ten samples, a check and a blank."""

from __future__ import annotations

from typing import Any

import numpy as np

LEVELS = np.array([0.0, 0.2, 0.5, 1.0, 2.0, 3.0])
BLOCKS, SAMPLES, REPLICATES = 4, 10, 3
POSITIONS = LEVELS.size + BLOCKS * (SAMPLES + 2)
STANDARD, SAMPLE, CCV, CCB = 0, 1, 2, 3
WORDS = np.array(["standard", "sample", "ccv", "ccb"])
ROLES = np.array([STANDARD] * LEVELS.size + ([SAMPLE] * SAMPLES + [CCV, CCB]) * BLOCKS, dtype=np.uint32)
LOQ, R2, SD_LIMIT, RSD_LIMIT, TOP, LOWEST = 0.05, 0.995, 0.001, 5.0, 3.0, 0.2


def method(curved: bool) -> dict[str, Any]:
    calibration: dict[str, Any] = {"shape": "line", "unit": "mg/L", "points": "readings"}
    if curved:
        calibration |= {"shape": "quadratic", "noise": "1/x", "zero": "leave_out"}
    loq = [{"value": LOQ, "unit": "mg/L", "basis": "solution", "definition": "sw846_lloq"}]
    return {
        "id": "ZN-BENCH",
        "version": "1",
        "element": "Zn",
        "profile": "general",
        "calibration": calibration,
        "limits": {"nondetect_at": "loq", "loq": loq},
        "criteria": {"calibration": {"r_squared": R2}},
    }


def shaped(runs: int, curved: bool, seed: int = 3) -> dict[str, Any]:
    """Absorbance (runs, positions, replicates), and what goes with a position."""
    random = np.random.default_rng(seed)
    x = 2.9 * random.random((runs, POSITIONS))
    x[:, : LEVELS.size] = LEVELS
    x[:, ROLES == CCV], x[:, ROLES == CCB] = 1.0, 0.0
    x[::200, LEVELS.size + SAMPLES] = 1.15  # a check that fails, now and then
    x[3::100, LEVELS.size + 3] = 3.2  # and a sample above the top
    signal = 0.001 + x * (0.21 - (0.008 * x if curved else 0.0))
    signal = signal[:, :, None] + random.normal(0.0, 0.0005, (runs, POSITIONS, REPLICATES))
    nominal = np.full(POSITIONS, np.nan)
    nominal[: LEVELS.size] = LEVELS
    nominal[ROLES == CCV] = 1.0
    dilution = np.where(random.random((runs, POSITIONS)) < 0.2, 10.0, 1.0)
    dilution[:, ROLES != SAMPLE] = 1.0
    return {"absorbance": signal, "role": (ROLES, WORDS), "nominal": nominal, "dilution": dilution}


def tidy(of: dict[str, Any], order: bool = True) -> dict[str, Any]:
    """The same, one row a reading; in any order where `order` is False."""
    signal = of["absorbance"]
    runs, positions, replicates = signal.shape

    def each(values: Any) -> Any:
        return np.repeat(np.broadcast_to(values, (runs, positions)).ravel(), replicates)

    columns = {
        "run": np.repeat(np.arange(runs, dtype=np.uint32), positions * replicates),
        "position": each(np.arange(1, positions + 1, dtype=np.uint32)),
        "role": each(of["role"][0]),
        "absorbance": signal.ravel().copy(),
        "nominal": each(of["nominal"]),
        "dilution": each(of["dilution"]),
    }
    if not order:
        shuffled = np.random.default_rng(4).permutation(signal.size)
        columns = {name: column[shuffled] for name, column in columns.items()}
    return columns | {"role": (columns["role"], WORDS)}
