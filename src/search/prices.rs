//! What limits are worth to columns that share them: the dual of a linear program, in whole numbers.

use std::cmp::Ordering;

/// What one use of a column gains, and what it takes of some limits.
#[derive(Debug, Clone)]
pub(crate) struct Column {
    pub(crate) gain: i128,
    pub(crate) takes: Vec<(usize, i128)>,
}

/// What a unit of each limit is worth, over a common denominator.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Prices {
    pub(crate) of_limits: Vec<i128>,
    pub(crate) denominator: i128,
}

impl Prices {
    /// How often the tableau is changed at most.
    const MOST_PIVOTS: usize = 500;

    /// The prices at which no column gains more than what it takes is worth, and all limits together are worth as little as can
    /// be: as much as columns can gain within the limits, in parts. `None` where that takes long, or numbers grow too large.
    pub(crate) fn of(columns: &[Column], limits: &[i128]) -> Option<Self> {
        let mut tableau = Tableau::new(columns, limits)?;
        for _ in 0..Self::MOST_PIVOTS {
            let Some(entering) = tableau.entering() else {
                let of_limits = tableau.last_row()?.get(columns.len()..columns.len() + limits.len())?.to_vec();
                return Some(Self { of_limits, denominator: tableau.denominator });
            };
            let leaving = tableau.leaving(entering)?;
            tableau.pivot(leaving, entering)?;
        }
        None
    }
}

/// The simplex method without fractions: every entry is a whole number over one denominator, the last pivot.
///
/// A row for each limit, then one of what is not gained yet; a column for each column, for each limit's slack, and for what is
/// left. Source: Edmonds 1967; Bareiss 1968.
struct Tableau {
    rows: Vec<Vec<i128>>,
    denominator: i128,
}

impl Tableau {
    fn new(columns: &[Column], limits: &[i128]) -> Option<Self> {
        let width = columns.len() + limits.len() + 1;
        let mut rows = vec![vec![0; width]; limits.len() + 1];
        for (at, Column { gain, takes }) in columns.iter().enumerate() {
            for &(limit, takes) in takes {
                *rows.get_mut(limit).filter(|_| limit < limits.len())?.get_mut(at)? += takes;
            }
            *rows.last_mut()?.get_mut(at)? = -gain;
        }
        for (at, &limit) in limits.iter().enumerate() {
            let row = rows.get_mut(at)?;
            *row.get_mut(columns.len() + at)? = 1;
            *row.last_mut()? = limit;
        }
        Some(Self { rows, denominator: 1 })
    }

    fn last_row(&self) -> Option<&Vec<i128>> {
        self.rows.last()
    }

    /// The column of which one more use gains most.
    fn entering(&self) -> Option<usize> {
        let (_, gains) = self.last_row()?.split_last()?;
        let (at, gain) = gains.iter().enumerate().min_by_key(|&(_, gain)| gain)?;
        (*gain < 0).then_some(at)
    }

    /// The row that limits a column first.
    fn leaving(&self, column: usize) -> Option<usize> {
        let (_, rows) = self.rows.split_last()?;
        let mut first: Option<(usize, i128, i128)> = None;
        for (at, row) in rows.iter().enumerate() {
            let (takes, left) = (*row.get(column)?, *row.last()?);
            if takes <= 0 {
                continue;
            }
            let is_first = match first {
                None => true,
                Some((_, other_takes, other_left)) => {
                    left.checked_mul(other_takes)?.cmp(&other_left.checked_mul(takes)?) == Ordering::Less
                }
            };
            if is_first {
                first = Some((at, takes, left));
            }
        }
        first.map(|(at, ..)| at)
    }

    /// Lets a column take the place of what a row stands for.
    fn pivot(&mut self, at: usize, column: usize) -> Option<()> {
        let pivots = self.rows.get(at)?.clone();
        let pivot = *pivots.get(column)?;
        for (_, row) in self.rows.iter_mut().enumerate().filter(|&(other, _)| other != at) {
            let factor = *row.get(column)?;
            for (entry, own) in row.iter_mut().zip(&pivots) {
                let scaled = entry.checked_mul(pivot)?.checked_sub(factor.checked_mul(*own)?)?;
                *entry = scaled.checked_div(self.denominator)?;
            }
        }
        self.denominator = pivot;
        Some(())
    }
}

#[cfg(test)]
mod tests {
    // the other solver reckons with floats
    #![allow(clippy::float_arithmetic)]

    use microlp::{ComparisonOp, OptimizationDirection, Problem, SolveOutcome};
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn what_limits_share_is_worth_what_it_gains() {
        // 2 of the first limit or 1 of each
        let columns = [Column { gain: 2, takes: vec![(0, 2)] }, Column { gain: 3, takes: vec![(0, 1), (1, 1)] }];
        let prices = Prices::of(&columns, &[4, 2]).unwrap();
        // both uses of the second, and one of the first
        assert_eq!((prices.of_limits, prices.denominator), (vec![2, 4], 2));
        assert_eq!(Prices::of(&[], &[3]), Some(Prices { of_limits: vec![0], denominator: 1 }));
        // without a limit there is no end to what is gained
        assert_eq!(Prices::of(&[Column { gain: 1, takes: vec![] }], &[3]), None);
        assert_eq!(Prices::of(&[Column { gain: 1, takes: vec![(1, 1)] }], &[3]), None);
    }

    proptest! {
        /// No column gains more than what it takes is worth, and the limits are worth what another solver says can be gained.
        #[test]
        fn law_prices_are_those_of_another_solver(
            columns in prop::collection::vec((0i128..5, prop::collection::vec((0usize..5, 1i128..4), 1..4)), 0..20),
            limits in prop::collection::vec(0i128..30, 5),
        ) {
            let columns: Vec<Column> = columns.into_iter().map(|(gain, takes)| Column { gain, takes }).collect();
            let prices = Prices::of(&columns, &limits).unwrap();
            prop_assert!(prices.denominator > 0 && prices.of_limits.iter().all(|&price| price >= 0));
            for column in &columns {
                let worth: i128 = column.takes.iter().map(|&(limit, takes)| prices.of_limits[limit] * takes).sum();
                prop_assert!(worth >= column.gain * prices.denominator);
            }
            let mut problem = Problem::new(OptimizationDirection::Maximize);
            let uses: Vec<_> =
                columns.iter().map(|column| problem.add_var(column.gain as f64, (0.0, f64::INFINITY))).collect();
            for (at, &limit) in limits.iter().enumerate() {
                let takes = |column: &Column| -> i128 {
                    column.takes.iter().filter(|&&(other, _)| other == at).map(|&(_, takes)| takes).sum()
                };
                let row: Vec<_> = uses.iter().zip(&columns).map(|(&uses, column)| (uses, takes(column) as f64)).collect();
                problem.add_constraint(row.as_slice(), ComparisonOp::Le, limit as f64);
            }
            let SolveOutcome::Solution(solution) = problem.solve().unwrap() else { panic!("no solution") };
            let most = solution.objective();
            let worth: i128 = limits.iter().zip(&prices.of_limits).map(|(limit, price)| limit * price).sum();
            prop_assert!((worth as f64 / prices.denominator as f64 - most).abs() < 1e-6);
        }
    }
}
