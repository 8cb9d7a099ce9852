//! A column that is stored once where it is constant.

/// One value for every row, or one each.
#[derive(Clone, Debug, PartialEq)]
pub enum Column<T> {
    /// The same for every row.
    One(T),
    /// One a row.
    Each(Vec<T>),
}

impl<T: Copy> Column<T> {
    /// The value at `row`; `None` past the end of a column of one each.
    pub fn get(&self, row: usize) -> Option<T> {
        match self {
            Column::One(value) => Some(*value),
            Column::Each(values) => values.get(row).copied(),
        }
    }

    /// Whether the column can serve `rows` rows.
    pub fn fits(&self, rows: usize) -> bool {
        match self {
            Column::One(_) => true,
            Column::Each(values) => values.len() == rows,
        }
    }

    /// All values of a column of `rows` rows.
    pub fn to_vec(&self, rows: usize) -> Vec<T> {
        match self {
            Column::One(value) => vec![*value; rows],
            Column::Each(values) => values.clone(),
        }
    }
}
