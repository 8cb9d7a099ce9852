"""Every public object as a dictionary, a pickle and a copy; schemas, headers, correlated numbers, examples, versions."""

from __future__ import annotations

import copy
import inspect
import json
import pickle
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import uncertainties
import uncertainties.umath

import groundstate as gs

ROOT = Path(__file__).parents[2]
DEMO = Path(gs.__file__).parent / "demo"
ARCHIVES = sorted((ROOT / "tests" / "wire" / "archive" / "v1").glob("*.json"))

X = [0.0, 1.0, 2.0, 4.0, 6.0, 8.0]
Y = [0.001, 0.051, 0.099, 0.202, 0.301, 0.398]
CAL = gs.calibrate(X, Y, stock=gs.Stock("Zn A", 0.002))
FOUND = CAL.concentration([0.1, None, 0.5])
SERIES = gs.standard_additions([0, 1, 2, 3], [0.1, 0.15, 0.2, 0.26], aliquot=(10, 50))
MDL = gs.mdl([1.1, 1.2, 0.9, 1.0, 1.1, 1.3, 1.0], [0.1, "ND", 0.05, 0.0, 0.1, 0.2, 0.1])
COMPARISON = gs.compare_calibrations(CAL, gs.calibrate(X, [y * 0.9 for y in Y]))
CHOICE = gs.choose_shape(X, Y)
LOW, TOP = [0.0101, 0.0102, 0.0100, 0.0101, 0.0099, 0.0100], [0.401, 0.409, 0.395, 0.404, 0.392, 0.400]
REPLICATES = gs.choose_shape([0.1, 1.0, 4.0], [LOW, [y + 0.09 for y in LOW], TOP])
SPIKES = [
    gs.MdlResult(x, batch=f"B{i}", instrument="AA-1" if i else "AA-3", analysed_on="2025-04-02", spike_level=0.02)
    for i, x in enumerate([0.021, 0.020, 0.019, 0.022, 0.021, 0.020, 0.018, 0.021])
]
MANY = gs.calibrate_many(X, [Y, Y[::-1], [float("nan"), *Y[1:]]], x_uncertainty=0.01, y_uncertainty=0.001)
PLAN = gs.mdl_ongoing_plan(SPIKES, instruments=["AA-1"], first="2025-Q1", as_of="2025-05-02")
NEW_BLANKS = [gs.MdlResult(0.001, instrument="AA-3"), gs.MdlResult(-0.0004, instrument="AA-3")]
OUTCOME = gs.reduce(*gs.example("gutter_sediment"))
DOCUMENT = json.loads(OUTCOME.to_json())
TAMPERED = json.dumps(DOCUMENT | {"standing": "complete"})
SPOILT = [
    {"run": run, "role": "standard", "label": "S", "nominal": level, "absorbance": reading}
    for run, readings in (("good", [0.01, 0.1, 0.2]), ("bad", ["o", 0.1, 0.2]))
    for level, reading in zip([0.1, 1.0, 2.0], readings, strict=True)
]

#: One object at least of every public class.
OBJECTS: dict[str, list[Any]] = {
    "Addition": [SERIES],
    "BudgetLine": list(FOUND.budget(0)),
    "Calibration": [CAL, CAL.refit(exclude=[2]), OUTCOME.calibrations[0]],
    "CalibrationLimit": [gs.critical_value(CAL), gs.detection_limit(CAL), gs.quantitation_limit(CAL)],
    "Contributions": [FOUND.contributions, FOUND[0].contributions],
    "Difference": [COMPARISON.slope, COMPARISON.intercept],
    "Estimate": [FOUND[0], FOUND[1], SERIES.estimate, SERIES.sample],
    "Estimates": [FOUND, FOUND[::-1], gs.Preparation(volume_ml=10, final_volume_ml=50).apply(FOUND)],
    "Example": [gs.example()],
    "FTest": [CAL.mandel()],
    "Factor": [gs.Factor(1.02, 0.01, "recovery", dof=4)],
    "Finding": [*OUTCOME.findings, *MDL.findings],
    "Findings": [OUTCOME.findings, FOUND.findings],
    "FromReplicates": [gs.FromReplicates(), gs.FromReplicates("per_level", at_least=4)],
    "Header": [gs.read_header(OUTCOME.to_json())],
    "Interval": [FOUND[0].interval(), FOUND[1].interval(), COMPARISON.ratio.interval()],
    "Intervals": [FOUND.interval(), FOUND[1:].interval(method="inversion")],
    "KnownSigma": [gs.KnownSigma(0.001), gs.KnownSigma([0.001, 0.002])],
    "MatrixComparison": [COMPARISON],
    "Mdl": [MDL],
    "MdlPart": [MDL.spikes, MDL.blanks],
    "MdlResult": [gs.MdlResult(1.0, batch="B1", prepared_on="2025-03-01", excluded=("spilt", "M. Orchard")), gs.MdlResult(gs.ND)],
    "MdlVerification": [gs.mdl_verification(0.4, [1.1, 1.2, 0.9, 1.0, 1.1, 1.3, 1.0], [0.1] * 7, as_of="2025-03-01")],
    "Measured": [gs.Measured(1.0, 0.01, repeatability=0.002, item="balance")],
    "Method": [OUTCOME.method, gs.Method.new("Zn")],
    "NonDetect": [gs.ND],
    "Outcome": [OUTCOME, gs.reduce(*gs.example())],
    "Outcomes": [gs.reduce_many(SPOILT, gs.Method.new("Zn")), gs.reduce_many(DEMO / "roof_water.csv", DEMO / "roof_water.toml")],
    "OutlierTest": [gs.grubbs(Y), gs.dixon(Y)],
    "Preparation": [gs.Preparation(mass_g=1.0, final_volume_ml=gs.Measured(100, 0.1), weighed="wet", report="dry", percent_solids=80, dilution="5/50")],
    "Problem": [gs.Problem(3, "role", "S1", "unknown", "write one")],
    "RelativeSigma": [gs.RelativeSigma([1.0, 2.0])],
    "Replicates": [gs.replicates(Y), gs.replicates([1.0])],
    "Requirement": list(MDL.design),
    "Response": [CAL.absorbance(1.0)],
    "Responses": [CAL.absorbance(X)],
    "Run": [OUTCOME.run],
    "ShapeCandidate": list(CHOICE.candidates),
    "ShapeChoice": [CHOICE],
    "ShapeTest": [test for candidate in CHOICE.candidates for test in candidate.tests],
    "Simulation": [gs.simulate(OUTCOME, seed=3, trials=200)],
    "SlopeRatio": [COMPARISON.ratio, SERIES.slope_ratio(CAL)],
    "Stock": [gs.Stock("Zn A", 0.002)],
    "Table": [OUTCOME.results, OUTCOME.checks],
    "Validation": [gs.validate()],
    "Verification": [gs.verify(OUTCOME.to_json()), gs.verify(TAMPERED)],
    "XUncertainty": [gs.XUncertainty(u=[0.1, 0.2])],
    "CurrieLevels": [gs.currie_levels(0.001), gs.currie_levels(blanks=LOW)],
    "ExtremeDeviates": [gs.generalized_esd(Y, 2)],
    "Idl": [gs.idl(LOW, recipe="epa_200")],
    "LloqVerification": [gs.lloq_verification(0.1, [0.07, 0.13, 0.1], lowest_standard=0.1)],
    "MdlEstimate": [gs.mdl_estimate([0.001, -0.001, 0.0])],
    "MdlJoining": [gs.mdl_joining_instrument(0.005, SPIKES, NEW_BLANKS, instrument="AA-3")],
    "MatrixDecision": [gs.matrix_decision(matrix_spike="fail", post_digestion_spike="fail")],
    "ManyCalibrations": [MANY],
    "Methods": [gs.Methods([gs.Method.new("Zn"), OUTCOME.method])],
    "MdlPlan": [PLAN],
    "MdlQuarter": list(PLAN.quarters),
    "MdlRecord": [MDL.record(method="ZN", unit="mg/L")],
    "MdlSpikingLevel": [gs.mdl_spiking_level([0.021, 0.019, gs.ND, 0.020])],
    "NoiseSuggestion": [gs.suggest_noise([0.1, 4.0], [LOW, TOP]), REPLICATES.suggested_noise],
    "Robust": [gs.robust(Y), gs.robust(Y, "huber")],
    "SingleAddition": [gs.single_addition([0.2, 0.21], [0.1, 0.11], standard=100.0, standard_volume=0.1, portion_volume=10.0)],
    "VarianceTest": [gs.variance_homogeneity([LOW, TOP], "bartlett")],
}  # fmt: skip

#: Parents that are never an object by themselves, what is raised, and what has nothing to say but its name.
NO_OBJECTS = {"Uncertain"}
NOTHING_TO_TELL = {"NonDetect", "Example", "Header"}
#: Two uncertain numbers are never equal; they are the same.
NOT_COMPARED = {"Estimate", "Estimates"}


def test_every_public_class_is_walked_over() -> None:
    classes = {
        name
        for name in gs.__all__
        if inspect.isclass(getattr(gs, name)) and not issubclass(getattr(gs, name), BaseException)
    }
    assert classes == OBJECTS.keys() | NO_OBJECTS
    for name, objects in OBJECTS.items():
        assert objects and all(type(one).__name__ == name for one in objects), name


def same(one: Any, other: Any) -> bool:
    if type(one).__name__ in NOT_COMPARED:
        return bool(one.same_as(other)) and repr(one) == repr(other)
    return bool(one == other)


@pytest.mark.parametrize("name", OBJECTS)
def test_pickles_and_copies_are_the_same(name: str) -> None:
    for one in OBJECTS[name]:
        for again in (
            *(pickle.loads(pickle.dumps(one, protocol)) for protocol in range(2, pickle.HIGHEST_PROTOCOL + 1)),
            copy.copy(one),
            copy.deepcopy(one),
        ):
            assert type(again) is type(one)
            assert same(again, one), one
            assert repr(again) == repr(one)


@pytest.mark.parametrize("name", sorted(OBJECTS.keys() - NOTHING_TO_TELL))
def test_dictionaries_hold_plain_figures_and_words(name: str) -> None:
    for one in OBJECTS[name]:
        told = one.to_dict()
        assert isinstance(told, dict) and told
        assert "NaN" not in json.dumps(told)  # refuses what is not plain
        assert one.to_dict() == told
        again = pickle.loads(pickle.dumps(one))
        assert again.to_dict() == told


def test_different_objects_differ() -> None:
    for name, objects in OBJECTS.items():
        if name in NOT_COMPARED or name in {"Contributions", "ShapeTest"}:
            continue
        for i, one in enumerate(objects):
            assert one != 3
            assert all(not same(one, other) for other in objects[:i] if repr(other) != repr(one)), name
    assert gs.choose_shape(X, Y, alpha=0.05) != CHOICE
    assert CAL.absorbance(X) != CAL.absorbance(X[1:])
    assert FOUND.interval() != FOUND.interval(0.9)
    assert gs.simulate(OUTCOME, seed=3, trials=200) != gs.simulate(OUTCOME, seed=4, trials=200)


# ---- documents


@pytest.mark.parametrize("name", ["mdl_record", "method", "outcome", "run"])
def test_the_package_holds_the_schemas_of_the_documentation(name: str) -> None:
    kept = (ROOT / "docs" / "schema" / f"{name}.json").read_bytes()
    assert (Path(gs.__file__).parent / "schema" / f"{name}.json").read_bytes() == kept
    assert gs.schema(name) == json.loads(kept)


def test_an_unknown_schema_is_refused() -> None:
    with pytest.raises(gs.ArgumentError, match="mdl_record, method, outcome, run"):
        gs.schema("results")


@pytest.mark.parametrize("path", ARCHIVES, ids=[path.stem for path in ARCHIVES])
def test_the_header_is_readable_alone(path: Path) -> None:
    expected = gs.Header("outcome", 1, 0, False)
    text = path.read_text("utf-8")
    assert gs.read_header(path) == gs.read_header(str(path)) == gs.read_header(text) == expected
    assert gs.read_header(text[:60]) == gs.read_header("\ufeff " + text[:200]) == expected
    newer = text.replace("groundstate.outcome/1", "groundstate.outcome/1.7", 1)
    assert gs.read_header(newer) == gs.Header("outcome", 1, 7, True)
    with pytest.raises(gs.WireError, match=r"groundstate\.outcome/2"):
        gs.read_header(text.replace("groundstate.outcome/1", "groundstate.outcome/2", 1))
    with pytest.raises(gs.WireError, match="schema"):
        gs.read_header('{"results": []}')


def test_runs_are_documents() -> None:
    run = OUTCOME.run
    assert gs.Run.from_json(run.to_json()) == run == gs.Run.from_json(run.to_json(compact=True))
    assert gs.read_header(run.to_json()).document == "run"
    assert run.to_dict()["schema"] == "groundstate.run/1"
    with pytest.raises(gs.WireError, match="run"):
        gs.Run.from_json(OUTCOME.to_json())


# ---- correlated numbers


def assert_covariance(numbers: list[Any], expected: Any) -> None:
    found = np.array(uncertainties.covariance_matrix(numbers))
    # Sums of a dozen products, in another order.
    np.testing.assert_allclose(found, expected, rtol=1e-12, atol=1e-15 * float(np.abs(expected).max()))


def test_estimates_go_out_correlated() -> None:
    found = CAL.concentration([0.1, 0.2, 0.39])
    numbers = found.to_uncertainties()
    np.testing.assert_array_equal([n.nominal_value for n in numbers], found.value)
    assert_covariance(numbers, found.covariance())
    difference = numbers[1] - numbers[0]
    c = found.covariance()
    assert difference.std_dev == pytest.approx((c[0, 0] + c[1, 1] - 2 * c[0, 1]) ** 0.5, rel=1e-12)


def test_numbers_of_several_results_are_correlated_through_what_they_share() -> None:
    sources: dict[str, Any] = {}
    one = CAL.concentration([0.1]).to_uncertainties(sources)
    other = CAL.concentration([0.3]).to_uncertainties(sources)
    together = CAL.concentration([0.1, 0.3]).covariance()
    # The readings have other names, the curve and the stock the same.
    assert uncertainties.covariance_matrix([one[0], other[0]])[0][1] == pytest.approx(together[0, 1], rel=1e-12)
    apart = CAL.concentration([0.3]).to_uncertainties()
    assert uncertainties.covariance_matrix([one[0], apart[0]])[0][1] == 0.0
    another = gs.calibrate(X, [2 * y for y in Y], stock=gs.Stock("Zn A", 0.002)).concentration([0.5])
    shared = uncertainties.covariance_matrix([one[0], another.to_uncertainties(sources)[0]])[0][1]
    # The stock alone: each value times its relative uncertainty.
    assert shared == pytest.approx(one[0].nominal_value * another.value[0] * 0.002**2, rel=1e-12)
    assert CAL.concentration(0.1).to_uncertainties(sources).nominal_value == one[0].nominal_value
    assert any(variable.tag == "stock:Zn A" for variable in sources.values())


def test_outcomes_go_out_correlated() -> None:
    numbers = OUTCOME.to_uncertainties()
    np.testing.assert_array_equal([n.nominal_value for n in numbers], OUTCOME.results["value"])
    assert_covariance(numbers, OUTCOME.covariance())
    ratio = uncertainties.umath.log(numbers[0] / numbers[1])
    assert ratio.std_dev > 0


def test_what_has_no_uncertainty_never_goes_out_as_exact() -> None:
    none = CAL.concentration([0.1, None]).to_uncertainties()[1]
    assert np.isnan(none.nominal_value) and np.isnan(none.std_dev)
    exact = gs.calibrate([0, 1], [0.0, 0.05]).concentration([0.02])
    assert np.isnan(exact.u[0]) and exact.value[0] == pytest.approx(0.4)
    number = exact.to_uncertainties()[0]
    assert number.nominal_value == exact.value[0] and np.isnan(number.std_dev)


# ---- what comes with the package


def test_examples_are_runs_with_their_methods() -> None:
    run, method = gs.example("roof_water")
    # From a path, an outcome also keeps the digest of the file's bytes.
    found, from_file = gs.reduce(run, method), gs.reduce(DEMO / "roof_water.csv", DEMO / "roof_water.toml")
    assert found.results == from_file.results
    assert found.provenance["fingerprint"] == from_file.provenance["fingerprint"]
    assert gs.example().run.name == "roof-water" and gs.example("gutter_sediment").method.element == "Zn"
    with pytest.raises(gs.ArgumentError, match="gutter_sediment, roof_water"):
        gs.example("rain")
    with pytest.raises(gs.ArgumentError, match="there is no example"):
        gs.example("../demo/roof_water")


def test_versions_name_packages_and_no_folder() -> None:
    said = gs.show_versions()
    assert said.startswith("groundstate ") and gs.__version__ in said and "build)" in said
    for name in ("numpy", "pandas", "polars", "pyarrow", "uncertainties"):
        assert re.search(rf"^{name} +[0-9]", said, re.MULTILINE)
    assert sys.prefix not in said and str(Path.home()) not in said and "/" not in said


def test_a_slow_build_is_told_once_and_can_be_silenced() -> None:
    import os

    build = gs.show_versions().splitlines()[0]
    for quiet, heard in (("", "development" in build), ("1", False)):
        done = subprocess.run(
            [sys.executable, "-W", "always", "-c", "import groundstate; import groundstate._reduce"],
            env=os.environ | {"GROUNDSTATE_DEVELOPMENT": quiet},
            capture_output=True,
            text=True,
            check=True,
        )
        assert done.stderr.count("UnoptimisedWarning") == heard, done.stderr
