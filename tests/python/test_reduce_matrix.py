"""Standard additions, matched calibrations and the study of a limit in a run. All figures invented."""

import json
import pickle
import statistics
from pathlib import Path

import pytest

import groundstate as gs

DEMO = Path(gs.__file__).parent / "demo"
MOSS, MOSS_METHOD = DEMO / "gutter_moss.csv", DEMO / "gutter_moss.toml"


def test_series_stand_among_the_results() -> None:
    outcome = gs.reduce(MOSS, MOSS_METHOD)
    row = outcome.results.row("Moss north")
    assert row.role == "addition" and row.reported
    # The truth of the generator, mg/kg of dry moss.
    assert abs(row.value - 884.0) < row.expanded_uncertainty
    assert [sample for sample, _, _ in outcome.additions] == ["Moss north", "Moss south", "Moss lawn"]
    _, positions, series = outcome.additions[0]
    assert positions[0] == row.position and series is not None
    assert series.estimate.value == pytest.approx(row.solution_value, rel=1e-15)
    ratio = series.slope_ratio(outcome.calibrations[0])
    assert ratio.value == pytest.approx(0.75, abs=4 * ratio.u)
    codes = {finding.code for finding in outcome.findings}
    assert {"matrix_effect_confirmed", "standard_additions_made", "limit_from_study"} <= codes


def test_the_limit_is_that_of_the_study_in_the_archive() -> None:
    document = json.loads(gs.reduce(MOSS, MOSS_METHOD).to_json())
    limit = document["method"]["limits"]["mdl"][0]
    spikes = [spike["value"] for spike in limit["study"]["spikes"]]
    t = 3.14266840329098  # Student's t for 6 degrees of freedom at 0.99; Appendix B prints 3.143
    assert limit["value"] == pytest.approx(t * statistics.stdev(spikes), rel=1e-12)
    blanks = [blank["value"] for blank in limit["study"]["blanks"]]
    alone = gs.mdl(spikes, blanks)
    assert limit["value"] == pytest.approx(alone.value, rel=1e-15)
    used = {result["mdl"]["unadjusted"] for result in document["results"] if "mdl" in result}
    assert used == {limit["value"]}


def test_a_limit_below_its_study_is_refused() -> None:
    method = gs.read_method(MOSS_METHOD).to_dict()
    method["limits"]["mdl"][0]["value"] = 1.0
    with pytest.raises(gs.GroundstateError, match=r"limits\.mdl.*below"):
        gs.read_method(method)
    method["limits"]["mdl"][0]["value"] = 2.5
    codes = [finding.code for finding in gs.reduce(MOSS, gs.read_method(method)).findings]
    assert "limit_above_study" in codes and "limit_from_study" not in codes


def test_a_matrix_has_its_own_standards() -> None:
    levels = [0.0, 0.5, 1.0, 2.0]
    outside, inside = [0.0002, 0.1003, 0.1996, 0.4001], [0.0104, 0.0849, 0.1602, 0.3101]
    rows = [
        {"role": "standard", "label": f"{name}{x}", "nominal": x, "absorbance": y, "matrix": matrix}
        for name, matrix, signals in (("S", "", outside), ("M", "moss", inside))
        for x, y in zip(levels, signals, strict=True)
    ]
    rows.append({"role": "sample", "label": "A", "nominal": None, "absorbance": 0.1702, "matrix": "moss"})
    rows.append({"role": "sample", "label": "B", "nominal": None, "absorbance": 0.1702, "matrix": "water"})
    method = {"id": "Z", "version": "1", "element": "Zn", "calibration": {"matched": [{"matrix": "moss"}]}}
    outcome = gs.reduce(rows, gs.read_method(method))
    external, matched = gs.calibrate(levels, outside), gs.calibrate(levels, inside)
    assert outcome.results.row("A").value == pytest.approx(matched.concentration(0.1702).value, rel=1e-14)
    assert outcome.results.row("B").value == pytest.approx(external.concentration(0.1702).value, rel=1e-14)
    compared = gs.compare_calibrations(external, matched)
    row = outcome.matched[0]
    assert (row.matrix, row.segment, row.external) == ("moss", 2, 1)
    assert (row.effect_percent, row.effect_standard_uncertainty) == pytest.approx(compared.ratio.percent, rel=1e-14)
    assert row.slope_p == pytest.approx(compared.slope.p, rel=1e-12)
    assert len(gs.reduce(rows, gs.read_method({**method, "calibration": {}})).matched) == 0


def test_the_tests_of_the_matrix_say_what_comes_next() -> None:
    assert (gs.matrix_decision().effect, gs.matrix_decision().next) == ("not_shown", "spike_sample")
    spiked = gs.matrix_decision(matrix_spike="fail", post_digestion_spike="fail")
    assert (spiked.effect, spiked.next) == ("confirmed", "dilute")
    assert "9.8.1" in str(spiked.findings[0].citation)
    last = gs.matrix_decision(matrix_spike="fail", post_digestion_spike="fail", dilution_test="fail")
    assert last.next == "standard_additions" and "standard additions" in last.findings[0].sentence
    assert pickle.loads(pickle.dumps(last)) == last
    fine = gs.matrix_decision(matrix_spike="pass", post_digestion_spike="pass", dilution_test="pass")
    assert fine.next == "nothing" and fine.findings == ()
    with pytest.raises(gs.GroundstateError, match="not_evaluated"):
        gs.matrix_decision(matrix_spike="maybe")  # type: ignore[arg-type]
