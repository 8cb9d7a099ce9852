//! Names of closed lists on the wire.

use crate::check::Figure;
use crate::check::{Gap, Reach, Standing};
use crate::criteria::{CheckKind, Edge};
use crate::curve::{PointKind, ScaleFrom, Shape};
use crate::document::{Named, named};
use crate::estimate::{SourceKind, Status};
use crate::finding::{CitationStatus, Code, Origin, Severity};
use crate::method::Qualification;
use crate::preparation::{ReportBasis, Weighed};

named!(Status, "status", Status::ALL);
named!(Shape, "shape", Shape::ALL);
named!(CheckKind, "kind of check", CheckKind::ALL);
named!(Qualification, "qualifier", Qualification::ALL);
named!(Weighed, "answer to weighed", Weighed::ALL);
named!(ReportBasis, "basis", ReportBasis::ALL);
named!(Severity, "severity": Note = "note", Caution = "caution", Fail = "fail");
named!(CitationStatus, "status of a citation":
    Transcribed = "transcribed", Restated = "restated", Unverified = "unverified");
named!(Origin, "origin of a rule": Method = "method", OtherProgramme = "other_programme", Laboratory = "laboratory");
named!(SourceKind, "kind of source", SourceKind::ALL);
named!(PointKind, "kind of point": Readings = "readings", Standards = "standards");
named!(ScaleFrom, "variance estimate": Residuals = "residuals", Replicates = "replicates", Known = "known");
named!(Standing, "standing": Complete = "complete", Incomplete = "incomplete", Failed = "failed");
named!(Gap, "gap": Absent = "absent", Late = "late", Unevaluable = "unevaluable");
named!(Edge, "edge": Inclusive = "inclusive", Strict = "strict");
named!(Reach, "reach": Bracketed = "bracketed", ToEnd = "to_end", FromStart = "from_start", Whole = "whole");
named!(Figure, "figure":
    Recovery = "recovery", Found = "found", Blank = "blank", RelativeDifference = "relative_percent_difference",
    AbsoluteDifference = "absolute_difference", DilutionDifference = "percent_difference", Correlation = "r",
    Determination = "r_squared", PercentError = "percent_error", LowestPercentError = "percent_error_lowest",
    RelativeStandardError = "rse", StudentizedResidual = "studentized_residual", StandardDeviation = "standard_rsd",
    StandardDifference = "standard_rpd", Standards = "standards", CalibrationBlanks = "calibration_blanks",
    Curvature = "curvature");

impl Named for Code {
    const KIND: &'static str = "finding";
    const GROWS: bool = true;

    fn all() -> Vec<Self> {
        Code::ALL.to_vec()
    }

    fn on_wire(self) -> &'static str {
        self.name()
    }
}
