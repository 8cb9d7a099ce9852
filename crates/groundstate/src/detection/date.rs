//! Calendar dates, because a limit ages. Proleptic Gregorian calendar, no time of day, no time zone.

use std::fmt;
use std::str::FromStr;

use crate::error::Error;

/// A calendar date, written YYYY-MM-DD (ISO 8601 extended form). Years 1 to 9999.
///
/// ```
/// use groundstate::detection::Date;
/// let prepared: Date = "2024-02-29".parse()?;
/// let analysed: Date = "2024-03-04".parse()?;
/// assert_eq!(prepared.days_until(analysed), 4);
/// assert_eq!(prepared.plus_months(24)?.to_string(), "2026-02-28");
/// assert!("2023-02-29".parse::<Date>().is_err());
/// # Ok::<(), groundstate::Error>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Date {
    year: u16,
    month: u8,
    day: u8,
}

impl Date {
    /// The date of `year`, `month` (1 to 12) and `day`.
    ///
    /// # Errors
    /// When the calendar has no such date or the year is outside 1 to 9999.
    pub fn new(year: u16, month: u8, day: u8) -> Result<Self, Error> {
        let wrong = |what: String| Err(Error::argument("date", what).help("write YYYY-MM-DD, as in 2025-03-31"));
        if !(1..=9999).contains(&year) {
            return wrong(format!("year {year} is outside 1 to 9999"));
        }
        if !(1..=12).contains(&month) {
            return wrong(format!("there is no month {month}"));
        }
        if day == 0 || day > days_in_month(year, month) {
            return wrong(format!("{year:04}-{month:02} has no day {day}"));
        }
        Ok(Date { year, month, day })
    }

    /// The year.
    pub const fn year(self) -> u16 {
        self.year
    }

    /// The month, 1 to 12.
    pub const fn month(self) -> u8 {
        self.month
    }

    /// The day of the month, from 1.
    pub const fn day(self) -> u8 {
        self.day
    }

    /// The calendar quarter the date lies in.
    pub const fn quarter(self) -> Quarter {
        Quarter { year: self.year, number: (self.month - 1) / 3 + 1 }
    }

    /// Days from `self` to `later`; negative when `later` is the earlier one.
    pub fn days_until(self, later: Date) -> i32 {
        later.ordinal() - self.ordinal()
    }

    /// The same day `months` later (or earlier, when negative); the last day of that month when it is shorter.
    ///
    /// # Errors
    /// When the year would leave 1 to 9999.
    pub fn plus_months(self, months: i32) -> Result<Self, Error> {
        let count = i64::from(self.year) * 12 + i64::from(self.month) - 1 + i64::from(months);
        let outside = || Error::argument("months", format!("{self} plus {months} months is outside years 1 to 9999"));
        let year = u16::try_from(count.div_euclid(12)).map_err(|_| outside())?;
        let month = u8::try_from(count.rem_euclid(12) + 1).map_err(|_| outside())?;
        if !(1..=9999).contains(&year) {
            return Err(outside());
        }
        Ok(Date { year, month, day: self.day.min(days_in_month(year, month)) })
    }

    /// Days since a fixed day before year 1.
    fn ordinal(self) -> i32 {
        let years = i32::from(self.year) - 1;
        let before: i32 = (1..self.month).map(|month| i32::from(days_in_month(self.year, month))).sum();
        years * 365 + years / 4 - years / 100 + years / 400 + before + i32::from(self.day)
    }
}

fn leap(year: u16) -> bool {
    year.is_multiple_of(4) && (!year.is_multiple_of(100) || year.is_multiple_of(400))
}

fn days_in_month(year: u16, month: u8) -> u8 {
    match month {
        4 | 6 | 9 | 11 => 30,
        2 if leap(year) => 29,
        2 => 28,
        _ => 31,
    }
}

impl FromStr for Date {
    type Err = Error;

    fn from_str(text: &str) -> Result<Self, Error> {
        let unreadable =
            || Error::argument("date", format!("{text:?} is not a date")).help("write YYYY-MM-DD, as in 2025-03-31");
        let digits = |part: Option<&str>, length: usize| {
            part.filter(|part| part.len() == length && part.bytes().all(|byte| byte.is_ascii_digit()))
                .and_then(|part| part.parse::<u16>().ok())
                .ok_or_else(unreadable)
        };
        let mut parts = text.split('-');
        let year = digits(parts.next(), 4)?;
        let month = digits(parts.next(), 2)?;
        let day = digits(parts.next(), 2)?;
        if parts.next().is_some() {
            return Err(unreadable());
        }
        let narrow = |part: u16| u8::try_from(part).map_err(|_| unreadable());
        Date::new(year, narrow(month)?, narrow(day)?)
    }
}

impl fmt::Display for Date {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:04}-{:02}-{:02}", self.year, self.month, self.day)
    }
}

/// A calendar quarter, written 2025-Q1.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Quarter {
    year: u16,
    number: u8,
}

impl Quarter {
    /// Quarter `number` (1 to 4) of `year`.
    ///
    /// # Errors
    /// When there is no such quarter or the year is outside 1 to 9999.
    pub fn new(year: u16, number: u8) -> Result<Self, Error> {
        if !(1..=9999).contains(&year) || !(1..=4).contains(&number) {
            return Err(Error::argument("quarter", format!("there is no quarter {number} of year {year}")));
        }
        Ok(Quarter { year, number })
    }

    /// The year.
    pub const fn year(self) -> u16 {
        self.year
    }

    /// The number of the quarter, 1 to 4.
    pub const fn number(self) -> u8 {
        self.number
    }

    /// The first day.
    pub const fn first_day(self) -> Date {
        Date { year: self.year, month: self.number * 3 - 2, day: 1 }
    }

    /// The last day.
    pub fn last_day(self) -> Date {
        let month = self.number * 3;
        Date { year: self.year, month, day: days_in_month(self.year, month) }
    }

    /// The quarter after this one; `None` after the last of year 9999.
    pub fn next(self) -> Option<Quarter> {
        match self.number {
            4 => Quarter::new(self.year + 1, 1).ok(),
            number => Some(Quarter { year: self.year, number: number + 1 }),
        }
    }
}

impl fmt::Display for Quarter {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:04}-Q{}", self.year, self.number)
    }
}

impl FromStr for Quarter {
    type Err = Error;

    fn from_str(text: &str) -> Result<Self, Error> {
        let unreadable = || Error::argument("quarter", format!("{text:?} is not a quarter")).help("write 2025-Q1");
        let (year, number) = text.split_once("-Q").ok_or_else(unreadable)?;
        let number = match number {
            "1" | "2" | "3" | "4" => number.parse().map_err(|_| unreadable())?,
            _ => return Err(unreadable()),
        };
        if year.len() != 4 || !year.bytes().all(|byte| byte.is_ascii_digit()) {
            return Err(unreadable());
        }
        Quarter::new(year.parse().map_err(|_| unreadable())?, number)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn date(text: &str) -> Date {
        text.parse().unwrap()
    }

    #[test]
    fn days_match_known_intervals() {
        // Julian day numbers: 2000-01-01 is 2451545 and 1900-01-01 is 2415021 (noon), so 36524 days.
        assert_eq!(date("1900-01-01").days_until(date("2000-01-01")), 36_524);
        assert_eq!(date("0001-01-01").days_until(date("1970-01-01")), 719_162);
        assert_eq!(date("2024-03-01").days_until(date("2024-02-28")), -2);
    }

    #[test]
    fn unreadable_dates_say_what_to_write() {
        for text in [
            "",
            "2024",
            "2024-1-01",
            "2024-01-1",
            "24-01-01",
            "2024/01/01",
            "2024-01-01-",
            "2024-01-01T00",
            "+024-01-01",
            "2024-13-01",
            "2024-00-10",
            "2024-02-30",
            "2023-02-29",
            "1900-02-29",
            "0000-01-01",
            "２024-01-01",
        ] {
            let error = text.parse::<Date>().unwrap_err().to_string();
            assert!(error.contains("YYYY-MM-DD"), "{text}: {error}");
        }
        assert_eq!(date("2000-02-29").to_string(), "2000-02-29");
    }

    #[test]
    fn months_end_where_the_month_ends() {
        assert_eq!(date("2025-08-31").plus_months(6).unwrap(), date("2026-02-28"));
        assert_eq!(date("2025-01-31").plus_months(13).unwrap(), date("2026-02-28"));
        assert_eq!(date("2025-03-31").plus_months(-24).unwrap(), date("2023-03-31"));
        assert_eq!(date("2025-01-15").plus_months(-1).unwrap(), date("2024-12-15"));
        assert!(date("9999-12-01").plus_months(1).is_err());
        assert!(date("0001-01-31").plus_months(-1).is_err());
        assert!(date("2025-01-01").plus_months(i32::MIN).is_err());
    }

    #[test]
    fn quarters() {
        let quarter = date("2024-02-29").quarter();
        assert_eq!((quarter.to_string().as_str(), quarter.last_day()), ("2024-Q1", date("2024-03-31")));
        assert_eq!(date("2024-12-31").quarter().next().unwrap().first_day(), date("2025-01-01"));
        assert_eq!("2024-Q4".parse::<Quarter>().unwrap().first_day(), date("2024-10-01"));
        assert_eq!(Quarter::new(9999, 4).unwrap().next(), None);
        for text in ["2024-Q5", "2024-Q0", "2024Q1", "24-Q1", "2024-Q01", "+024-Q1"] {
            assert!(text.parse::<Quarter>().is_err(), "{text}");
        }
    }

    fn any_date() -> impl Strategy<Value = Date> {
        (1u16..=9999, 1u8..=12, 1u8..=28).prop_map(|(year, month, day)| Date::new(year, month, day).unwrap())
    }

    proptest! {
        #[test]
        fn text_comes_back(date in any_date()) {
            prop_assert_eq!(date.to_string().parse::<Date>().unwrap(), date);
        }

        #[test]
        fn order_is_that_of_the_days(a in any_date(), b in any_date()) {
            prop_assert_eq!(a.cmp(&b), 0.cmp(&a.days_until(b)));
        }

        #[test]
        fn months_there_and_back(date in any_date(), months in -200i32..200) {
            // Days up to 28 exist in every month, so no day is lost.
            if let Ok(later) = date.plus_months(months) {
                prop_assert_eq!(later.plus_months(-months).unwrap(), date);
            }
        }

        #[test]
        fn a_date_lies_in_its_quarter(date in any_date()) {
            let quarter = date.quarter();
            prop_assert!(quarter.first_day() <= date && date <= quarter.last_day());
        }

        #[test]
        fn no_text_panics(text in ".{0,12}") {
            let _ = text.parse::<Date>();
            let _ = text.parse::<Quarter>();
        }
    }
}
