//! Writes the JSON Schemas into `docs/schema` and the package, and the golden vectors of the canonical form into `tests/wire`.
//!
//!     cargo run -p groundstate --example wire_files
//!
//! Archives under `tests/wire/archive` stand for files that users hold: they are written once, where there is none.
#![allow(missing_docs)]

use std::fs;
use std::path::Path;

use groundstate::document::canonical;
use groundstate::method::Method;
use groundstate::outcome::Outcome;
use groundstate::reduce::reduce;
use groundstate::run::Run;
use groundstate::wire::{Document, Layout, schema};
use serde_json::json;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    for document in Document::ALL {
        for folder in ["docs/schema", "python/groundstate/schema"] {
            fs::write(root.join(format!("{folder}/{}.json", document.name())), schema(document))?;
        }
    }
    let mut vectors = Vec::new();
    for name in ["roof_water", "gutter_sediment", "gutter_moss"] {
        let read = |ending: &str| fs::read_to_string(root.join(format!("python/groundstate/demo/{name}.{ending}")));
        let outcome = reduce(&Run::from_csv(&read("csv")?)?, &Method::from_toml(&read("toml")?)?)?;
        let archive = root.join(format!("tests/wire/archive/v1/{name}.json"));
        if !archive.exists() {
            fs::write(archive, outcome.to_json(Layout::Compact) + "\n")?;
        }
        vectors.push(vector(name, &outcome));
    }
    fs::write(root.join("tests/wire/canonical.json"), serde_json::to_string_pretty(&vectors)? + "\n")?;
    Ok(())
}

fn vector(name: &str, outcome: &Outcome) -> serde_json::Value {
    let provenance = outcome.provenance();
    json!({
        "name": name,
        "method": canonical(&outcome.method().to_document()),
        "run": canonical(&outcome.run().to_document()),
        "fingerprint": provenance.fingerprint,
        "digest_of_method": provenance.method,
        "digest_of_profile": provenance.profile,
        "digest_of_table": provenance.table,
    })
}
