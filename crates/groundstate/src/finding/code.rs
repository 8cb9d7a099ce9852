//! The catalogue of findings: stable name, usual severity, sentence.
//!
//! A name on the wire is never reused for another meaning. Sentences may be improved; facts in braces are
//! named by the room that makes the finding.

use super::Severity;

macro_rules! codes {
    ($($(#[$doc:meta])* $variant:ident = $name:literal, $severity:ident, $template:literal;)+) => {
        /// What was noticed. The wire name is [`Code::name`].
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
        #[non_exhaustive]
        pub enum Code { $($(#[$doc])* $variant,)+ }

        impl Code {
            /// Every code, in the order of the catalogue.
            pub const ALL: &'static [Code] = &[$(Code::$variant,)+];

            /// The stable name, in `snake_case`.
            pub const fn name(self) -> &'static str {
                match self { $(Code::$variant => $name,)+ }
            }

            /// How much a finding of this code usually matters.
            pub const fn severity(self) -> Severity {
                match self { $(Code::$variant => Severity::$severity,)+ }
            }

            /// The sentence, with the names of facts in braces.
            pub const fn template(self) -> &'static str {
                match self { $(Code::$variant => $template,)+ }
            }

            /// The code called `name`.
            pub fn from_name(name: &str) -> Option<Code> {
                match name { $($name => Some(Code::$variant),)+ _ => None }
            }
        }
    };
}

codes! {
    // ---- run
    /// Readings are missing.
    MissingReadings = "missing_readings", Caution,
        "{count} of {total} readings of {label} are missing and were left out";
    /// A table without positions.
    PositionsCounted = "positions_counted", Note,
        "the table gives no positions, so they were counted: {rule}";
    /// A column that the library does not compute with was kept as a fact of the run.
    ColumnKept = "column_kept", Note,
        "column {column} is none that is computed with; its value is kept as a fact of the run";
    /// A column that the library does not compute with changes within the run.
    ColumnPassedOver = "column_passed_over", Note,
        "column {column} is none that is computed with and changes within the run; it was passed over";
    // ---- curve
    /// Missing readings of standards were skipped.
    ReadingsMissing = "readings_missing", Note,
        "readings of standards that are missing and were skipped: {count}";
    /// Readings came with a standard uncertainty of zero.
    ReadingsWithoutScatter = "readings_without_scatter", Caution,
        "samples whose readings have no scatter, so that nothing of u comes from the reading: {count}; give the resolution of the signal";
    /// Points were left out because the caller said so.
    PointsExcluded = "points_excluded", Caution,
        "points left out of the fit at the caller's word: {count} (by index: {points})";
    /// The new reading's variance is held at that of the lowest non-zero level.
    NoiseFloor = "noise_floor", Note,
        "below {level} {unit}, the lowest non-zero level, the noise model is held at that level's variance";
    /// A level at zero was left out of the fit.
    ZeroLeftOut = "zero_left_out", Note,
        "the zero level was left out of the fit ({count} points): its weight under {noise} is not defined or it was asked for";
    /// A fit without residual scatter.
    PerfectFit = "perfect_fit", Caution,
        "the points lie on the curve without scatter, so the residual standard deviation of 0 says nothing of the uncertainty";
    /// As many coefficients as points.
    NoScatterLeft = "no_scatter_left", Caution,
        "{count} points fix the curve exactly and leave nothing to estimate its uncertainty from";
    /// An iterated fit stopped before its steps became small.
    FitStoppedEarly = "fit_stopped_early", Caution,
        "the fit stopped after {iterations} steps without settling; its figures are those of the last step";
    /// Errors of the standards are not small against the scatter.
    StandardsErrorMatters = "standards_error_matters", Note,
        "errors of the standards change the standard uncertainty by up to {percent} per cent; a fit that ignored them would {misstate} it";
    /// The slope at the blank end is not positive.
    NotRising = "not_rising", Fail,
        "the response does not rise with concentration (slope {slope} at the blank end)";
    /// The curve turns inside its range.
    TurnsInRange = "turns_in_range", Fail,
        "the curve turns at {turning} {unit}, inside its range up to {top} {unit}";
    /// Standards differ among each other by more than their readings scatter.
    StandardsDisagree = "standards_disagree_more_than_readings", Caution,
        "the standards deviate from the curve by more than their readings scatter (lack of fit F {statistic}, p {p}); fit one point per standard, or a better shape";
    /// Signals are taken as zeroed without anybody saying so.
    ZeroAssumed = "zero_assumed", Caution,
        "the shape {shape} takes the signal at zero concentration as 0, but the signals are raw and no blank shows it; zero them and say how";
    /// The fraction of stray light came out at a bound.
    StrayLightAtBound = "stray_light_at_bound", Caution,
        "the stray light came out at the bound s = {s}: {advice}; standard uncertainties near a bound are rough";
    /// Replicate readings suggest a noise model.
    NoiseSuggested = "noise_suggested", Note,
        "the scatter of replicate readings suggests {noise} ({in_use} in use): {reason}";
    /// Readings were averaged before a shape was chosen.
    ChoiceOverStandards = "choice_over_standards", Note,
        "{readings} readings were averaged to {standards} standards: a shape is judged by how the standards lie";
    /// Only lines are admitted.
    LineOnly = "line_only", Note,
        "the rules in use admit straight lines only, so no curve could be chosen";
    /// Too few standards for a curve.
    TooFewForCurve = "too_few_for_curve", Note,
        "a curve needs {least} levels above zero, {found} are there";
    /// No candidate stands all tests.
    NoShapeAdequate = "no_shape_adequate", Fail,
        "every one of {count} candidates was rejected by a test; look at the standards before choosing by hand";
    /// A curve was chosen for an absorption.
    CurveInAbsorption = "curve_in_absorption", Caution,
        "a {shape} was chosen: a curve that merely fits contradicts the model of absorption (Beer and Lambert); keep to a line in its linear range, or document the physical reason for the bend with the result";
    /// An end of the calibration was left out.
    EndLevelDropped = "end_level_dropped", Caution,
        "the levels {levels} {unit} at the {end} were left out, which moves the {limit} to {at} {unit}";
    /// Choosing is a source of uncertainty.
    ChoiceUncertainty = "choice_uncertainty", Note,
        "the shape was chosen among {count} candidates by tests at alpha {alpha} on the same standards; choosing adds an uncertainty that the budget does not hold";

    // ---- addition
    /// Signals of an addition series do not lie on a line well enough.
    AdditionsNotLinear = "additions_not_linear", Fail,
        "r of the addition series is {r}, required {least} or above";
    /// The addition series bends.
    AdditionsCurved = "additions_curved", Caution,
        "the addition series bends (test of the quadratic term: F {statistic}, p {p}), so a straight extrapolation is biased; dilute and repeat";
    /// The additions are not near the advised ones.
    AdditionSizes = "addition_sizes", Note,
        "the additions are {percents} % of the concentration found; advised are about 50, 100 and 150 %";
    /// The line is extrapolated further than it was measured.
    ExtrapolationLong = "extrapolation_long", Caution,
        "the line is extrapolated by {estimate} {unit}, further than the largest addition of {largest} {unit}";
    /// What standard additions leave uncorrected.
    AdditiveNotCorrected = "additive_not_corrected", Note,
        "standard additions do not correct a signal that the matrix adds by itself (signals: {zeroing}): each {signal} of it adds {amount} {unit} to the result";
    /// The slope of an addition series cannot be told from zero.
    ExtrapolationUnbounded = "extrapolation_unbounded", Caution,
        "the slope of the addition series cannot be told from zero at 95 %, so no plus or minus bounds the result";
    /// A single addition doubles the signal by far not, or by far too much.
    SingleAdditionSize = "single_addition_size", Note,
        "the addition makes the signal {ratio} times that without it; advised is about 2";
    /// Without a rise of the signal an addition says nothing.
    AdditionNotSeen = "addition_not_seen", Fail,
        "the signal with the addition ({with}) is not above that without it ({without}), so there is no result";
    /// Slopes of an addition series and the external calibration differ by much.
    SlopeRatioFar = "slope_ratio_far", Caution,
        "the slope of the addition series is {percent} % off that of the external calibration, more than {most} %";
    /// Slopes of an addition series and the external calibration differ.
    SlopeNotSame = "slope_not_same", Note,
        "the slope of the addition series is {ratio} of that of the external calibration (u {u}), another one (t {statistic}, p {p}): the matrix changes the response";
    /// Slopes of two calibrations differ.
    MatrixSlopeDiffers = "matrix_slope_differs", Caution,
        "in the matrix the slope is {percent} % off that of the external calibration (u {u}; t {statistic}, p {p}): calibrate in the matrix, or by standard additions";
    /// Intercepts of two calibrations differ.
    MatrixInterceptDiffers = "matrix_intercept_differs", Caution,
        "in the matrix the intercept differs by {difference} (t {statistic}, p {p}): the matrix adds a signal of its own or holds the analyte, which standard additions do not tell apart";
    /// A matrix-matched calibration of a run against the external one.
    MatrixCompared = "matrix_compared", Note,
        "samples of the matrix {matrix} are read from standards in that matrix, whose slope is {percent} % off that of the external calibration {external} (u {u} %)";
    /// Two calibrations of a run cannot be compared.
    MatrixNotCompared = "matrix_not_compared", Caution,
        "the calibration of the matrix {matrix} was not compared with the external one: {reason}";
    /// Samples of a matrix stand where it has no standards.
    MatchedCalibrationMissing = "matched_calibration_missing", Caution,
        "{count} positions of the matrix {matrix} from here on stand under a calibration without standards in that matrix, so they have no result; the external calibration does not stand in";
    /// Standards of several matrices stand in one calibration.
    StandardsOfSeveralMatrices = "standards_of_several_matrices", Caution,
        "the calibration that begins here joins standards of several matrices ({matrices}); name those of one matrix under calibration.matched";
    /// A reading lies outside the two standards that should bracket it.
    NotBracketed = "not_bracketed", Caution,
        "the signal {signal} is not between those of the two standards ({low} and {high}); the result is extrapolated";
    /// Two standards do not differ in the right direction.
    BracketNotRising = "bracket_not_rising", Fail,
        "the signal of the higher standard ({high}) is not above that of the lower one ({low}), so there is no result";

    // ---- detection
    /// A requirement on the data of a detection limit is not met.
    LimitRequirementNotMet = "limit_requirement_not_met", Fail,
        "{requirement}: {found}; required: {required}";
    /// A recommendation on the data of a detection limit was not followed.
    LimitAdviceNotFollowed = "limit_advice_not_followed", Note,
        "{requirement}: {found}; advised: {required}";
    /// Requirements that could not be looked at.
    LimitRequirementsNotEvaluated = "limit_requirements_not_evaluated", Caution,
        "{count} requirements not evaluated, for want of the facts: {requirements}";
    /// Only values were given.
    MdlFromValues = "mdl_computed_from_values", Caution,
        "computed from values: without batches, dates and instruments the figure says nothing of the procedure it came from";
    /// Numbers were censored before they reached the library.
    CensoredUpstream = "censored_upstream", Caution,
        "{count} non-detects among the {what}: an absorbance always gives a signed number, so these were censored on the way; the signed results would tell more";
    /// Missing results were removed.
    LimitMissingRemoved = "limit_missing_removed", Caution,
        "{count} of the {what} missing; removed, and not taken for non-detects";
    /// Results left out as documented gross failures.
    MdlGrossFailures = "mdl_gross_failures", Note,
        "{count} of the {what} left out as documented gross failures; {left} left, and at least 7 must be";
    /// A spike gave no positive number.
    MdlRepeatAtHigherLevel = "mdl_repeat_at_higher_level", Fail,
        "{count} of {total} spikes gave no number above 0; repeat the spikes at a higher level";
    /// Spikes without a number were left out of the standard deviation.
    MdlSpikesLeftOut = "mdl_spikes_left_out", Caution,
        "{count} of {total} spikes gave no number and cannot enter a standard deviation; the rule does not say what to do with so few";
    /// There is no limit.
    MdlNotComputed = "mdl_not_computed", Fail,
        "no limit: spikes {spikes}, blanks {blanks} ({count} usable)";
    /// Results that are all the same figure.
    LimitNoScatter = "limit_no_scatter", Caution,
        "the {count} {what} are all the same figure, so their scatter is hidden by rounding; take results with more figures";
    /// The mean of the blanks was set to zero.
    MdlBlankMeanZeroed = "mdl_blank_mean_zeroed", Note,
        "the mean of the blanks, {mean}, is negative and was taken as 0; their standard deviation is unchanged";
    /// A value of t that the printed table does not have.
    MdlTNotPrinted = "mdl_t_not_printed", Note,
        "the printed table has no row for {n} {what}; t was computed and rounded to {t}";
    /// The blank at the 99th percentile was taken.
    MdlPercentileRank = "mdl_percentile_rank", Note,
        "99th percentile of {n} blanks: 0.99 n = {product}, rank {rank} (halfway ranks {tie}; many blanks {reading})";
    /// The percentile of many blanks, interpolated.
    MdlPercentileInterpolated = "mdl_percentile_interpolated", Note,
        "99th percentile of {n} blanks interpolated at place {place} (1 + 0.99 (n - 1), as chosen; many blanks {reading}); the rule's own recipe takes the blank at rank 0.99 n";
    /// The percentile lies among the non-detects.
    MdlRankOnNonDetect = "mdl_rank_on_non_detect", Caution,
        "rank {rank} of the blanks is a non-detect, so the blanks give no numeric limit; 0 is not put in its place";
    /// Exactly 100 blanks, and the percentile was not used.
    MdlHundredBlanks = "mdl_hundred_blanks", Note,
        "100 blanks exactly: the rule says \"more than 100\" and \"n >= 100\"; read as {reading}, which gave {branch}";
    /// There is no instrument detection limit.
    IdlNotComputed = "idl_not_computed", Fail,
        "no instrument detection limit: a series has fewer than two readings";
    /// An instrument ran too few spikes in a quarter.
    MdlQuarterIncomplete = "mdl_quarter_incomplete", Fail,
        "{instrument}, {quarter}: {spikes} spikes in {batches} known batches; 2 in separate batches are required where samples are run";
    /// Results that could not be assigned for want of a fact.
    MdlResultsNotPlaced = "mdl_results_not_placed", Caution,
        "{count} spikes could not be placed: {why}";
    /// The spiking level is too low.
    MdlRaiseSpikingLevel = "mdl_raise_spiking_level", Fail,
        "{count} of {total} spikes, more than 5 %, gave no number above 0; raise the spiking level and repeat the initial determination";
    /// An instrument joins a group that shares a limit.
    MdlJoiningInstrument = "mdl_joining_instrument", Note,
        "{instrument} joins with {spikes} spikes and {blanks} blanks (2 and 2 required), {above} of the blanks at or above the existing limit (none allowed); pooled MDL_S {ratio} times the existing limit (0.5 to 2.0 allowed): {decision}";
    /// What a verification found.
    MdlVerification = "mdl_verification", Note,
        "existing limit {existing}, verified limit {verified}: {decision}, because {why}";
    /// A verification is late.
    MdlVerificationLapsed = "mdl_verification_lapsed", Fail,
        "last determined or verified on {last}, verification due by {due} (13 months), but it is of {as_of}";
    /// Whether a verification is late cannot be told.
    MdlLapseNotEvaluated = "mdl_lapse_not_evaluated", Note,
        "the day of the last determination was not given, so the rule of 13 months was not evaluated";
    /// Results that a verification does not use.
    MdlSelection = "mdl_selection", Note,
        "left out of the verification: {left_out}";
    /// No result has a date.
    MdlWindowNotEvaluated = "mdl_window_not_evaluated", Caution,
        "no result has a date, so all were used; whether they are of the last 24 months was not evaluated";
    /// A limit of a calibration says nothing of the procedure.
    LimitNotAnMdl = "limit_not_an_mdl", Note,
        "the {limit} rests on the scatter of readings about a calibration: no sample preparation is in it, so it is no method detection limit and no result is censored at it without the method's say";
    /// The range of the standards is wide against a limit made from them.
    LimitRangeWide = "limit_range_wide", Caution,
        "the top standard is {ratio} times the critical value of {critical} {unit}: a calibration over the working range makes the limit larger than one with its top at 10 times the critical value or below would";
    /// The zero is extrapolated.
    LimitZeroNotInDesign = "limit_zero_not_in_design", Caution,
        "the lowest level of the calibration is {lowest} {unit}: the signal at zero, on which the limit rests, is extrapolated";
    /// There is no such limit.
    LimitNotReached = "limit_not_reached", Fail,
        "there is no {limit}: {why}";
    /// The limit lies above the standards.
    LimitAboveTop = "limit_above_top", Caution,
        "the {limit} of {value} {unit} lies above the top standard of {top} {unit}, where the curve was not seen";

    // ---- preparation
    /// Per cent solids were given and do not enter the result.
    SolidsNotUsed = "percent_solids_not_used", Note,
        "the {percent} % solids do not enter the result: the sample was weighed {weighed} and is reported {report}";
    /// A divisor is too uncertain for the law of propagation.
    FirstOrderDoubtful = "first_order_doubtful", Caution,
        "the result is divided by a quantity with {percent} % relative standard uncertainty, where the first-order law of propagation is doubtful; simulate instead";
    // ---- check
    /// The profile in use requires no check.
    ProfileRequiresNothing = "profile_requires_nothing", Note,
        "the criteria profile in use (general) requires nothing: a run without checks counts as complete";
    /// A check is outside its limit.
    CheckFailed = "check_failed", Fail,
        "{check}: {figure} {value}{unit}, required {limit}; affected: {positions}";
    /// A required check is missing.
    CheckMissing = "check_missing", Fail,
        "required {check} {how}; concerned: {positions}";
    /// A check could not be evaluated.
    CheckNotEvaluated = "check_not_evaluated", Caution,
        "{check} was not evaluated: {reason}";
    /// A spike could not be evaluated.
    SpikeNotEvaluated = "spike_not_evaluated", Caution,
        "{check} was not evaluated: {reason}";
    /// Duplicates near the limit of quantitation were judged by their difference.
    DuplicateNearLimit = "duplicate_near_limit", Note,
        "{check} lies near the limit of quantitation and was judged by its difference {value} ({limit})";
    /// A failed instrument check condemns results.
    Condemned = "condemned", Fail,
        "{positions} condemned by {check}: {reach}";
    /// Results that a failed check would condemn are released.
    CondemnedReleased = "condemned_released", Caution,
        "{positions} released: {check} failed high, and nothing was detected there";
    /// A failed check was repeated at once, and the repeat stands for it.
    CheckRepeated = "check_repeated", Caution,
        "{check} failed and was repeated at once; by the retry policy the repeat at position {repeat} stands for it";
    /// Something in the digest disturbs the reading.
    MatrixEffectSuspected = "matrix_effect_suspected", Caution,
        "a matrix effect is suspected by {checks}; consider standard additions for the batch ({positions})";
    /// A matrix effect shows before and after digestion.
    MatrixEffectConfirmed = "matrix_effect_confirmed", Fail,
        "a matrix effect is confirmed by {checks}; the batch ({positions}) needs standard additions or another remedy";
    /// The dilution test failed.
    StandardAdditionsNeeded = "standard_additions_needed", Caution,
        "{checks} failed, so all samples of the batch are to be measured by standard additions; still open: {positions}";
    /// Standard additions were made of every sample that needs them.
    StandardAdditionsMade = "standard_additions_made", Note,
        "{checks} failed, so all samples of the batch are to be measured by standard additions, and a series was made of each ({positions})";
    /// What tests of the matrix call for.
    MatrixNextStep = "matrix_next_step", Caution,
        "{step}";
    /// The lowest standard hardly absorbs.
    LowestStandardFaint = "lowest_standard_faint", Note,
        "the lowest standard reads {absorbance}; a working-range calibration usually begins at {least} or above (advice)";
    /// The top standard absorbs too much.
    TopStandardStrong = "top_standard_strong", Note,
        "the top standard reads {absorbance}, above the {most} up to which the method calibrates (advice)";

    // ---- reduce
    /// A calibration blank stands alone where no calibration begins.
    LoneCalibrationBlank = "lone_calibration_blank", Note,
        "the calibration blank {label} stands without standards and begins no calibration";
    /// Positions before the first calibration.
    BeforeCalibration = "before_calibration", Caution,
        "{count} positions come before the first standard and cannot be calibrated";
    /// The initial verification is of the lot of the standards.
    SecondSourceSame = "second_source_same", Caution,
        "{label} is made from lot {lot}, as the standards are: it repeats their error instead of finding it; verify with a second source";
    /// Whether the initial verification is of a second source is not known.
    SecondSourceNotEvaluated = "second_source_not_evaluated", Note,
        "whether {label} is of a second source was not evaluated: {whose} is not given (column source_lot)";
    /// A series of standard additions gives no result.
    AdditionSeriesNotEvaluated = "addition_series_not_evaluated", Caution,
        "the addition series of {label} gives no result: {reason}";
    /// A sample is reported by standard additions.
    AdditionsReported = "additions_reported", Note,
        "{label} is reported by standard additions, not from the external calibration";
    /// A position was left out by decision.
    PositionExcluded = "position_excluded", Caution,
        "{label} was left out by {who} on {when}: {reason}";
    /// A standard has no reading.
    StandardWithoutReading = "standard_without_reading", Caution,
        "the standard {label} has no reading and was not fitted";
    /// A level below all others was left out.
    LowEndDropped = "low_end_dropped", Caution,
        "the level {level} {unit} was left out at the low end: results below {lowest} {unit} in solution are estimates";
    /// A level above all others was left out.
    TopEndDropped = "top_end_dropped", Caution,
        "the level {level} {unit} was left out at the top end: the range now ends at {top} {unit}";
    /// A level between others was left out.
    InteriorLevelDropped = "interior_level_dropped", Fail,
        "the level {level} {unit} was left out between others: levels may be left out from either end only, or whole for a documented gross failure";
    /// Every reading of a position is missing.
    NoReading = "no_reading", Caution,
        "{label} has no reading";
    /// A sample's own readings do not differ at all.
    ZeroScatter = "zero_scatter", Caution,
        "the readings of {label} do not differ at all, so their own scatter says nothing; state the resolution of the signal";
    /// A reading stands out among its replicates.
    OutlyingReading = "outlying_reading", Note,
        "the reading {value} of {label} stands out among its replicates ({test} {statistic}, critical {critical}); it was kept";
    /// A limit is that of its study.
    LimitFromStudy = "limit_from_study", Note,
        "the {limit} of {value} {unit} is that of its study: {spikes} spikes (MDL_S {from_spikes}) and {blanks} blanks (MDL_b {from_blanks}; {branch}), {basis}";
    /// A limit is held above what its study gives.
    LimitAboveStudy = "limit_above_study", Note,
        "the {limit} of {value} {unit} is held above the {found} {unit} that its study gives: {spikes} spikes (MDL_S {from_spikes}) and {blanks} blanks (MDL_b {from_blanks}; {branch}), {basis}";
    /// A limit would fall below its nominal value.
    LimitHeldAtNominal = "limit_held_at_nominal", Note,
        "the {limit} would fall below its nominal value and is held there";
    /// One of several measurements of a sample was chosen.
    RerunChosen = "rerun_chosen", Note,
        "{label} was measured {count} times; the least diluted one in range and not condemned is reported";
    /// Two usable measurements of a sample differ.
    RerunsDiffer = "reruns_differ", Caution,
        "this measurement of {label} differs from the reported one at position {other} by more than their uncertainty (p {p})";
    /// A solution is above the top standard.
    AboveTopStandard = "above_top_standard", Caution,
        "{label} reads {found} {unit}, above the top standard of {top} {unit}; dilute {factor}-fold and measure again";
    /// A reading no concentration belongs to.
    BeyondTheCurve = "beyond_the_curve", Caution,
        "the reading of {label} lies beyond the curve, so no concentration belongs to it; dilute at least {factor}-fold and measure again";
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_unique_and_come_back() {
        for (i, code) in Code::ALL.iter().enumerate() {
            assert_eq!(Code::from_name(code.name()), Some(*code));
            assert!(Code::ALL[..i].iter().all(|other| other.name() != code.name()), "{}", code.name());
            assert_eq!(code.template().matches('{').count(), code.template().matches('}').count());
        }
    }
}
