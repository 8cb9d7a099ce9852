//! The two parts of an MDL: from the scatter of the spikes, and from the blanks.

use super::super::moments::{Moments, too_large};
use super::interval::LimitInterval;
use super::observation::MdlKind;
use super::options::{MdlOptions, NumericBlanks, Percentile};
use super::population::{Counts, Population};
use super::rank::{PercentilePlace, PercentileRank};
use super::rules;
use super::t_factor::{TFactor, TSource};
use crate::error::Error;
use crate::finding::{Code, Finding, Subject};

/// What came of the spikes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum SpikeOutcome {
    /// MDL_S was computed.
    Computed,
    /// Fewer than two numbers: there is no standard deviation.
    TooFew,
    /// A spike gave no positive number: the spikes have to be repeated at a higher level.
    RepeatAtHigherLevel,
    /// The spikes are all the same figure, which would make a limit of 0 that everything exceeds.
    NoScatter,
}

impl SpikeOutcome {
    /// The stable name, in `snake_case`.
    pub const fn name(self) -> &'static str {
        match self {
            SpikeOutcome::Computed => "computed",
            SpikeOutcome::TooFew => "too_few",
            SpikeOutcome::RepeatAtHigherLevel => "repeat_at_higher_level",
            SpikeOutcome::NoScatter => "no_scatter",
        }
    }
}

/// MDL_S = t(n - 1, 0.99) * s of the spikes.
#[derive(Clone, Debug, PartialEq)]
pub struct SpikePart {
    /// MDL_S, unless [`SpikePart::outcome`] says why there is none.
    pub value: Option<f64>,
    /// What came of the spikes.
    pub outcome: SpikeOutcome,
    /// How many spikes there were.
    pub counts: Counts,
    /// Mean of the numbers.
    pub mean: Option<f64>,
    /// Sample standard deviation of the numbers, all instruments together.
    pub standard_deviation: Option<f64>,
    /// Student's t.
    pub t: Option<TFactor>,
    /// 95 % interval of MDL_S, for information.
    pub interval: Option<LimitInterval>,
}

/// How MDL_b was found.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum BlankBranch {
    /// There are no blanks, or all of them are missing: nothing can be said, which is not the same as "not detected".
    NoBlanks,
    /// No blank gave a number: MDL_b does not apply.
    NoneNumeric,
    /// Some blanks gave a number: the highest of them.
    HighestBlank,
    /// Some blanks of many gave a number: the result at the 99th percentile, non-detects below every number.
    PercentileOfSome,
    /// Every blank gave a number: mean (not below 0) plus t times s.
    MeanPlusTs,
    /// Every blank of many gave a number, and the percentile was chosen.
    PercentileOfAll,
}

impl BlankBranch {
    /// The stable name, in `snake_case`.
    pub const fn name(self) -> &'static str {
        match self {
            BlankBranch::NoBlanks => "no_blanks",
            BlankBranch::NoneNumeric => "none_numeric",
            BlankBranch::HighestBlank => "highest_blank",
            BlankBranch::PercentileOfSome => "percentile_of_some",
            BlankBranch::MeanPlusTs => "mean_plus_ts",
            BlankBranch::PercentileOfAll => "percentile_of_all",
        }
    }

    /// The branch in words.
    pub const fn title(self) -> &'static str {
        match self {
            BlankBranch::NoBlanks => "no blanks",
            BlankBranch::NoneNumeric => "no blank numeric: MDL_b does not apply",
            BlankBranch::HighestBlank => "some blanks numeric: the highest blank",
            BlankBranch::PercentileOfSome => "some of many blanks numeric: the 99th percentile",
            BlankBranch::MeanPlusTs => "all blanks numeric: mean plus t times s",
            BlankBranch::PercentileOfAll => "all of many blanks numeric: the 99th percentile, as chosen",
        }
    }
}

/// MDL_b, from the method blanks.
#[derive(Clone, Debug, PartialEq)]
pub struct BlankPart {
    /// MDL_b; `None` where it does not apply or has no numeric value.
    pub value: Option<f64>,
    /// How it was found.
    pub branch: BlankBranch,
    /// How many blanks there were.
    pub counts: Counts,
    /// Mean of the numbers, as it is.
    pub mean: Option<f64>,
    /// The mean that entered MDL_b: 0 when the mean is negative. Only in [`BlankBranch::MeanPlusTs`].
    pub mean_used: Option<f64>,
    /// Sample standard deviation of the numbers.
    pub standard_deviation: Option<f64>,
    /// Student's t. Only in [`BlankBranch::MeanPlusTs`].
    pub t: Option<TFactor>,
    /// The rank, in the two branches of the percentile, unless it was interpolated.
    pub rank: Option<PercentileRank>,
    /// The place, in the two branches of the percentile, where it was interpolated.
    pub place: Option<PercentilePlace>,
}

/// What a spike without a positive number does to MDL_S.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum FailingSpikes {
    /// Initial determination: one is enough to repeat the spikes.
    Refuse,
    /// Routine spikes of two years: up to 5 % may fail; non-detects cannot enter a standard deviation.
    LeaveOut,
}

pub(super) fn from_spikes(
    spikes: &Population<'_>,
    options: &MdlOptions,
    failing: FailingSpikes,
    findings: &mut Vec<Finding>,
) -> Result<SpikePart, Error> {
    let moments = Moments::of(spikes.kind.plural(), &spikes.numbers)?;
    let s = moments.and_then(|moments| moments.s);
    let t = TFactor::of(spikes.counts.numeric, options.t);
    let mut part = SpikePart {
        value: None,
        outcome: SpikeOutcome::TooFew,
        counts: spikes.counts,
        mean: moments.map(|moments| moments.mean),
        standard_deviation: s,
        t,
        interval: None,
    };
    if failing == FailingSpikes::Refuse && spikes.failing() > 0 {
        part.outcome = SpikeOutcome::RepeatAtHigherLevel;
        findings.push(
            Finding::new(Code::MdlRepeatAtHigherLevel, Subject::Run)
                .with("count", spikes.failing())
                .with("total", spikes.counts.used())
                .citing(rules::INITIAL),
        );
        return Ok(part);
    }
    if spikes.counts.nondetects > 0 {
        findings.push(
            Finding::new(Code::MdlSpikesLeftOut, Subject::Run)
                .with("count", spikes.counts.nondetects)
                .with("total", spikes.counts.used())
                .citing(rules::VERIFICATION),
        );
    }
    let (Some(s), Some(t)) = (s, t) else { return Ok(part) };
    if s <= 0.0 {
        part.outcome = SpikeOutcome::NoScatter;
        findings.push(no_scatter(MdlKind::Spike, spikes.counts.numeric));
        return Ok(part);
    }
    say_rounded(MdlKind::Spike, t, findings);
    let value = finite(MdlKind::Spike, t.value * s)?;
    part.outcome = SpikeOutcome::Computed;
    part.value = Some(value);
    part.interval = LimitInterval::of(value, t.dof);
    Ok(part)
}

pub(super) fn from_blanks(
    blanks: &Population<'_>,
    options: &MdlOptions,
    findings: &mut Vec<Finding>,
) -> Result<BlankPart, Error> {
    let n = blanks.counts.used();
    let many = options.many_blanks.reached(n);
    let branch = match (blanks.counts.numeric, blanks.counts.nondetects) {
        (0, 0) => BlankBranch::NoBlanks,
        (0, _) => BlankBranch::NoneNumeric,
        (_, 1..) if many => BlankBranch::PercentileOfSome,
        (_, 1..) => BlankBranch::HighestBlank,
        (_, 0) if many && options.numeric_blanks == NumericBlanks::Percentile => BlankBranch::PercentileOfAll,
        (_, 0) => BlankBranch::MeanPlusTs,
    };
    let moments = Moments::of(blanks.kind.plural(), &blanks.numbers)?;
    let mut part = BlankPart {
        value: None,
        branch,
        counts: blanks.counts,
        mean: moments.map(|moments| moments.mean),
        mean_used: None,
        standard_deviation: moments.and_then(|moments| moments.s),
        t: None,
        rank: None,
        place: None,
    };
    match branch {
        BlankBranch::NoBlanks | BlankBranch::NoneNumeric => {}
        BlankBranch::HighestBlank => part.value = blanks.numbers.last().copied(),
        BlankBranch::PercentileOfSome | BlankBranch::PercentileOfAll
            if options.percentile == Percentile::Interpolated =>
        {
            let place = PercentilePlace::of(n);
            part.value = place.value(&blanks.numbers, blanks.counts.nondetects);
            part.place = Some(place);
            say_place(place, options, part.value, findings);
        }
        BlankBranch::PercentileOfSome | BlankBranch::PercentileOfAll => {
            let rank = PercentileRank::of(n, options.rank_tie);
            // Non-detects fill the lowest ranks, so the numbers begin above them.
            part.value = rank
                .rank
                .checked_sub(blanks.counts.nondetects + 1)
                .and_then(|index| blanks.numbers.get(index))
                .copied();
            part.rank = Some(rank);
            say_rank(rank, options, part.value, findings);
        }
        BlankBranch::MeanPlusTs => mean_plus_ts(&mut part, options, findings)?,
    }
    // At exactly 100 the two wordings of "many" part; a reading that kept the percentile away is told.
    let wanted = branch == BlankBranch::HighestBlank || options.numeric_blanks == NumericBlanks::Percentile;
    if n == 100 && wanted && part.rank.is_none() && part.place.is_none() && blanks.counts.numeric > 0 {
        findings.push(
            Finding::new(Code::MdlHundredBlanks, Subject::Run)
                .with("reading", options.many_blanks.name())
                .with("branch", branch.name())
                .citing(rules::INITIAL),
        );
    }
    Ok(part)
}

fn mean_plus_ts(part: &mut BlankPart, options: &MdlOptions, findings: &mut Vec<Finding>) -> Result<(), Error> {
    let Some(t) = TFactor::of(part.counts.numeric, options.t) else { return Ok(()) };
    let (Some(mean), Some(s)) = (part.mean, part.standard_deviation) else { return Ok(()) };
    // The mean is zeroed, the standard deviation stays: zeroing the blanks themselves would shrink it.
    let used = if mean > 0.0 { mean } else { 0.0 };
    if mean < 0.0 {
        findings.push(Finding::new(Code::MdlBlankMeanZeroed, Subject::Run).with("mean", mean).citing(rules::INITIAL));
    }
    if s <= 0.0 {
        findings.push(no_scatter(MdlKind::Blank, part.counts.numeric));
    }
    say_rounded(MdlKind::Blank, t, findings);
    part.value = Some(finite(MdlKind::Blank, used + t.value * s)?);
    part.mean_used = Some(used);
    part.t = Some(t);
    Ok(())
}

fn finite(kind: MdlKind, value: f64) -> Result<f64, Error> {
    if value.is_finite() {
        return Ok(value);
    }
    Err(too_large(kind.plural()))
}

fn no_scatter(kind: MdlKind, count: usize) -> Finding {
    Finding::new(Code::LimitNoScatter, Subject::Run).with("count", count).with("what", kind.plural())
}

fn say_rounded(kind: MdlKind, t: TFactor, findings: &mut Vec<Finding>) {
    if t.source == TSource::Rounded {
        findings.push(
            Finding::new(Code::MdlTNotPrinted, Subject::Run)
                .with("n", t.dof + 1)
                .with("what", kind.plural())
                .with("t", t.value)
                .citing(rules::INITIAL),
        );
    }
}

fn say_place(place: PercentilePlace, options: &MdlOptions, value: Option<f64>, findings: &mut Vec<Finding>) {
    findings.push(
        Finding::new(Code::MdlPercentileInterpolated, Subject::Run)
            .with("n", place.n)
            .with("place", place.text())
            .with("reading", options.many_blanks.name())
            .citing(rules::INITIAL),
    );
    if value.is_none() {
        findings.push(
            Finding::new(Code::MdlRankOnNonDetect, Subject::Run).with("rank", place.text()).citing(rules::INITIAL),
        );
    }
}

fn say_rank(rank: PercentileRank, options: &MdlOptions, value: Option<f64>, findings: &mut Vec<Finding>) {
    findings.push(
        Finding::new(Code::MdlPercentileRank, Subject::Run)
            .with("n", rank.n)
            .with("product", rank.product())
            .with("rank", rank.rank)
            .with("tie", options.rank_tie.name())
            .with("reading", options.many_blanks.name())
            .citing(rules::INITIAL),
    );
    if value.is_none() {
        findings
            .push(Finding::new(Code::MdlRankOnNonDetect, Subject::Run).with("rank", rank.rank).citing(rules::INITIAL));
    }
}
