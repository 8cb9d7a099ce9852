"""Every picture of `groundstate.plot`, drawn from invented runs, and a page that shows them.

python docs/gallery.py FOLDER writes one PNG a picture and FOLDER/index.html.
"""

from __future__ import annotations

import csv
import html
import io
import random
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import matplotlib as mpl

mpl.use("Agg")  # no window is needed for a page of pictures

import matplotlib.pyplot as plt

import groundstate as gs

DEMO = Path(gs.__file__).parent / "demo"
NOT_MEASURED = "Invented data: nothing in these pictures was measured."


def outcome(name: str) -> gs.Outcome:
    """One of the invented runs of the demonstration."""
    return gs.reduce(DEMO / f"{name}.csv", DEMO / f"{name}.toml")


def many(runs: int, seed: int = 7) -> gs.Outcomes:
    """The invented roof-water run again and again, its samples' and checks' readings shifted from run to run."""
    chance = random.Random(seed)
    rows = list(csv.DictReader(io.StringIO((DEMO / "roof_water.csv").read_text(encoding="utf-8"))))
    table: list[dict[str, str]] = []
    for run in range(runs):
        drift = chance.gauss(1.0, 0.022)
        for row in rows:
            again = dict(row, run=f"day {run + 1:02d}")
            if row["role"] not in ("standard", "calibration_blank"):
                again["absorbance"] = f"{float(row['absorbance']) * drift * chance.gauss(1.0, 0.006):.4f}"
            table.append(again)
    return gs.reduce_many(table, DEMO / "roof_water.toml", threads=1)


def additions() -> gs.Addition:
    """An invented series."""
    return gs.standard_additions([0, 0.2, 0.4, 0.6], [0.0712, 0.1193, 0.1668, 0.2171], aliquot=(25.0, 50.0))


def lost_additions() -> gs.Addition:
    """An invented series whose slope is lost in the scatter: its set is not finite."""
    return gs.standard_additions([0, 0.1, 0.2, 0.3], [0.080, 0.052, 0.101, 0.083])


def study() -> gs.Mdl:
    """An invented study of a method detection limit."""
    spikes = [0.0104, 0.0113, 0.0092, 0.0118, 0.0098, 0.0109, 0.0101, 0.0095]
    return gs.mdl(spikes, [0.0008, gs.ND, -0.0011, 0.0015, gs.ND, 0.0004, None, -0.0003])


def pictures() -> dict[str, tuple[str, Callable[[], Any]]]:
    """Draws by name, each with what it shows."""
    water, sediment = outcome("roof_water"), outcome("gutter_sediment")
    line, bent = water.calibrations[0], sediment.calibrations[0]
    runs = many(24)
    return {
        "calibration-line": ("A line", lambda: gs.plot.calibration(line)),
        "calibration-readings": (
            "A curve with readings dropped onto the axis, one of them beyond the top standard",
            lambda: gs.plot.calibration(bent, [0.10, 0.42, 0.90]),
        ),
        "calibration-lost": (
            "A few scattered standards: intervals as wide as the range, and a reading that no concentration gives",
            lambda: gs.plot.calibration(
                gs.calibrate([0, 1, 2, 4, 6], [0.00, 0.11, 0.19, 0.32, 0.36], shape="quadratic"), [0.05, 0.34, 0.42]
            ),
        ),
        "additions": ("Standard additions", lambda: gs.plot.additions(additions())),
        "additions-lost": ("Additions lost in the scatter", lambda: gs.plot.additions(lost_additions())),
        "run": ("A run with a condemned stretch and a second calibration", lambda: gs.plot.run(sediment)),
        "mdl": ("A study of a method detection limit", lambda: gs.plot.mdl(study(), unit="mg/L")),
        "budget": (
            "An uncertainty budget",
            lambda: gs.plot.budget(sediment.budget("Gutter 1"), unit="mg/kg"),
        ),
        "control": ("A control chart", lambda: gs.plot.control(runs, "ccv")),
        "recoveries": ("Recoveries of many runs", lambda: gs.plot.recoveries(runs)),
        "differences": ("Differences of many runs", lambda: gs.plot.differences(runs)),
    }


def main(folder: str) -> None:
    """Draws everything and writes the page."""
    target = Path(folder)
    target.mkdir(parents=True, exist_ok=True)
    shown = []
    for name, (words, draw) in pictures().items():
        drawn = draw()
        axes = drawn[0] if isinstance(drawn, tuple) else drawn
        axes.get_figure().savefig(target / f"{name}.png", dpi=110, metadata={"Software": None})
        plt.close("all")
        words = html.escape(words)
        shown.append(f'<figure><img src="{name}.png" alt="{words}"><figcaption>{words}</figcaption></figure>')
    page = (
        '<!doctype html><html lang="en"><meta charset="utf-8"><title>Gallery</title><h1>Gallery</h1>'
        f"<p>{NOT_MEASURED}</p>{''.join(shown)}</html>\n"
    )
    (target / "index.html").write_text(page, encoding="utf-8")


if __name__ == "__main__":
    main(sys.argv[1] if len(sys.argv) > 1 else "build/gallery")
