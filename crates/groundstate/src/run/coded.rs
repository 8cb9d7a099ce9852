//! Columns as dictionary codes and as numbers, from whatever they came as.

use std::borrow::Cow;
use std::collections::HashMap;

use super::number;
use super::problems::Problems;
use super::table::Cells;

/// A column of words: one code a row, [`Cells::MISSING`] where there is none.
pub(super) struct Coded<'a> {
    pub codes: Cow<'a, [u32]>,
    pub words: Vec<Cow<'a, str>>,
}

impl<'a> Coded<'a> {
    /// The words of `cells`. Spaces around a word do not count, and a word of spaces is missing.
    pub fn new(cells: &'a Cells) -> Coded<'a> {
        match cells {
            Cells::Text(texts) => Coded::collect(texts.iter().map(|cell| Cow::Borrowed(cell.trim()))),
            Cells::Number(numbers) => Coded::of_numbers(numbers),
            Cells::Coded { codes, dictionary } => {
                let tidy = |word: &str| !word.is_empty() && word.trim().len() == word.len();
                let distinct = || {
                    let mut words: Vec<&str> = dictionary.iter().map(|word| &**word).collect();
                    words.sort_unstable();
                    words.windows(2).all(|pair| pair[0] != pair[1])
                };
                if dictionary.iter().all(|word| tidy(word)) && distinct() {
                    let words = dictionary.iter().map(|word| Cow::Borrowed(&**word)).collect();
                    return Coded { codes: Cow::Borrowed(codes), words };
                }
                let word = |code: &u32| dictionary.get(*code as usize).map_or("", |word| word.trim());
                Coded::collect(codes.iter().map(|code| Cow::Borrowed(word(code))))
            }
        }
    }

    /// Numbers as words; only the first of equal ones is written out.
    fn of_numbers(numbers: &[f64]) -> Coded<'a> {
        let mut words: Vec<Cow<'a, str>> = Vec::new();
        let mut known: HashMap<u64, u32> = HashMap::new();
        let mut last = (f64::NAN.to_bits(), Cells::MISSING);
        let mut code = |number: &f64| {
            if number.is_nan() {
                return Cells::MISSING;
            }
            // One zero of two; any other two numbers are written differently.
            let number = number + 0.0;
            if last.0 != number.to_bits() {
                let new = || {
                    words.push(Cow::Owned(number.to_string()));
                    words.len() as u32 - 1
                };
                last = (number.to_bits(), *known.entry(number.to_bits()).or_insert_with(new));
            }
            last.1
        };
        let codes = numbers.iter().map(&mut code).collect();
        Coded { codes: Cow::Owned(codes), words }
    }

    fn collect(cells: impl ExactSizeIterator<Item = Cow<'a, str>>) -> Coded<'a> {
        let mut codes = Vec::with_capacity(cells.len());
        let mut words: Vec<Cow<'a, str>> = Vec::new();
        let mut known: HashMap<Cow<'a, str>, u32> = HashMap::new();
        let mut last = Cells::MISSING;
        for cell in cells {
            // Neighbours are mostly alike, and comparing is cheaper than looking up.
            let same = words.get(last as usize).is_some_and(|word| *word == cell);
            if !same {
                last = match known.get(&cell) {
                    _ if cell.is_empty() => Cells::MISSING,
                    Some(code) => *code,
                    None => {
                        let code = words.len() as u32;
                        words.push(cell.clone());
                        known.insert(cell, code);
                        code
                    }
                };
            }
            codes.push(last);
        }
        Coded { codes: Cow::Owned(codes), words }
    }

    /// The word in `row`.
    pub fn word(&self, row: usize) -> Option<&str> {
        self.words.get(*self.codes.get(row)? as usize).map(|word| &**word)
    }

    /// The rank of every word in the order of their letters, by code.
    pub fn ranks(&self) -> Vec<u32> {
        let mut order: Vec<usize> = (0..self.words.len()).collect();
        order.sort_unstable_by(|a, b| self.words[*a].cmp(&self.words[*b]));
        let mut ranks = vec![0; order.len()];
        order.iter().enumerate().for_each(|(rank, code)| ranks[*code] = rank as u32);
        ranks
    }
}

/// The numbers of the column `name`; NaN where there is none.
pub(super) fn numbers<'a>(name: &str, cells: &'a Cells, problems: &mut Problems) -> Cow<'a, [f64]> {
    let mut read = |row: usize, cell: &str| {
        number::parse(name, cell).unwrap_or_else(|error| {
            problems.cell(row, name, error.what).help(error.help);
            f64::NAN
        })
    };
    match cells {
        Cells::Number(numbers) => {
            for (row, number) in numbers.iter().enumerate().filter(|(_, number)| number.is_infinite()) {
                read(row, &number.to_string());
            }
            Cow::Borrowed(numbers)
        }
        Cells::Text(texts) => texts.iter().enumerate().map(|(row, cell)| read(row, cell)).collect(),
        Cells::Coded { .. } => {
            let coded = Coded::new(cells);
            let number = |row: usize| read(row, coded.word(row).unwrap_or(""));
            (0..coded.codes.len()).map(number).collect()
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_the_words_that_they_are_written_as() {
        let cells = Cells::Number(vec![1.0, 1.0, f64::NAN, 10.0, 1.0, -0.0, 0.0, 0.5, f64::NAN, 1e21]);
        let coded = Coded::new(&cells);
        assert_eq!(coded.words, ["1", "10", "0", "0.5", "1000000000000000000000"]);
        let missing = Cells::MISSING;
        assert_eq!(*coded.codes, [0, 0, missing, 1, 0, 2, 2, 3, missing, 4]);
    }
}
