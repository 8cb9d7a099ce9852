//! What was done to a sample, checked once.

use std::sync::Arc;

use super::solids::{ReportBasis, Solids, Weighed};
use super::terms::{Power, Share, Term, Who};
use crate::error::{Error, Kind, Place, Problem};
use crate::estimate::{Dof, Part, SourceKind};
use crate::finding::{Citation, Code, Finding, Subject};
use crate::glassware::{Dilution, Measured};
use crate::unit::{Dimension, Unit};

/// The portion of the sample that was taken.
#[derive(Clone, Debug, PartialEq)]
pub enum Portion {
    /// A weighed mass in grams: the sample is a solid.
    Mass(Measured),
    /// A measured volume in millilitres: the sample is a liquid.
    Volume(Measured),
}

impl Portion {
    /// Mass or volume, whichever was given; none if neither was.
    ///
    /// # Errors
    /// Both were given.
    pub fn of(mass_g: Option<Measured>, volume_ml: Option<Measured>) -> Result<Option<Self>, Error> {
        match (mass_g, volume_ml) {
            (Some(_), Some(_)) => {
                Err(Error::argument("mass_g", "a portion has a mass or a volume, and both are given")
                    .help("give mass_g for a solid, volume_ml for a liquid"))
            }
            (Some(mass), None) => Ok(Some(Portion::Mass(mass))),
            (None, Some(volume)) => Ok(Some(Portion::Volume(volume))),
            (None, None) => Ok(None),
        }
    }

    /// The quantity, in grams or millilitres.
    pub fn measured(&self) -> &Measured {
        match self {
            Portion::Mass(measured) | Portion::Volume(measured) => measured,
        }
    }

    /// What its results measure.
    pub const fn dimension(&self) -> Dimension {
        match self {
            Portion::Mass(_) => Dimension::MassPerMass,
            Portion::Volume(_) => Dimension::MassPerVolume,
        }
    }
}

/// A further factor that the result is multiplied by, for example for recovery or for a leached area.
#[derive(Clone, Debug, PartialEq)]
pub struct Factor {
    /// Its name. A named factor is one quantity for all who name it; an unnamed one is new for every position.
    pub name: Option<Arc<str>>,
    /// The factor with its standard uncertainty.
    pub measured: Measured,
}

impl Factor {
    /// A factor shared by all who name it.
    ///
    /// # Errors
    /// A value that is not above 0, an uncertainty below 0, an empty name.
    pub fn new(name: &str, value: f64, u: f64) -> Result<Self, Error> {
        if name.trim().is_empty() {
            return Err(Error::argument("extra", "the name of a factor is empty"));
        }
        Ok(Factor { name: Some(name.trim().into()), measured: Measured::new(name.trim(), value, u)? })
    }

    /// The same with the degrees of freedom of its uncertainty.
    ///
    /// # Errors
    /// None at all.
    pub fn with_dof(self, dof: Dof) -> Result<Self, Error> {
        Ok(Factor { measured: self.measured.with_dof(dof)?, ..self })
    }
}

/// What was done to one portion of a sample, as it is written down. [`Preparation::new`] checks it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Description {
    /// The portion taken; none where the sample was aspirated as it came.
    pub portion: Option<Portion>,
    /// What it was made up to after digestion, in millilitres.
    pub final_volume: Option<Measured>,
    /// What was diluted after that.
    pub dilution: Dilution,
    /// The fraction of dry matter of a solid.
    pub solids: Option<Solids>,
    /// In what state a solid was weighed. There is no default.
    pub weighed: Option<Weighed>,
    /// What the result of a solid refers to. There is no default.
    pub report: Option<ReportBasis>,
    /// Further factors.
    pub extra: Vec<Factor>,
}

/// What was done to one portion of a sample: a description without contradictions.
///
/// ```
/// use groundstate::glassware::{Dilution, Measured};
/// use groundstate::preparation::{Description, Portion, Preparation, ReportBasis, Solids, Weighed};
/// let preparation = Preparation::new(Description {
///     portion: Some(Portion::Mass(Measured::new("mass_g", 1.0, 0.001)?)),
///     final_volume: Some(Measured::new("final_volume_ml", 100.0, 0.07)?),
///     dilution: Dilution::parse("5/50")?,
///     solids: Some(Solids::percent(80.0, 0.5)?),
///     weighed: Some(Weighed::Wet),
///     report: Some(ReportBasis::Dry),
///     ..Description::default()
/// })?;
/// assert_eq!(preparation.multiplier(), 1250.0); // mg/L to mg/kg of dry matter
/// # Ok::<(), groundstate::Error>(())
/// ```
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Preparation(Option<Arc<Description>>);

/// The description of a sample that was aspirated as it came, which takes no memory of its own.
static NONE: Description = Description {
    portion: None,
    final_volume: None,
    dilution: Dilution::none(),
    solids: None,
    weighed: None,
    report: None,
    extra: Vec::new(),
};

impl Preparation {
    /// The sample aspirated as it came: multiplier 1.
    pub fn none() -> Self {
        Preparation::default()
    }

    /// Checks a description.
    ///
    /// # Errors
    /// Every contradiction and every open question at once: a portion without a final volume or the reverse; a solid
    /// without `weighed` and `report`, or without the per cent solids where they are needed; any of these for a
    /// liquid; a factor that is given twice, or that would take the solids into account a second time.
    pub fn new(description: Description) -> Result<Self, Error> {
        if description == NONE {
            return Ok(Preparation::none());
        }
        let mut problems = Vec::new();
        let mut problem = |name: &str, what: &str, help: &str| {
            problems.push(Problem::new(Place::named(name), what).help(help));
        };
        match (&description.portion, &description.final_volume) {
            (Some(Portion::Mass(_)), None) => {
                problem(
                    "final_volume_ml",
                    "a weighed portion has no final volume",
                    "give what it was made up to, in mL",
                );
            }
            (Some(Portion::Volume(_)), None) => problem(
                "final_volume_ml",
                "a measured portion has no final volume",
                "give what it was made up to, in mL; the volume of the portion itself if nothing was concentrated",
            ),
            (None, Some(_)) => problem(
                "final_volume_ml",
                "a final volume without the portion that went into it",
                "give mass_g for a solid or volume_ml for a liquid",
            ),
            (Some(_), Some(_)) | (None, None) => {}
        }
        if let Some(Portion::Mass(_)) = description.portion {
            if description.weighed.is_none() {
                problem(
                    "weighed",
                    "it is not said in what state the solid was weighed",
                    "write wet (as received) or dry (dried before weighing)",
                );
            }
            if description.report.is_none() {
                problem("report", "it is not said what the result of the solid refers to", "write as_received or dry");
            }
            if description.solids.is_none() && solids_power(&description).is_some() {
                problem(
                    "percent_solids",
                    "it is needed to change between the wet and the dry basis, and is not given",
                    "give the per cent solids, or report on the basis that was weighed",
                );
            }
        } else {
            let only = "belongs to a weighed solid, and no mass is given";
            let help = "give mass_g, or leave it out for a liquid";
            for (name, given) in [
                ("weighed", description.weighed.is_some()),
                ("report", description.report.is_some()),
                ("percent_solids", description.solids.is_some()),
            ] {
                if given {
                    problem(name, only, help);
                }
            }
        }
        for (i, factor) in description.extra.iter().enumerate() {
            let Some(name) = &factor.name else { continue };
            if description.extra.iter().take(i).any(|earlier| earlier.name.as_ref() == Some(name)) {
                problem("extra", &format!("the factor {name:?} is given twice"), "give it once");
            }
            if description.solids.is_some() && speaks_of_solids(name) {
                problem(
                    "extra",
                    &format!("the factor {name:?} and percent_solids would apply the solids twice"),
                    "leave the factor out: weighed and report decide whether the solids enter",
                );
            }
        }
        if description.extra.len() > u8::MAX as usize {
            problem("extra", "there are more than 255 factors", "multiply some of them first");
        }
        let preparation = Error::unless_empty(Kind::Argument, problems, Preparation(Some(Arc::new(description))))?;
        let multiplier = preparation.multiplier();
        if multiplier > 0.0 && multiplier.is_finite() {
            return Ok(preparation);
        }
        Err(Error::argument("preparation", "its multiplier is too large or too small for a number")
            .help("masses are in g, volumes in mL"))
    }

    /// What was described.
    pub fn description(&self) -> &Description {
        self.0.as_deref().unwrap_or(&NONE)
    }

    /// What a concentration in the aspirated solution is multiplied by, before any change of unit: final volume over
    /// portion, times the dilution, times the solids as [`Weighed`] and [`ReportBasis`] have it, times the factors.
    ///
    /// A diluted liquid is flask over aliquot. SW-846 7000B 12.1.1 writes A (C + B) / C, which is the same only with C
    /// the aliquot and B the diluent; its printed legend calls them final volume and sample volume.
    pub fn multiplier(&self) -> f64 {
        let description = self.description();
        let portion = match (&description.final_volume, &description.portion) {
            (Some(volume), Some(portion)) => volume.value() / portion.measured().value(),
            _ => 1.0,
        };
        let extra: f64 = description.extra.iter().map(|factor| factor.measured.value()).product();
        self.solids_multiply(portion * description.dilution.factor()) * extra
    }

    /// Standard uncertainty and effective degrees of freedom of [`Preparation::multiplier`] (first order; what a named
    /// item does twice is added with its sign before it is squared).
    ///
    /// # Errors
    /// One item with two different degrees of freedom.
    pub fn uncertainty(&self) -> Result<(f64, Dof), Error> {
        super::apply::uncertainty(self.multiplier(), &self.terms())
    }

    /// What the result of a solution in `from` is in, before any change of unit.
    ///
    /// # Errors
    /// `from` is not mass per volume.
    pub fn result_unit(&self, from: Unit) -> Result<Unit, Error> {
        if from.dimension() != Dimension::MassPerVolume {
            let what = format!("a solution is measured in mass per volume, not in {from}");
            return Err(Error::new(Kind::Unit, Problem::new(Place::named("unit"), what).help("for example mg/L")));
        }
        Ok(match self.description().portion {
            Some(Portion::Mass(_)) => per_mass(from),
            Some(Portion::Volume(_)) | None => from,
        })
    }

    /// What results measure: mass per mass for a solid, mass per volume otherwise.
    pub fn dimension(&self) -> Dimension {
        self.description().portion.as_ref().map_or(Dimension::MassPerVolume, Portion::dimension)
    }

    /// What a reader of the result should know of its preparation.
    pub fn findings(&self, subject: &Subject) -> Vec<Finding> {
        let mut findings = Vec::new();
        let description = self.description();
        if let (Some(solids), Some(weighed), Some(report)) =
            (&description.solids, description.weighed, description.report)
            && solids_power(description).is_none()
        {
            findings.push(
                Finding::new(Code::SolidsNotUsed, subject.clone())
                    .with("percent", 100.0 * solids.fraction().value())
                    .with("weighed", weighed.name())
                    .with("report", report.name().replace('_', " "))
                    .citing(Citation::transcribed("SW-846 Method 8000D", "", "11.10.5")),
            );
        }
        let divisors = self.terms().into_iter().filter(|term| term.power == Power::Over);
        let largest = divisors.map(|term| term.measured.relative_u()).fold(0.0, f64::max);
        if largest > FIRST_ORDER_SERVES {
            findings.push(
                Finding::new(Code::FirstOrderDoubtful, subject.clone())
                    .with("percent", 100.0 * largest)
                    .citing(Citation::unverified("JCGM 100:2008", "", "law of propagation of uncertainty")),
            );
        }
        findings
    }

    /// The value times the solids fraction to its power.
    pub(super) fn solids_multiply(&self, value: f64) -> f64 {
        match (solids_power(self.description()), &self.description().solids) {
            (Some(Power::Times), Some(solids)) => value * solids.fraction().value(),
            (Some(Power::Over), Some(solids)) => value / solids.fraction().value(),
            _ => value,
        }
    }

    /// The quantities that a result is multiplied with or divided by.
    pub(super) fn terms(&self) -> Vec<Term<'_>> {
        let mut terms = Vec::new();
        let description = self.description();
        if let (Some(volume), Some(_)) = (&description.final_volume, &description.portion) {
            terms.push(Term::new(volume, Power::Times, Part::FinalVolume, SourceKind::Volume, Who::Portion));
        }
        terms.extend(self.portion_terms());
        for (step, n) in description.dilution.steps().iter().zip(1..=u8::MAX) {
            if let Some(factor) = step.bare_factor() {
                terms.push(Term::new(factor, Power::Times, Part::Dilution(n), SourceKind::Volume, Who::Position));
            }
            if let Some((aliquot, flask)) = step.aliquot_and_flask() {
                terms.push(Term::new(aliquot, Power::Over, Part::Aliquot(n), SourceKind::Volume, Who::Position));
                terms.push(Term::new(flask, Power::Times, Part::Flask(n), SourceKind::Volume, Who::Position));
            }
        }
        for (factor, n) in description.extra.iter().zip(1..=u8::MAX) {
            let term = Term::new(&factor.measured, Power::Times, Part::Factor(n), SourceKind::Factor, Who::Position);
            terms.push(Term { factor: factor.name.as_ref(), ..term });
        }
        terms
    }

    /// The shares of each of those quantities: a quantity of exact value has none. `position` is that of the
    /// measurement, `portion` that where the portion was first prepared.
    pub(crate) fn shares(&self, run: &Arc<str>, position: u32, portion: u32) -> Vec<Vec<Share>> {
        let at = |who| if who == Who::Portion { portion } else { position };
        self.terms().iter().map(|term| term.shares(run, at(term.who)).collect()).collect()
    }

    /// Those of [`Preparation::terms`] that belong to the portion: what was taken, and its solids.
    pub(super) fn portion_terms(&self) -> Vec<Term<'_>> {
        let mut terms = Vec::new();
        let description = self.description();
        if let Some(portion) = &description.portion {
            let (part, kind) = match portion {
                Portion::Mass(_) => (Part::Mass, SourceKind::Mass),
                Portion::Volume(_) => (Part::SampleVolume, SourceKind::Volume),
            };
            terms.push(Term::new(portion.measured(), Power::Over, part, kind, Who::Portion));
        }
        if let (Some(power), Some(solids)) = (solids_power(description), &description.solids) {
            terms.push(Term::new(solids.fraction(), power, Part::Solids, SourceKind::Solids, Who::Portion));
        }
        terms
    }
}

/// Above this relative standard uncertainty of a divisor, the second-order term that the law of propagation leaves out
/// changes the value by more than 1 % (E(1/x) is about (1 + u²)/x). The figure is ours, not a standard's.
const FIRST_ORDER_SERVES: f64 = 0.1;

/// How the solids fraction enters. SW-846 6010D 12.2 has the first case, C V / (W S); the others are its algebra.
fn solids_power(description: &Description) -> Option<Power> {
    match (description.weighed?, description.report?) {
        (Weighed::Wet, ReportBasis::Dry) => Some(Power::Over),
        (Weighed::Dry, ReportBasis::AsReceived) => Some(Power::Times),
        (Weighed::Wet, ReportBasis::AsReceived) | (Weighed::Dry, ReportBasis::Dry) => None,
    }
}

fn speaks_of_solids(name: &str) -> bool {
    let name = name.to_lowercase();
    ["solid", "moisture", "dry weight", "dry_weight", "dry matter", "dry_matter"].iter().any(|word| name.contains(word))
}

/// mg/L x mL / g = mg/kg: a litre holds as many millilitres as a kilogram holds grams.
const fn per_mass(unit: Unit) -> Unit {
    match unit {
        Unit::GramPerLitre => Unit::GramPerKilogram,
        Unit::MilligramPerMillilitre => Unit::MilligramPerGram,
        Unit::MilligramPerLitre => Unit::MilligramPerKilogram,
        Unit::MicrogramPerMillilitre => Unit::MicrogramPerGram,
        Unit::MicrogramPerLitre => Unit::MicrogramPerKilogram,
        Unit::NanogramPerMillilitre => Unit::NanogramPerGram,
        Unit::NanogramPerLitre => Unit::NanogramPerKilogram,
        other => other,
    }
}
