//! What changed from one outcome to another, shown by reducing inputs between the two.

use super::reduce;
use crate::outcome::{Difference, Outcome};

impl Outcome {
    /// What changed from this outcome to the `newer` one, and by which difference of library, method and run.
    ///
    /// Every difference is tried: carried alone into the older input, and alone taken back out of the newer one. It is a
    /// cause of the figures that change then. Both inputs are reduced again by this version first where another one
    /// wrote them, and what changes by that is the library's. A difference that makes no sense alone (a noise model
    /// without its sigma) is tried together with those of its table or position. Where all that fails, and where there
    /// are more than 256 differences, the causes are those that can have reached a figure, and
    /// [`Change::shown`](crate::outcome::Change::shown) says so. Figures are compared to the last bit.
    pub fn diff(&self, newer: &Outcome) -> Difference {
        self.compared(newer, reduce)
    }
}
