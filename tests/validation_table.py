"""Writes docs/validation.md: every published check, the library's figure, and the digits that agree.

python tests/validation_table.py            print it
python tests/validation_table.py --write    write docs/validation.md
python tests/validation_table.py --check    fail if docs/validation.md would change
"""

import argparse
import json
import sys
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from groundstate._validate import agreeing_digits  # noqa: E402
from tests import comparison, library  # noqa: E402  (the path is set just above)
from tests.oracle import figures  # noqa: E402

TARGET = ROOT / "docs" / "validation.md"

HEAD = """# Validation

Written by `python tests/validation_table.py --write`; do not edit by hand.

Each figure below is published or follows from published data. *Published* is the figure as printed.
*Library* is what the installed package gives. *Digits* is minus the common logarithm of its relative error
against the figure recomputed to 20 digits from the same data; 17 or more is as near as float64 can be.
*Floor* is the least number of digits the test suite accepts, with its reason under the table.

This is evidence of the library's arithmetic. A laboratory still validates its own methods, files,
transfers and access.
"""


def page() -> str:
    return "\n".join([HEAD, *published(), *exact(), *oracle_only(), *rust_suites(), *invented()]) + "\n"


def published() -> Iterator[str]:
    yield "## Published examples\n"
    yield "What `gs.validate()` computes again on the machine of whoever asks.\n"
    for case in library.cases():
        names = library.offered(case)
        if not names:
            continue
        yield from heading(case)
        yield "| figure | published | library | digits | floor |"
        yield "|---|---|---|--:|--:|"
        figure = library.answers(case)
        for name in names:
            found = figure(name)
            digits = agreeing_digits(found, Decimal(case.expected[name]))
            yield f"| {name} | {printed(case, name)} | {found} | {digits:.1f} | {case.digits:g} |"
        yield ""
        yield f"Floor: {case.digits_reason}."
        yield from differences(case, names)


def heading(case: library.Case | figures.Case) -> Iterator[str]:
    yield f"### {case.title}\n"
    yield f"Source: {case.source}. Obtained: {case.obtained}.\n"


def printed(case: library.Case | figures.Case, name: str) -> str:
    if name not in case.printed:
        return ""
    return case.printed[name] + (" \\*" if name in case.differs else "")


def differences(case: library.Case | figures.Case, names: list[str]) -> Iterator[str]:
    listed = [f"{name}: {why}" for name, why in case.differs.items() if name in names]
    if listed:
        yield f"\\* The source prints another figure. {'; '.join(listed)}."
    yield ""


def exact() -> Iterator[str]:
    yield "## Exact least squares of float64 data\n"
    yield (
        "NIST StRD data of degree 1 and 2 and the Wampler data at degree 1 and 2, solved in exact fractions after\n"
        "rounding to float64 (`tests/generators/exact_least_squares.py`). Accepted: 15 digits, or 2 units in the last\n"
        "place.\n"
    )
    yield "| set | shape | coefficients | standard errors | residual SD |"
    yield "|---|---|---|---|--:|"
    table = json.loads((ROOT / "tests" / "reference" / "exact_least_squares.json").read_text(encoding="utf-8"))
    for held in table["sets"]:
        cal = library.fit([(x, [y]) for x, y in zip(held["x"], held["y"], strict=True)], held["shape"], "equal")
        columns = (
            digits_of(list(cal.coefficients), held["coefficients"]),
            digits_of(list(cal.standard_errors), held["standard_errors"]),
            digits_of([library.given(cal.residual_sd)], [held["residual_sd"]]),
        )
        yield f"| {held['set']} | {held['shape']} | {' | '.join(columns)} |"
    yield ""


def digits_of(found: list[float], wanted: list[str]) -> str:
    pairs = zip(found, wanted, strict=True)
    return ", ".join(f"{library.correct_digits(float(value), Decimal(text)):.1f}" for value, text in pairs)


def oracle_only() -> Iterator[str]:
    yield "## Checked in the oracle\n"
    yield (
        "No function of the Python package gives these figures by itself. The oracle, which the package is\n"
        "compared with below, reproduces them; the Rust suites named under *Checked in the Rust suites* hold the\n"
        "library to them.\n"
    )
    left = {case.name: set(case.expected) - set(library.offered(case)) for case in library.cases()}
    for case in figures.cases():
        names = [name for name in case.expected if name in left[case.name]]
        if not names:
            continue
        yield from heading(case)
        yield "| figure | published | oracle |"
        yield "|---|---|---|"
        for name in names:
            yield f"| {name} | {printed(case, name)} | {figures.figure(case, name):.12g} |"
        yield ""
        yield from differences(case, names)


RUST_SUITES = (
    ("NIST StRD univariate sets, Grubbs, Dixon, generalized ESD (Rosner), homogeneity, robust means", "statistics.rs"),
    ("t, F, chi-squared, normal and non-central t: 2773 values of 50 digits, tails included", "distributions.rs"),
    ("the same distributions against integrals of their densities", "distribution_table.rs"),
    ("every calibration case above, and the exact solutions, to 2 ulp or 15 digits", "curve_published.rs"),
    ("ISO/TS 28037 and York's data under three covariance conventions, Deming's closed form", "distance_fit.rs"),
    (
        "40 CFR 136 Appendix B: vectors, percentile ranks, printed t table; minimum levels of Method 1638",
        "mdl_published.rs",
    ),
    ("Currie's multipliers, ISO 11843-2 and DIN 32645 formulas", "calibration_limits.rs"),
    ("Miller's silver, Harvey's sodium, Skoog's bracketing", "addition/published.rs"),
    ("JCGM 101 additive model, QUAM A5 by Monte Carlo", "simulate.rs"),
    ("QUAM A1 and A5 budgets, GUM H.1, the equations of SW-846 and 200.7 for solids", "../src/preparation/tests"),
    ("58 rounding examples of ISO 80000-1 and ASTM E29", "../src/rounding/tests.rs"),
    ("RFC 8785 numbers and documents, fingerprints recomputed in plain Python", "wire.rs"),
)


def rust_suites() -> Iterator[str]:
    yield "## Checked in the Rust suites\n"
    yield "Each test names its source and how the figures were obtained.\n"
    yield "| what | suite under `crates/groundstate/tests` |"
    yield "|---|---|"
    for what, suite in RUST_SUITES:
        assert (ROOT / "crates" / "groundstate" / "tests" / suite).exists(), suite
        yield f"| {what} | `{suite}` |"
    yield ""


def invented() -> Iterator[str]:
    yield "## Against the oracle\n"
    yield (
        f"{comparison.CASES} invented calibrations (seed {comparison.SEED}) and three readings of each, against\n"
        "plain decimal arithmetic of 60 digits (`tests/oracle`). Error: |library - oracle| over the figure's size, or\n"
        "over the uncertainty that goes with it where that is larger. Accepted: as `tests/python/test_oracle.py` says.\n"
    )
    yield "| figure | count | median | 99 % | largest |"
    yield "|---|--:|--:|--:|--:|"
    for name, count, q50, q99, worst in comparison.distribution(comparison.errors()):
        yield f"| {name} | {count} | {q50:.1e} | {q99:.1e} | {worst:.1e} |"
    yield (
        f"\nRows marked *{comparison.MORE_READINGS[2:]}* are a known difference: points are means of m readings and the\n"
        "sample is a mean of more, m'. Its variance is then a difference of two estimates, and the oracle's degrees of\n"
        "freedom fall below n - p, where the library keeps n - p. Value and standard uncertainty agree."
    )


def main() -> int:
    parser = argparse.ArgumentParser(description="The table of validation checks.")
    action = parser.add_mutually_exclusive_group()
    action.add_argument("--write", action="store_true", help="write docs/validation.md")
    action.add_argument("--check", action="store_true", help="compare with docs/validation.md")
    asked = parser.parse_args()
    text = page()
    if asked.check:
        return 0 if TARGET.read_text(encoding="utf-8") == text else 1
    if asked.write:
        TARGET.write_text(text, encoding="utf-8")
    else:
        sys.stdout.write(text)
    return 0


if __name__ == "__main__":
    sys.exit(main())
