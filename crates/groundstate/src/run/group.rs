//! Rows in key order, and where each group of them begins.

/// Rows sorted by (run, position, replicate), and where each (run, position) begins. Rows that come in that order
/// are not permuted.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct GroupIndex {
    order: Option<Vec<u32>>,
    offsets: Vec<u32>,
}

impl GroupIndex {
    /// The index of rows with these keys. The slices are of equal length, below 2³² rows; rows of the same key keep
    /// their order.
    pub fn new(run: &[u32], position: &[u32], replicate: &[u32]) -> GroupIndex {
        GroupIndex::of(run, position, Some(replicate))
    }

    /// As [`GroupIndex::new`], where rows may have no replicate numbers.
    pub fn of(run: &[u32], position: &[u32], replicate: Option<&[u32]>) -> GroupIndex {
        let key = |row: usize| (run[row], position[row], replicate.map_or(0, |replicate| replicate[row]));
        let rows = run.len().min(position.len()).min(replicate.map_or(usize::MAX, <[u32]>::len));
        let sorted = (1..rows).all(|row| key(row - 1) <= key(row));
        let order = (!sorted).then(|| {
            let mut order: Vec<u32> = (0..rows as u32).collect();
            order.sort_unstable_by_key(|&row| (key(row as usize), row));
            order
        });
        let at = |i: usize| order.as_ref().map_or(i, |order| order[i] as usize);
        let group = |i: usize| (run[at(i)], position[at(i)]);
        let mut offsets: Vec<u32> =
            (0..rows).filter(|&i| i == 0 || group(i - 1) != group(i)).map(|i| i as u32).collect();
        offsets.push(rows as u32);
        GroupIndex { order, offsets }
    }

    /// Number of groups.
    pub fn len(&self) -> usize {
        self.offsets.len() - 1
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// The permutation of the rows; none where they came in key order.
    pub fn order(&self) -> Option<&[u32]> {
        self.order.as_deref()
    }

    /// Where each group begins in key order, and the number of rows at the end.
    pub fn offsets(&self) -> &[u32] {
        &self.offsets
    }

    /// The rows of each group, in key order.
    pub fn groups(&self) -> impl Iterator<Item = impl Iterator<Item = usize> + Clone + '_> + '_ {
        (0..self.len()).map(|group| self.group(group))
    }

    /// The rows of group `group`, in key order; none past the last.
    pub fn group(&self, group: usize) -> impl Iterator<Item = usize> + Clone + '_ {
        let ends = self.offsets.get(group).copied().zip(self.offsets.get(group + 1).copied());
        let (from, to) = ends.unwrap_or_default();
        (from..to).map(|i| self.order.as_ref().map_or(i, |order| order[i as usize]) as usize)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn groups(index: &GroupIndex) -> Vec<Vec<usize>> {
        index.groups().map(Iterator::collect).collect()
    }

    #[test]
    fn rows_in_order_are_not_permuted() {
        let index = GroupIndex::new(&[0, 0, 0, 1], &[1, 1, 2, 1], &[1, 2, 1, 1]);
        assert_eq!(index.order(), None);
        assert_eq!(groups(&index), [vec![0, 1], vec![2], vec![3]]);
    }

    #[test]
    fn other_rows_are_put_in_key_order_and_ties_keep_theirs() {
        let index = GroupIndex::new(&[1, 0, 0, 0], &[1, 2, 1, 1], &[1, 1, 7, 7]);
        assert_eq!(groups(&index), [vec![2, 3], vec![1], vec![0]]);
        assert_eq!(index.offsets(), [0, 2, 3, 4]);
    }

    #[test]
    fn no_rows_make_no_groups() {
        assert!(GroupIndex::new(&[], &[], &[]).is_empty());
    }
}
