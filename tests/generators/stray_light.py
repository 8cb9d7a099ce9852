"""Least squares of A(c) = log10((1 + s)/(10^(-k c) + s)) in 50 digits.

The minimum is found as the root of the gradient by Newton's method with the full Hessian from the
analytic second derivatives, in decimal arithmetic: nothing is shared with the library, which steps
by Gauss and Newton in float64. Data are invented and rounded as an instrument would print them.

    python tests/generators/stray_light.py            write tests/reference/stray_light.json
    python tests/generators/stray_light.py --check    fail if the file would change
"""

import argparse
import json
import sys
from decimal import Decimal, localcontext
from pathlib import Path

TARGET = Path(__file__).resolve().parent.parent / "reference" / "stray_light.json"
WORKING, DIGITS = 60, 25
ZERO, ONE, TEN = Decimal(0), Decimal(1), Decimal(10)

# name, noise, concentrations, signals, start (k, s), signal of a sample
SETS = [
    (
        "mild bend",
        "equal",
        ["0.5", "1", "2", "3", "4", "5", "6"],
        ["0.0581", "0.1149", "0.2247", "0.3287", "0.4271", "0.5188", "0.6047"],
        ("0.12", "0.03"),
        "0.3",
    ),
    (
        "strong bend, duplicate standards",
        "equal",
        ["0.2", "0.2", "0.5", "0.5", "1", "1", "2", "2", "3", "3"],
        ["0.0937", "0.0951", "0.2212", "0.2190", "0.3995", "0.4013", "0.6317", "0.6345", "0.7461", "0.7440"],
        ("0.55", "0.15"),
        "0.71",
    ),
    (
        "weighted by 1/x",
        "1/x",
        ["0.05", "0.1", "0.25", "0.5", "1", "1.5", "2"],
        ["0.0171", "0.0335", "0.0826", "0.1601", "0.3002", "0.4198", "0.5227"],
        ("0.35", "0.08"),
        "0.05",
    ),
]


def model(k: Decimal, s: Decimal, c: Decimal) -> Decimal:
    return ((ONE + s) / (TEN ** (-k * c) + s)).log10()


def derivatives(k: Decimal, s: Decimal, c: Decimal) -> tuple[list[Decimal], list[list[Decimal]]]:
    """First and second derivatives of the model with respect to (k, s)."""
    log10 = TEN.ln()
    t = TEN ** (-k * c)
    by_k = c * t / (t + s)
    by_s = (ONE / (ONE + s) - ONE / (t + s)) / log10
    kk = -c * c * log10 * t * s / (t + s) ** 2
    ks = -c * t / (t + s) ** 2
    ss = (ONE / (t + s) ** 2 - ONE / (ONE + s) ** 2) / log10
    return [by_k, by_s], [[kk, ks], [ks, ss]]


def solved(matrix: list[list[Decimal]], right: list[Decimal]) -> list[Decimal]:
    (a, b), (c, d) = matrix
    determinant = a * d - b * c
    return [(right[0] * d - b * right[1]) / determinant, (a * right[1] - c * right[0]) / determinant]


def minimum(x: list[Decimal], y: list[Decimal], w: list[Decimal], start: list[Decimal]) -> list[Decimal]:
    at = start
    for step in range(300):
        gradient, hessian = [ZERO, ZERO], [[ZERO, ZERO], [ZERO, ZERO]]
        for c, signal, weight in zip(x, y, w, strict=True):
            first, second = derivatives(at[0], at[1], c)
            rest = signal - model(at[0], at[1], c)
            for i in range(2):
                gradient[i] += weight * rest * first[i]
                for j in range(2):
                    # Full Newton only near the minimum, where the Hessian is positive definite.
                    bend = rest * second[i][j] if step > 20 else ZERO
                    hessian[i][j] += weight * (first[i] * first[j] - bend)
        move = solved(hessian, gradient)
        at = [at[0] + move[0], at[1] + move[1]]
        if max(abs(m) for m in move) < Decimal(10) ** (10 - WORKING):
            return at
    raise ArithmeticError("no minimum found")


def entry(
    name: str, noise: str, levels: list[str], signals: list[str], start: tuple[str, str], sample: str
) -> dict[str, object]:
    x, y = ([Decimal(float(v)) for v in column] for column in (levels, signals))
    w = [ONE if noise == "equal" else ONE / c for c in x]
    k, s = minimum(x, y, w, [Decimal(v) for v in start])
    normal = [[ZERO, ZERO], [ZERO, ZERO]]
    sse = ZERO
    for c, signal, weight in zip(x, y, w, strict=True):
        first, _ = derivatives(k, s, c)
        sse += weight * (signal - model(k, s, c)) ** 2
        for i in range(2):
            for j in range(2):
                normal[i][j] += weight * first[i] * first[j]
    inverse = [solved(normal, [ONE, ZERO]), solved(normal, [ZERO, ONE])]
    variance = sse / (len(x) - 2)
    reading = Decimal(float(sample))
    found = -(((ONE + s) * TEN ** (-reading) - s).log10()) / k
    first, _ = derivatives(k, s, found)
    t = TEN ** (-k * found)
    slope = k * t / (t + s)
    curve = sum(first[i] * first[j] * inverse[i][j] for i in range(2) for j in range(2))
    own = ONE if noise == "equal" else max(found, min(x))
    return {
        "set": name,
        "noise": noise,
        "x": [float(v) for v in levels],
        "y": [float(v) for v in signals],
        "k": text(k),
        "s": text(s),
        "sum_of_squares": text(sse),
        "standard_errors": [text((variance * inverse[i][i]).sqrt()) for i in range(2)],
        "covariance": text(variance * inverse[0][1]),
        "characteristic_concentration": text(Decimal("0.0044") * (ONE + s) / k),
        "plateau": text(((ONE + s) / s).log10()),
        "sample": float(sample),
        "concentration": text(found),
        "u": text((variance * (curve + own)).sqrt() / slope),
    }


def text(value: Decimal) -> str:
    with localcontext() as context:
        context.prec = DIGITS
        return str(+value)


def rendered() -> str:
    with localcontext() as context:
        context.prec = WORKING
        sets = [entry(*each) for each in SETS]
    head = {
        "title": "Least squares of an absorbance with stray light, of the data taken as float64",
        "written_by": "tests/generators/stray_light.py",
        "digits": DIGITS,
    }
    return (
        json.dumps(head, indent=1)[:-2]
        + ',\n "sets": [\n'
        + ",\n".join(json.dumps(each) for each in sets)
        + "\n ]\n}\n"
    )


def main() -> int:
    parser = argparse.ArgumentParser(description="Least squares of an absorbance with stray light.")
    parser.add_argument("--check", action="store_true", help="compare, do not write")
    wanted = rendered()
    if parser.parse_args().check:
        return 0 if TARGET.read_text(encoding="utf-8") == wanted else 1
    TARGET.write_text(wanted, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
