//! What the tests of a batch's matrix say together, and what to do next (SW-846 Method 7000B, 9.7 and 9.8).

use crate::finding::{Citation, Code, Finding, Subject};

/// How one kind of test of the matrix ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub enum MatrixTest {
    /// Within its limit.
    Pass,
    /// Outside.
    Fail,
    /// Not made, or its rule did not apply.
    #[default]
    NotEvaluated,
}

impl MatrixTest {
    /// One word for several tests of a kind: one failure is a failure.
    pub fn all(tests: impl IntoIterator<Item = MatrixTest>) -> MatrixTest {
        tests.into_iter().fold(MatrixTest::NotEvaluated, |all, one| match (all, one) {
            (MatrixTest::Fail, _) | (_, MatrixTest::Fail) => MatrixTest::Fail,
            (MatrixTest::Pass, _) | (_, MatrixTest::Pass) => MatrixTest::Pass,
            _ => MatrixTest::NotEvaluated,
        })
    }

    /// The stable name, in `snake_case`.
    pub const fn name(self) -> &'static str {
        match self {
            MatrixTest::Pass => "pass",
            MatrixTest::Fail => "fail",
            MatrixTest::NotEvaluated => "not_evaluated",
        }
    }
}

/// The tests of one preparation batch.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct MatrixTests {
    /// Recovery of matrix spike and duplicate, before preparation (9.7).
    pub matrix_spike: MatrixTest,
    /// Recovery of the spike of the finished digest, 80 to 120 % (9.8.1).
    pub post_digestion_spike: MatrixTest,
    /// Agreement of a fivefold dilution within 10 % (9.8.2); not evaluated below 10 LLOQ after dilution.
    pub dilution_test: MatrixTest,
}

/// Whether the matrix acts on the reading.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum MatrixEffect {
    /// No test made after digestion speaks for it.
    NotShown,
    /// The post-digestion spike or the dilution failed: something in the digest disturbs the reading.
    Suspected,
    /// Both a spike before digestion and the one after it failed (9.8.1).
    Confirmed,
}

impl MatrixEffect {
    /// The stable name, in `snake_case`.
    pub const fn name(self) -> &'static str {
        match self {
            MatrixEffect::NotShown => "not_shown",
            MatrixEffect::Suspected => "suspected",
            MatrixEffect::Confirmed => "confirmed",
        }
    }
}

/// What to do next.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum MatrixStep {
    /// Nothing: what was evaluated passed.
    Nothing,
    /// No test was evaluated: spike a sample.
    SpikeSample,
    /// The matrix spike failed: spike the finished digest (9.8.1).
    SpikeDigest,
    /// The post-digestion spike failed: dilute (9.8.2).
    Dilute,
    /// The dilution failed: standard additions for all samples of the batch (9.8.2).
    StandardAdditions,
    /// Only the spike before digestion failed: the reading is sound, so look at the preparation. Our inference; 7000B
    /// prints no step for it.
    ReviewPreparation,
    /// The post-digestion spike failed and the dilution agrees: 7000B prints no step for it. Report from a dilution in
    /// which a spike is recovered, or by standard additions.
    Remedy,
}

impl MatrixStep {
    /// The stable name, in `snake_case`.
    pub const fn name(self) -> &'static str {
        match self {
            MatrixStep::Nothing => "nothing",
            MatrixStep::SpikeSample => "spike_sample",
            MatrixStep::SpikeDigest => "spike_digest",
            MatrixStep::Dilute => "dilute",
            MatrixStep::StandardAdditions => "standard_additions",
            MatrixStep::ReviewPreparation => "review_preparation",
            MatrixStep::Remedy => "remedy",
        }
    }

    const fn words(self) -> &'static str {
        match self {
            MatrixStep::Nothing => "nothing further is asked for",
            MatrixStep::SpikeSample => "no test of the matrix was evaluated; spike a sample",
            MatrixStep::SpikeDigest => "the matrix spike failed; spike the finished digest",
            MatrixStep::Dilute => "the post-digestion spike failed; make the dilution test",
            MatrixStep::StandardAdditions => {
                "the dilution test failed; measure all samples of the preparation batch by standard additions"
            }
            MatrixStep::ReviewPreparation => {
                "only the spike before digestion failed; look for loss, contamination or unlike portions in the preparation"
            }
            MatrixStep::Remedy => {
                "the post-digestion spike failed and the dilution agrees; report from a dilution in which a spike is recovered, or by standard additions"
            }
        }
    }

    /// The clause that asks for the step; `None` where none does.
    fn citation(self) -> Option<Citation> {
        let clause = match self {
            MatrixStep::SpikeSample => "9.7",
            MatrixStep::SpikeDigest | MatrixStep::Dilute => "9.8.1",
            MatrixStep::StandardAdditions => "9.8.2",
            MatrixStep::Nothing | MatrixStep::ReviewPreparation | MatrixStep::Remedy => return None,
        };
        Some(Citation::transcribed("SW-846 Method 7000B", "Revision 2, February 2007", clause))
    }

    /// The step as a finding about `subject`; `None` where nothing is to be done.
    pub fn finding(self, subject: Subject) -> Option<Finding> {
        if self == MatrixStep::Nothing {
            return None;
        }
        let finding = Finding::new(Code::MatrixNextStep, subject).with("step", self.words());
        Some(match self.citation() {
            Some(citation) => finding.citing(citation),
            None => finding,
        })
    }
}

/// What the tests of a batch say together.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct MatrixDecision {
    /// Whether the matrix acts on the reading.
    pub effect: MatrixEffect,
    /// What to do next.
    pub next: MatrixStep,
}

/// Decides on the matrix of a batch. The effect and the step are two answers: a confirmed effect still needs the
/// dilution test to know what follows.
///
/// ```
/// use groundstate::check::{MatrixEffect, MatrixStep, MatrixTest, MatrixTests, matrix_decision};
/// let tests = MatrixTests { matrix_spike: MatrixTest::Fail, ..MatrixTests::default() };
/// assert_eq!(matrix_decision(&tests).next, MatrixStep::SpikeDigest);
/// let tests = MatrixTests { post_digestion_spike: MatrixTest::Fail, ..tests };
/// assert_eq!(matrix_decision(&tests).effect, MatrixEffect::Confirmed);
/// ```
pub const fn matrix_decision(tests: &MatrixTests) -> MatrixDecision {
    use MatrixTest::{Fail, NotEvaluated, Pass};
    let effect = match (tests.matrix_spike, tests.post_digestion_spike, tests.dilution_test) {
        (Fail, Fail, _) => MatrixEffect::Confirmed,
        (_, Fail, _) | (_, _, Fail) => MatrixEffect::Suspected,
        _ => MatrixEffect::NotShown,
    };
    let next = match (tests.matrix_spike, tests.post_digestion_spike, tests.dilution_test) {
        (_, _, Fail) => MatrixStep::StandardAdditions,
        (_, Fail, NotEvaluated) => MatrixStep::Dilute,
        (_, Fail, Pass) => MatrixStep::Remedy,
        (Fail, NotEvaluated, _) => MatrixStep::SpikeDigest,
        (Fail, Pass, _) => MatrixStep::ReviewPreparation,
        (NotEvaluated, NotEvaluated, NotEvaluated) => MatrixStep::SpikeSample,
        (_, _, _) => MatrixStep::Nothing,
    };
    MatrixDecision { effect, next }
}

#[cfg(test)]
mod tests {
    use super::*;

    const ALL: [MatrixTest; 3] = [MatrixTest::Pass, MatrixTest::Fail, MatrixTest::NotEvaluated];

    fn decide(spike: MatrixTest, digest: MatrixTest, dilution: MatrixTest) -> (MatrixEffect, MatrixStep) {
        let tests = MatrixTests { matrix_spike: spike, post_digestion_spike: digest, dilution_test: dilution };
        let decision = matrix_decision(&tests);
        (decision.effect, decision.next)
    }

    /// 7000B 9.7, 9.8.1, 9.8.2, sentence by sentence.
    #[test]
    fn the_printed_rules() {
        use MatrixTest::{Fail, NotEvaluated as Open, Pass};
        assert_eq!(decide(Fail, Open, Open), (MatrixEffect::NotShown, MatrixStep::SpikeDigest));
        assert_eq!(decide(Open, Fail, Open), (MatrixEffect::Suspected, MatrixStep::Dilute));
        assert_eq!(decide(Fail, Fail, Open), (MatrixEffect::Confirmed, MatrixStep::Dilute));
        assert_eq!(decide(Pass, Pass, Pass), (MatrixEffect::NotShown, MatrixStep::Nothing));
        for (spike, digest) in ALL.into_iter().flat_map(|a| ALL.map(|b| (a, b))) {
            let (effect, next) = decide(spike, digest, Fail);
            assert_eq!(next, MatrixStep::StandardAdditions);
            assert_eq!(effect == MatrixEffect::Confirmed, spike == Fail && digest == Fail);
        }
    }

    #[test]
    fn nothing_is_only_said_where_something_passed_and_nothing_failed() {
        for a in ALL {
            for b in ALL {
                for c in ALL {
                    let (_, next) = decide(a, b, c);
                    let tests = [a, b, c];
                    let quiet = !tests.contains(&MatrixTest::Fail) && tests.contains(&MatrixTest::Pass);
                    assert_eq!(next == MatrixStep::Nothing, quiet, "{tests:?}");
                    assert_eq!(next.finding(Subject::Run).is_none(), quiet);
                }
            }
        }
    }

    #[test]
    fn one_failure_among_several_is_a_failure() {
        use MatrixTest::{Fail, NotEvaluated, Pass};
        assert_eq!(MatrixTest::all([Pass, Fail, NotEvaluated]), Fail);
        assert_eq!(MatrixTest::all([NotEvaluated, Pass]), Pass);
        assert_eq!(MatrixTest::all([]), NotEvaluated);
    }
}
