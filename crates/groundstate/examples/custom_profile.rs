//! A laboratory's own criteria: a profile to start from, every deviation stated, and what that does to a run.
//!
//!     cargo run -p groundstate --example custom_profile
//!
//! All readings are invented.
#![allow(missing_docs)]

use groundstate::Error;
use groundstate::criteria::ProfileName;
use groundstate::method::{Explicit, Method};
use groundstate::reduce::reduce;
use groundstate::run::{Role, Run};

/// The laboratory's method: 7000B with a tighter continuing check, and a lower limit for the correlation switched off.
fn house_method() -> Result<Method, Error> {
    let mut method = Method::new("Cu", ProfileName::Sw846Method7000B)?;
    method.id = "CU-HOUSE".into();
    method.version = "4".into();
    method.criteria.set("ccv", "low", 95.0.into())?;
    method.criteria.set("ccv", "high", 105.0.into())?;
    method.criteria.set("calibration", "r", "off".into())?;
    method.criteria.set("calibration", "rse", 15.0.into())?;
    for check in ["icv", "icb", "low_check", "ccb", "method_blank", "lcs", "duplicate", "matrix_spike"] {
        method.criteria.set(check, "required", "not_required".into())?;
    }
    method.check()?;
    Ok(method)
}

fn run() -> Result<Run, Error> {
    Run::builder("house 1")
        .calibration_blank(&[0.0002, 0.0004])
        .standard("S1", 0.5, &[0.0412, 0.0409])
        .standard("S2", 1.0, &[0.0818, 0.0821])
        .standard("S3", 2.0, &[0.1631, 0.1636])
        .sample("Well 3", &[0.0561, 0.0557])
        .check(Role::Ccv, "CCV", 1.0, &[0.0881, 0.0878])
        .build()
}

fn main() -> Result<(), Error> {
    let method = house_method()?;
    // The deviations and nothing else: this is what the laboratory approves.
    println!("{}", method.to_toml(Explicit::No));

    // Where each figure of the continuing check comes from, the prior value of the profile kept beside it.
    for criterion in method.criteria.iter().filter(|criterion| criterion.check == "ccv") {
        let prior = criterion.prior.as_ref().map(|value| format!(" (profile: {value})")).unwrap_or_default();
        println!("ccv.{} = {}{prior}: {}", criterion.key, criterion.value, criterion.citation);
    }

    let outcome = reduce(&run()?, &method)?;
    println!("\n{}", outcome.summary());

    // A misspelt key is an error that names the nearest one.
    let mut wrong = method;
    if let Err(error) = wrong.criteria.set("ccv", "hihg", 105.0.into()) {
        println!("{error}");
    }
    Ok(())
}
