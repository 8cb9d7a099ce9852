"""Numbers and tables of every kind go in; our tables go out as what came in."""

from __future__ import annotations

import datetime
import io
import pickle
import subprocess
import sys
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any

import duckdb
import numpy as np
import pandas
import polars
import pyarrow
import pytest

import groundstate as gs

DEMO = Path(gs.__file__).parent / "demo"
SEDIMENT, METHOD = DEMO / "gutter_sediment.csv", DEMO / "gutter_sediment.toml"

X = [0.0, 1.0, 2.0, 4.0, 6.0]
Y = [0.001, 0.051, 0.099, 0.202, 0.301]
CAL = gs.calibrate(X, Y)


class Capsule:
    """Nothing but an Arrow stream: no name of a library, no columns, no length."""

    def __init__(self, of: Any) -> None:
        self._of = of

    def __arrow_c_stream__(self, requested_schema: object = None) -> object:
        return self._of.__arrow_c_stream__(requested_schema)


class ArrayCapsule:
    """Nothing but one Arrow array."""

    def __init__(self, of: Any) -> None:
        self._of = of

    def __arrow_c_array__(self, requested_schema: object = None) -> object:
        return self._of.__arrow_c_array__(requested_schema)


def strided(values: list[float]) -> Any:
    return np.array([[value, -1.0] for value in values])[:, 0]


def read_only(values: list[float]) -> Any:
    array = np.array(values)
    array.flags.writeable = False
    return array


#: Kinds of column: how five plain numbers come as each.
COLUMNS: dict[str, Callable[[list[float]], Any]] = {
    "list": list,
    "tuple": tuple,
    "range of objects": lambda v: np.array(v, dtype=object),
    "decimals": lambda v: [Decimal(repr(x)) for x in v],
    "float64": np.array,
    "float64 big-endian": lambda v: np.array(v, dtype=">f8"),
    "strided": strided,
    "reversed": lambda v: np.array(v[::-1])[::-1],
    "read-only": read_only,
    "longdouble": lambda v: np.array(v, dtype=np.longdouble),
    "masked": lambda v: np.ma.masked_array(v, mask=[False] * len(v)),
    "one column": lambda v: np.array(v).reshape(-1, 1),
    "pandas": pandas.Series,
    "pandas Float64": lambda v: pandas.Series(v, dtype="Float64"),
    "pandas arrow": lambda v: pandas.Series(v, dtype=pandas.ArrowDtype(pyarrow.float64())),
    "pandas object": lambda v: pandas.Series(v, dtype=object),
    "pandas index": pandas.Index,
    "pandas frame": lambda v: pandas.DataFrame({"a": v}),
    "polars": polars.Series,
    "polars frame": lambda v: polars.DataFrame({"a": v}),
    "arrow": pyarrow.array,
    "arrow in chunks": lambda v: pyarrow.chunked_array([v[:2], v[2:]]),
    "arrow table": lambda v: pyarrow.table({"a": v}),
    "arrow batch": lambda v: pyarrow.record_batch({"a": v}),
    "arrow decimals": lambda v: pyarrow.array([Decimal(repr(x)) for x in v]),
    "duckdb": lambda v: duckdb.from_arrow(pyarrow.table({"a": v})),
    "capsule of a column": lambda v: Capsule(polars.Series(v)),
    "capsule of a table": lambda v: Capsule(pyarrow.table({"a": v})),
    "capsule of an array": lambda v: ArrayCapsule(pyarrow.array(v)),
}


@pytest.mark.parametrize("kind", COLUMNS)
def test_numbers_of_every_kind_give_the_same_calibration(kind: str) -> None:
    assert gs.calibrate(X, COLUMNS[kind](Y)) == CAL
    if kind not in (
        "one column",
        "pandas frame",
        "polars frame",
        "arrow table",
        "arrow batch",
        "duckdb",
        "capsule of a table",
    ):
        assert gs.calibrate(COLUMNS[kind](X), Y) == CAL  # concentrations have one dimension


@pytest.mark.parametrize("kind", COLUMNS)
def test_every_function_of_numbers_takes_every_kind(kind: str) -> None:
    column = COLUMNS[kind]
    assert CAL.concentration(column(Y)).same_as(CAL.concentration(Y))
    if "frame" in kind or "table" in kind or kind in ("arrow batch", "duckdb", "one column"):
        return
    assert np.array_equal(CAL.absorbance(column(X)).value, CAL.absorbance(X).value)
    assert gs.replicates(column(Y)) == gs.replicates(Y)
    assert gs.grubbs(column(Y)) == gs.grubbs(Y)
    assert gs.dixon(column(Y)) == gs.dixon(Y)
    assert gs.standard_additions(column(X), column(Y)) == gs.standard_additions(X, Y)
    assert gs.choose_shape(column(X), column(Y)).shape == "line"
    assert np.array_equal(gs.KnownSigma(column([x + 1.0 for x in X])).u, np.array(X) + 1.0)
    assert gs.mdl(column(Y), column(Y)) == gs.mdl(Y, Y)
    assert CAL.concentration(Y, reading_u=column([0.001] * 5)).same_as(CAL.concentration(Y, reading_u=0.001))


MISSING: dict[str, Any] = {
    "list": [0.1, None, 0.2],
    "nan": np.array([0.1, np.nan, 0.2]),
    "masked": np.ma.masked_array([0.1, 9.0, 0.2], mask=[False, True, False]),
    "pandas": pandas.Series([0.1, None, 0.2]),
    "pandas Float64": pandas.Series([0.1, None, 0.2], dtype="Float64"),
    "pandas arrow": pandas.Series([0.1, None, 0.2], dtype=pandas.ArrowDtype(pyarrow.float64())),
    "pandas objects": pandas.Series([0.1, pandas.NA, 0.2], dtype=object),
    "polars": polars.Series([0.1, None, 0.2]),
    "polars frame": polars.DataFrame({"a": [0.1, None, 0.2]}),
    "arrow": pyarrow.array([0.1, None, 0.2]),
    "arrow table": pyarrow.table({"a": [0.1, None, 0.2]}),
    "duckdb": duckdb.sql("select * from (values (0.1::double), (null), (0.2::double)) as t(a)"),
    "duckdb decimals": duckdb.sql("select * from (values (0.1), (null), (0.2)) as t(a)"),
    "capsule": Capsule(pyarrow.chunked_array([[0.1, None, 0.2]])),
}


@pytest.mark.parametrize("kind", MISSING)
def test_missing_numbers_of_every_kind_are_no_reading(kind: str) -> None:
    expected = CAL.concentration([0.1, np.nan, 0.2])
    assert list(expected.status) == ["in_range", "no_reading", "in_range"]
    assert CAL.concentration(MISSING[kind]).same_as(expected)


@pytest.mark.parametrize(
    "dtype", ["i1", "i2", "i4", "i8", "u1", "u2", "u4", "u8", "f2", "f4", "f8", ">i2", ">u8", ">f4"]
)
@pytest.mark.parametrize("step", [1, 2, -1])
def test_every_real_dtype_and_stride(dtype: str, step: int) -> None:
    whole = gs.calibrate([0, 10, 20, 40], [0, 10, 20, 41])
    array = np.arange(0, 12).astype(dtype)[::step]
    assert whole.concentration(array).same_as(whole.concentration([float(x) for x in array]))


# ---- tables of readings


def frame() -> Any:
    return pandas.read_csv(SEDIMENT)


#: Kinds of table: how the sediment run comes as each.
TABLES: dict[str, Callable[[], Any]] = {
    "path": lambda: SEDIMENT,
    "bytes": SEDIMENT.read_bytes,
    "bytearray": lambda: bytearray(SEDIMENT.read_bytes()),
    "open file": lambda: io.BytesIO(SEDIMENT.read_bytes()),
    "open text": lambda: io.StringIO(SEDIMENT.read_text("utf-8")),
    "mapping of lists": lambda: frame().to_dict("list"),
    "mapping of arrays": lambda: {name: frame()[name].to_numpy() for name in frame()},
    "rows": lambda: frame().to_dict("records"),
    "structured array": lambda: frame().to_records(index=False),
    "pandas": frame,
    "pandas with an index": lambda: frame().set_index(frame()["position"] + 100),
    "pandas categories": lambda: frame().astype({"role": "category", "label": "category", "run": "category"}),
    "pandas ordered categories of numbers": lambda: frame().astype({"nominal": "category"}),
    "pandas nullable": lambda: frame().convert_dtypes(),
    "pandas arrow": lambda: frame().convert_dtypes(dtype_backend="pyarrow"),
    "pandas objects": lambda: frame().astype(object),
    "polars": lambda: polars.read_csv(SEDIMENT),
    "polars lazy": lambda: polars.scan_csv(SEDIMENT),
    "polars categories": lambda: polars.read_csv(SEDIMENT).with_columns(polars.col("role", "label").cast(polars.Categorical)),
    "arrow": lambda: polars.read_csv(SEDIMENT).to_arrow(),
    "arrow chunks": lambda: pyarrow.concat_tables([polars.read_csv(SEDIMENT).to_arrow()[:5], polars.read_csv(SEDIMENT).to_arrow()[5:]]),
    "arrow dictionaries": lambda: dictionaries(),
    "arrow dictionaries in chunks": lambda: pyarrow.concat_tables([dictionaries()[:7], dictionaries()[7:]]),
    "arrow batch": lambda: dictionaries().combine_chunks().to_batches()[0],
    "arrow reader": lambda: dictionaries().to_reader(max_chunksize=4),
    "duckdb": lambda: duckdb.read_csv(str(SEDIMENT)),
    "duckdb enumeration": lambda: duckdb.from_arrow(dictionaries()),
    "capsule": lambda: Capsule(polars.read_csv(SEDIMENT)),
    "capsule of dictionaries": lambda: Capsule(dictionaries()),
}  # fmt: skip


def dictionaries() -> Any:
    table = pyarrow.Table.from_pandas(frame(), preserve_index=False)
    for name in ("run", "role", "label"):
        i = table.column_names.index(name)
        table = table.set_column(i, name, table.column(name).dictionary_encode())
    return table


KIND_OF = {"pandas": "pandas", "polars": "polars", "arrow": "arrow", "duckdb": "arrow", "capsule": "arrow"}


@pytest.mark.parametrize("kind", TABLES)
def test_every_kind_of_table_gives_the_same_outcome_and_its_kind_comes_back(kind: str) -> None:
    expected = gs.reduce(SEDIMENT, METHOD)
    outcome = gs.reduce(TABLES[kind](), METHOD)
    assert outcome.summary() == expected.summary()
    assert outcome.results == expected.results and outcome.measurements == expected.measurements
    assert outcome.checks == expected.checks and outcome.findings == expected.findings
    back = outcome.results.to_frame()
    classes = {"pandas": pandas.DataFrame, "polars": polars.DataFrame, "arrow": pyarrow.Table}
    wanted = next((classes[to] for word, to in KIND_OF.items() if kind.startswith(word)), gs.Table)
    assert isinstance(back, wanted)
    again = pickle.loads(pickle.dumps(outcome))
    assert isinstance(again.results.to_frame(), wanted)
    assert isinstance(gs.simulate(outcome, seed=1, trials=100).results.to_frame(), wanted)


@pytest.mark.parametrize("kind", TABLES)
def test_reduce_many_takes_every_kind(kind: str) -> None:
    outcomes = gs.reduce_many(TABLES[kind](), METHOD, threads=1)
    assert not outcomes.errors and len(outcomes) == 1
    assert outcomes[0].summary() == gs.reduce(SEDIMENT, METHOD).summary()
    assert type(outcomes.results.to_frame()) is type(outcomes[0].results.to_frame())


def bare() -> dict[str, list[Any]]:
    kept = ("calibration_blank", "standard", "sample", "icv", "icb", "ccv", "ccb")
    rows = frame()[frame()["role"].isin(kept)]
    table: dict[str, list[Any]] = {
        str(name): list(rows[name]) for name in ("run", "position", "role", "nominal", "absorbance", "replicate")
    }
    return table


BARE: dict[str, Callable[[Any], Any]] = {
    "pandas": lambda t: t,
    "pandas categories": lambda t: t.astype({"run": "category", "role": "category"}),
    "pandas nullable": lambda t: t.convert_dtypes(),
    "polars": polars.from_pandas,
    "polars categories": lambda t: polars.from_pandas(t).with_columns(polars.col("run", "role").cast(polars.Categorical)),
    "arrow": lambda t: pyarrow.Table.from_pandas(t, preserve_index=False),
    "arrow dictionaries": lambda t: pyarrow.Table.from_pandas(t.astype({"run": "category", "role": "category"}), preserve_index=False),
    "duckdb": lambda t: duckdb.from_arrow(pyarrow.Table.from_pandas(t, preserve_index=False)),
    "capsule": lambda t: Capsule(polars.from_pandas(t)),
    "rows": lambda t: t.to_dict("records"),
}  # fmt: skip


@pytest.mark.parametrize("kind", BARE)
def test_bare_columns_take_every_kind(kind: str) -> None:
    expected = gs.reduce_columns(bare(), METHOD)
    found = gs.reduce_columns(BARE[kind](pandas.DataFrame(bare())), METHOD)
    assert found.columns == expected.columns and found.units == expected.units
    for name in ("value", "standard_uncertainty", "lo", "hi", "flags", "status_code", "position"):
        np.testing.assert_array_equal(found[name], expected[name])
    assert [str(word) for word in found["role"]] == [str(word) for word in expected["role"]]


def test_whole_names_stay_whole_and_dates_are_written_as_iso() -> None:
    rows = frame().to_dict("records")
    table = pandas.DataFrame(rows)
    table["prepared_on"] = pandas.Timestamp("2025-03-01")
    table["read_at"] = pandas.Timestamp("2025-03-02 08:30")
    (run,) = gs.read_runs(table, METHOD)
    plain = pandas.DataFrame(rows)
    plain["prepared_on"], plain["read_at"] = "2025-03-01", "2025-03-02T08:30:00"
    assert gs.read_runs(plain, METHOD) == [run]
    for dates in (
        polars.from_pandas(table),
        pyarrow.Table.from_pandas(table, preserve_index=False),
        table.assign(prepared_on=datetime.date(2025, 3, 1)),
        {name: table[name].to_numpy() for name in table},
    ):
        assert gs.read_runs(dates, METHOD) == [run]


WORDS_WITH_GAPS = ["", None, " CCV", "CCV", "well 3", "", "µ 4"]


@pytest.mark.parametrize("missing", [None, float("nan"), pandas.NA])
@pytest.mark.parametrize(
    "column",
    [
        list,
        lambda words: np.array(words, dtype=object),
        lambda words: pandas.Series(words, dtype=object),
        lambda words: pandas.Series(words, dtype=pandas.StringDtype("python")),
        lambda words: pandas.Series(words, dtype=pandas.StringDtype("python", na_value=np.nan)),
        lambda words: pandas.Series(words, dtype=pandas.StringDtype("pyarrow")),
        lambda words: pandas.Series(words, dtype="category"),
        lambda words: polars.Series([None if pandas.isna(word) else word for word in words]),
        lambda words: pyarrow.array([None if pandas.isna(word) else word for word in words]),
        lambda words: pyarrow.chunked_array([[None if pandas.isna(word) else word] for word in words]),
    ],
)
def test_words_are_the_same_however_they_are_held_and_what_is_missing(column: Callable[..., Any], missing: Any) -> None:
    words = [missing if word is None else word for word in WORDS_WITH_GAPS]
    rows = {
        "role": ["standard"] * 2 + ["ccv"] * 2 + ["sample"] + ["standard"] + ["sample"],
        "absorbance": [0.0, 0.2, 0.1, 0.1, 0.05, 0.4, 0.03],
        "nominal": [0.0, 1.0, 0.5, 0.5, np.nan, 2.0, np.nan],
    }
    [run] = gs.read_runs({**rows, "label": column(words)})
    labels = [position["label"] for position in run.to_dict()["positions"]]
    assert labels == ["standard", "standard", "CCV", "CCV", "well 3", "standard", "µ 4"]


def test_labels_that_are_large_integers_keep_every_digit() -> None:
    name = 2**53 + 1
    rows = [row | {"label": name if row["role"] == "sample" else 7} for row in bare_rows()]
    for table in (rows, pandas.DataFrame(rows), polars.DataFrame(rows), pyarrow.Table.from_pylist(rows)):
        (run,) = gs.read_runs(table)
        assert str(name) in run.to_csv()


def bare_rows() -> list[dict[str, Any]]:
    table = bare()
    return [{name: table[name][i] for name in table} for i in range(len(table["run"]))]


def test_one_word_stands_for_a_whole_column() -> None:
    table = frame().to_dict("list")
    table["run"] = table["run"][0]
    assert gs.read_runs(table, METHOD) == gs.read_runs(SEDIMENT, METHOD)


def test_columns_under_other_names() -> None:
    names = {"Sample ID": "label", "Abs": "absorbance", "Type": "role", "Colour of the cap": None}
    theirs = {ours: name for name, ours in names.items() if ours}
    expected = gs.reduce(SEDIMENT, METHOD)
    table = frame().rename(columns=theirs).assign(**{"Colour of the cap": "blue"})
    csv = table.to_csv(index=False).encode()
    for given in (table, polars.from_pandas(table), table.to_dict("list"), csv):
        assert gs.reduce(given, METHOD, columns=names).summary() == expected.summary()
        assert not gs.reduce_many(given, METHOD, columns=names).errors
    bare_theirs = {theirs.get(name, name): column for name, column in bare().items()}
    renamed = gs.reduce_columns(bare_theirs, METHOD, columns={"Abs": "absorbance", "Type": "role"})
    assert renamed == gs.reduce_columns(bare(), METHOD)
    with pytest.raises(gs.TableError, match="did you mean") as refused:
        gs.reduce(table, METHOD, columns=names | {"Sample IT": "of"})
    assert refused.value.problems[0].name == "sample it"
    with pytest.raises(gs.TableError, match="two columns"):
        gs.reduce(table, METHOD, columns=names | {"mass_g": "label"})
    with pytest.raises(TypeError, match="columns"):
        gs.reduce(table, METHOD, columns=["label"])  # type: ignore[arg-type]
    with pytest.raises(gs.TableError, match="rename"):
        gs.reduce_columns(bare(), METHOD, columns={"Abs": "absorbance"})


@pytest.mark.parametrize("odd", [3, None, [1, 2], np.zeros((3, 2)), object(), [["a", 1]]])
def test_what_is_no_table_is_a_type_error(odd: Any) -> None:
    with pytest.raises(TypeError, match=r"^table: "):
        gs.reduce(odd, METHOD)


def test_bad_columns_of_frames_are_named() -> None:
    twice = pandas.concat([frame(), frame()[["label"]]], axis=1)
    with pytest.raises(gs.GroundstateError, match="two columns label"):
        gs.reduce(twice, METHOD)
    with pytest.raises(gs.GroundstateError, match="2 dimensions"):
        gs.reduce({"role": ["sample"], "absorbance": np.zeros((1, 2))}, METHOD)
    with pytest.raises(gs.TableError, match="absorbance") as refused:
        gs.reduce(frame().assign(absorbance=True), METHOD)
    assert "True" in str(refused.value)


# ---- tables out


def test_pandas_comes_back_with_its_index() -> None:
    series = pandas.Series([0.1, 0.2, None], index=pandas.Index(["a", "b", "c"], name="sample"))
    found = CAL.concentration(series)
    back = found.to_frame()
    assert isinstance(back, pandas.DataFrame)
    assert back.index.equals(series.index) and back.index.name == "sample"
    assert list(back) == ["value", "standard_uncertainty", "degrees_of_freedom", "status", "unit"]
    assert back.attrs["units"] == {"value": "mg/L", "standard_uncertainty": "mg/L"}
    np.testing.assert_array_equal(back["value"], found.value)
    assert list(found[1:].to_frame().index) == ["b", "c"]
    assert list(found.interval().to_frame().index) == ["a", "b", "c"]
    assert list(found[::-1].interval().to_frame().index) == ["c", "b", "a"]
    solid = gs.Preparation(mass_g=1.0, final_volume_ml=100, weighed="dry", report="dry")
    prepared = solid.apply(found[1:], portions="each")
    assert list(prepared.to_frame().index) == ["b", "c"]
    assert list(prepared.to_frame()["unit"]) == ["mg/kg", "mg/kg"]
    for made in (found, found[1:], prepared, found.interval()):
        assert pickle.loads(pickle.dumps(made)).to_frame().equals(made.to_frame())
    assert list(CAL.concentration(frame()[["absorbance"]]).to_frame().index) == list(frame().index)


@pytest.mark.parametrize(
    ("given", "kind"),
    [
        (polars.Series([0.1, 0.2]), polars.DataFrame),
        (polars.DataFrame({"a": [0.1, 0.2]}), polars.DataFrame),
        (pyarrow.array([0.1, 0.2]), pyarrow.Table),
        (pyarrow.chunked_array([[0.1], [0.2]]), pyarrow.Table),
        (duckdb.sql("select 0.1 as a union all select 0.2"), pyarrow.Table),
        (Capsule(polars.Series([0.1, 0.2])), pyarrow.Table),
        ([0.1, 0.2], gs.Table),
        (np.array([0.1, 0.2]), gs.Table),
    ],
)
def test_the_kind_that_came_in_comes_out(given: Any, kind: type) -> None:
    found = CAL.concentration(given)
    assert isinstance(found.to_frame(), kind)
    assert isinstance(found.interval().to_frame(), kind)
    assert isinstance(pickle.loads(pickle.dumps(found)).to_frame(), kind)


def test_any_kind_can_be_asked_for() -> None:
    found = CAL.concentration([0.1, 0.2, None])
    assert found.to_frame("pandas").shape == (3, 5)
    assert found.to_frame("polars")["value"].null_count() == 1
    arrow = found.to_frame("arrow")
    assert arrow.column("value").null_count == 1
    assert arrow.schema.field("value").metadata == {b"unit": b"mg/L"}
    assert found.to_frame("table").to_dict()["value"][2] is None
    with pytest.raises(gs.ArgumentError, match="kind"):
        found.to_frame("spreadsheet")  # type: ignore[arg-type]


def test_tables_are_read_by_whoever_reads_arrow() -> None:
    outcome = gs.reduce(SEDIMENT, METHOD)
    results = outcome.results
    counted: Any = duckdb.sql("select count(*) from results")
    assert counted.fetchall() == [(len(results),)]
    assert polars.DataFrame(results).columns == list(results.columns)
    table = pyarrow.table(results)
    assert table.column_names == list(results.columns)
    assert table.column("lod").null_count == len(results)
    assert pyarrow.types.is_integer(table.schema.field("position").type)
    assert pyarrow.types.is_boolean(table.schema.field("reported").type)
    assert table.schema.field("solution_value").metadata == {b"unit": b"mg/L"}
    checks = pyarrow.table(outcome.checks)
    assert pyarrow.types.is_list(checks.schema.field("affects").type)
    assert pyarrow.RecordBatchReader.from_stream(outcome.findings).read_all().num_rows == len(outcome.findings)
    assert pyarrow.table(CAL.concentration([0.1])).num_rows == 1
    assert pyarrow.table(CAL.concentration([0.1]).interval()).column_names[0] == "lo"
    assert polars.from_arrow(table).equals(results.to_polars())


def test_units_differ_by_row_where_liquids_and_solids_are_mixed() -> None:
    mixed = gs.reduce(SEDIMENT, METHOD).results
    assert set(mixed["unit"]) == {"mg/L", "mg/kg"} and "value" not in mixed.units
    assert mixed.units["solution_value"] == "mg/L" == mixed["solution_unit"][0]
    water = gs.reduce(DEMO / "roof_water.csv", DEMO / "roof_water.toml").results
    assert water.units["value"] == water.units["mdl"] == "mg/L"


def test_columns_cannot_be_written_to() -> None:
    outcome = gs.reduce(SEDIMENT, METHOD)
    for table in (outcome.results, outcome.checks, outcome.findings.table):
        for name in table.columns:
            column = table[name]
            assert isinstance(column, tuple) or not column.flags.writeable, name
    mine = np.array([1.0, 2.0])
    made = gs.Table({"a": mine})
    mine[0] = 5.0
    assert made["a"][0] == 1.0 and mine.flags.writeable
    with pytest.raises(gs.ArgumentError, match="lengths"):
        gs.Table({"a": [1], "b": [1, 2]})


def test_rows_are_chosen_and_columns_selected() -> None:
    results = gs.reduce(SEDIMENT, METHOD).results
    reported = results.filter(reported=True)
    assert 0 < len(reported) < len(results) and reported["reported"].all()
    assert len(results.filter(results["value"] > results["value"].max())) == 0
    assert results.select("label", "value").columns == ("label", "value")
    assert results.select("label", "solution_value").units == {"solution_value": "mg/L"}
    with pytest.raises(gs.ArgumentError, match="mask"):
        results.filter([True])
    with pytest.raises(KeyError, match="there is no column"):
        results.filter(colour="blue")
    assert [row.label for row in pickle.loads(pickle.dumps(results[:2]))] == list(results["label"][:2])
    assert pickle.loads(pickle.dumps(results)) == results


def test_findings_are_a_tuple_and_a_table() -> None:
    findings = gs.reduce(SEDIMENT, METHOD).findings
    assert isinstance(findings, tuple) and len(findings) > 0
    assert findings["code"] == tuple(finding.code for finding in findings)
    assert list(findings.to_pandas()) == ["code", "severity", "subject", "sentence", "citation"]
    assert findings.to_polars().height == findings.to_arrow().num_rows == len(findings)
    assert findings == tuple(findings) and findings[:1] == (findings[0],)
    assert type(findings[:1]) is type(findings)
    again = pickle.loads(pickle.dumps(findings))
    assert again == findings and type(again) is type(findings)
    nothing = CAL.findings
    assert not nothing and nothing == tuple(nothing) and len(nothing.to_frame()) == 0
    assert repr(nothing) == "<Findings: none>"
    assert findings[0].sentence in repr(findings)


def test_outcomes_join_their_tables() -> None:
    both = pandas.concat([frame(), pandas.read_csv(DEMO / "roof_water.csv")])
    methods = {"gutter-sediment": METHOD, "roof-water": DEMO / "roof_water.toml"}
    outcomes = gs.reduce_many(both, methods)
    assert not outcomes.errors
    joined = outcomes.results.to_frame()
    assert isinstance(joined, pandas.DataFrame) and set(joined["run"]) == set(methods)
    assert set(joined["unit"]) == {"mg/kg", "mg/L"} and "value" not in outcomes.results.units
    assert len(outcomes.findings) == sum(len(outcome.findings) for outcome in outcomes)
    assert len(outcomes.checks) == sum(len(outcome.checks) for outcome in outcomes)
    nothing = gs.reduce_many([row | {"absorbance": "o"} for row in bare_rows()], METHOD)
    assert len(nothing) == 0 and len(nothing.errors) == 1 and len(nothing.results) == 0


# ---- without the libraries

BLOCKED = """
import sys
sys.modules.update(dict.fromkeys({blocked!r}))  # Python's own word for "cannot be imported"
"""


def run_blocked(code: str, *blocked: str) -> str:
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", BLOCKED.format(blocked=set(blocked)) + code],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


OPTIONAL = (
    "pandas",
    "polars",
    "pyarrow",
    "duckdb",
    "matplotlib",
    "jinja2",
    "tqdm",
    "uncertainties",
    "IPython",
    "scipy",
)


def test_the_package_works_with_numpy_alone() -> None:
    said = run_blocked(
        """
import numpy, pickle, groundstate as gs
from pathlib import Path
demo = Path(gs.__file__).parent / "demo"
cal = gs.calibrate([0, 1, 2, 4], numpy.array([0.0, 0.05, 0.1, 0.21]))
found = cal.concentration([0.1, None])
assert isinstance(found.to_frame(), gs.Table)
outcome = gs.reduce(demo / "roof_water.csv", demo / "roof_water.toml")
assert outcome.results.to_frame() == outcome.results
assert gs.reduce_many(demo / "roof_water.csv", demo / "roof_water.toml").findings["code"]
assert pickle.loads(pickle.dumps(outcome)) == outcome
class Capsule:
    def __arrow_c_stream__(self, requested_schema=None): ...
tries = {
    "pandas": outcome.results.to_pandas, "polars": outcome.results.to_polars, "arrow": outcome.results.to_arrow,
    "arrow ": outcome.results.__arrow_c_stream__, "polars ": lambda: cal.concentration(Capsule()),
    "polars  ": lambda: gs.reduce(Capsule(), demo / "roof_water.toml"), "uncertainties": found.to_uncertainties,
}
for wanted, attempt in tries.items():
    try:
        attempt()
    except gs.MissingExtraError as error:
        assert "pip install 'groundstate[" + wanted.strip() in str(error), str(error)
        assert isinstance(error, ImportError)
    else:
        raise AssertionError(wanted)
print("worked")
""",
        *OPTIONAL,
    )
    assert said == "worked\n"


def test_a_bare_stream_is_read_by_polars_where_pyarrow_is_missing() -> None:
    said = run_blocked(
        """
import groundstate as gs, polars
from pathlib import Path
demo = Path(gs.__file__).parent / "demo"
class Capsule:
    def __init__(self, of): self.of = of
    def __arrow_c_stream__(self, requested_schema=None): return self.of.__arrow_c_stream__(requested_schema)
outcome = gs.reduce(Capsule(polars.read_csv(demo / "roof_water.csv")), demo / "roof_water.toml")
assert outcome.summary() == gs.reduce(demo / "roof_water.csv", demo / "roof_water.toml").summary()
assert isinstance(outcome.results.to_frame(), polars.DataFrame)
assert polars.DataFrame(Capsule(outcome.results)).height == len(outcome.results)
cal = gs.calibrate([0, 1, 2, 4], Capsule(polars.Series([0.0, 0.05, 0.1, 0.21])))
assert cal == gs.calibrate([0, 1, 2, 4], [0.0, 0.05, 0.1, 0.21])
assert cal == gs.calibrate([0, 1, 2, 4], Capsule(polars.DataFrame({"a": [0.0, 0.05, 0.1, 0.21]})))
print("worked")
""",
        "pyarrow",
        "pandas",
    )
    assert said == "worked\n"


def test_every_extra_that_an_error_names_is_declared() -> None:
    import re
    import tomllib

    from groundstate import _frames

    project = tomllib.loads((Path(__file__).parents[2] / "pyproject.toml").read_text("utf-8"))["project"]
    extras = project["optional-dependencies"]
    for package in (*_frames._EXTRAS, "pandas", "polars", "uncertainties"):
        extra = _frames._EXTRAS.get(package, package)
        assert [re.split(r"[<>=!~\[]", wanted)[0] for wanted in extras[extra]] == [package]
    (everything,) = extras["all"]
    assert set(everything.partition("[")[2].rstrip("]").split(",")) == extras.keys() - {"all"}
