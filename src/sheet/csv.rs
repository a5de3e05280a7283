use crate::sheet::{Cell, ColumnSort, Table, visible};

/// What is done with texts that a spreadsheet would take for formulas: those that begin with `=`, `+`, `-` or `@`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum Formulas {
    /// They are written as they are: for programs.
    AsTheyAre,
    /// An apostrophe is put before them: for spreadsheets. So it is before texts that begin with one.
    Defused,
}

impl Table {
    /// Comma-separated values (RFC 4180): a row of headings, then the rows, each ended by CR LF. Texts stand in quotation marks,
    /// numbers that name something among them; counts and the numbers of steps stand bare. Sizes are in MiB, rates in MT/s by name and money in its
    /// smallest unit with the currency in a column of its own behind, so that programs need not take them apart.
    ///
    /// ```
    /// use slotwright::sheet::{Cell, Column, Formulas, Table};
    /// use slotwright::unit::Cost;
    ///
    /// let mut table = Table::new([Column::text("part"), Column::count("quantity"), Column::money("price")]);
    /// table.row([Cell::text("=1+1"), Cell::Count(4), Cell::Money(Cost::new(2_750, "EUR".parse()?))]);
    /// let csv = table.to_csv(Formulas::Defused);
    /// assert_eq!(csv, "\"part\",\"quantity\",\"price_minor\",\"price_currency\"\r\n\"'=1+1\",4,2750,\"EUR\"\r\n");
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn to_csv(&self, formulas: Formulas) -> String {
        let mut csv = String::new();
        let headings = self.columns.iter().flat_map(|column| {
            let heading = &column.heading;
            match column.sort {
                ColumnSort::Size => vec![format!("{heading}_mib")],
                ColumnSort::Rate => vec![format!("{heading}_mts")],
                ColumnSort::Money => vec![format!("{heading}_minor"), format!("{heading}_currency")],
                _ => vec![heading.clone()],
            }
        });
        line(&mut csv, headings.map(|heading| quoted(&heading, formulas)));
        for row in &self.rows {
            let cells = row.iter().zip(&self.columns).flat_map(|(cell, column)| {
                let mut fields = vec![match (cell, column.sort) {
                    (Cell::Empty | Cell::Box, _) => String::new(),
                    (Cell::Count(count) | Cell::Step(count), _) => count.to_string(),
                    (Cell::Size(size), ColumnSort::Size) => size.mib().to_string(),
                    (Cell::Rate(rate), ColumnSort::Rate) => rate.name_mts().to_string(),
                    (Cell::Money(money), ColumnSort::Money) => money.amount_minor().to_string(),
                    (other, _) => quoted(&other.to_string(), formulas),
                }];
                if column.sort == ColumnSort::Money {
                    fields.push(match cell {
                        Cell::Money(money) => quoted(&money.currency().to_string(), formulas),
                        _ => String::new(),
                    });
                }
                fields
            });
            line(&mut csv, cells);
        }
        csv
    }
}

fn line(csv: &mut String, cells: impl Iterator<Item = String>) {
    let text = cells.collect::<Vec<_>>().join(",");
    // readers pass over lines without anything
    csv.push_str(if text.is_empty() { "\"\"" } else { &text });
    csv.push_str("\r\n");
}

fn quoted(text: &str, formulas: Formulas) -> String {
    let text = visible(text);
    let is_formula = text.starts_with(['=', '+', '-', '@', '\'']);
    let apostrophe = if is_formula && formulas == Formulas::Defused { "'" } else { "" };
    format!("\"{apostrophe}{}\"", text.replace('"', "\"\""))
}
