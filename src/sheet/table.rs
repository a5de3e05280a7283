use serde::Serialize;

use crate::sheet::Cell;

/// Rows of cells under typed columns.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
#[non_exhaustive]
pub struct Table {
    /// The columns, from the left.
    pub columns: Vec<Column>,
    /// The rows, each of as many cells as there are columns.
    pub rows: Vec<Vec<Cell>>,
}

/// A column of a table.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[non_exhaustive]
pub struct Column {
    /// What it holds.
    pub heading: String,
    /// Of which sort its cells are.
    pub sort: ColumnSort,
}

/// Of which sort the cells of a column are.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum ColumnSort {
    /// Texts.
    Text,
    /// Whole numbers.
    Count,
    /// Amounts of memory.
    Size,
    /// Data rates.
    Rate,
    /// Amounts of money.
    Money,
    /// Boxes to be ticked.
    Box,
}

impl Column {
    /// A column.
    #[must_use]
    pub fn new(heading: impl Into<String>, sort: ColumnSort) -> Self {
        Self { heading: heading.into(), sort }
    }

    /// A column of texts.
    #[must_use]
    pub fn text(heading: impl Into<String>) -> Self {
        Self::new(heading, ColumnSort::Text)
    }

    /// A column of whole numbers.
    #[must_use]
    pub fn count(heading: impl Into<String>) -> Self {
        Self::new(heading, ColumnSort::Count)
    }

    /// A column of money.
    #[must_use]
    pub fn money(heading: impl Into<String>) -> Self {
        Self::new(heading, ColumnSort::Money)
    }
}

impl ColumnSort {
    /// Whether its cells stand to the right.
    #[must_use]
    pub const fn is_number(self) -> bool {
        matches!(self, Self::Count | Self::Size | Self::Rate | Self::Money)
    }
}

impl Table {
    /// A table without rows.
    #[must_use]
    pub fn new(columns: impl IntoIterator<Item = Column>) -> Self {
        Self { columns: columns.into_iter().collect(), rows: Vec::new() }
    }

    /// Adds a row; what is missing is empty, and what is more than there are columns is left out.
    pub fn row(&mut self, cells: impl IntoIterator<Item = Cell>) {
        let mut row: Vec<Cell> = cells.into_iter().take(self.columns.len()).collect();
        row.resize(self.columns.len(), Cell::Empty);
        self.rows.push(row);
    }

    /// The same without columns that are empty in every row.
    #[must_use]
    pub fn without_empty_columns(mut self) -> Self {
        let is_filled: Vec<bool> = (0..self.columns.len())
            .map(|at| self.rows.iter().any(|row| row.get(at).is_some_and(|cell| *cell != Cell::Empty)))
            .collect();
        let keep = |at: usize| is_filled.get(at) == Some(&true);
        let mut at = 0;
        self.columns.retain(|_| {
            at += 1;
            keep(at - 1)
        });
        for row in &mut self.rows {
            let mut at = 0;
            row.retain(|_| {
                at += 1;
                keep(at - 1)
            });
        }
        self
    }
}
