"""The pictures of the page: calibrations, series of additions, the run by position."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from groundstate._core import Addition, Calibration
from groundstate.plot._checks import CheckRow, Position
from groundstate.plot._curve import curve, ends, pieces, set_words
from groundstate.report._svg import Panel, legend, picture
from groundstate.report._text import figures, words

WIDTH = 720.0
#: How far beyond its limits a check is still drawn in place.
FAR = 1.9


def calibration(
    key: str, cal: Calibration, read: list[tuple[float, float]], coverage: float, signal: str, name: str
) -> str:
    """Points, curve, band and residuals of a calibration; `read` are concentrations and signals read from it."""
    low, high = ends(cal, np.array([x for x, _ in read]))
    line = curve(cal, low, high, coverage)
    seen = [*line.y, *line.lower, *line.upper, *cal.point_signals, *(y for _, y in read)]
    margin = 0.03 * (high - low)
    upper = Panel((0, 18, WIDTH, 300), (low - margin, high + margin), _limits(seen), ("", signal))
    for edge in dict.fromkeys((cal.lowest, cal.top)):
        upper.upright(edge, "edge")
    upper.band(line.x, line.lower, line.upper, "band")
    inside = (line.x >= min(0.0, cal.lowest)) & (line.x <= cal.top)
    upper.line(line.x, line.y, "beyond")
    upper.line(line.x, np.where(inside, line.y, np.nan), "curve")
    for x, _ in read:
        upper.upright(x, "drop", None, upper.y[0] + 0.04 * (upper.y[1] - upper.y[0]))
    upper.points(cal.point_concentrations, cal.point_signals, "point")
    upper.points([x for x, _ in read], [y for _, y in read], "sample", "diamond")
    residuals = cal.residuals
    largest = max((abs(float(r)) for r in residuals if math.isfinite(r)), default=0.0) or 1.0
    lower = Panel(
        (0, 300, WIDTH, 150), upper.x, (-1.25 * largest, 1.25 * largest), (f"Concentration ({cal.unit})", "Residual")
    )
    lower.level(0.0, "zero")
    for x, r in zip(cal.point_concentrations, residuals, strict=True):
        if math.isfinite(r):
            lower.upright(x, "stem", 0.0, float(r))
    lower.points(cal.point_concentrations, residuals, "point")
    band = bool(np.isfinite(line.lower).any())
    entries = [("curve", "line", words(cal.shape)), ("point", "circle", f"{len(cal.point_signals)} {cal.points}")]
    entries += [("band", "area", f"{100 * coverage:g} % confidence band")] if band else []
    entries += [("sample", "diamond", f"{len(read)} measured positions")] if read else []
    description = (
        f"{words(cal.shape)} through {len(cal.point_signals)} {cal.points} from {figures(cal.lowest)} to "
        f"{figures(cal.top)} {cal.unit}; the largest residual is {figures(largest, 2)} of a signal of "
        f"{figures(max(map(float, cal.point_signals)), 3)}."
    )
    inside_svg = [legend(LEGEND_LEFT, 12, entries), upper.svg(None, None), lower.svg(None, None)]
    return picture(key, name, description, (WIDTH, 450), inside_svg)


LEGEND_LEFT = 92.0


def additions(key: str, series: Addition, coverage: float, signal: str, name: str) -> str:
    """A series of standard additions, extrapolated to a signal of zero."""
    line, found = series.line, series.estimate
    interval = series.interval(coverage, "inversion") if math.isfinite(found.value) else None
    stretches = [(-high, -low) for low, high in pieces(interval)] if interval is not None else []
    x, y = list(map(float, line.point_concentrations)), list(map(float, line.point_signals))
    seen = [0.0, *x, *([-found.value] if math.isfinite(found.value) else [])]
    reach = (max(seen) - min(seen)) or 1.0
    ends_ = [e for s in stretches for e in s if min(seen) - 0.5 * reach <= e <= max(seen) + 0.5 * reach]
    low, high = min([*seen, *ends_]), max([*seen, *ends_])
    fitted = curve(line, low, high, coverage)
    margin = 0.04 * (high - low)
    labels = (f"Concentration added ({series.unit})", signal)
    panel = Panel((0, 18, WIDTH, 320), (low - margin, high + margin), _limits([0.0, *fitted.y, *y]), labels)
    panel.band(fitted.x, fitted.lower, fitted.upper, "band")
    panel.level(0.0, "zero")
    panel.upright(0.0, "edge")
    panel.line(fitted.x, fitted.y, "beyond")
    panel.line(fitted.x, np.where((fitted.x >= min(x)) & (fitted.x <= max(x)), fitted.y, np.nan), "curve")
    panel.points(x, y, "point")
    for stretch in stretches:
        panel.on_axis(*stretch, "interval")
    if interval is not None:
        panel.points([-found.value], [0.0], "sample", "diamond")
    kind = "portions" if line.points == "standards" else "readings"
    entries = [("curve", "line", "fitted line"), ("point", "circle", f"{len(y)} {kind}")]
    entries += [("sample", "diamond", f"found {figures(found.value)} {series.unit}")] if interval is not None else []
    entries += [("interval", "area", f"its {100 * coverage:g} % set")] if stretches else []
    said = "no result" if interval is None else f"{figures(found.value)} {series.unit}, {set_words(interval, figures)}"
    description = f"Line through {len(y)} {kind}, extrapolated to a signal of zero: {said}."
    return picture(key, name, description, (WIDTH, 340), [legend(LEGEND_LEFT, 12, entries), panel.svg(None, None)])


def run(
    key: str,
    places: list[Position],
    checks: list[CheckRow],
    condemned: list[tuple[int, int]],
    starts: list[int],
    signal: str,
    name: str,
) -> str:
    """Mean signal by position, and every check at its place between its limits."""
    numbers = [place.position for place in places] or [0, 1]
    across = (min(numbers) - 1.0, max(numbers) + 1.0)
    upper = Panel((0, 18, WIDTH, 240), across, _limits([0.0, *(place.mean for place in places)]), ("", signal))
    lower = Panel((0, 240, WIDTH, 160), across, (-2.2, 2.2), ("Position", "Checks"))
    lower.level(-1.0, "limit")
    lower.level(1.0, "limit")
    for panel in (upper, lower):
        for first, last in condemned:
            panel.span(first - 0.5, last + 0.5, "condemned")
        for start in starts:
            panel.upright(start - 0.5, "start")
    entries = []
    for group, look, shape in (
        ("standards", "standard", "square"),
        ("checks", "check", "diamond"),
        ("samples", "sample", "circle"),
    ):
        shown = [place for place in places if place.group == group]
        upper.points([p.position for p in shown], [p.mean for p in shown], look, shape)
        entries += [(look, shape, group)] if shown else []
    placed = [row for row in checks if row.position is not None]
    for verdict, look, shape in (("pass", "check", "diamond"), ("fail", "failed", "cross")):
        ours = [row for row in placed if row.verdict == verdict]
        heights = [max(-FAR, min(FAR, row.within)) for row in ours]
        lower.points([float(row.position or 0) for row in ours], heights, look, shape)
    open_ = [float(row.position or 0) for row in placed if row.verdict not in ("pass", "fail")]
    lower.points(open_, [0.0] * len(open_), "failed", "hollow")
    failed = sum(row.verdict == "fail" for row in placed)
    entries += [("failed", "cross", "check failed")] if failed else []
    entries += [("failed", "hollow", "not evaluated")] if open_ else []
    entries += [("condemned", "area", "condemned")] if condemned else []
    description = (
        f"{len(places)} positions in order; {len(placed)} checks at positions, {failed} of them failed, "
        f"{len(open_)} not evaluated or missing; {sum(b - a + 1 for a, b in condemned)} positions condemned."
    )
    if not placed:
        upper.labels = ("Position", signal)
        return picture(key, name, description, (WIDTH, 260), [legend(LEGEND_LEFT, 12, entries), upper.svg(None, None)])
    limits = [(-1.0, "lower"), (0.0, "middle"), (1.0, "upper")]
    svg = [legend(LEGEND_LEFT, 12, entries), upper.svg(None, None), lower.svg(None, limits)]
    return picture(key, name, description, (WIDTH, 400), svg)


def _limits(values: Any) -> tuple[float, float]:
    """Where a vertical axis begins and ends for these numbers."""
    kept = [float(value) for value in values if math.isfinite(value)]
    low, high = min(kept, default=0.0), max(kept, default=1.0)
    margin = 0.05 * (high - low) or 0.5 * abs(high) or 0.5
    return low - margin, high + margin
