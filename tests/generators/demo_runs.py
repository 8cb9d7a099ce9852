"""Writes the three invented runs of the demonstration: zinc in roof run-off of an invented district.

Nothing here was measured. Signals follow an invented response, bent for the second run and depressed by an
invented matrix in the third, with seeded normal scatter; masses, volumes and labels are made up. Run it to write the tables anew:

    python tests/generators/demo_runs.py
"""

from __future__ import annotations

import csv
import random
from collections.abc import Callable, Iterable
from pathlib import Path

FOLDER = Path(__file__).parents[2] / "python" / "groundstate" / "demo"

COLUMNS = [
    "run", "position", "role", "label", "replicate", "absorbance", "nominal", "of", "added", "added_unit",
    "spike_volume_ml", "spike_conc", "mass_g", "volume_ml", "final_volume_ml", "dilution", "percent_solids", "prep_batch",
    "matrix", "preparation_id", "source_lot", "prepared_on", "analyst", "instrument",
]  # fmt: skip

Row = dict[str, object]

READINGS = 3


class Bench:
    """An invented instrument that reads one solution after the other."""

    def __init__(self, run: str, response: Callable[[float], float], seed: int) -> None:
        self.run, self.response = run, response
        self.random = random.Random(seed)
        self.rows: list[Row] = []
        self.position = 0
        self.drift = 1.0
        self.share = 1.0  # of the signal that a matrix leaves

    def read(self, role: str, label: str, solution: float, **facts: object) -> None:
        """Reads a solution of so many mg/L; `facts` fill the other columns."""
        self.position += 1
        for replicate in range(1, READINGS + 1):
            signal = self.response(max(solution, 0.0)) * self.drift * self.share
            signal += self.random.gauss(0.0, 0.0004 + 0.004 * signal)
            row: Row = {
                "run": self.run,
                "position": self.position,
                "role": role,
                "label": label,
                "replicate": replicate,
                "absorbance": f"{signal:.4f}",
                "analyst": "R. Invented",
                "instrument": "bench 2",
                **facts,
            }
            self.rows.append(row)

    def calibrate(self, levels: Iterable[float], lot: str) -> None:
        """Reads the calibration blank and the standards, lowest first."""
        self.read("calibration_blank", "CB", 0.0)
        for level in levels:
            poured = level * (1.0 + self.random.gauss(0.0, 0.003))
            self.read("standard", f"S {level:g}", poured, nominal=level, source_lot=lot)

    def write(self, name: str) -> None:
        """Writes the table."""
        FOLDER.mkdir(parents=True, exist_ok=True)
        used = [column for column in COLUMNS if any(column in row for row in self.rows)]
        with (FOLDER / name).open("w", newline="", encoding="utf-8") as file:
            writer = csv.DictWriter(file, used, restval="", lineterminator="\n")
            writer.writeheader()
            writer.writerows(self.rows)


def roof_water() -> None:
    """A clean run: waters from zinc-clad roofs, a straight line."""
    bench = Bench("roof-water", lambda c: 0.0008 + 0.2150 * c, seed=20261)
    water = {"volume_ml": 50, "final_volume_ml": 50, "prep_batch": "W1", "matrix": "water"}
    bench.calibrate([0.05, 0.1, 0.2, 0.4, 0.7, 1.0], lot="Zn-31")
    bench.read("icv", "ICV", 0.502, nominal=0.5, source_lot="Zn-77")
    bench.read("icb", "ICB", 0.0)
    bench.read("low_check", "LLQC", 0.0493, nominal=0.05)
    bench.read("method_blank", "MB W1", 0.0012, **water)
    bench.read("lcs", "LCS W1", 0.489, nominal=0.5, **water)
    roofs = {"Mill Lane 4": 0.311, "Mill Lane 9": 0.287, "Depot north": 0.742, "Depot south": 0.655, "School": 0.093}
    for label, zinc in roofs.items():
        bench.read("sample", label, zinc, **water)
    bench.read("duplicate", "School dup", 0.096, of="School", **water)
    bench.read("matrix_spike", "School spike", 0.093 + 0.49, of="School", spike_volume_ml=0.25, spike_conc=100, **water)
    bench.read("ccv", "CCV 1", 0.497, nominal=0.5)
    bench.read("ccb", "CCB 1", 0.0)
    bench.read("sample", "Chapel (tiled)", 0.0021, **water)
    bench.read("sample", "Station canopy", 0.418, **water)
    bench.read("sample", "Tank overflow", 0.031, **water)
    bench.read("ccv", "CCV 2", 0.505, nominal=0.5)
    bench.read("ccb", "CCB 2", 0.0)
    bench.write("roof_water.csv")


def gutter_sediment() -> None:
    """A hard run: digests of gutter sediment and strong waters, on a curve, with a failed check in between."""
    # Bent as far as its turning point and level beyond: a flame that absorbs all it can.
    bench = Bench("gutter-sediment", lambda c: 0.0006 + 0.2150 * min(c, 8.6) - 0.0125 * min(c, 8.6) ** 2, seed=20262)
    levels = [0.2, 0.5, 1.0, 2.0, 3.0, 4.0, 5.0]
    water = {"volume_ml": 50, "final_volume_ml": 50, "prep_batch": "W2", "matrix": "water"}

    def digest(mass: float, solids: float, batch: str = "G1") -> Row:
        return {
            "mass_g": f"{mass:.4f}",
            "final_volume_ml": 100,
            "percent_solids": solids,
            "prep_batch": batch,
            "matrix": "sediment",
        }

    def in_solution(mg_per_kg_dry: float, mass: float, solids: float, dilution: float = 1.0) -> float:
        return mg_per_kg_dry * mass * (solids / 100.0) / 100.0 / dilution

    bench.calibrate(levels, lot="Zn-31")
    bench.read("icv", "ICV", 2.03, nominal=2.0, source_lot="Zn-77")
    bench.read("icb", "ICB", 0.0)
    bench.read("method_blank", "MB W2", 0.004, **water)
    bench.read("lcs", "LCS W2", 1.96, nominal=2.0, **water)
    bench.read("sample", "Galvanising yard", 4.61 * 4, **water)  # beyond the top standard
    bench.read("sample", "Cistern", 0.0035, **water)  # nothing to find
    bench.read("sample", "Downpipe A", 1.377, **water)
    bench.read("duplicate", "Downpipe A dup", 1.402, of="Downpipe A", **water)
    bench.read("ccv", "CCV 1", 2.04, nominal=2.0)
    bench.read("ccb", "CCB 1", 0.0)
    bench.read("method_blank", "MB G1", 0.012, prep_batch="G1", matrix="sediment", final_volume_ml=100)
    bench.read("lcs", "LCS G1", in_solution(196.0, 1.0012, 100.0), nominal=200, **digest(1.0012, 100.0))
    bench.drift = 0.86  # the burner begins to clog
    gutters = [("Gutter 1", 268.0, 1.0134, 71.2), ("Gutter 2", 391.0, 0.9987, 64.8), ("Gutter 3", 143.0, 1.0420, 80.3)]
    for label, zinc, mass, solids in gutters:
        bench.read(
            "sample", label, in_solution(zinc, mass, solids), preparation_id=f"{label} digest", **digest(mass, solids)
        )
    bench.read("ccv", "CCV 2", 2.01, nominal=2.0)
    bench.read("ccb", "CCB 2", 0.0)

    bench.drift = 1.0  # cleaned and calibrated anew
    bench.calibrate(levels, lot="Zn-31")
    bench.read("icv", "ICV", 1.98, nominal=2.0, source_lot="Zn-77")
    bench.read("icb", "ICB", 0.0)
    bench.read("sample", "Galvanising yard", 4.61 * 4 / 10, dilution="5/50", **water)
    bench.read("method_blank", "MB G1", 0.012, prep_batch="G1", matrix="sediment", final_volume_ml=100)
    bench.read("lcs", "LCS G1", in_solution(196.0, 1.0012, 100.0), nominal=200, **digest(1.0012, 100.0))
    for label, zinc, mass, solids in gutters:
        bench.read(
            "sample", label, in_solution(zinc, mass, solids), preparation_id=f"{label} digest", **digest(mass, solids)
        )
    # Spiked with about a sixth of what is there: no recovery can be told from that.
    bench.read(
        "matrix_spike", "Gutter 2 spike", in_solution(391.0, 1.0051, 64.8) + 0.40,
        of="Gutter 2", spike_volume_ml=0.4, spike_conc=100, **digest(1.0051, 64.8),
    )  # fmt: skip
    bench.read("ccv", "CCV 3", 2.02, nominal=2.0)
    bench.read("ccb", "CCB 3", 0.0)
    bench.write("gutter_sediment.csv")


def gutter_moss() -> None:
    """A matrix: digests of moss from gutters depress the signal, the tests of 7000B 9.8 show it, additions cure it."""
    bench = Bench("gutter-moss", lambda c: 0.0007 + 0.2150 * c, seed=20263)

    def moss(mass: float, solids: float) -> Row:
        return {
            "mass_g": f"{mass:.4f}",
            "final_volume_ml": 100,
            "percent_solids": solids,
            "prep_batch": "M1",
            "matrix": "moss",
        }

    def read(role: str, label: str, zinc: float, digest: float, **facts: object) -> None:
        """Reads `zinc` mg/L in a solution that holds so much of a digest: the more, the less of the signal is left."""
        bench.share = 1.0 - 0.40 * digest / (digest + 0.30)
        bench.read(role, label, zinc, **facts)
        bench.share = 1.0

    def bracket(number: int) -> None:
        bench.read("ccv", f"CCV {number}", 0.6 * (1 + bench.random.gauss(0, 0.01)), nominal=0.6)
        bench.read("ccb", f"CCB {number}", 0.0)

    # Label, zinc in mg/kg of dry moss, mass in g, per cent solids.
    north, south, lawn = (
        ("Moss north", 884.0, 0.5031, 31.4),
        ("Moss south", 1042.0, 0.4987, 29.9),
        ("Moss lawn", 6.0, 0.5102, 27.5),
    )

    def content(zinc: float, mass: float, solids: float) -> float:
        return zinc * mass * (solids / 100.0) / 100.0  # 100 mL: mg/kg times g/mL is mg/L

    bench.calibrate([0.02, 0.1, 0.3, 0.6, 1.0, 1.5], lot="Zn-31")
    bench.read("icv", "ICV", 0.607, nominal=0.6, source_lot="Zn-77")
    bench.read("icb", "ICB", 0.0)
    bench.read("low_check", "LLQC", 0.0198, nominal=0.02)
    bench.read("method_blank", "MB M1", 0.0005, prep_batch="M1", matrix="moss", final_volume_ml=100)
    bench.read("lcs", "LCS M1", 0.985, nominal=200, **{**moss(0.5, 100.0), "mass_g": "0.5000"})
    for label, zinc, mass, solids in (north, south, lawn):
        read("sample", label, content(zinc, mass, solids), 1.0, **moss(mass, solids))
    label, zinc, mass, solids = north
    read("duplicate", f"{label} dup", content(zinc, 0.5066, solids) * 1.02, 1.0, of=label, **moss(0.5066, solids))
    read("matrix_spike", f"{label} spike", content(zinc, 0.5018, solids) + 0.60, 1.0, of=label,
         spike_volume_ml=0.6, spike_conc=100, **moss(0.5018, solids))  # fmt: skip
    bracket(1)
    # The spike of the finished digest and the fivefold dilution (7000B 9.8.1 and 9.8.2).
    spiked = (content(zinc, mass, solids) * 10.0 + 0.06 * 100) / 10.06
    read("post_digestion_spike", f"{label} digest spike", spiked, 10.0 / 10.06, of=label,
         spike_volume_ml=0.06, spike_conc=100, volume_ml=10, prep_batch="M1", matrix="moss")  # fmt: skip
    read("serial_dilution", f"{label} 1:5", content(zinc, mass, solids) / 5.0, 0.2, of=label, **moss(mass, solids),
         dilution="5/25")  # fmt: skip
    # Standard additions to all samples of the batch: 5 mL of digest in 10 mL, whatever is added.
    for (label, zinc, mass, solids), step in ((north, 0.35), (south, 0.4), (lawn, 0.05)):
        for portion in range(4):
            added = step * portion
            read("addition", f"{label} +{added:g}", content(zinc, mass, solids) / 2.0 + added, 0.5, of=label,
                 added=f"{added:g}", added_unit="mg/L", dilution="5/10", prep_batch="M1", matrix="moss")  # fmt: skip
        bracket({"Moss north": 2, "Moss south": 3, "Moss lawn": 4}[label])
    bench.write("gutter_moss.csv")


if __name__ == "__main__":
    roof_water()
    gutter_sediment()
    gutter_moss()
