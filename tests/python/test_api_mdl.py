"""The method detection limit through its life: determination, data to gather, verification, record; LLOQ and IDL.

The vectors V1, V2, V4 and V5 are constructed (invented data); V3 is the rule's own example, from memory. Clauses of
40 CFR 136 Appendix B from II(2)(c) on are from memory.
"""

import datetime
import json
import math
import pickle
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import polars as pl
import pyarrow as pa
import pytest
from jsonschema import Draft202012Validator

import groundstate as gs

ROOT = Path(__file__).parents[2]
SPIKES = [0.0212, 0.0198, 0.0225, 0.0189, 0.0207, 0.0231, 0.0194]
BLANKS = [0.0008, -0.0011, 0.0004, 0.0015, -0.0003, 0.0009, 0.0002]
DAYS = ["2025-01-07", "2025-01-14", "2025-01-21", "2025-01-28"]


def study(values: list[Any], level: float | None = None) -> dict[str, list[Any]]:
    """Eight results on two instruments, four batches and four days (invented)."""
    table: dict[str, list[Any]] = {
        "value": values,
        "batch": [f"B{i // 2}" for i in range(8)],
        "prepared_on": [DAYS[i // 2] for i in range(8)],
        "analysed_on": [DAYS[i // 2] for i in range(8)],
        "instrument": [f"AA-{1 + i % 2}" for i in range(8)],
    }
    return table if level is None else table | {"spike_level": [level] * 8}


SPIKED = study([*SPIKES, 0.0203], 0.02)
BLANK = study([*BLANKS, 0.0006])
FACTS: dict[str, Any] = {"as_of": "2025-02-01", "initial_estimate": 0.005}


def codes(found: Any) -> list[str]:
    return [finding.code for finding in found.findings]


def same(one: Any) -> Any:
    return pickle.loads(pickle.dumps(one))


# ---- the vectors


def test_v1_spikes_decide() -> None:
    limit = gs.mdl(SPIKES, BLANKS)
    # 40-digit arithmetic; t is good to some ten units in the last place.
    assert limit.value == pytest.approx(0.004955726674266331422697527914, rel=1e-13)
    assert limit.from_blanks == pytest.approx(0.003027078295280233154149342442, rel=1e-13)
    assert (limit.branch, limit.decided_by, limit.basis) == ("mean_plus_ts", "spikes", "computed_from_values")
    printed = gs.mdl(SPIKES, BLANKS, t="printed_table")
    assert printed.spikes.t == printed.blanks.t == 3.143
    assert printed.value == pytest.approx(0.004956249574695231857000843531, rel=1e-13)


def test_v2_a_negative_mean_is_zeroed() -> None:
    limit = gs.mdl(SPIKES, [x - 0.002 for x in BLANKS])
    assert limit.from_blanks == pytest.approx(0.002684221152423090297006485299, rel=1e-12)
    assert limit.blanks.mean == pytest.approx(-0.001657142857142857, rel=1e-12)
    assert "mdl_blank_mean_zeroed" in codes(limit)


def ladder(n: int, censored: int = 10) -> list[Any]:
    return [gs.ND] * censored + [float(i) for i in range(censored + 1, n + 1)]


def rank(limit: gs.Mdl) -> Any:
    return next(finding for finding in limit.findings if finding.code == "mdl_percentile_rank").facts["rank"]


def test_v3_the_rules_own_example() -> None:
    blanks: list[Any] = [gs.ND] * 60 + [0.5 + 0.01 * i for i in range(99)] + [1.5, 10.0, 1.7, 5.0, 1.9]
    assert len(blanks) == 164
    limit = gs.mdl([8.0, 8.1, 8.2, 7.9, 8.0, 8.1, 8.3], blanks)
    assert (limit.value, limit.branch, limit.decided_by, rank(limit)) == (1.9, "percentile_of_some", "blanks", 162)
    # Spreadsheets interpolate at 1 + 0.99 * 163 = 162.37, which NumPy's default ("linear") does as well.
    between = gs.mdl([8.0, 8.1, 8.2, 7.9, 8.0, 8.1, 8.3], blanks, percentile="interpolated")
    assert between.from_blanks == pytest.approx(1.9 + 0.37 * 3.1, rel=1e-14)
    numeric = [0.1 if b is gs.ND else b for b in blanks]
    everything = gs.mdl(SPIKES, numeric, numeric_blanks="percentile", percentile="interpolated")
    assert everything.from_blanks == pytest.approx(np.percentile(numeric, 99), rel=1e-14)
    assert everything.branch == "percentile_of_all"
    finding = next(f for f in between.findings if f.code == "mdl_percentile_interpolated")
    assert "place 162.37" in finding.sentence
    assert gs.mdl(SPIKES, numeric).branch == "mean_plus_ts"


def test_v4_ranks_and_ties() -> None:
    expected = {100: 99, 101: 100, 133: 132, 149: 148, 150: 149, 164: 162, 250: 248}
    assert {n: rank(gs.mdl(SPIKES, ladder(n))) for n in expected} == expected
    even = {n: rank(gs.mdl(SPIKES, ladder(n), rank_tie="half_even")) for n in (150, 250)}
    assert even == {150: 148, 250: 248}
    assert gs.mdl(SPIKES, ladder(150)).from_blanks == 149.0


def test_a_hundred_blanks_and_the_two_wordings() -> None:
    at_least = gs.mdl(SPIKES, ladder(100))
    more = gs.mdl(SPIKES, ladder(100), many_blanks="more_than_100")
    assert (at_least.branch, at_least.from_blanks) == ("percentile_of_some", 99.0)
    assert (more.branch, more.from_blanks) == ("highest_blank", 100.0)
    assert "mdl_hundred_blanks" in codes(more)
    assert same(more) == more != at_least


def test_a_percentile_among_the_non_detects_has_no_number() -> None:
    for percentile in ("rank", "interpolated"):
        limit = gs.mdl(SPIKES, ladder(200, 199), percentile=percentile)
        assert limit.from_blanks is None
        assert limit.value == limit.from_spikes
        assert "mdl_rank_on_non_detect" in codes(limit)


def test_v5_non_detects_and_missing_results() -> None:
    none = gs.mdl(SPIKES, [gs.ND] * 7)
    assert (none.branch, none.from_blanks, none.value) == ("none_numeric", None, none.from_spikes)
    assert "censored_upstream" in codes(none)
    one: list[Any] = [gs.ND] * 6 + [0.0021]
    limit = gs.mdl(SPIKES, one)
    assert (limit.branch, limit.from_blanks) == ("highest_blank", 0.0021)
    # Missing is not non-detect: it never changes the branch.
    gaps = gs.mdl(SPIKES, [*BLANKS, math.nan, None])
    assert (gaps.branch, gaps.from_blanks) == ("mean_plus_ts", gs.mdl(SPIKES, BLANKS).from_blanks)
    assert (gaps.blanks.missing, gaps.blanks.nondetects) == (2, 0)
    assert gs.mdl(SPIKES, [None, math.nan]).branch == "no_blanks"


# ---- tables


@pytest.mark.parametrize(
    "form",
    [
        lambda table: table,
        lambda table: [dict(zip(table, row, strict=True)) for row in zip(*table.values(), strict=True)],
        pd.DataFrame,
        lambda table: pd.DataFrame(table).assign(analysed_on=pd.to_datetime(table["analysed_on"])),
        pl.DataFrame,
        pa.table,
        lambda table: table | {"prepared_on": [datetime.date.fromisoformat(day) for day in table["prepared_on"]]},
        lambda table: [
            gs.MdlResult(row.pop("value"), **row)
            for row in [dict(zip(table, cells, strict=True)) for cells in zip(*table.values(), strict=True)]
        ],
    ],
    ids=["columns", "rows", "pandas", "pandas dates", "polars", "arrow", "datetime", "MdlResult"],
)
def test_tables_of_every_form(form: Any) -> None:
    limit = gs.mdl(form(SPIKED), form(BLANK), **FACTS)
    assert limit == gs.mdl(SPIKED, BLANK, **FACTS)
    assert limit.basis == "design_met"
    assert [r.rule for r in limit.design if r.state != "met"] == []
    assert all(requirement.citation for requirement in limit.design)


def test_non_detects_in_tables() -> None:
    words = BLANK | {"value": ["ND", "", "0.0004", None, " -0.0003", "0.0009", "0.0002", "0.0006"]}
    flagged = BLANK | {
        "value": [None, None, 0.0004, math.nan, -0.0003, 0.0009, 0.0002, 0.0006],
        "nondetect": [True, *[False] * 7],
    }
    under = BLANK | {"value": [0.0001, *flagged["value"][1:]], "nondetect": flagged["nondetect"]}
    found = [gs.mdl(SPIKED, table, **FACTS) for table in (words, flagged, pd.DataFrame(flagged), under)]
    assert all(limit == found[0] for limit in found)
    counts = found[0].blanks
    assert (counts.numeric, counts.nondetects, counts.missing) == (5, 1, 2)
    assert found[0].from_blanks == 0.0009


def test_one_word_stands_for_a_whole_column() -> None:
    assert gs.mdl({"value": SPIKES, "spike_level": 0.02}, BLANKS).record().mean_spiked == pytest.approx(0.02, rel=1e-14)


def test_what_is_wrong_with_a_table_is_named_by_row_and_column() -> None:
    table = {"value": [0.02, "low", 0.021], "analysed_on": ["2025-01-07", "7 Jan", ""], "bacth": ["B1", "B1", "B2"]}
    with pytest.raises(gs.TableError) as caught:
        gs.mdl(table, BLANKS)
    problems = {(problem.row, problem.name) for problem in caught.value.problems}
    assert problems == {(2, "spikes.value"), (2, "spikes.analysed_on"), (None, "spikes.bacth")}
    assert "did you mean batch?" in str(caught.value)
    with pytest.raises(gs.TableError, match="no column of results"):
        gs.mdl({"result": SPIKES}, BLANKS)
    with pytest.raises(gs.ArgumentError, match=r"spikes\.batch: the column has 1 cells, another has 7"):
        gs.mdl({"value": SPIKES, "batch": ["B1"]}, BLANKS)
    with pytest.raises(TypeError, match="row 2 is a float, not a mapping"):
        gs.mdl([{"value": 0.02}, 0.03], BLANKS)
    with pytest.raises(gs.TableError, match="inf"):
        gs.mdl({"value": [0.02, "inf"]}, BLANKS)


# ---- the design


def state(limit: Any, rule: str) -> str:
    return str({requirement.rule: requirement.state for requirement in limit.design}[rule])


def changed(table: dict[str, list[Any]], **columns: Any) -> dict[str, Any]:
    return table | columns


@pytest.mark.parametrize(
    ("rule", "spikes", "blanks"),
    [
        ("spike_count", {name: cells[:6] for name, cells in SPIKED.items()}, BLANK),
        ("blank_count", SPIKED, {name: cells[:6] for name, cells in BLANK.items()}),
        ("spike_batches", changed(SPIKED, batch=["B1"] * 4 + ["B2"] * 4), BLANK),
        ("blank_batches", SPIKED, changed(BLANK, batch=["B1"] * 8)),
        ("spike_preparation_dates", changed(SPIKED, prepared_on=[DAYS[0]] * 8), BLANK),
        ("spike_analysis_dates", changed(SPIKED, analysed_on=[DAYS[3]] * 8), BLANK),
        ("one_spike_level", changed(SPIKED, spike_level=[0.02] * 7 + [0.03]), BLANK),
    ],
)
def test_a_broken_requirement_is_cited(rule: str, spikes: Any, blanks: Any) -> None:
    limit = gs.mdl(spikes, blanks, **FACTS)
    assert state(limit, rule) == "not_met"
    assert limit.basis == "design_not_met"
    requirement = next(one for one in limit.design if one.rule == rule)
    assert "40 CFR Part 136, Appendix B" in requirement.citation
    assert "limit_requirement_not_met" in codes(limit)


def test_facts_that_were_not_given_are_not_evaluated() -> None:
    limit = gs.mdl(SPIKES, BLANKS)
    open_rules = [requirement.rule for requirement in limit.design if requirement.state == "not_evaluated"]
    assert {"spike_batches", "blank_batches", "spike_analysis_dates", "one_spike_level"} <= set(open_rules)
    partly = gs.mdl({"value": SPIKES, "batch": [f"B{i}" for i in range(7)]}, BLANKS)
    assert (state(partly, "spike_batches"), partly.basis) == ("met", "design_incomplete")


def test_a_spike_without_a_positive_number_means_repeating_at_a_higher_level() -> None:
    for bad in (gs.ND, 0.0, -0.001):
        limit = gs.mdl(list[Any]([*SPIKES, bad]), BLANKS)
        assert (limit.value, limit.spikes.outcome) == (None, "repeat_at_higher_level")
        assert "mdl_repeat_at_higher_level" in codes(limit)


def test_only_documented_gross_failures_are_left_out() -> None:
    table = SPIKED | {
        "excluded": ["cracked vial", *[None] * 7],
        "excluded_by": ["J. Doe", *[None] * 7],
        "excluded_on": ["2025-01-08", *[""] * 7],
    }
    limit = gs.mdl(table, BLANK, **FACTS)
    assert (limit.spikes.numeric, limit.spikes.excluded) == (7, 1)
    assert "mdl_gross_failures" in codes(limit)
    assert len(limit.spike_results) == len(limit.blank_results) == 8
    assert limit.spike_results[0].excluded == limit.record().results[0].excluded
    assert limit.record().results[0].excluded == ("cracked vial", "J. Doe", "2025-01-08")
    with pytest.raises(gs.ArgumentError, match="without a reason or without a name"):
        gs.mdl(SPIKED | {"excluded": ["cracked vial", *[None] * 7]}, BLANK)
    with pytest.raises(gs.ArgumentError, match="excluded"):
        gs.MdlResult(0.02, excluded=("vial",))  # type: ignore[arg-type]


# ---- the life of a limit


def test_an_estimate_and_the_levels_it_advises() -> None:
    estimate = gs.mdl_estimate([0.0010, -0.0010, 0.0])
    assert estimate.value == pytest.approx(0.003, rel=1e-14)
    assert estimate.spike_levels == pytest.approx((0.006, 0.03), rel=1e-14)
    assert "II(1)(a)" in estimate.citation
    spiked = gs.mdl_estimate([0.021, 0.019, 0.020], basis="spiked_blanks")
    assert spiked.value == pytest.approx(0.003, rel=1e-12)
    assert "II(1)(c)" in spiked.citation
    assert same(spiked) == spiked != estimate
    with pytest.raises(gs.ArgumentError, match="at least two"):
        gs.mdl_estimate([0.01])
    advice = gs.mdl({"value": SPIKES, "spike_level": 0.02}, BLANKS, initial_estimate=0.0005)
    assert state(advice, "spike_level_range") == "advice"


def test_the_plan_of_the_quarters() -> None:
    spikes = [
        gs.MdlResult(0.021, batch="B7", instrument="AA-1", analysed_on="2025-02-11"),
        gs.MdlResult(0.020, batch="B8", instrument="AA-1", analysed_on="2025-04-02"),
        gs.MdlResult(gs.ND, batch="B9", instrument="AA-1", analysed_on="2025-04-09"),
        gs.MdlResult(0.020, instrument="AA-2", analysed_on="2025-04-09"),
    ]
    plan = gs.mdl_ongoing_plan(
        spikes, instruments=["AA-1", "AA-2"], first="2025-Q1", as_of="2025-05-02", idle=[("AA-2", "2025-Q1")]
    )
    states = {(quarter.quarter, quarter.instrument): (quarter.state, quarter.missing) for quarter in plan.quarters}
    assert states == {
        ("2025-Q1", "AA-1"): ("missed", 1),
        ("2025-Q1", "AA-2"): ("idle", 0),
        ("2025-Q2", "AA-1"): ("complete", 0),
        ("2025-Q2", "AA-2"): ("due", 1),
    }
    assert [(quarter.instrument, quarter.until) for quarter in plan.due] == [("AA-2", "2025-06-30")]
    assert codes(plan) == ["mdl_quarter_incomplete"]
    assert same(plan) == plan
    assert plan.to_dict()["due"][0]["instrument"] == "AA-2"
    with pytest.raises(gs.ArgumentError, match="2025-Q5"):
        gs.mdl_ongoing_plan(spikes, instruments=["AA-1"], first="2025-Q5", as_of="2025-05-02")
    with pytest.raises(gs.ArgumentError, match="instruments"):
        gs.mdl_ongoing_plan(spikes, instruments=[], first="2025-Q1", as_of="2025-05-02")


def test_more_than_five_percent_of_failing_spikes_raise_the_level() -> None:
    good: list[Any] = [0.02] * 19
    assert gs.mdl_spiking_level([*good, gs.ND]).decision == "keep"  # 1 of 20 is 5 % and not more
    raised = gs.mdl_spiking_level([*good[:18], gs.ND])
    assert (raised.decision, raised.failing, raised.spikes) == ("raise", 1, 19)
    assert codes(raised) == ["mdl_raise_spiking_level"]
    assert gs.mdl_spiking_level([None]).decision == "not_evaluated"
    assert same(raised) == raised


def test_an_instrument_that_joins() -> None:
    more = [
        gs.MdlResult(0.0210, instrument="AA-3", spike_level=0.02),
        gs.MdlResult(0.0199, instrument="AA-3", spike_level=0.02),
    ]
    rows = [dict(zip(SPIKED, cells, strict=True)) for cells in zip(*SPIKED.values(), strict=True)]
    spikes = [*(gs.MdlResult(row.pop("value"), **row) for row in rows), *more]
    blanks = [gs.MdlResult(0.001, instrument="AA-3"), gs.MdlResult(-0.0004, instrument="AA-3")]
    joined = gs.mdl_joining_instrument(0.005, spikes, blanks, instrument="AA-3")
    assert (joined.decision, joined.spikes, joined.blanks, joined.blanks_at_or_above) == ("validated", 2, 2, 0)
    assert joined.ratio is not None
    assert joined.pooled.value == pytest.approx(joined.ratio * 0.005, rel=1e-14)
    high = [blanks[0], gs.MdlResult(0.005, instrument="AA-3")]
    assert gs.mdl_joining_instrument(0.005, spikes, high, instrument="AA-3").decision == "redetermine"
    assert gs.mdl_joining_instrument(0.005, spikes, blanks[:1], instrument="AA-3").decision == "not_evaluated"
    assert gs.mdl_joining_instrument(0.05, spikes, blanks, instrument="AA-3").decision == "redetermine"
    assert same(joined) == joined


def dated(values: list[float], days: list[str], **columns: Any) -> dict[str, Any]:
    return {"value": values, "analysed_on": days, **columns}


def test_the_window_of_a_verification() -> None:
    limit = gs.mdl(SPIKES, BLANKS).value
    old = dated([*SPIKES, 0.05], ["2025-01-07"] * 7 + ["2022-01-07"], spike_level=0.02)
    found = gs.mdl_verification(limit or 0, old, dated(BLANKS, ["2025-01-07"] * 7), as_of="2025-06-30")
    assert found.verified == pytest.approx(limit, rel=1e-14)
    assert (found.left_out["too_old"], found.blanks_taken) == (1, "twenty_four_months")
    # 60 blanks of which 10 lie in the last six months: the 50 most recent are more.
    days = ["2024-07-01"] * 50 + ["2025-06-01"] * 10
    blanks = dated([0.001] * 60, days)
    spikes = dated(SPIKES, ["2025-01-07"] * 7)
    wide = gs.mdl_verification(0.004, spikes, blanks, as_of="2025-06-30", blank_window="six_months_or_fifty")
    assert wide.blanks_taken == "fifty_latest"
    busy = dated([0.001] * 60, ["2024-07-01"] * 5 + ["2025-06-01"] * 55)
    narrow = gs.mdl_verification(0.004, spikes, busy, as_of="2025-06-30", blank_window="six_months_or_fifty")
    assert (narrow.blanks_taken, narrow.left_out["earlier_blanks"]) == ("six_months", 5)
    assert narrow.why == "; ".join(narrow.why.split("; "))
    assert same(narrow) == narrow
    assert narrow.to_dict()["blanks_above"] == [0, 55]


def test_three_percent_of_the_blanks_above_is_too_many() -> None:
    spikes = dated(SPIKES, ["2025-01-07"] * 7)

    def verified(above: int) -> gs.MdlVerification:
        blanks = dated([0.006] * above + [0.0001 * (i % 7) for i in range(100 - above)], ["2025-06-01"] * 100)
        return gs.mdl_verification(0.005, spikes, blanks, as_of="2025-06-30")

    assert (verified(2).decision, verified(2).blanks_above) == ("may_keep", (2, 100))
    assert (verified(3).decision, verified(3).reasons[-1]) == ("adopt", "many_blanks_above")


# ---- the record


def test_the_record_holds_what_is_needed_to_compute_the_limit_again() -> None:
    limit = gs.mdl(SPIKED, BLANK, percentile="interpolated", **FACTS)
    record = limit.record(
        method="7000B", title="Flame AA", analyte="Cu", unit="mg/L", matrix="reagent water",
        determined_on="2025-02-01", determined_by="J. Doe",
    )  # fmt: skip
    document = json.loads(record.to_json())
    schema = json.loads((ROOT / "docs" / "schema" / "mdl_record.json").read_text(encoding="utf-8"))
    Draft202012Validator.check_schema(schema)
    Draft202012Validator(schema).validate(document)
    assert record.to_dict() == document
    assert document["schema"] == "groundstate.mdl_record/1"
    assert document["mdl"]["value"] == limit.value == record.value
    assert document["choices"]["percentile"] == "interpolated"
    assert (document["analyte"], document["determined_on"]) == ("Cu", "2025-02-01")
    assert record.mean_spiked == pytest.approx(0.02, rel=1e-14)
    assert record.mean_recovered == pytest.approx(np.mean(SPIKED["value"]), rel=1e-14)
    assert len(record.results) == 16
    assert "MDL_S = t * s" in record.text == str(record)
    again = gs.MdlRecord.from_json(record.to_json(compact=True))
    assert again == record == same(record)
    # Somebody else's figure in the document is refused.
    document["mdl"]["value"] = 0.001
    with pytest.raises(gs.WireError, match=r"0\.001 is stored"):
        gs.MdlRecord.from_json(json.dumps(document))
    with pytest.raises(gs.WireError, match="schema"):
        gs.MdlRecord.from_json('{"schema": "groundstate.run/1"}')


def test_a_limit_as_a_dictionary() -> None:
    limit = gs.mdl(list[Any]([*SPIKES, None]), list[Any]([gs.ND, *BLANKS]))
    found = limit.to_dict()
    json.dumps(found)
    assert found["value"] == limit.value
    assert found["blanks"]["nondetects"] == 1
    assert found["findings"][0]["sentence"] == limit.findings[0].sentence
    assert gs.MdlResult(gs.ND).to_dict()["value"] == "ND"


# ---- minimum level, LLOQ, IDL


def test_minimum_levels_as_printed() -> None:
    # EPA Method 1638, table 1, and 1631E for mercury: MDL and ML in ug/L (Hg ng/L), every row.
    printed = {
        "Sb": (0.0097, 0.02), "Cd": (0.025, 0.1), "Cu": (0.087, 0.2), "Pb": (0.015, 0.05), "Ni": (0.33, 1.0),
        "Se": (0.45, 1.0), "Ag": (0.029, 0.1), "Tl": (0.0079, 0.02), "Zn": (0.14, 0.5), "Hg": (0.2, 0.5),
    }  # fmt: skip
    assert {metal: gs.minimum_level(mdl) for metal, (mdl, _) in printed.items()} == {
        metal: level for metal, (_, level) in printed.items()
    }
    # 3.18 stands for 10 s of seven spikes; of another number ten s itself is rounded.
    assert gs.minimum_level(s=0.0048) == 0.05
    with pytest.raises(gs.ArgumentError, match="either"):
        gs.minimum_level()


def test_lloq_by_three_methods() -> None:
    # SW-846 7000B 10.2.3: within 30 %. By hand: 0.07 and 0.13 of 0.10 are the ends, which pass.
    found = gs.lloq_verification(0.1, [0.07, 0.13, 0.1], lowest_standard=0.1)
    assert found.verdict == "met"
    assert found.recoveries == pytest.approx([70, 130, 100], rel=1e-14)
    assert "7000B" in found.citation
    assert gs.lloq_verification(0.1, [0.069, 0.1], lowest_standard=0.1).verdict == "not_met"
    assert gs.lloq_verification(0.1, [0.1, 0.1]).verdict == "not_evaluated"  # nothing said of the lowest standard
    assert gs.lloq_verification(0.1, list[Any]([0.1, gs.ND]), lowest_standard=0.1).verdict == "not_met"
    # 6010D: seven or more, mean 65 to 135 %, RSD below 20 %.
    seven = [0.09, 0.1, 0.11, 0.1, 0.095, 0.105, 0.1]
    by_6010d = gs.lloq_verification(0.1, seven, rule="sw846_6010d", lowest_standard=0.1)
    assert by_6010d.verdict == "met"
    assert by_6010d.rsd == pytest.approx(100 * np.std(seven, ddof=1) / np.mean(seven), rel=1e-12)
    assert gs.lloq_verification(0.1, seven[:6], rule="sw846_6010d", lowest_standard=0.1).verdict == "not_met"
    by_8000d = gs.lloq_verification(
        0.1, [0.2, 0.18], rule="sw846_8000d", spiked=0.2, lowest_standard=0.1, lcs=(80, 120)
    )
    assert by_8000d.verdict == "met"
    assert same(by_8000d) == by_8000d
    assert {requirement.rule for requirement in by_8000d.requirements} >= {"spike_level", "recovery"}
    with pytest.raises(gs.ArgumentError, match="lcs"):
        gs.lloq_verification(0.1, seven, rule="sw846_8000d")
    with pytest.raises(gs.ArgumentError, match="rule"):
        gs.lloq_verification(0.1, seven, rule="7000B")  # type: ignore[arg-type]


def test_idl_by_three_recipes() -> None:
    day = np.array([-1, -1, -1, 0, 1, 1, 1.0])  # standard deviation 1 by hand: six ones over six
    readings = np.array([0.001 * day, 0.002 * day, 0.003 * day])
    dates = ["2025-03-03", "2025-03-05", "2025-03-07"]
    by_7000b = gs.idl(readings, recipe="sw846_7000b", dates=dates)
    assert by_7000b.value == pytest.approx(0.002, rel=1e-12)
    assert (by_7000b.definition, codes(by_7000b)) == ("idl_7000b", [])
    assert by_7000b.standard_deviations == pytest.approx([0.001, 0.002, 0.003], rel=1e-12)
    in_a_row = gs.idl(readings, recipe="sw846_7000b", dates=["2025-03-03", "2025-03-04", "2025-03-05"])
    assert {r.rule: r.state for r in in_a_row.requirements}["days_apart"] == "not_met"
    undated = gs.idl(readings, recipe="sw846_7000b")
    assert {r.rule: r.state for r in undated.requirements}["days_apart"] == "not_evaluated"
    ten = np.array([0.002, 0.001, 0.003, 0.002, 0.001, 0.002, 0.003, 0.002, 0.001, 0.003])
    s = float(np.std(ten, ddof=1))
    by_6010d = gs.idl(ten, recipe="sw846_6010d")
    assert by_6010d.value == pytest.approx(float(np.mean(ten)) + 3 * s, rel=1e-12)
    assert gs.idl(ten - 0.01, recipe="sw846_6010d").value == pytest.approx(3 * s, rel=1e-12)  # a negative mean is 0
    by_200 = gs.idl(ten, recipe="epa_200")
    assert by_200.value == pytest.approx(3 * s, rel=1e-12)
    assert len({found.citation for found in (by_7000b, by_6010d, by_200)}) == 3
    assert same(by_7000b) == by_7000b
    gap = gs.idl(np.where(readings == 0, math.nan, readings), recipe="sw846_7000b", dates=dates)
    assert {r.rule: r.state for r in gap.requirements}["readings"] == "not_met"
    with pytest.raises(gs.ArgumentError, match="recipe"):
        gs.idl(ten, recipe="3s")  # type: ignore[arg-type]
    with pytest.raises(gs.ArgumentError, match="2 dates for 3 days"):
        gs.idl(readings, recipe="sw846_7000b", dates=dates[:2])
    with pytest.raises(gs.ArgumentError, match="dates"):
        gs.idl(ten, recipe="epa_200", dates=dates)
