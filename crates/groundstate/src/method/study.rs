//! The study that a method detection limit rests on.

use crate::detection::mdl::{self, Mdl, MdlOptions, MdlResult};
use crate::error::Error;

/// Spikes and method blanks in the unit of the limit, with the limit of 40 CFR 136 Appendix B that they give. A method
/// that holds the study of its limit lets everybody who has an outcome compute the limit again.
#[derive(Clone, Debug, PartialEq)]
pub struct LimitStudy {
    results: Vec<MdlResult>,
    options: MdlOptions,
    mdl: Mdl,
}

impl LimitStudy {
    /// The study of `results`, evaluated by [`mdl::initial`].
    ///
    /// # Errors
    /// As [`mdl::initial`]. A study whose results give no limit is none: its findings say why.
    pub fn new(results: Vec<MdlResult>, options: MdlOptions) -> Result<LimitStudy, Error> {
        let mdl = mdl::initial(&results, &options)?;
        Ok(LimitStudy { results, options, mdl })
    }

    /// Spikes and blanks, in the order given.
    pub fn results(&self) -> &[MdlResult] {
        &self.results
    }

    /// How they were evaluated.
    pub fn options(&self) -> &MdlOptions {
        &self.options
    }

    /// The limit with its parts, the requirements on the data, and what was noticed.
    pub fn mdl(&self) -> &Mdl {
        &self.mdl
    }
}
