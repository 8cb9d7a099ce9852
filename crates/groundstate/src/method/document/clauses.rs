//! What each default follows.

use crate::criteria::ProfileName;
use crate::finding::Citation;
use crate::method::Method;

const CUSTOM: Citation = Citation::common_practice();
const SILENT: Citation = Citation::own_choice();
const M7000B: (&str, &str) = ("SW-846 Method 7000B", "Revision 2, February 2007");

/// What the default of `key` follows.
pub(super) fn of(key: &str, method: &Method) -> Citation {
    let regulated = method.profile() == ProfileName::Sw846Method7000B;
    let m7000b = |clause| Citation::transcribed(M7000B.0, M7000B.1, clause);
    if let Some((check, key)) = key.strip_prefix("criteria.").and_then(|rest| rest.split_once('.')) {
        return method.criteria.citation(check, key);
    }
    if key.starts_with("qualifiers.") {
        let clp = "EPA Contract Laboratory Program, inorganic statement of work";
        let from_there =
            key.starts_with("qualifiers.not_detected.") || key.starts_with("qualifiers.below_quantitation.");
        return if from_there { Citation::unverified(clp, "", "").borrowed() } else { SILENT };
    }
    match key {
        "calibration.shape" if regulated => m7000b("10.2"),
        "calibration.points" if regulated => m7000b("10.1.3"),
        "calibration.shape" | "calibration.noise" | "calibration.unit" | "calibration.outlier_alpha" => CUSTOM,
        "reporting.figures" => Citation::transcribed("SW-846 Method 6010D", "Revision 5, July 2018", "12.1").borrowed(),
        "reporting.ties" => Citation::unverified("ISO 80000-1", "2009", ""),
        "reporting.coverage" => CUSTOM,
        _ => SILENT,
    }
}
