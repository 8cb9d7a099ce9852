//! One requirement of a limit, with what was found.

use std::borrow::Cow;
use std::fmt;

use crate::finding::{Citation, Code, Finding, Subject};

/// What became of one requirement.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum State {
    /// The facts show that it is met.
    Met,
    /// The facts show that it is not met.
    NotMet,
    /// The facts that would show it were not given. Not a pass.
    NotEvaluated,
    /// A recommendation that was not followed; nothing is wrong with the limit for it.
    Advice,
}

impl State {
    /// The stable name, in `snake_case`.
    pub const fn name(self) -> &'static str {
        match self {
            State::Met => "met",
            State::NotMet => "not_met",
            State::NotEvaluated => "not_evaluated",
            State::Advice => "advice",
        }
    }

    /// The state in words.
    pub const fn title(self) -> &'static str {
        match self {
            State::Met => "met",
            State::NotMet => "not met",
            State::NotEvaluated => "not evaluated",
            State::Advice => "advice",
        }
    }
}

/// One requirement of a limit, what was found, and what follows.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LimitCheck {
    /// Stable name, in `snake_case`.
    pub name: &'static str,
    /// What is looked at.
    pub title: &'static str,
    /// What is required, or advised.
    pub required: Cow<'static, str>,
    /// What was found, in words.
    pub found: String,
    /// What became of it.
    pub state: State,
    /// Where it stands.
    pub citation: Citation,
}

impl fmt::Display for LimitCheck {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let LimitCheck { title, required, found, state, citation, .. } = self;
        write!(f, "{title}: {}; {found}; required: {required} ({citation})", state.title())
    }
}

/// One state for all: not met when any is not met, not evaluated when any could not be looked at.
pub(super) fn verdict(checks: &[LimitCheck]) -> State {
    let any = |state| checks.iter().any(|check| check.state == state);
    match (any(State::NotMet), any(State::NotEvaluated)) {
        (true, _) => State::NotMet,
        (false, true) => State::NotEvaluated,
        (false, false) => State::Met,
    }
}

/// One finding for each requirement that is not met, one for all that could not be looked at.
pub(super) fn findings(checks: &[LimitCheck]) -> Vec<Finding> {
    let told = |code, check: &LimitCheck| {
        Finding::new(code, Subject::Run)
            .with("requirement", check.title)
            .with("found", check.found.clone())
            .with("required", check.required.as_ref())
            .citing(check.citation.clone())
    };
    let mut findings: Vec<Finding> = checks
        .iter()
        .filter_map(|check| match check.state {
            State::NotMet => Some(told(Code::LimitRequirementNotMet, check)),
            State::Advice => Some(told(Code::LimitAdviceNotFollowed, check)),
            State::Met | State::NotEvaluated => None,
        })
        .collect();
    let open: Vec<_> = checks.iter().filter(|check| check.state == State::NotEvaluated).collect();
    if let Some(first) = open.first() {
        let titles: Vec<_> = open.iter().map(|check| check.title).collect();
        findings.push(
            Finding::new(Code::LimitRequirementsNotEvaluated, Subject::Run)
                .with("count", open.len())
                .with("requirements", titles.join(", "))
                .citing(first.citation.clone()),
        );
    }
    findings
}
