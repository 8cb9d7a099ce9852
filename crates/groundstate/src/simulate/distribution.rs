//! Distributions that input quantities are drawn from.

use crate::error::Error;
use crate::estimate::Dof;
use crate::numeric::stream::Stream;

/// The form of a distribution, whatever its place and width.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
#[non_exhaustive]
pub enum Form {
    /// Normal: a best estimate and its standard uncertainty are what is known (JCGM 101:2008, 6.4.7).
    #[default]
    Normal,
    /// Rectangular: limits are what is known (6.4.2).
    Rectangular,
    /// Symmetric triangular: the sum of two rectangular quantities of equal width (6.4.5).
    Triangular,
    /// Symmetric trapezoidal, its top `top` times as wide as its base, 0 to 1 (6.4.4).
    Trapezoidal {
        /// Width of the top over that of the base.
        top: f64,
    },
    /// Scaled and shifted t (6.4.9): its scale is the standard uncertainty from a finite number of readings; its
    /// standard deviation is larger by the root of dof/(dof - 2).
    StudentT {
        /// Degrees of freedom, above 0.
        dof: f64,
    },
}

impl Form {
    /// The stable name, in `snake_case`.
    pub const fn name(self) -> &'static str {
        match self {
            Form::Normal => "normal",
            Form::Rectangular => "rectangular",
            Form::Triangular => "triangular",
            Form::Trapezoidal { .. } => "trapezoidal",
            Form::StudentT { .. } => "t",
        }
    }

    /// The form called `name`; `parameter` is the top of a trapezoid or the degrees of freedom of a t.
    ///
    /// # Errors
    /// An unknown name; a parameter that is missing, wrong, or not asked for.
    pub fn parse(name: &str, parameter: Option<f64>) -> Result<Form, Error> {
        let form = match (name, parameter) {
            ("normal", None) => Form::Normal,
            ("rectangular", None) => Form::Rectangular,
            ("triangular", None) => Form::Triangular,
            ("trapezoidal", Some(top)) => Form::Trapezoidal { top },
            ("t", Some(dof)) => Form::StudentT { dof },
            _ => {
                let what = format!("there is no distribution {name:?} with parameter {parameter:?}");
                let help = "it is normal, rectangular or triangular, trapezoidal with the width of its top over that \
                            of its base, or t with its degrees of freedom";
                return Err(Error::argument("distribution", what).help(help));
            }
        };
        form.checked()
    }

    /// Itself, if its parameter can be.
    pub(super) fn checked(self) -> Result<Form, Error> {
        match self {
            Form::Trapezoidal { top } if !(0.0..=1.0).contains(&top) => {
                let what = format!("{top} is not the width of a trapezoid's top over that of its base, 0 to 1");
                Err(Error::argument("distribution", what))
            }
            Form::StudentT { dof } if dof.is_nan() || dof <= 0.0 => {
                Err(Error::argument("distribution", format!("{dof} is not a number of degrees of freedom above 0")))
            }
            form => Ok(form),
        }
    }

    /// A draw for value 0 and standard uncertainty 1.
    pub(super) fn draw(self, stream: &mut Stream) -> f64 {
        match self {
            Form::Normal => stream.normal(),
            Form::StudentT { dof } => stream.student_t(dof),
            form => {
                let half = form.half_width();
                match form {
                    Form::Trapezoidal { top } => stream.trapezoidal(-half, half, top),
                    Form::Triangular => stream.triangular(-half, half),
                    _ => stream.rectangular(-half, half),
                }
            }
        }
    }

    /// Half the width of the base over the standard uncertainty; for forms that have limits.
    fn half_width(self) -> f64 {
        match self {
            Form::Trapezoidal { top } => (6.0 / (1.0 + top * top)).sqrt(),
            Form::Triangular => 6.0_f64.sqrt(),
            _ => 3.0_f64.sqrt(),
        }
    }
}

/// The distribution of one input quantity.
///
/// ```
/// use groundstate::simulate::Distribution;
/// # fn main() -> Result<(), groundstate::Error> {
/// // A flask of 100 mL within 0.08 mL.
/// let flask = Distribution::rectangular(99.92, 100.08)?;
/// assert!((flask.u() - 0.08 / 3.0_f64.sqrt()).abs() < 1e-12);
/// # Ok(()) }
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Distribution {
    form: Form,
    value: f64,
    u: f64,
}

impl Distribution {
    /// The distribution of `form` about `value` with standard uncertainty `u`; of a t, `u` is the scale.
    ///
    /// # Errors
    /// A value that is not finite, a negative u, a parameter of the form that cannot be.
    pub fn new(form: Form, value: f64, u: f64) -> Result<Distribution, Error> {
        if !value.is_finite() {
            return Err(Error::argument("value", format!("{value} is not a finite number")));
        }
        if !(u >= 0.0 && u.is_finite()) {
            return Err(Error::argument("u", format!("{u} is not a standard uncertainty")));
        }
        Ok(Distribution { form: form.checked()?, value, u })
    }

    /// Normal about `value` with standard uncertainty `u`.
    ///
    /// # Errors
    /// As [`Distribution::new`].
    pub fn normal(value: f64, u: f64) -> Result<Distribution, Error> {
        Distribution::new(Form::Normal, value, u)
    }

    /// Rectangular from `lower` to `upper`.
    ///
    /// # Errors
    /// Limits that are not finite or the wrong way round.
    pub fn rectangular(lower: f64, upper: f64) -> Result<Distribution, Error> {
        Distribution::between(Form::Rectangular, lower, upper)
    }

    /// Symmetric triangular from `lower` to `upper`.
    ///
    /// # Errors
    /// As [`Distribution::rectangular`].
    pub fn triangular(lower: f64, upper: f64) -> Result<Distribution, Error> {
        Distribution::between(Form::Triangular, lower, upper)
    }

    /// Symmetric trapezoidal from `lower` to `upper`, its top `top` times as wide as its base.
    ///
    /// # Errors
    /// As [`Distribution::rectangular`]; a top outside 0 to 1.
    pub fn trapezoidal(lower: f64, upper: f64, top: f64) -> Result<Distribution, Error> {
        Distribution::between(Form::Trapezoidal { top }, lower, upper)
    }

    /// Scaled and shifted t about `value`.
    ///
    /// # Errors
    /// As [`Distribution::new`].
    pub fn student_t(value: f64, scale: f64, dof: f64) -> Result<Distribution, Error> {
        Distribution::new(Form::StudentT { dof }, value, scale)
    }

    fn between(form: Form, lower: f64, upper: f64) -> Result<Distribution, Error> {
        if !(lower <= upper && (upper - lower).is_finite()) {
            return Err(Error::argument("limits", format!("{lower} to {upper} is not an interval of finite length")));
        }
        let half = 0.5 * (upper - lower);
        Distribution::new(form, lower + half, half / form.checked()?.half_width())
    }

    /// Its form.
    pub fn form(&self) -> Form {
        self.form
    }

    /// Its centre.
    pub fn value(&self) -> f64 {
        self.value
    }

    /// Its standard uncertainty in the sense of JCGM 100:2008: of a t the scale, which goes with
    /// [`Distribution::dof`].
    pub fn u(&self) -> f64 {
        self.u
    }

    /// Degrees of freedom of that standard uncertainty.
    pub fn dof(&self) -> Dof {
        match self.form {
            Form::StudentT { dof } => Dof::new(dof).unwrap_or(Dof::INFINITE),
            _ => Dof::INFINITE,
        }
    }

    pub(super) fn draw(&self, stream: &mut Stream) -> f64 {
        self.value + self.u * self.form.draw(stream)
    }
}
