use proptest::prelude::*;

use crate::error::Kind;
use crate::finding::Code;
use crate::method::{AliasPolicy, MissingPolicy, SignalKind};
use crate::run::{Cells, PositionRule, RawTable, ReadOptions, Reference, Role, Run, Runs, Texts};
use crate::unit::Unit;

/// A small invented run: two standards, a sample with its duplicate and spike, in three replicates.
const RUN: &str = "\
run,position,role,label,replicate,absorbance,nominal,of,added,added_unit,mass_g,final_volume_ml,dilution,percent_solids,analyst
R1,1,calibration_blank,B,1,0.0004,,,,,,,,,A. Weaver
R1,2,standard,S1,1,0.0562,0.5,,,,,,,,A. Weaver
R1,2,standard,S1,2,0.0560,0.5,,,,,,,,A. Weaver
R1,3,standard,S2,1,0.1125,1,,,,,,,,A. Weaver
R1,3,standard,S2,2,0.1121,1,,,,,,,,A. Weaver
R1,4,sample,GS-1,1,0.0871,,,,,1.0034,100,5/50;10/100,85.2,A. Weaver
R1,4,sample,GS-1,2,0.0868,,,,,1.0034,100,5/50;10/100,85.2,A. Weaver
R1,5,duplicate,GS-1D,1,0.0880,,GS-1,,,1.0101,100,5/50;10/100,85.2,A. Weaver
R1,6,matrix_spike,GS-1MS,1,0.1380,,4,50,mg/kg,1.0002,100,5/50;10/100,85.2,A. Weaver
";

fn read(text: &str) -> Run {
    Run::from_csv(text).unwrap_or_else(|error| panic!("{error}"))
}

fn refused(text: &str) -> String {
    match Run::from_csv(text) {
        Ok(run) => panic!("read as {run:?}"),
        Err(error) => {
            assert_eq!(error.kind(), Kind::Table, "{error}");
            error.to_string()
        }
    }
}

/// A run of two good standards with `rows` below; columns role,label,absorbance,nominal and what `columns` adds.
fn with_rows(columns: &str, rows: &[&str]) -> String {
    let commas = ",".repeat(columns.matches(',').count());
    let mut text = format!("role,label,absorbance,nominal{columns}\n");
    for standard in ["standard,S1,0.056,0.5", "standard,S2,0.112,1"] {
        text.push_str(&format!("{standard}{commas}\n"));
    }
    for row in rows {
        text.push_str(row);
        text.push('\n');
    }
    text
}

/// The first problem must hold every one of `parts`.
fn says(text: &str, parts: &[&str]) {
    let message = refused(text);
    for part in parts {
        assert!(message.contains(part), "{message:?} lacks {part:?}");
    }
}

#[test]
fn a_run_is_read_whole() {
    let run = read(RUN);
    assert_eq!((&*run.name, run.positions.len(), run.position_rule), ("R1", 6, PositionRule::Given));
    assert_eq!(run.fact("analyst"), Some("A. Weaver"));
    assert!(run.findings.is_empty(), "{:?}", run.findings);
    let sample = run.position(4).unwrap();
    assert_eq!((sample.role, &*sample.label, &sample.readings[..]), (Role::Sample, "GS-1", &[0.0871, 0.0868][..]));
    assert_eq!((sample.preparation.mass_g, sample.preparation.percent_solids), (Some(1.0034), Some(85.2)));
    assert_eq!(sample.preparation.dilution.as_deref(), Some("5/50;10/100"));
    assert_eq!((sample.row.get(), &sample.replicates[..]), (Some(6), &[1, 2][..]));
    assert_eq!(run.position(5).unwrap().of, Some(Reference::Label("GS-1".into())));
    let spike = run.position(6).unwrap();
    assert_eq!((spike.of.clone(), spike.added), (Some(Reference::Position(4)), Some(50.0)));
    assert_eq!(spike.added_unit, Some(Unit::MilligramPerKilogram));
    assert_eq!(run.position(1).unwrap().nominal, Some(0.0));
}

#[test]
fn marks_line_ends_blank_lines_quotes_case_and_separators_do_not_matter() {
    let plain = read(RUN);
    let quoted = RUN.replace("A. Weaver", "\"A. Weaver\"").replace("run,position,role", " Run ,\"POSITION\", Role");
    let with_spaces = RUN.replace(",sample,", ", Sample ,");
    let separators = |separator: &str| RUN.replace(',', separator).replace("5/50;10/100", "\"5/50;10/100\"");
    for text in [
        format!("\u{feff}{RUN}"),
        RUN.replace('\n', "\r\n"),
        format!("{RUN}\n\n  \n,,,,\n"),
        RUN.replace('\n', ",\n"),
        quoted,
        with_spaces,
        separators(";"),
        separators("\t"),
    ] {
        assert_eq!(read(&text), plain, "{text}");
    }
    let bytes = format!("\u{feff}{}", RUN.replace('\n', "\r\n"));
    let table = RawTable::from_csv_bytes(bytes.as_bytes()).unwrap();
    assert_eq!(Run::from_table(&table, &ReadOptions::default()).unwrap(), plain);
}

#[test]
fn empty_tables_are_named() {
    says("", &["the table is empty", "column names"]);
    says("\n  \n", &["the table is empty"]);
    says("role,label,absorbance\n", &["the table has no rows"]);
}

#[test]
fn wrong_encodings_are_named() {
    let refused = |bytes: &[u8]| RawTable::from_csv_bytes(bytes).unwrap_err().to_string();
    let wide: Vec<u8> = RUN.encode_utf16().flat_map(u16::to_le_bytes).collect();
    assert!(refused(&wide).contains("zero bytes"));
    assert!(refused(&[&[0xff, 0xfe], &wide[..]].concat()).contains("UTF-16; save the file as UTF-8"));
    let latin = [RUN.as_bytes(), b"R1,7,sample,Gr\xfcn"].concat();
    assert_eq!(refused(&latin), "line 11 is not UTF-8; save the file as UTF-8");
}

#[test]
fn a_decimal_comma_gets_a_clear_word() {
    let text = RUN.replace(',', ";").replace("0.0871", "0,0871").replace("5/50;10/100", "10");
    says(&text, &["row 6, column absorbance", "\"0,0871\" has a decimal comma", "takes a point"]);
    says(&with_rows("", &["sample,A,0,0871,"]), &["row 3", "5 fields and the header 4", "decimal comma"]);
    says(&with_rows("", &["sample,A,\"0,0871\","]), &["row 3, column absorbance", "decimal comma"]);
}

#[test]
fn ragged_rows_are_named() {
    says(&with_rows("", &["sample,A"]), &["row 3", "2 fields and the header 4"]);
    says(&with_rows("", &["sample,\"A,0.08,", "sample,B,0.09,"]), &["row 3", "quotation mark may lack its partner"]);
}

#[test]
fn columns_are_checked_by_name() {
    says("role,label,absorbence\nstandard,S,0.1\n", &["no column absorbence", "did you mean absorbance?"]);
    says("label,absorbance\nS,0.1\n", &["no column role", "the columns are: label, absorbance"]);
    says("role,label,role,absorbance\nstandard,S,,0.1\n", &["two columns role"]);
    says("role,label,absorbance,\nstandard,S,0.1,7\n", &["row 1", "value behind column 3", "name the column"]);
    says("role,,absorbance\nstandard,S,0.1\n", &["column 2 has no name"]);
    says("role,label,signal\nstandard,S,0.1\n", &["readings are absorbances", "signal_kind"]);
    let table = RawTable::from_csv("role,nominal,signal\nstandard,1,120\nstandard,2,240\n").unwrap();
    let options = ReadOptions { signal: SignalKind::Emission, ..ReadOptions::default() };
    assert_eq!(Run::from_table(&table, &options).unwrap().positions[1].readings, [240.0]);
}

#[test]
fn further_columns_are_facts_or_passed_over_with_a_word() {
    let text = with_rows(",x_tray,weight,comment", &["sample,A,0.08,,3,1.2,fine", "sample,B,0.09,,3,1.2,cloudy"]);
    let run = read(&text);
    assert_eq!((run.fact("x_tray"), run.fact("weight"), run.fact("comment")), (Some("3"), Some("1.2"), None));
    let codes: Vec<Code> = run.findings.iter().map(|finding| finding.code).collect();
    assert_eq!(codes, [Code::PositionsCounted, Code::ColumnPassedOver, Code::ColumnKept]);
    assert!(run.findings[2].sentence().contains("column weight is none that is computed with"));
}

#[test]
fn text_in_a_number_column_is_named_by_row_and_column() {
    for (cell, parts) in [
        ("o.12", ["\"o.12\" is not a number", "decimal point"]),
        ("0.12 A", ["is not a number", "without a unit"]),
        ("inf", ["inf is not a finite number", "leave the cell empty"]),
        ("1e999", ["is not a finite number", "leave the cell empty"]),
        ("ND", ["a statement about a result", "the reading itself"]),
        ("<0.01", ["a statement about a result", "the reading itself"]),
    ] {
        let text = with_rows("", &["sample,ok,0.1,", &format!("sample,A,{cell},")]);
        says(&text, &["row 4, column absorbance", parts[0], parts[1]]);
    }
    says(&with_rows(",mass_g", &["sample,A,0.1,,NaN"]), &["row 3, column mass_g", "\"NaN\" is not a number"]);
    says(&with_rows("", &["sample,A,0.1,NA"]), &["row 3, column nominal", "\"NA\" is not a number"]);
}

#[test]
fn every_problem_is_told_at_once_in_the_order_of_rows() {
    let text = with_rows(
        ",mass_g,percent_solids",
        &[
            "sampel,A,0.1,,1,50",
            "sample,B,zero,,0,50",
            "sample,C,0.1,,-1,0",
            "sample,D,0.1,,1,101",
            "standard,S3,0.2,,,",
        ],
    );
    let error = Run::from_csv(&text).unwrap_err();
    let rows: Vec<Option<u64>> = error.problems().iter().map(|problem| problem.place.row).collect();
    assert_eq!(rows, [3, 4, 4, 5, 5, 6, 7].map(Some));
    let message = error.problems().iter().map(ToString::to_string).collect::<Vec<_>>().join("\n");
    for part in [
        "row 3, column role: unknown role \"sampel\"; did you mean sample?",
        "row 4, column absorbance: \"zero\" is not a number",
        "row 4, column mass_g, label \"B\": 0 is not a mass; give a number above 0",
        "row 5, column mass_g, label \"C\": -1 is not a mass",
        "row 5, column percent_solids, label \"C\": 0 is not a per cent of solids",
        "row 6, column percent_solids, label \"D\": 101 is not a per cent of solids; give a number above 0 and up to 100",
        "row 7, column nominal, label \"S3\": the standard has no nominal concentration",
    ] {
        assert!(message.contains(part), "{message} lacks {part}");
    }
}

#[test]
fn volumes_additions_ranges_and_dilutions_are_checked() {
    for (columns, row, parts) in [
        (",volume_ml", "sample,A,0.1,,0", ["row 3, column volume_ml, label \"A\"", "0 is not a volume"]),
        (",final_volume_ml", "sample,A,0.1,,-5", ["column final_volume_ml", "-5 is not a volume"]),
        (",mass_g,volume_ml", "sample,A,0.1,,1,50", ["column mass_g", "made up to is final_volume_ml"]),
        (",of,added", "matrix_spike,M,0.1,,A,5", ["column added_unit, label \"M\"", "for example mg/L or mg/kg"]),
        (",added,added_unit", "sample,A,0.1,,-5,mg/L", ["column added", "-5 is below zero"]),
        (",added,added_unit", "sample,A,0.1,,5,ppm", ["column added_unit", "mass per volume or mass per mass"]),
        (",spike_volume_ml", "sample,A,0.1,,0.1", ["column spike_conc", "spike_volume_ml is given without"]),
        (",accept_low,accept_high", "ccv,C,0.1,1,1.1,0.9", ["column accept_low", "1.1 to 0.9 is not a range"]),
        (",accept_high", "ccv,C,0.1,1,1.1", ["column accept_low", "nothing to 1.1"]),
        (",dilution", "sample,A,0.1,,50/5", ["row 3, column dilution", "50"]),
        ("", "calibration_blank,B,0.1,0.2", ["column nominal", "is not a blank"]),
        ("", "standard,S3,0.1,-1", ["column nominal", "-1 is below zero"]),
        ("", "sample,,0.1,", ["row 3, column label", "the sample has no label"]),
    ] {
        says(&with_rows(columns, &[row]), &parts);
    }
}

#[test]
fn a_run_needs_standards() {
    says("role,label,absorbance\nsample,A,0.1\n", &["has no standards", "nominal concentrations"]);
}

#[test]
fn a_parent_must_be_in_the_run() {
    let text =
        |of: &str| with_rows(",of", &["sample,GS-1,0.1,,", "sample,GS-2,0.1,,", &format!("duplicate,D,0.1,,{of}")]);
    says(&text("GS-l"), &["row 5, column of, label \"D\"", "no sample \"GS-l\"", "did you mean \"GS-1\"?"]);
    says(&text("other"), &["no sample \"other\"", "the labels are GS-1, GS-2"]);
    says(&text(""), &["row 5, column of", "the duplicate does not say of what"]);
    says(&text("D"), &["made from itself"]);
    says(&text("S1"), &["no sample \"S1\""]);
    // Which of two runs of a label is meant is decided when the run is reduced.
    let twice = with_rows(",of", &["sample,GS-1,0.1,,", "sample,GS-1,0.1,,", "duplicate,D,0.1,,GS-1"]);
    assert_eq!(read(&twice).positions[4].of, Some(Reference::Label("GS-1".into())));
}

#[test]
fn a_position_is_one_solution() {
    let head = "position,replicate,role,label,absorbance,nominal\n1,1,standard,S1,0.05,0.5\n2,1,standard,S2,0.11,1\n";
    let with = |row: &str| format!("{head}{row}\n");
    says(
        &with("2,1,standard,S2,0.12,1"),
        &["row 3, column position, label \"S2\"", "replicate 1 stands in row 2 already"],
    );
    says(&with("2,2,standard,S2,0.12,1.1"), &["row 3, column nominal", "1.1 differs from 1 in row 2"]);
    says(&with("2,2,sample,S2,0.12,1"), &["row 3, column role", "\"sample\" differs from \"standard\""]);
    says(&with("2,2,standard,S3,0.12,1"), &["row 3, column label", "\"S3\" differs from \"S2\" in row 2"]);
    says(&with("2,,standard,S2,0.12,1"), &["row 3, column replicate", "others of its position have"]);
    says(&with(",2,standard,S2,0.12,1"), &["row 3, column position", "the row has no position"]);
    says(&with("2.5,2,standard,S2,0.12,1"), &["row 3, column position", "2.5 is not a whole number"]);
    says(&with("-1,2,standard,S2,0.12,1"), &["row 3, column position", "-1 is not a whole number"]);
    // An empty cell agrees with all.
    assert_eq!(read(&with("2,2,standard,,0.12,")).positions[1].readings, [0.11, 0.12]);
}

#[test]
fn positions_are_counted_where_the_table_gives_none() {
    let rows = "role,label,replicate,absorbance,nominal\n\
        standard,S1,1,0.05,0.5\nstandard,S1,2,0.06,0.5\nstandard,S2,1,0.11,1\n\
        sample,A,1,0.1,\nsample,A,2,0.1,\nsample,A,1,0.1,\n";
    let run = read(rows);
    assert_eq!(run.position_rule, PositionRule::ConsecutiveReplicates);
    let shape: Vec<(u32, &str, usize)> =
        run.positions.iter().map(|p| (p.number, &*p.label, p.readings.len())).collect();
    assert_eq!(shape, [(1, "S1", 2), (2, "S2", 1), (3, "A", 2), (4, "A", 1)]);
    let run = read(&rows.replace(",replicate", "").replace(",1,0", ",0").replace(",2,0", ",0"));
    assert_eq!((run.position_rule, run.positions.len()), (PositionRule::EachRow, 6));
    assert_eq!(run.findings[0].code, Code::PositionsCounted);
}

#[test]
fn missing_readings_are_left_out_and_counted_or_refused() {
    let text = "position,replicate,role,label,absorbance,nominal\n1,1,standard,S1,0.05,0.5\n2,1,standard,S2,0.11,1\n\
        3,1,sample,A,,\n3,2,sample,A,0.08,\n3,3,sample,A,NaN,\n4,1,sample,B,NA,\n";
    let run = read(text);
    let a = &run.positions[2];
    assert_eq!((&a.readings[..], &a.replicates[..], a.missing), (&[0.08][..], &[2][..], 2));
    assert_eq!((run.positions[3].readings.len(), run.positions[3].missing), (0, 1));
    assert_eq!(run.findings.len(), 2);
    assert_eq!(run.findings[0].sentence(), "2 of 3 readings of A are missing and were left out");
    let options = ReadOptions { missing: MissingPolicy::Refuse, ..ReadOptions::default() };
    let error = Run::from_table(&RawTable::from_csv(text).unwrap(), &options).unwrap_err();
    assert_eq!(error.total(), 3);
    assert!(error.to_string().contains("row 3, column absorbance, label \"A\": the reading is missing"), "{error}");
}

#[test]
fn aliases_are_read_when_the_method_says_so() {
    let text = with_rows("", &["LFB,L,0.1,0.5"]);
    says(&text, &["unknown role \"LFB\"", "write lcs, or set aliases"]);
    let options = ReadOptions { aliases: AliasPolicy::Accept, ..ReadOptions::default() };
    let run = Run::from_table(&RawTable::from_csv(&text).unwrap(), &options).unwrap();
    assert_eq!(run.positions[2].role, Role::Lcs);
}

#[test]
fn several_runs_are_told_apart() {
    let two = format!("{RUN}{}", RUN.lines().skip(1).map(|line| line.replace("R1", "R0") + "\n").collect::<String>());
    says(&two, &["the table holds 2 runs: R0, R1", "reduce_many"]);
    let table = RawTable::from_csv(&two.replace("R0,2,standard", "R0,2,standart")).unwrap();
    let runs = Runs::each_from_table(&table, &ReadOptions::default()).unwrap();
    let error = runs[0].as_ref().unwrap_err();
    assert_eq!(&*error.run, "R0");
    assert!(error.to_string().contains("did you mean standard?"), "{error}");
    assert_eq!(*runs[1].as_ref().unwrap(), read(RUN));
    assert!(Runs::from_table(&table, &ReadOptions::default()).is_err());
}

#[test]
fn an_open_ended_run_is_read() {
    let run = read(&with_rows("", &["ccv,C,0.056,0.5", "ccb,B,0.0001,", "sample,A,0.1,", "sample,B,0.2,"]));
    assert_eq!(run.positions.last().map(|position| position.role), Some(Role::Sample));
}

#[test]
fn numbers_and_codes_read_as_their_text() {
    let mut table = RawTable::new();
    let role = Cells::Coded { codes: vec![1, 1, 0, 0], dictionary: vec!["sample".into(), "standard".into()] };
    table.push("Role", role).unwrap();
    table.push("label", Cells::Number(vec![1.0, 2.0, 17.0, 18.5])).unwrap();
    table.push("nominal", Cells::Number(vec![0.5, 1.0, f64::NAN, f64::NAN])).unwrap();
    table.push("absorbance", Cells::Text(Texts::from_iter(["0.05", "0.11", "", "0.2"]))).unwrap();
    let run = Run::from_table(&table, &ReadOptions::default()).unwrap();
    let labels: Vec<&str> = run.positions.iter().map(|position| &*position.label).collect();
    assert_eq!(labels, ["1", "2", "17", "18.5"]);
    assert_eq!((run.positions[2].nominal, run.positions[2].missing), (None, 1));
    let short = table.push("of", Cells::Number(vec![])).unwrap_err();
    assert!(short.to_string().contains("0 rows and the first column 4"), "{short}");
    let code = table.push("of", Cells::Coded { codes: vec![0, 0, 0, 9], dictionary: vec!["A".into()] }).unwrap_err();
    assert!(code.to_string().contains("code 9 is not in a dictionary of 1"), "{code}");
    let mut infinite = RawTable::new();
    infinite.push("role", Cells::Text(Texts::from_iter(["standard"]))).unwrap();
    infinite.push("nominal", Cells::Number(vec![f64::INFINITY])).unwrap();
    infinite.push("absorbance", Cells::Number(vec![0.1])).unwrap();
    let error = Run::from_table(&infinite, &ReadOptions::default()).unwrap_err().to_string();
    assert!(error.contains("row 1, column nominal: inf is not a finite number"), "{error}");
}

#[test]
fn a_hundred_thousand_rows_are_read_in_any_order() {
    let mut lines: Vec<String> = (0..100_000_u32)
        .map(|row| {
            let (run, position, replicate) = (row / 500, row / 2 % 250, row % 2);
            match position {
                0..5 => format!("R{run},{position},{replicate},standard,S{position},0.{position},{position}"),
                _ => format!("R{run},{position},{replicate},sample,GS-{position},0.{position},"),
            }
        })
        .collect();
    let text = |lines: &[String]| format!("run,position,replicate,role,label,absorbance,nominal\n{}", lines.join("\n"));
    let read = |text: &str| Runs::from_table(&RawTable::from_csv(text).unwrap(), &ReadOptions::default()).unwrap();
    let runs = read(&text(&lines));
    assert_eq!((runs.len(), runs.as_slice()[0].positions.len()), (200, 250));
    // A stride that shares no factor with the number of rows visits them all.
    lines = (0..lines.len()).map(|i| lines[i * 7919 % 100_000].clone()).collect();
    assert_eq!(read(&text(&lines)), runs);
}

#[test]
fn a_run_written_as_csv_reads_back() {
    let awkward = Run::builder("R, 2")
        .calibration_blank(&[0.0001])
        .standard("S \"1\"", 0.1 + 0.2, &[0.05, f64::NAN, 0.051])
        .standard("S;2", 1e-7, &[f64::NAN])
        .check(Role::Ccv, "C", 0.5, &[0.05])
        .with(|check| check.accept = Some((0.45, 0.55)))
        .sample("line\nbreak", &[-0.001])
        .with(|sample| {
            sample.number = 40;
            sample.preparation.dilution = Some("1:5".into());
            sample.identity.prep_batch = Some("B1".into());
        })
        .fact("analyst", "A. Weaver")
        .fact("x_tray", "3,5")
        .build()
        .unwrap();
    for run in [awkward, read(RUN)] {
        let back = read(&run.to_csv());
        assert_eq!(
            (&back.positions, &back.facts, &back.name),
            (&run.positions, &run.facts, &run.name),
            "{}",
            run.to_csv()
        );
    }
}

#[test]
fn a_run_built_by_hand_is_checked_like_a_table() {
    let error = Run::builder("R")
        .standard("S1", f64::NAN, &[0.1])
        .sample("A", &[f64::INFINITY])
        .with(|sample| sample.preparation.mass_g = Some(0.0))
        .position(Role::MatrixSpike, "M", &[0.1])
        .with(|spike| spike.number = 2)
        .build()
        .unwrap_err();
    let message = error.problems().iter().map(ToString::to_string).collect::<Vec<_>>().join("\n");
    for part in [
        "nominal, label \"S1\": NaN is not a finite number",
        "mass_g, label \"A\": 0 is not a mass",
        "absorbance, label \"A\": inf is not a finite number",
        "of, label \"M\": the matrix spike does not say of what",
        "position, label \"M\": position 2 does not follow 2",
    ] {
        assert!(message.contains(part), "{message} lacks {part}");
    }
    assert_eq!(error.total(), 5);
}

proptest! {
    #[test]
    fn permuted_rows_give_the_same_run(order in Just((1..10).collect::<Vec<usize>>()).prop_shuffle()) {
        let lines: Vec<&str> = RUN.lines().collect();
        let mut text = format!("{}\n", lines[0]);
        order.iter().for_each(|line| { text.push_str(lines[*line]); text.push('\n'); });
        let (shuffled, plain) = (read(&text), read(RUN));
        prop_assert_eq!(shuffled.to_csv(), plain.to_csv());
        prop_assert_eq!(shuffled, plain);
    }

    #[test]
    fn any_bytes_give_an_answer(bytes in prop::collection::vec(any::<u8>(), 0..200)) {
        if let Ok(table) = RawTable::from_csv_bytes(&bytes) {
            let _ = Runs::each_from_table(&table, &ReadOptions::default());
        }
    }

    // Nearer to tables than bytes are: known headers, odd cells.
    #[test]
    fn any_cells_give_an_answer(
        rows in prop::collection::vec(
            prop::collection::vec(
                prop::sample::select(vec![
                    "", "1", "2", "0", "-1", "1e308", "NaN", "inf", "standard", "sample", "duplicate", "A", "1:0", "\u{3b1}",
                    "4294967295", "4294967296", "mg/L",
                ]),
                16,
            ),
            0..12,
        ),
    ) {
        let header = "run;position;role;label;replicate;absorbance;nominal;of;added;added_unit;spike_volume_ml;\
            spike_conc;mass_g;dilution;percent_solids;accept_low";
        let body: Vec<String> = rows.iter().map(|row| row.join(";")).collect();
        let text = format!("{header}\n{}", body.join("\n"));
        if let Ok(table) = RawTable::from_csv(&text) {
            for run in Runs::each_from_table(&table, &ReadOptions::default()).into_iter().flatten().flatten() {
                prop_assert_eq!(Run::from_csv(&run.to_csv()).map(|back| back.positions), Ok(run.positions));
            }
        }
    }
}
