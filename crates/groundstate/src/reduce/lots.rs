//! Whether the initial verification is of a second source (SW-846 Method 7000B, 10.2.1).

use crate::finding::{Citation, Code, Finding, Subject};
use crate::outcome::Segment;
use crate::run::{Position, Role, Run};

/// Compares the lot of every initial verification with those of the standards of its stretch. A lot that is not given
/// leaves the rule not evaluated.
pub(super) fn compared(run: &Run, segments: &[Segment], findings: &mut Vec<Finding>) {
    let rule = Citation::transcribed("SW-846 Method 7000B", "Revision 2, February 2007", "10.2.1");
    for position in run.positions.iter().filter(|position| position.role == Role::Icv) {
        let Some(segment) = super::segments::base(segments, position) else { continue };
        let fitted = segment.fitted.iter().filter_map(|number| run.position(*number));
        let standards: Vec<&Position> = fitted.filter(|one| one.role == Role::Standard).collect();
        let subject = Subject::Position(position.number);
        let Some(own) = lot(position) else {
            let finding = Finding::new(Code::SecondSourceNotEvaluated, subject).with("label", &*position.label);
            findings.push(finding.with("whose", "its own lot").citing(rule.clone()));
            continue;
        };
        let same = standards.iter().filter_map(|one| lot(one)).any(|lot| lot.eq_ignore_ascii_case(own));
        if same {
            let finding = Finding::new(Code::SecondSourceSame, subject).with("label", &*position.label);
            findings.push(finding.with("lot", own).citing(rule.clone()));
        } else if standards.iter().any(|one| lot(one).is_none()) {
            let finding = Finding::new(Code::SecondSourceNotEvaluated, subject).with("label", &*position.label);
            findings.push(finding.with("whose", "the lot of a standard").citing(rule.clone()));
        }
    }
}

fn lot(position: &Position) -> Option<&str> {
    position.identity.source_lot.as_deref().map(str::trim).filter(|lot| !lot.is_empty())
}
