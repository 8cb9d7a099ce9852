//! The initial estimate of the limit, which the spiking level is chosen by.

use super::super::moments::Moments;
use crate::error::Error;
use crate::finding::Citation;

/// How an initial estimate was made. One way is enough.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum EstimateBasis {
    /// Mean plus three standard deviations of a set of method blanks.
    MethodBlanks,
    /// Three standard deviations of replicate measurements of spiked blanks.
    SpikedBlanks,
}

impl EstimateBasis {
    /// The stable name, in `snake_case`.
    pub const fn name(self) -> &'static str {
        match self {
            EstimateBasis::MethodBlanks => "method_blanks",
            EstimateBasis::SpikedBlanks => "spiked_blanks",
        }
    }

    /// Where it stands.
    pub const fn citation(self) -> Citation {
        const DOCUMENT: &str = "40 CFR Part 136, Appendix B";
        match self {
            EstimateBasis::MethodBlanks => Citation::transcribed(DOCUMENT, "Revision 2", "II(1)(a)"),
            EstimateBasis::SpikedBlanks => Citation::transcribed(DOCUMENT, "Revision 2", "II(1)(c)"),
        }
    }
}

/// An initial estimate and the spiking levels it leads to, all in the unit of the results.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct InitialEstimate {
    /// The estimate. Not a limit: nothing is reported by it.
    pub value: f64,
    /// How it was made.
    pub basis: EstimateBasis,
    /// Twice the estimate: the lowest spiking level advised.
    pub spike_from: f64,
    /// Ten times the estimate: the highest, unless recovery is very poor.
    pub spike_to: f64,
}

/// An initial estimate from `results`. Signal-to-noise of 3 to 5 at the instrument, a former limit, or the point where the
/// calibration loses its slope serve as well and need no computation.
///
/// # Errors
/// Below two results, for results that are not finite, and when the estimate is not above 0.
///
/// ```
/// use groundstate::detection::mdl::{EstimateBasis, initial_estimate};
/// let estimate = initial_estimate(&[0.0010, -0.0010, 0.0], EstimateBasis::MethodBlanks)?;
/// assert!((estimate.value - 0.003).abs() < 1e-15);
/// assert!((estimate.spike_to - 0.03).abs() < 1e-15);
/// # Ok::<(), groundstate::Error>(())
/// ```
pub fn initial_estimate(results: &[f64], basis: EstimateBasis) -> Result<InitialEstimate, Error> {
    if let Some(index) = results.iter().position(|x| !x.is_finite()) {
        return Err(Error::argument("results", format!("result {} is not a number", index + 1))
            .help("leave missing results out; an estimate cannot use non-detects"));
    }
    let moments = Moments::of("results", results)?;
    let Some((mean, s)) = moments.and_then(|moments| Some((moments.mean, moments.s?))) else {
        return Err(Error::argument("results", "an estimate needs at least two results"));
    };
    let value = match basis {
        EstimateBasis::MethodBlanks => mean + 3.0 * s,
        EstimateBasis::SpikedBlanks => 3.0 * s,
    };
    if !(value > 0.0 && (10.0 * value).is_finite()) {
        return Err(Error::argument(
            "results",
            format!("they give an estimate of {value}, which no level can be chosen by"),
        )
        .help("use another basis, such as the concentration at a signal-to-noise ratio of 3 to 5"));
    }
    Ok(InitialEstimate { value, basis, spike_from: 2.0 * value, spike_to: 10.0 * value })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn mean_plus_three_s_or_three_s() {
        // 1, 2, 3: mean 2, s 1.
        let value = |basis| initial_estimate(&[3.0, 1.0, 2.0], basis).unwrap().value;
        approx::assert_relative_eq!(value(EstimateBasis::MethodBlanks), 5.0, max_relative = 1e-15);
        approx::assert_relative_eq!(value(EstimateBasis::SpikedBlanks), 3.0, max_relative = 1e-15);
    }

    #[test]
    fn no_estimate_without_a_positive_figure() {
        for results in [&[][..], &[1.0], &[f64::NAN, 1.0], &[-9.0, -8.0], &[0.0, 0.0], &[f64::MAX, -f64::MAX]] {
            assert!(initial_estimate(results, EstimateBasis::MethodBlanks).is_err(), "{results:?}");
        }
        assert!(initial_estimate(&[5.0, 5.0], EstimateBasis::SpikedBlanks).is_err());
    }
}
