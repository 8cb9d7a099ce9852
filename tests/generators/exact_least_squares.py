"""Exact rational least squares of the NIST StRD sets of degree 1 and 2, as float64 data.

A library that takes float64 can only be asked for the exact solution of the float64 data. This
writes it, with 25 digits, to tests/reference/exact_least_squares.json:

    python tests/generators/exact_least_squares.py            write the file
    python tests/generators/exact_least_squares.py --check    fail if the file would change

Data: NIST Statistical Reference Datasets, https://www.itl.nist.gov/div898/strd/lls/lls.shtml.
Norris, Pontius, NoInt1 and Wampler1, 3 from their reference cases; NoInt2 and the definition of
Wampler2, 4, 5 from memory (polynomials of degree 5; 4 and 5 are Wampler3's disturbance times 100
and 10,000). Degree 1 and 2 fits of the Wampler data are extra checks: NIST certifies degree 5.
"""

import argparse
import json
import sys
from decimal import Decimal, localcontext
from fractions import Fraction
from pathlib import Path

TESTS = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(TESTS.parent))

from tests.oracle.least_squares import solve  # noqa: E402  (the path is set just above)

TARGET = TESTS / "reference" / "exact_least_squares.json"
DIGITS = 25
POWERS = {"line": (0, 1), "line_through_zero": (1,), "quadratic": (0, 1, 2)}


def certified(name: str) -> tuple[list[float], list[float]]:
    path = TESTS.parent / "python" / "groundstate" / "cases" / f"{name}.json"
    given = json.loads(path.read_text(encoding="utf-8"))["input"]
    return [float(v) for v in given["concentration"]], [float(v) for v in given["absorbance"]]


def wampler(step: float, disturbance: int) -> tuple[list[float], list[float]]:
    """Sum of (step x)^k, k = 0 to 5, as decimals, plus Wampler3's disturbance a number of times."""
    x, third = certified("nist-strd-wampler3-degree1")
    _, first = certified("nist-strd-wampler1-degree1")
    scale = Decimal(str(step))
    exact = [sum(((scale * int(v)) ** k for k in range(1, 6)), Decimal(1)) for v in x]
    noise = [int(a - b) * disturbance for a, b in zip(third, first, strict=True)]
    return x, [float(value + extra) for value, extra in zip(exact, noise, strict=True)]


def text(value: Fraction, root: bool = False) -> str:
    with localcontext() as context:
        context.prec = DIGITS + 40
        ratio = Decimal(value.numerator) / Decimal(value.denominator)
        wide = ratio.sqrt() if root else ratio
        context.prec = DIGITS
        return str(+wide)


def entry(name: str, shape: str, data: tuple[list[float], list[float]]) -> dict[str, object]:
    x, y = ([Fraction(v) for v in column] for column in data)
    powers = POWERS[shape]
    solution = solve(x, y, [Fraction(1)] * len(x), powers)
    variance = solution.residual_ss / (len(x) - len(powers))
    diagonal = [row[i] for i, row in enumerate(solution.inverse_normal_matrix)]
    return {
        "set": name,
        "shape": shape,
        "x": data[0],
        "y": data[1],
        "coefficients": [text(value) for value in solution.coefficients],
        "standard_errors": [text(variance * value, root=True) for value in diagonal],
        "residual_sd": text(variance, root=True),
    }


def table() -> dict[str, object]:
    sets: list[tuple[str, str, tuple[list[float], list[float]]]] = [
        ("Norris", "line", certified("nist-strd-norris")),
        ("Pontius", "quadratic", certified("nist-strd-pontius")),
        ("NoInt1", "line_through_zero", certified("nist-strd-noint1")),
        ("NoInt2", "line_through_zero", certified("nist-strd-noint2")),
    ]
    for number, (step, disturbance) in {
        1: (1.0, 0),
        2: (0.1, 0),
        3: (1.0, 1),
        4: (1.0, 100),
        5: (1.0, 10_000),
    }.items():
        for shape in ("line", "quadratic"):
            sets.append((f"Wampler{number}", shape, wampler(step, disturbance)))
    return {
        "title": "Exact least squares of NIST StRD data taken as float64",
        "written_by": "tests/generators/exact_least_squares.py",
        "digits": DIGITS,
        "sets": [entry(*each) for each in sets],
    }


def rendered() -> str:
    held = table()
    sets = held.pop("sets")
    assert isinstance(sets, list)
    head = json.dumps(held, indent=1)[:-2]
    return head + ',\n "sets": [\n' + ",\n".join(json.dumps(each) for each in sets) + "\n ]\n}\n"


def main() -> int:
    parser = argparse.ArgumentParser(description="Exact least squares of float64 data.")
    parser.add_argument("--check", action="store_true", help="compare, do not write")
    wanted = rendered()
    if parser.parse_args().check:
        return 0 if TARGET.read_text(encoding="utf-8") == wanted else 1
    TARGET.write_text(wanted, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
