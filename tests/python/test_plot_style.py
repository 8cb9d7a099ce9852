"""The palette, styles of the user's own, and what happens without matplotlib."""

from __future__ import annotations

import os
import subprocess
import sys

import matplotlib.pyplot as plt
import numpy as np
import pytest

import groundstate as gs
from groundstate.plot import _style
from tests.python.pictures import closed, outcome

__all__ = ["closed"]

PALETTE = {"blue": _style.BLUE, "orange": _style.ORANGE, "plum": _style.PLUM}

# Linear RGB as it is seen without red, green and blue cones: Machado, Oliveira and Fernandes 2009, severity 1, from
# memory.
SEEN = {
    "all cones": np.eye(3),
    "no red cones": np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
    ),
    "no green cones": np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
    ),
    "no blue cones": np.array(
        [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]]
    ),
}


def linear(colour: str) -> np.ndarray:
    srgb = np.array([int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)])
    return np.where(srgb <= 0.04045, srgb / 12.92, ((srgb + 0.055) / 1.055) ** 2.4)


def luminance(colour: str) -> float:
    return float(linear(colour) @ [0.2126, 0.7152, 0.0722])


def lab(rgb: np.ndarray) -> np.ndarray:
    """CIE L*a*b* under D65 of linear RGB."""
    xyz = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]) @ np.clip(rgb, 0, 1)
    ratio = xyz / np.array([0.9505, 1.0, 1.089])
    f = np.where(ratio > (6 / 29) ** 3, np.cbrt(ratio), ratio / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


@pytest.mark.parametrize("eyes", SEEN)
def test_colours_are_told_apart_by_all_eyes(eyes: str) -> None:
    # 2.3 is a just noticeable difference; marks of a few pixels need ten times that.
    seen = {name: lab(SEEN[eyes] @ linear(colour)) for name, colour in PALETTE.items()}
    names = sorted(seen)
    closest = min(float(np.linalg.norm(seen[a] - seen[b])) for i, a in enumerate(names) for b in names[i + 1 :])
    assert closest > 25.0


@pytest.mark.parametrize("colour", [*PALETTE.values(), _style.GREY])
@pytest.mark.parametrize("ground", ["#ffffff", "#16191d"])
def test_marks_stand_out_from_light_and_dark_ground(colour: str, ground: str) -> None:
    # WCAG 2.2, 1.4.11: 3 to 1 for what is no text.
    high, low = sorted((luminance(colour), luminance(ground)), reverse=True)
    assert (high + 0.05) / (low + 0.05) >= 3.0


def test_words_follow_a_dark_style() -> None:
    with plt.style.context("dark_background"):
        upper, _ = gs.plot.calibration(outcome("roof_water").calibrations[0])
        points = next(line for line in upper.lines if line.get_gid() == "points")
        assert points.get_color() == "white"


def test_axes_of_any_kind_are_taken() -> None:
    found = outcome("roof_water")
    cal = found.calibrations[0]
    _, axes = plt.subplots(2, 1)
    for ax in axes:
        ax.set_xscale("symlog")
        ax.yaxis.set_major_formatter(lambda value, _: f"{value}")
    gs.plot.calibration(cal, ax=axes)
    gs.plot.run(found, ax=list(axes))
    gs.plot.control(found, ax=axes[0])
    with pytest.raises(gs.ArgumentError, match="neither one nor a pair"):
        gs.plot.calibration(cal, ax=[axes[0]])


def test_a_run_without_checks_has_empty_overviews() -> None:
    table = {"run": ["r"] * 3, "position": [1, 2, 3], "role": ["standard"] * 2 + ["sample"], "label": list("abc"),
             "absorbance": [0.1, 0.2, 0.15], "nominal": [1.0, 2.0, None]}  # fmt: skip
    found = gs.reduce(
        table,
        {
            "id": "CU",
            "version": "1",
            "element": "Cu",
            "profile": "general",
            "calibration": {"shape": "line_through_zero"},
        },
    )
    for draw in (gs.plot.recoveries, gs.plot.differences, gs.plot.control):
        assert "no such check" in draw(found).texts[0].get_text()
    gs.plot.run(found)


def test_pictures_without_matplotlib_say_what_to_install() -> None:
    code = """
import sys
sys.modules["matplotlib"] = None
import groundstate as gs
assert "matplotlib.pyplot" not in sys.modules
try:
    gs.plot.calibration(gs.calibrate([0, 1, 2], [0.0, 0.1, 0.21]))
except gs.MissingExtraError as error:
    print(error)
"""
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert "pip install 'groundstate[plot]'" in said


def test_matplotlib_is_loaded_when_the_first_picture_is_drawn() -> None:
    code = (
        "import sys, groundstate as gs; gs.plot.calibration; assert 'matplotlib' not in sys.modules; "
        "gs.plot.budget([]); assert 'matplotlib' in sys.modules"
    )
    subprocess.run([sys.executable, "-c", code], check=True, env={**os.environ, "MPLBACKEND": "Agg"})
