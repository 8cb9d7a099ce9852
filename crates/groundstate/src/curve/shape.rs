//! The shapes a calibration function may have.

use crate::error::{Error, nearest};

/// The shape of a calibration function. A closed list: there is no cubic, because a third-order curve follows the
/// scatter of the standards rather than the absorption (SW-846 Method 6010D, section 9.6 note: not acceptable).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[non_exhaustive]
pub enum Shape {
    /// y = a + b x
    Line,
    /// y = b x
    LineThroughZero,
    /// y = a + b x + c x²
    Quadratic,
    /// y = b x + c x²
    QuadraticThroughZero,
    /// y = log10((1 + s)/(10^(-k x) + s)): Beer's law with a share of light that is not absorbed. Without an offset, so
    /// the signals must be zeroed.
    StrayLight,
}

impl Shape {
    /// Every shape.
    pub const ALL: [Shape; 5] =
        [Shape::Line, Shape::LineThroughZero, Shape::Quadratic, Shape::QuadraticThroughZero, Shape::StrayLight];

    /// The stable name, in `snake_case`.
    pub const fn name(self) -> &'static str {
        match self {
            Shape::Line => "line",
            Shape::LineThroughZero => "line_through_zero",
            Shape::Quadratic => "quadratic",
            Shape::QuadraticThroughZero => "quadratic_through_zero",
            Shape::StrayLight => "stray_light",
        }
    }

    /// The shape called `name`.
    ///
    /// # Errors
    /// An unknown name; a third-order curve is refused with the reason.
    pub fn parse(name: &str) -> Result<Shape, Error> {
        if let Some(shape) = Shape::ALL.into_iter().find(|shape| shape.name() == name) {
            return Ok(shape);
        }
        let error = Error::argument("shape", format!("there is no shape {name:?}"));
        if matches!(name, "cubic" | "third_order" | "cubic_through_zero") {
            return Err(error.help(
                "a third-order curve is not offered: it follows the scatter of the standards; dilute, or use a quadratic",
            ));
        }
        let names = Shape::ALL.map(Shape::name);
        Err(match nearest(name, names) {
            Some(near) => error.help(format!("did you mean {near:?}?")),
            None => error.help(format!("it is one of {}", names.join(", "))),
        })
    }

    /// Number of fitted coefficients.
    pub const fn parameters(self) -> usize {
        match self {
            Shape::LineThroughZero => 1,
            Shape::Line | Shape::QuadraticThroughZero | Shape::StrayLight => 2,
            Shape::Quadratic => 3,
        }
    }

    /// Whether the signal at zero is fixed at zero.
    pub const fn through_zero(self) -> bool {
        matches!(self, Shape::LineThroughZero | Shape::QuadraticThroughZero | Shape::StrayLight)
    }

    /// Whether the shape can bend.
    pub const fn is_curved(self) -> bool {
        matches!(self, Shape::Quadratic | Shape::QuadraticThroughZero | Shape::StrayLight)
    }
}
