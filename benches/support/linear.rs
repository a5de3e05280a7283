//! A linear program in whole numbers: solved by the solver at hand, or written down for others.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::time::{Duration, Instant};

use microlp::{ComparisonOp, OptimizationDirection, Problem, SolveOptions, SolveOutcome};

use super::Answer;

/// The index of a column.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Variable(usize);

/// A term of a row: a variable and how often it counts.
pub(crate) type Term = (Variable, i64);

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Compare {
    AtLeast,
    AtMost,
    Equal,
}

#[derive(Debug)]
struct Column {
    /// What one costs.
    cost: i64,
    least: i64,
    most: i64,
    /// Whether it must be whole; once all those are, the others are at an optimum.
    is_integer: bool,
}

#[derive(Debug)]
struct Row {
    terms: BTreeMap<usize, i64>,
    compare: Compare,
    right: i64,
}

/// What is minimized, and what holds.
#[derive(Debug, Default)]
pub(crate) struct Linear {
    columns: Vec<Column>,
    rows: Vec<Row>,
    /// What is spent whatever is chosen.
    pub(crate) fixed_cost: i64,
}

impl Linear {
    pub(crate) fn integer(&mut self, cost: i64, least: i64, most: i64) -> Variable {
        self.column(Column { cost, least, most, is_integer: true })
    }

    pub(crate) fn binary(&mut self, cost: i64) -> Variable {
        self.integer(cost, 0, 1)
    }

    pub(crate) fn real(&mut self, cost: i64, most: i64) -> Variable {
        self.column(Column { cost, least: 0, most, is_integer: false })
    }

    fn column(&mut self, column: Column) -> Variable {
        self.columns.push(column);
        Variable(self.columns.len() - 1)
    }

    pub(crate) fn row(&mut self, terms: impl IntoIterator<Item = Term>, compare: Compare, right: i64) {
        // solvers want each variable of a row once
        let mut once = BTreeMap::new();
        for (Variable(column), times) in terms {
            *once.entry(column).or_insert(0) += times;
        }
        // and a row of nothing is no row: one that cannot hold is said of a variable that is nought
        if once.is_empty() {
            let Variable(nought) = self.integer(0, 0, 0);
            once.insert(nought, 1);
        }
        self.rows.push(Row { terms: once, compare, right });
    }

    /// What all costs together is at most this.
    pub(crate) fn cost_at_most(&mut self, most: i64) {
        let costs = self.columns.iter().enumerate().filter(|(_, column)| column.cost != 0);
        let costs: Vec<Term> = costs.map(|(index, column)| (Variable(index), column.cost)).collect();
        self.row(costs, Compare::AtMost, most - self.fixed_cost);
    }

    /// Solves the program; says how long that took.
    pub(crate) fn solve(&self, limit: Duration) -> (Answer, Duration) {
        let (problem, variables) = self.problem();
        let mut options = SolveOptions::default();
        options.time_limit = Some(limit);
        let start = Instant::now();
        let outcome = problem.solve_with(options);
        let took = start.elapsed();
        let stopped = |bound: Option<f64>| Answer::Stopped { cost_at_least: bound };
        let answer = match outcome {
            Ok(SolveOutcome::Solution(solution)) if solution.status() == microlp::SolutionStatus::Optimal => {
                // in whole numbers, so that nothing is lost
                let whole = |variable: &microlp::Variable| {
                    let value = solution.var_value(*variable);
                    assert!((value - value.round()).abs() < 1e-6, "{value} of something whole");
                    value.round() as i64
                };
                let costs = variables.iter().zip(&self.columns).filter(|(_, column)| column.cost != 0);
                Answer::Cost(self.fixed_cost + costs.map(|(var, column)| whole(var) * column.cost).sum::<i64>())
            }
            Ok(outcome) => stopped(outcome.stats().best_bound.map(|bound| bound + self.fixed_cost as f64)),
            Err(microlp::Error::Infeasible) => Answer::Infeasible,
            Err(error) => Answer::Failed(error.to_string()),
        };
        (answer, took)
    }

    fn problem(&self) -> (Problem, Vec<microlp::Variable>) {
        let mut problem = Problem::new(OptimizationDirection::Minimize);
        let mut add = |column: &Column| {
            if column.is_integer {
                let bounds = (i32::try_from(column.least).unwrap(), i32::try_from(column.most).unwrap());
                problem.add_integer_var(column.cost as f64, bounds)
            } else {
                problem.add_var(column.cost as f64, (column.least as f64, column.most as f64))
            }
        };
        let variables: Vec<microlp::Variable> = self.columns.iter().map(&mut add).collect();
        for row in &self.rows {
            let comparison = match row.compare {
                Compare::AtLeast => ComparisonOp::Ge,
                Compare::AtMost => ComparisonOp::Le,
                Compare::Equal => ComparisonOp::Eq,
            };
            let terms: Vec<_> = row.terms.iter().map(|(&column, &times)| (variables[column], times as f64)).collect();
            problem.add_constraint(terms, comparison, row.right as f64);
        }
        (problem, variables)
    }

    /// The program as text in free MPS, which other solvers read.
    pub(crate) fn mps(&self, name: &str) -> String {
        let mut text = format!("NAME {name}\nROWS\n N cost\n");
        for (index, row) in self.rows.iter().enumerate() {
            let letter = match row.compare {
                Compare::AtLeast => 'G',
                Compare::AtMost => 'L',
                Compare::Equal => 'E',
            };
            writeln!(text, " {letter} r{index}").unwrap();
        }
        let mut entries: Vec<Vec<(usize, i64)>> = vec![Vec::new(); self.columns.len()];
        for (index, row) in self.rows.iter().enumerate() {
            row.terms.iter().for_each(|(&column, &times)| entries[column].push((index, times)));
        }
        text.push_str("COLUMNS\n");
        for is_integer in [true, false] {
            let marker = |end: &str| format!(" MARKER 'MARKER' 'INT{end}'\n");
            text.push_str(&if is_integer { marker("ORG") } else { marker("END") });
            let of_sort = self.columns.iter().zip(&entries).enumerate();
            for (index, (column, entries)) in of_sort.filter(|(_, (column, _))| column.is_integer == is_integer) {
                writeln!(text, " x{index} cost {}", column.cost).unwrap();
                entries.iter().for_each(|(row, times)| writeln!(text, " x{index} r{row} {times}").unwrap());
            }
        }
        // of the row that is minimized, the right side is taken away
        write!(text, "RHS\n RHS cost {}\n", -self.fixed_cost).unwrap();
        for (index, row) in self.rows.iter().enumerate().filter(|(_, row)| row.right != 0) {
            writeln!(text, " RHS r{index} {}", row.right).unwrap();
        }
        text.push_str("BOUNDS\n");
        for (index, column) in self.columns.iter().enumerate() {
            write!(text, " LO BND x{index} {}\n UP BND x{index} {}\n", column.least, column.most).unwrap();
        }
        text.push_str("ENDATA\n");
        text
    }
}
