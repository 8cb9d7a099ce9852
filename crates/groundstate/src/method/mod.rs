//! What a method file says: calibration, preparation, limits, reporting, qualifiers and criteria.
//!
//! ```
//! use groundstate::criteria::ProfileName;
//! use groundstate::curve::Shape;
//! use groundstate::method::Method;
//!
//! let mut method = Method::new("Zn", ProfileName::General)?;
//! method.calibration.shape = Shape::Quadratic;
//! method.check()?; // do its parts go together?
//! # Ok::<(), groundstate::Error>(())
//! ```

mod calibration;
mod check;
#[cfg(feature = "serde")]
mod document;
mod limits;
mod policy;
mod preparation;
mod qualifiers;
mod study;
mod style;

pub use crate::preparation::{LimitBasis, LimitFloor, ReportBasis, Weighed};
pub use calibration::{CalibrationRules, Exclusion, MatchedStandards, OutlierTest, ReadingScatter};
#[cfg(feature = "serde")]
pub use document::{DefaultUsed, Explicit};
pub use limits::{ActionLimit, ConformSide, DecisionRule, Limit, Limits, NondetectAt};
pub use policy::{AliasPolicy, MissingPolicy, SignalKind};
pub use preparation::{ExtraFactor, NominalPortion, PreparationRules, PreparationUncertainty, SampleKind, SharedItems};
pub use qualifiers::{Qualification, Qualifier, Qualifiers};
pub use study::LimitStudy;
pub use style::{DofPolicy, Style};

use std::sync::Arc;

use crate::criteria::{Criteria, ProfileName};
use crate::detection::Date;
use crate::element::Element;
use crate::error::Error;

/// A method: everything that turns a run's readings into reported results.
///
/// Fields are public; [`Method::check`] tells whether they go together, and whoever reduces a run asks it first.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct Method {
    /// Name of the method in the laboratory.
    pub id: Arc<str>,
    /// Its version.
    pub version: Arc<str>,
    /// Who approved it.
    pub approved_by: Option<Arc<str>>,
    /// From when it is in force.
    pub effective_from: Option<Date>,
    /// The element.
    pub element: Element,
    /// Wavelength of the line, nm.
    pub line_nm: Option<f64>,
    /// What the readings are.
    pub signal_kind: SignalKind,
    /// What to do with missing readings.
    pub missing: MissingPolicy,
    /// Whether other programmes' names of roles are read.
    pub aliases: AliasPolicy,
    /// How the calibration is made.
    pub calibration: CalibrationRules,
    /// The way from the sample to the solution.
    pub preparation: PreparationRules,
    /// Limits.
    pub limits: Limits,
    /// How results are written.
    pub reporting: Style,
    /// Letters and words beside results.
    pub qualifiers: Qualifiers,
    /// What checks must meet, and the profile that it started from.
    pub criteria: Criteria,
}

impl Method {
    /// A method for `element` with nothing set but the defaults of `profile`.
    ///
    /// ```
    /// use groundstate::criteria::ProfileName;
    /// use groundstate::method::Method;
    /// use groundstate::curve::Shape;
    /// let mut method = Method::new("Zn", ProfileName::General)?;
    /// method.calibration.shape = Shape::Quadratic;
    /// assert_eq!(method.element.symbol(), "Zn");
    /// # Ok::<(), groundstate::Error>(())
    /// ```
    ///
    /// # Errors
    /// An unknown element.
    pub fn new(element: &str, profile: ProfileName) -> Result<Method, Error> {
        let element = Element::parse(element)?;
        Ok(Method {
            id: format!("{} by flame", element.symbol()).into(),
            version: "1".into(),
            approved_by: None,
            effective_from: None,
            element,
            line_nm: None,
            signal_kind: SignalKind::Absorbance,
            missing: MissingPolicy::Skip,
            aliases: AliasPolicy::Refuse,
            calibration: CalibrationRules::default(),
            preparation: PreparationRules::default(),
            limits: Limits::default(),
            reporting: Style::default(),
            qualifiers: Qualifiers::default(),
            criteria: Criteria::profile(profile),
        })
    }

    /// The profile it started from.
    pub fn profile(&self) -> ProfileName {
        self.criteria.profile_name()
    }
}
