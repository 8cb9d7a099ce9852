//! Rounding for the report, on the decimal value that was written.
//!
//! A binary number is rounded as the shortest decimal that reads back as it. So 2.675 to two decimals is a tie and
//! goes to the even 2.68, although the nearest `f64` lies a little below the tie: who typed 2.675 meant 2.675. All
//! steps are integer arithmetic on that decimal; nothing is rounded twice.
//!
//! Magnitudes are rounded and the sign is put back, so -12.25 and 12.25 round alike. Text has a full stop, keeps its
//! trailing zeros, has no exponent from 1e-6 up to below 1e7, and never says `-0`.
//!
//! ```
//! use groundstate::rounding::{Rounding, Rule};
//!
//! assert_eq!(Rule::new(Rounding::decimals(2)?).round(2.675, None)?.to_string(), "2.68"); // a tie, as it was written
//! let pair = Rule::new(Rounding::uncertainty(2)?).pair(0.11987, 0.0998)?;
//! assert_eq!(pair.to_string(), "0.12 ± 0.10");
//! # Ok::<(), groundstate::Error>(())
//! ```

use std::cmp::Ordering;
use std::fmt;
use std::fmt::Write as _;

use crate::error::{Error, Kind, Place, Problem};

/// What becomes of a value half-way between two multiples of the quantum.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub enum Ties {
    /// To the even multiple (ISO 80000-1:2009 Annex B rule A, ASTM E29; from memory): no bias over many results.
    #[default]
    HalfEven,
    /// To the multiple of greater magnitude (ISO 80000-1:2009 Annex B rule B; from memory).
    HalfUp,
}

impl Ties {
    /// The stable name, in `snake_case`.
    pub const fn name(self) -> &'static str {
        match self {
            Ties::HalfEven => "half_even",
            Ties::HalfUp => "half_up",
        }
    }
}

/// A number of digits from `LEAST` to `MOST`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Digits<const LEAST: u8, const MOST: u8>(u8);

/// Significant figures, 1 to 15: a decimal of 15 figures survives the way through an `f64` unchanged.
pub type Figures = Digits<1, 15>;
/// Digits after the decimal point, 0 to 15.
pub type Decimals = Digits<0, 15>;
/// Figures of an uncertainty, 1 or 2.
pub type UncertaintyFigures = Digits<1, 2>;

impl<const LEAST: u8, const MOST: u8> Digits<LEAST, MOST> {
    /// `count` digits.
    ///
    /// # Errors
    /// [`Kind::Argument`] when `count` is out of range.
    pub fn new(count: u8) -> Result<Self, Error> {
        if (LEAST..=MOST).contains(&count) {
            return Ok(Digits(count));
        }
        Err(Error::argument("digits", format!("{count} is not a number of digits from {LEAST} to {MOST}")))
    }

    /// The number.
    pub const fn get(self) -> u8 {
        self.0
    }
}

/// The step of a rounding: 1, 2, 5 or 25 times a power of ten, such as 0.05 or 0.25.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Quantum {
    /// 1, 2, 5 or 25: all divide 100, so a value coarser than 100 quanta is a multiple already.
    multiple: u64,
    exponent: i32,
}

impl Quantum {
    /// The quantum `step`.
    ///
    /// # Errors
    /// [`Kind::Argument`] unless `step` is 1, 2, 5 or 25 times a power of ten.
    pub fn new(step: f64) -> Result<Self, Error> {
        let decimal = Decimal::of("quantum", step)?;
        if decimal.negative || !matches!(decimal.mantissa, 1 | 2 | 5 | 25) {
            return Err(Error::argument("quantum", format!("{step} is not a step to round to"))
                .help("give 1, 2, 5 or 25 times a power of ten, for example 0.05"));
        }
        Ok(Quantum { multiple: decimal.mantissa, exponent: decimal.exponent })
    }

    /// The step as a number.
    pub fn get(self) -> f64 {
        Decimal { negative: false, mantissa: self.multiple, exponent: self.exponent }.nearest()
    }

    /// The step as a number, to a few parts in 10¹⁵.
    fn size(self) -> f64 {
        self.multiple as f64 * libm::exp10(f64::from(self.exponent))
    }

    const fn power(exponent: i32) -> Self {
        Quantum { multiple: 1, exponent }
    }

    const fn finer(self) -> Self {
        Quantum { multiple: self.multiple, exponent: self.exponent - 1 }
    }
}

/// To what a value is rounded.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Rounding {
    /// To so many significant figures. Zero has none; it is written with one digit fewer after the point: `0.00`
    /// for three figures.
    Figures(Figures),
    /// To so many digits after the decimal point.
    Decimals(Decimals),
    /// To the place of the uncertainty, which itself is rounded to one or two figures (JCGM 100:2008, 7.2.6).
    Uncertainty(UncertaintyFigures),
    /// To a multiple of the quantum.
    Quantum(Quantum),
}

impl Rounding {
    /// To `count` significant figures, 1 to 15.
    ///
    /// # Errors
    /// [`Kind::Argument`] when `count` is out of range.
    pub fn figures(count: u8) -> Result<Self, Error> {
        Digits::new(count).map(Rounding::Figures)
    }

    /// To `count` digits after the decimal point, 0 to 15.
    ///
    /// # Errors
    /// [`Kind::Argument`] when `count` is out of range.
    pub fn decimals(count: u8) -> Result<Self, Error> {
        Digits::new(count).map(Rounding::Decimals)
    }

    /// To the place of an uncertainty of `count` figures, 1 or 2.
    ///
    /// # Errors
    /// [`Kind::Argument`] when `count` is out of range.
    pub fn uncertainty(count: u8) -> Result<Self, Error> {
        Digits::new(count).map(Rounding::Uncertainty)
    }

    /// To multiples of `step`.
    ///
    /// # Errors
    /// [`Kind::Argument`] unless `step` is 1, 2, 5 or 25 times a power of ten.
    pub fn quantum(step: f64) -> Result<Self, Error> {
        Quantum::new(step).map(Rounding::Quantum)
    }
}

/// A rounding with its rule for ties. The default is three significant figures, ties to even: SW-846 Method 6010D
/// section 12.1 and EPA Method 200.7 section 12.4 allow no more than three.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Rule {
    /// To what.
    pub rounding: Rounding,
    /// What becomes of ties.
    pub ties: Ties,
}

impl Default for Rule {
    fn default() -> Self {
        Rule { rounding: Rounding::Figures(Digits(3)), ties: Ties::HalfEven }
    }
}

impl Rule {
    /// `rounding`, with ties to even.
    pub const fn new(rounding: Rounding) -> Self {
        Rule { rounding, ties: Ties::HalfEven }
    }

    /// `value`, rounded. `uncertainty` (the one to be printed beside it, in the unit of `value`) is needed by
    /// [`Rounding::Uncertainty`] and not looked at otherwise.
    ///
    /// ```
    /// use groundstate::rounding::{Rounding, Rule};
    /// assert_eq!(Rule::default().round(0.12, None)?.to_string(), "0.120");
    /// assert_eq!(Rule::new(Rounding::decimals(2)?).round(2.675, None)?.to_string(), "2.68");
    /// # Ok::<(), groundstate::Error>(())
    /// ```
    ///
    /// # Errors
    /// [`Kind::Argument`] for a value that is not finite and for a missing, zero, negative or infinite uncertainty
    /// where one is needed; [`Kind::Limit`] when rounding up leaves the range of an `f64`.
    pub fn round(&self, value: f64, uncertainty: Option<f64>) -> Result<Rounded, Error> {
        let (rounded, _) = self.first(Decimal::of("value", value)?, uncertainty)?;
        rounded.in_range()
    }

    /// `value` rounded with the fewest further digits that leave it on the same side of each limit as it was before:
    /// a result flagged above 0.5 is never printed as 0.50. The limits are meant as printed in full. A value within
    /// a relative 1e-12 of a limit is that limit, as it is where limits are judged.
    ///
    /// ```
    /// use groundstate::rounding::{Rounding, Rule};
    /// let rule = Rule::new(Rounding::figures(2)?);
    /// assert_eq!(rule.distinguishing(0.5004, None, &[0.5])?.to_string(), "0.5004");
    /// assert_eq!(rule.distinguishing(110.00000000000001, None, &[110.0])?.to_string(), "110");
    /// # Ok::<(), groundstate::Error>(())
    /// ```
    ///
    /// # Errors
    /// As [`Rule::round`]; [`Kind::Argument`] also for a limit that is not finite.
    pub fn distinguishing(&self, value: f64, uncertainty: Option<f64>, limits: &[f64]) -> Result<Rounded, Error> {
        /// The guard of every comparison with a limit: far above the rounding of a few operations, far below any
        /// figure a laboratory reports.
        const GUARD: f64 = 1e-12;
        let meant = limits.iter().copied().find(|limit| (value - limit).abs() <= GUARD * limit.abs()).unwrap_or(value);
        let exact = Decimal::of("value", meant)?;
        if let Some(limit) = limits.iter().find(|limit| !limit.is_finite()) {
            Decimal::of("limit", *limit)?;
        }
        let (mut rounded, mut quantum) = self.first(exact, uncertainty)?;
        // Rounding moves the value by less than the quantum, so that most limits need not be compared digit by digit.
        let reach = 2.0 * quantum.size() + 1e-9 * value.abs();
        let near = limits.iter().filter(|limit| (value - **limit).abs() <= reach);
        let limits = near.map(|&limit| Decimal::of("limit", limit)).collect::<Result<Vec<_>, _>>()?;
        while limits.iter().any(|limit| rounded.decimal.compare(limit) != exact.compare(limit)) {
            // Ends at the latest when the quantum divides the value, which is then its own rounding.
            quantum = quantum.finer();
            rounded = exact.to_quantum(quantum, self.ties);
        }
        rounded.in_range()
    }

    /// `value` and its uncertainty, for printing side by side.
    ///
    /// With [`Rounding::Uncertainty`] the uncertainty gets its one or two figures and the value the same place. With
    /// the other rules the value follows its rule and the uncertainty the value's place, or one figure where it
    /// would vanish there.
    ///
    /// ```
    /// use groundstate::rounding::{Rounding, Rule};
    /// let pair = Rule::new(Rounding::uncertainty(2)?).pair(0.11987, 0.0998)?;
    /// assert_eq!(pair.to_string(), "0.12 ± 0.10");
    /// # Ok::<(), groundstate::Error>(())
    /// ```
    ///
    /// # Errors
    /// As [`Rule::round`]; [`Kind::Argument`] also for an uncertainty that is negative or not finite.
    pub fn pair(&self, value: f64, uncertainty: f64) -> Result<Pair, Error> {
        let exact = Decimal::of("uncertainty", uncertainty)?;
        if exact.negative {
            return Err(bad_uncertainty(uncertainty));
        }
        let (rounded, quantum) = self.first(Decimal::of("value", value)?, Some(uncertainty))?;
        let beside = exact.to_quantum(Quantum::power(rounded.place), self.ties);
        let beside = match self.rounding {
            Rounding::Uncertainty(_) => exact.to_quantum(quantum, self.ties),
            _ if beside.is_zero() && exact.mantissa != 0 => exact.to_figures(1, self.ties).0,
            _ => beside,
        };
        Ok(Pair { value: rounded.in_range()?, uncertainty: beside.in_range()? })
    }

    /// The rounding by the rule alone, and the quantum that served.
    fn first(&self, exact: Decimal, uncertainty: Option<f64>) -> Result<(Rounded, Quantum), Error> {
        let quantum = match self.rounding {
            Rounding::Figures(figures) => return Ok(exact.to_figures(figures.0, self.ties)),
            Rounding::Decimals(decimals) => Quantum::power(-i32::from(decimals.0)),
            Rounding::Quantum(quantum) => quantum,
            Rounding::Uncertainty(figures) => {
                let given = uncertainty.ok_or_else(|| {
                    Error::argument("uncertainty", "there is no uncertainty to take the decimal place from")
                        .help("choose figures or decimals for results without an uncertainty")
                })?;
                let exact = Decimal::of("uncertainty", given)?;
                if exact.negative || exact.mantissa == 0 {
                    return Err(bad_uncertainty(given));
                }
                exact.to_figures(figures.0, self.ties).1
            }
        };
        Ok((exact.to_quantum(quantum, self.ties), quantum))
    }
}

fn bad_uncertainty(given: f64) -> Error {
    Error::argument("uncertainty", format!("{given:e} is not an uncertainty to round by"))
        .help("choose figures or decimals for results without an uncertainty")
}

/// A rounded value: an exact decimal with the place of its last digit.
///
/// Text has no exponent when the value is zero or its magnitude is from 1e-6 to below 1e7. Outside, it is written
/// as `1.20e-7`, with the same digits and at most 17 of them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Rounded {
    decimal: Decimal,
    place: i32,
}

impl Rounded {
    /// The `f64` nearest to the rounded decimal.
    pub fn value(&self) -> f64 {
        self.decimal.nearest()
    }

    /// Decimal exponent of the last digit: -2 for hundredths, 1 for tens.
    pub const fn place(&self) -> i32 {
        self.place
    }

    /// Whether nothing is left of the value.
    pub const fn is_zero(&self) -> bool {
        self.decimal.mantissa == 0
    }

    fn in_range(self) -> Result<Self, Error> {
        // Only a number that begins at 1e308 can have left it.
        if self.decimal.leading() < 308 || self.value().is_finite() {
            return Ok(self);
        }
        let what = format!("rounded to {self}, the value leaves the range of numbers (up to 1.8e308)");
        Err(Error::new(Kind::Limit, Problem::new(Place::named("value"), what)))
    }

    fn reads_plainly(&self) -> bool {
        self.is_zero() || (-6..7).contains(&self.decimal.leading())
    }

    /// The same digits, worth `10^-by` as much.
    const fn scaled_down(mut self, by: i32) -> Self {
        self.decimal.exponent -= by;
        self.place -= by;
        self
    }

    /// Text without an exponent, with zeros after the last digit down to at most `places` after the point.
    fn plain(&self, places: i32) -> String {
        let Decimal { negative, mantissa, exponent } = self.decimal;
        let last = if self.is_zero() { 0 } else { exponent };
        let place = self.place.max(last.min(-places)).min(0);
        let decimals = place.unsigned_abs() as usize;
        let zeros = usize::try_from(last - place).unwrap_or(0);
        let count = self.decimal.digits().unsigned_abs() as usize;
        let width = (count + zeros).max(decimals + 1);
        let mut text = String::with_capacity(width + 2);
        if negative && !self.is_zero() {
            text.push('-');
        }
        // From the first digit written to the last, by the power of ten it is worth in units of the last.
        for power in (0..width).rev() {
            if power + 1 == decimals {
                text.push('.');
            }
            let within = power.checked_sub(zeros).filter(|power| *power < count);
            let digit = within.map_or(0, |power| mantissa / 10_u64.pow(power as u32) % 10);
            text.push(char::from(b'0' + digit as u8));
        }
        text
    }
}

/// The most digits after the point in text without an exponent: a value of 1e-6 with all 17 figures of an `f64`.
const MOST_PLACES: i32 = 22;
/// The most digits after the point before an exponent.
const MOST_BEFORE_EXPONENT: i32 = 16;

impl fmt::Display for Rounded {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.reads_plainly() {
            return f.pad(&self.plain(MOST_PLACES));
        }
        let leading = self.decimal.leading();
        f.pad(&format!("{}e{leading}", self.scaled_down(leading).plain(MOST_BEFORE_EXPONENT)))
    }
}

/// A value and its uncertainty, both rounded. Text is `0.12 ± 0.10`, or `(1.23 ± 0.45)e-8` where the larger of the
/// two needs an exponent.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Pair {
    /// The value.
    pub value: Rounded,
    /// The uncertainty, standard or expanded as it was given.
    pub uncertainty: Rounded,
}

impl fmt::Display for Pair {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let parts = [self.value, self.uncertainty];
        // An uncertainty far below the value keeps an exponent of its own rather than a row of zeros.
        let written = |part: Rounded, places: i32| match part.is_zero() || part.decimal.exponent >= -MOST_PLACES {
            true => part.plain(places),
            false => part.to_string(),
        };
        let larger = parts.iter().filter(|part| !part.is_zero()).max_by_key(|part| part.decimal.leading());
        match larger {
            Some(larger) if !larger.reads_plainly() => {
                let leading = larger.decimal.leading();
                let [value, uncertainty] = parts.map(|part| written(part.scaled_down(leading), MOST_BEFORE_EXPONENT));
                f.pad(&format!("({value} ± {uncertainty})e{leading}"))
            }
            _ => {
                let [value, uncertainty] = parts.map(|part| written(part, MOST_PLACES));
                f.pad(&format!("{value} ± {uncertainty}"))
            }
        }
    }
}

/// `mantissa * 10^exponent`, with at most 17 digits when it comes from an `f64`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Decimal {
    negative: bool,
    mantissa: u64,
    exponent: i32,
}

/// A text as long as a number can be, without memory of its own.
#[derive(Default)]
struct Short {
    bytes: [u8; 32],
    used: usize,
}

impl Short {
    fn as_str(&self) -> Option<&str> {
        std::str::from_utf8(self.bytes.get(..self.used)?).ok()
    }
}

impl fmt::Write for Short {
    fn write_str(&mut self, text: &str) -> fmt::Result {
        let free = self.bytes.get_mut(self.used..self.used + text.len()).ok_or(fmt::Error)?;
        free.copy_from_slice(text.as_bytes());
        self.used += text.len();
        Ok(())
    }
}

impl Decimal {
    /// The shortest decimal that reads back as `value`.
    fn of(name: &str, value: f64) -> Result<Self, Error> {
        let refused = || Error::argument(name, format!("{value} is not a finite number"));
        if !value.is_finite() {
            return Err(refused());
        }
        // `{:e}` of the standard library is the shortest form that reads back: "d.ddde-x", without trailing zeros.
        let mut text = Short::default();
        write!(text, "{:e}", value.abs()).map_err(|_| refused())?;
        let text = text.as_str().ok_or_else(refused)?;
        let (digits, power) = text.split_once('e').ok_or_else(refused)?;
        let power: i32 = power.parse().map_err(|_| refused())?;
        let mantissa =
            digits.bytes().filter(u8::is_ascii_digit).fold(0, |sum, digit| 10 * sum + u64::from(digit - b'0'));
        // "d" has no fraction, "d.ddd" one digit fewer than characters after the first.
        let fraction = digits.len().saturating_sub(2);
        let exponent = power - i32::try_from(fraction).map_err(|_| refused())?;
        Ok(Decimal { negative: value.is_sign_negative(), mantissa, exponent })
    }

    /// The nearest `f64`.
    fn nearest(&self) -> f64 {
        let sign = if self.negative && self.mantissa != 0 { "-" } else { "" };
        // The text is a number by construction, so the fallback is never met.
        format!("{sign}{}e{}", self.mantissa, self.exponent).parse().unwrap_or(f64::NAN)
    }

    fn digits(&self) -> i32 {
        self.mantissa.checked_ilog10().map_or(1, |power| power as i32 + 1)
    }

    /// Decimal exponent of the first digit.
    fn leading(&self) -> i32 {
        self.exponent + self.digits() - 1
    }

    fn to_figures(self, figures: u8, ties: Ties) -> (Rounded, Quantum) {
        if self.mantissa == 0 {
            let quantum = Quantum::power(1 - i32::from(figures));
            return (self.to_quantum(quantum, ties), quantum);
        }
        let quantum = Quantum::power(self.leading() + 1 - i32::from(figures));
        let rounded = self.to_quantum(quantum, ties);
        if rounded.decimal.leading() == self.leading() {
            return (rounded, quantum);
        }
        // Carried to a power of ten (0.0998 to 0.100): one place less keeps the number of figures.
        let quantum = Quantum::power(quantum.exponent + 1);
        (rounded.decimal.to_quantum(quantum, ties), quantum)
    }

    fn to_quantum(self, quantum: Quantum, ties: Ties) -> Rounded {
        let shift = self.exponent - quantum.exponent;
        let place = quantum.exponent;
        // A multiple of 100 of the quantum's unit is a multiple of the quantum.
        if shift >= 2 {
            return Rounded { decimal: self, place };
        }
        // With 18 digits at most, a quantum of 10^20 units is more than twice the value.
        if shift < -20 {
            return Rounded { decimal: Decimal { mantissa: 0, exponent: place, ..self }, place };
        }
        let power = 10_u128.pow(shift.unsigned_abs());
        let (value, step) = (u128::from(self.mantissa), u128::from(quantum.multiple));
        let (numerator, denominator) = if shift < 0 { (value, step * power) } else { (value * power, step) };
        let (count, rest) = (numerator / denominator, numerator % denominator);
        let up = match (2 * rest).cmp(&denominator) {
            Ordering::Less => false,
            Ordering::Equal => ties == Ties::HalfUp || count % 2 == 1,
            Ordering::Greater => true,
        };
        // At most ten times a mantissa of 17 digits, and one step: it fits.
        let mantissa = ((count + u128::from(up)) * step) as u64;
        Rounded { decimal: Decimal { mantissa, exponent: place, ..self }, place }
    }

    /// The order of the exact values.
    fn compare(&self, other: &Decimal) -> Ordering {
        let sign = |decimal: &Decimal| match (decimal.mantissa, decimal.negative) {
            (0, _) => 0,
            (_, negative) => 1 - 2 * i32::from(negative),
        };
        let magnitude = || {
            self.leading().cmp(&other.leading()).then_with(|| {
                // Same first place: written with equally many digits (at most 20), the mantissas compare.
                let fill = |from: &Decimal, to: &Decimal| {
                    let missing = u32::try_from(to.digits() - from.digits()).unwrap_or(0);
                    u128::from(from.mantissa) * 10_u128.pow(missing)
                };
                fill(self, other).cmp(&fill(other, self))
            })
        };
        match (sign(self), sign(other)) {
            (1, 1) => magnitude(),
            (-1, -1) => magnitude().reverse(),
            (own, others) => own.cmp(&others),
        }
    }
}

#[cfg(test)]
mod tests;
