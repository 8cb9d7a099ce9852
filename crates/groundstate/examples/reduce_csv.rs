//! A table of readings and a method file to a report, an archive and an exit status.
//!
//!     cargo run -p groundstate --example reduce_csv -- RUN.csv METHOD.toml [OUTCOME.json]
//!
//! The library reads no files: this program does, and hands it text.
#![allow(missing_docs)]

use std::env;
use std::fs;
use std::process::ExitCode;

use groundstate::Error;
use groundstate::method::Method;
use groundstate::outcome::Outcome;
use groundstate::reduce::reduce;
use groundstate::run::Run;
use groundstate::wire::Layout;

fn main() -> ExitCode {
    let arguments: Vec<String> = env::args().skip(1).collect();
    let [table, method, archive @ ..] = &arguments[..] else {
        eprintln!("usage: reduce_csv RUN.csv METHOD.toml [OUTCOME.json]");
        return ExitCode::from(2);
    };
    let (Some(table), Some(method)) = (read(table), read(method)) else { return ExitCode::from(2) };
    let outcome = match outcome(&table, &method) {
        Ok(outcome) => outcome,
        Err(error) => {
            // Everything that is wrong, at once: place, what, and what to do.
            for problem in error.problems() {
                eprintln!("{problem}");
            }
            return ExitCode::from(2);
        }
    };
    println!("{}", outcome.summary());
    if let Some(path) = archive.first()
        && let Err(error) = fs::write(path, outcome.to_json(Layout::Pretty) + "\n")
    {
        eprintln!("{path}: {error}");
        return ExitCode::from(2);
    }
    ExitCode::from(outcome.standing().exit_status())
}

fn read(path: &str) -> Option<String> {
    fs::read_to_string(path).map_err(|error| eprintln!("{path}: {error}")).ok()
}

fn outcome(table: &str, method: &str) -> Result<Outcome, Error> {
    reduce(&Run::from_csv(table)?, &Method::from_toml(method)?)
}
