//! Sums of independent quantities, and functions of them.

use std::ops::ControlFlow;
use std::sync::Arc;

use super::distribution::Distribution;
use super::engine::Model;
use super::options::SimulateOptions;
use super::result::{Asked, Simulation};
use crate::error::Error;
use crate::estimate::{Dof, Estimate, Status};
use crate::numeric::stream::Stream;

/// The sum of independent quantities (the additive model of JCGM 101:2008, 9.2), with its first-order result.
///
/// ```
/// use groundstate::simulate::{Distribution, SimulateOptions, additive};
/// # fn main() -> Result<(), groundstate::Error> {
/// let half = 3.0_f64.sqrt();
/// let inputs = [Distribution::rectangular(-half, half)?; 4];
/// let sum = additive(&inputs, &SimulateOptions::seeded(1).fixed(20_000))?;
/// let found = sum.results[0].distribution.as_ref().unwrap();
/// // The exact interval ends at 3.88 (Annex E), the normal one at 3.92.
/// assert!((found.symmetric.high - 3.88).abs() < 0.1);
/// # Ok(()) }
/// ```
///
/// # Errors
/// No quantities; options that cannot be.
pub fn additive(inputs: &[Distribution], options: &SimulateOptions) -> Result<Simulation, Error> {
    if inputs.is_empty() {
        return Err(Error::argument("inputs", "there are no quantities to add"));
    }
    let squares = || inputs.iter().map(|input| (input.u() * input.u(), input.dof()));
    let first_order = Estimate {
        value: inputs.iter().map(Distribution::value).sum(),
        u: squares().map(|(square, _)| square).sum::<f64>().sqrt(),
        dof: Dof::effective(squares()),
        status: Status::InRange,
    };
    let lowest_dof = inputs.iter().filter(|input| input.u() > 0.0).map(|input| input.dof().get());
    let model = Sum { inputs, first_u: first_order.u, lowest_dof: lowest_dof.fold(f64::INFINITY, f64::min) };
    let asked = Asked { position: 1, label: Arc::from(""), unit: None, first_order, not_drawn: None };
    Simulation::of(vec![asked], &model, options, &mut |_, _| ControlFlow::Continue(()))
}

struct Sum<'a> {
    inputs: &'a [Distribution],
    first_u: f64,
    lowest_dof: f64,
}

impl Model for Sum<'_> {
    fn results(&self) -> usize {
        1
    }

    fn chunk(&self, stream: &mut Stream, out: &mut [&mut [f64]]) {
        for value in out.iter_mut().flat_map(|column| column.iter_mut()) {
            *value = self.inputs.iter().map(|input| input.draw(stream)).sum();
        }
    }

    fn expected(&self, _: usize) -> (f64, f64) {
        (self.first_u, self.lowest_dof)
    }
}
