//! Dilutions: a factor, or a chain of aliquots and flasks.

use std::fmt;
use std::str::FromStr;

use super::Measured;
use crate::error::Error;

/// One step of a dilution.
#[derive(Clone, Debug, PartialEq)]
pub struct DilutionStep(Step);

#[derive(Clone, Debug, PartialEq)]
enum Step {
    Factor(Measured),
    Volumes { aliquot: Measured, flask: Measured },
}

impl DilutionStep {
    /// A dilution by a bare factor, 1 or more.
    ///
    /// # Errors
    /// Below 1: that would concentrate, and is mostly a fraction written in place of its inverse.
    pub fn factor(factor: Measured) -> Result<Self, Error> {
        if factor.value() >= 1.0 {
            return Ok(DilutionStep(Step::Factor(factor)));
        }
        let (value, inverse) = (factor.value(), 1.0 / factor.value());
        Err(Error::argument("dilution", format!("the factor {value} would concentrate")).help(format!(
            "for a dilution write its factor ({inverse:.4}); for a concentration give volume_ml and final_volume_ml"
        )))
    }

    /// `aliquot` made up to `flask`, both in the same unit (millilitres).
    ///
    /// # Errors
    /// An aliquot larger than its flask.
    pub fn volumes(aliquot: Measured, flask: Measured) -> Result<Self, Error> {
        if aliquot.value() <= flask.value() {
            return Ok(DilutionStep(Step::Volumes { aliquot, flask }));
        }
        let what = format!("an aliquot of {} does not go into a flask of {}", aliquot.value(), flask.value());
        Err(Error::argument("dilution", what).help("write the aliquot first, then the volume it is made up to"))
    }

    /// By how much the step dilutes.
    pub fn value(&self) -> f64 {
        match &self.0 {
            Step::Factor(factor) => factor.value(),
            Step::Volumes { aliquot, flask } => flask.value() / aliquot.value(),
        }
    }

    /// The bare factor, where the step is one.
    pub fn bare_factor(&self) -> Option<&Measured> {
        match &self.0 {
            Step::Factor(factor) => Some(factor),
            Step::Volumes { .. } => None,
        }
    }

    /// Aliquot and flask, where they are known.
    pub fn aliquot_and_flask(&self) -> Option<(&Measured, &Measured)> {
        match &self.0 {
            Step::Factor(_) => None,
            Step::Volumes { aliquot, flask } => Some((aliquot, flask)),
        }
    }
}

/// A chain of dilution steps, each starting from the solution before it. Empty: not diluted.
///
/// In text, steps stand between semicolons: `10` is a factor, `5/50` is 5 mL made up to 50 mL, and `1:5` and `1+4`
/// both are one part in five, fivefold.
///
/// ```
/// use groundstate::glassware::Dilution;
/// assert_eq!(Dilution::parse("5/50;10/100")?.factor().to_string(), "100");
/// assert_eq!(Dilution::parse("1:5")?, Dilution::parse("1+4")?);
/// assert!(Dilution::parse("1:0").is_err());
/// # Ok::<(), groundstate::Error>(())
/// ```
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Dilution {
    steps: Vec<DilutionStep>,
}

impl Dilution {
    /// The most steps of a chain.
    pub const MOST_STEPS: usize = u8::MAX as usize;

    /// Not diluted.
    pub const fn none() -> Self {
        Dilution { steps: Vec::new() }
    }

    /// The factor `value`, without uncertainty.
    ///
    /// # Errors
    /// Not a number from 1 up.
    pub fn by(value: f64) -> Result<Self, Error> {
        Dilution::chain(vec![DilutionStep::factor(Measured::exact("dilution", value)?)?])
    }

    /// A chain of steps, in the order they were made.
    ///
    /// # Errors
    /// More than [`Dilution::MOST_STEPS`], or a factor too large for a number.
    pub fn chain(steps: Vec<DilutionStep>) -> Result<Self, Error> {
        if steps.len() > Self::MOST_STEPS {
            let what = format!("{} dilution steps are more than {}", steps.len(), Self::MOST_STEPS);
            return Err(Error::argument("dilution", what));
        }
        let dilution = Dilution { steps };
        if dilution.factor().is_finite() {
            return Ok(dilution);
        }
        Err(Error::argument("dilution", "the factor of the whole chain is too large for a number"))
    }

    /// A chain written as text.
    ///
    /// # Errors
    /// What cannot be read, with the spelling to use.
    pub fn parse(text: &str) -> Result<Self, Error> {
        let steps: Result<Vec<DilutionStep>, Error> =
            text.split(';').enumerate().map(|(i, step)| parse_step(step, i, text)).collect();
        Dilution::chain(steps?)
    }

    /// The same, each step that dilutes with the relative standard uncertainty `relative`, of the item called `item`
    /// if it has a name. What the steps had before is replaced: it is for chains that were written down without it.
    ///
    /// The flask carries it all, so that a shared error of the step is not cancelled between flask and aliquot.
    ///
    /// # Errors
    /// Negative or not finite; an empty name.
    pub fn with_relative_u(&self, relative: f64, item: Option<&str>) -> Result<Self, Error> {
        let uncertain = |measured: &Measured| -> Result<Measured, Error> {
            let measured = Measured::new("dilution", measured.value(), relative * measured.value())?;
            item.map_or(Ok(measured.clone()), |item| measured.with_item(item))
        };
        let step = |step: &DilutionStep| -> Result<DilutionStep, Error> {
            Ok(DilutionStep(match &step.0 {
                _ if step.value() <= 1.0 => step.0.clone(),
                Step::Factor(factor) => Step::Factor(uncertain(factor)?),
                Step::Volumes { aliquot, flask } => {
                    Step::Volumes { aliquot: Measured::exact("dilution", aliquot.value())?, flask: uncertain(flask)? }
                }
            }))
        };
        let steps: Result<Vec<DilutionStep>, Error> = self.steps.iter().map(step).collect();
        Ok(Dilution { steps: steps? })
    }

    /// The steps, in the order they were made.
    pub fn steps(&self) -> &[DilutionStep] {
        &self.steps
    }

    /// By how much the whole chain dilutes: the product of flask over aliquot; 1 for no step.
    pub fn factor(&self) -> f64 {
        self.steps.iter().map(DilutionStep::value).product()
    }
}

impl FromStr for Dilution {
    type Err = Error;

    fn from_str(text: &str) -> Result<Self, Error> {
        Dilution::parse(text)
    }
}

impl fmt::Display for Dilution {
    /// The text that parses to the same values; 1 for no step.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.steps.is_empty() {
            return f.write_str("1");
        }
        for (i, DilutionStep(step)) in self.steps.iter().enumerate() {
            f.write_str(if i == 0 { "" } else { ";" })?;
            match step {
                Step::Factor(factor) => write!(f, "{}", factor.value())?,
                Step::Volumes { aliquot, flask } => write!(f, "{}/{}", aliquot.value(), flask.value())?,
            }
        }
        Ok(())
    }
}

fn parse_step(step: &str, index: usize, text: &str) -> Result<DilutionStep, Error> {
    let exact = |text: &str| number(text).and_then(|value| Measured::exact("dilution", value));
    let read = || -> Result<DilutionStep, Error> {
        match step.split_once(['/', ':', '+']) {
            None => DilutionStep::factor(exact(step)?),
            Some((aliquot, rest)) if step.contains('+') => {
                // "1+4": one part and four parts of diluent, five in all.
                let (aliquot, diluent) = (exact(aliquot)?, exact(rest)?);
                let flask = Measured::exact("dilution", aliquot.value() + diluent.value())?;
                DilutionStep::volumes(aliquot, flask)
            }
            Some((aliquot, flask)) => DilutionStep::volumes(exact(aliquot)?, exact(flask)?),
        }
    };
    read().map_err(|error| {
        let problem = error.problems().first();
        let what = problem.map_or("", |problem| &problem.what);
        let place = if text.contains(';') { format!("step {} of ", index + 1) } else { String::new() };
        let help = problem.and_then(|problem| problem.help.clone()).unwrap_or_else(|| GRAMMAR.to_owned());
        Error::argument("dilution", format!("{place}{:?}: {what}", shown(text))).help(help)
    })
}

const GRAMMAR: &str =
    "write a factor (10), aliquot/flask in mL (5/50), a chain (5/50;10/100), or parts (1:5 and 1+4 are both fivefold)";

fn number(text: &str) -> Result<f64, Error> {
    let text = text.trim();
    let refused = |what: String| Error::argument("dilution", what);
    if text.contains(',') {
        return Err(refused(format!("{:?} has a comma", shown(text)))
            .help("write a decimal point (2.5), and a semicolon between steps"));
    }
    // `parse` would also take "inf" and "nan"; only digits make a volume.
    match text.parse::<f64>() {
        Ok(value) if text.starts_with(|first: char| first.is_ascii_digit() || first == '.') => Ok(value),
        _ if text.is_empty() => Err(refused("a number is missing".to_owned())),
        _ => Err(refused(format!("{:?} is not a number", shown(text)))),
    }
}

/// As much of `text` as an error message can bear.
fn shown(text: &str) -> String {
    text.chars().take(40).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn factor(text: &str) -> f64 {
        Dilution::parse(text).unwrap_or_else(|error| panic!("{text}: {error}")).factor()
    }

    #[test]
    fn the_accepted_spellings() {
        for (text, expected) in [
            ("10", "10"),
            ("5/50", "10"),
            (" 5 / 50 ; 10 / 100 ", "100"),
            ("1:5", "5"),
            ("1+4", "5"),
            ("1:5;1+4;2", "50"),
            ("2.5/50", "20"),
            ("1", "1"),
            ("50/50", "1"),
        ] {
            assert_eq!(factor(text).to_string(), expected, "{text}");
        }
        assert_eq!(Dilution::none().factor().to_string(), "1");
        assert_eq!(Dilution::none().to_string(), "1");
        assert_eq!(Dilution::parse("1+4;10").unwrap().to_string(), "1/5;10");
    }

    #[test]
    fn refusals_say_what_to_write() {
        for (text, hint) in [
            ("", "a number is missing"),
            ("5/", "a number is missing"),
            ("5/50;", "step 2"),
            ("0", "above 0"),
            ("-10", "not a number"),
            ("nan", "not a number"),
            ("inf", "not a number"),
            ("1e999", "above 0"),
            ("0.1", "for a dilution write its factor (10.0000)"),
            ("10:1", "aliquot first"),
            ("50/5", "aliquot first"),
            ("2,5/50", "decimal point"),
            ("x10", "write a factor (10)"),
            ("1:2:3", "not a number"),
            ("1/2+3", "not a number"),
            ("1:0", "above 0"),
        ] {
            let error = Dilution::parse(text).unwrap_err().to_string();
            assert!(error.starts_with("dilution: "), "{text}: {error}");
            assert!(error.contains(hint), "{text}: {error}");
        }
        assert!(Dilution::parse(&["1e300"; 2].join(";")).unwrap_err().to_string().contains("too large"));
        assert!(Dilution::parse(&["1"; 256].join(";")).unwrap_err().to_string().contains("256"));
    }

    #[test]
    fn a_written_chain_takes_the_uncertainty_of_its_steps() {
        let chain = Dilution::parse("1;5/50;4").unwrap().with_relative_u(0.01, Some("pipette")).unwrap();
        let relative: Vec<f64> = (chain.steps().iter())
            .map(|step| match (step.bare_factor(), step.aliquot_and_flask()) {
                (Some(factor), _) => factor.relative_u(),
                (None, Some((aliquot, flask))) => aliquot.relative_u() + flask.relative_u(),
                (None, None) => f64::NAN,
            })
            .collect();
        // A factor of 1 is no dilution. Two roundings in u and u / value.
        for (found, expected) in relative.into_iter().zip([0.0, 0.01, 0.01]) {
            assert!((found - expected).abs() <= 1e-17, "{found}");
        }
        assert_eq!(chain.steps()[2].bare_factor().and_then(Measured::item), Some("pipette"));
        assert!(chain.with_relative_u(-0.01, None).is_err());
        assert!(chain.with_relative_u(f64::NAN, None).is_err());
        assert!(chain.with_relative_u(0.01, Some("")).is_err());
    }

    proptest! {
        #[test]
        fn a_chain_dilutes_by_the_product(steps in prop::collection::vec((0.1..10.0_f64, 1.0..20.0_f64), 0..6)) {
            let measured = |value| Measured::exact("v", value).unwrap();
            let chain: Vec<DilutionStep> = steps.iter()
                .map(|(aliquot, ratio)| DilutionStep::volumes(measured(*aliquot), measured(aliquot * ratio)).unwrap())
                .collect();
            let product: f64 = steps.iter().map(|(_, ratio)| ratio).product();
            let dilution = Dilution::chain(chain).unwrap();
            // Three roundings a step at most, six steps.
            prop_assert!((dilution.factor() - product).abs() <= 18.0 * f64::EPSILON * product);
            if !steps.is_empty() {
                prop_assert_eq!(Dilution::parse(&dilution.to_string()).unwrap(), dilution);
            }
        }

        #[test]
        fn parsing_never_panics(text in "[-0-9./:+;, einfx]{0,20}") {
            if let Ok(dilution) = Dilution::parse(&text) {
                prop_assert!(dilution.factor() >= 1.0 && dilution.factor().is_finite());
            }
        }
    }
}
