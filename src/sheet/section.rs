use serde::Serialize;

use crate::sheet::{Cell, Column, Table};

/// Something to hand on: a title, and sections of lines and tables.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
#[non_exhaustive]
pub struct Sheet {
    /// What it is.
    pub title: String,
    /// Its parts, in order.
    pub sections: Vec<Section>,
}

/// A part of a sheet.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
#[non_exhaustive]
pub struct Section {
    /// What it is about; none where it stands right below the title.
    pub heading: Option<String>,
    /// Its content, in order.
    pub blocks: Vec<Block>,
}

/// A piece of a section.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum Block {
    /// A line of text, or a paragraph.
    Line(String),
    /// A text behind a word that says what it is.
    #[non_exhaustive]
    Entry {
        /// The word.
        word: String,
        /// The text.
        text: String,
    },
    /// One of several points.
    Item(String),
    /// Something to do, with a box to be ticked.
    Check(String),
    /// Words each with a space to be filled in by hand: names, dates, numbers.
    Blanks(Vec<String>),
    /// A table.
    Table(Table),
}

impl Sheet {
    /// A sheet without content.
    #[must_use]
    pub fn new(title: impl Into<String>) -> Self {
        Self { title: title.into(), sections: Vec::new() }
    }

    /// Adds a section; one without content is left out.
    #[must_use]
    pub fn section(mut self, section: Section) -> Self {
        if !section.blocks.is_empty() {
            self.sections.push(section);
        }
        self
    }

    /// Its tables, each with the heading of its section.
    pub fn tables(&self) -> impl Iterator<Item = (Option<&str>, &Table)> {
        self.sections.iter().flat_map(|section| {
            let tables = section.blocks.iter().filter_map(|block| match block {
                Block::Table(table) => Some(table),
                _ => None,
            });
            tables.map(|table| (section.heading.as_deref(), table))
        })
    }

    /// Everything that it says beside its tables, itself as a table, a row a piece in its order: under which heading it stands, of which sort it
    /// is (`title`, `line`, `entry`, `item`, `check`, `blank`, `table`), the word of an entry, and the text. Where a table stands, the text is its
    /// number among [`Sheet::tables`], from 1. With these tables nothing of a sheet is lost in [CSV](Table::to_csv).
    ///
    /// ```
    /// use slotwright::sheet::{Cell, Column, Formulas, Section, Sheet, Table};
    ///
    /// let mut table = Table::new([Column::text("slot")]);
    /// table.row([Cell::text("A1")]);
    /// let sheet = Sheet::new("Order").section(Section::new("WORK").entry("Machine", "BW-2217").table(table).checks(["Done"]));
    /// let rows: Vec<String> = sheet.beside_tables().to_csv(Formulas::AsTheyAre).lines().map(str::to_owned).collect();
    /// assert_eq!(
    ///     rows,
    ///     [
    ///         "\"section\",\"sort\",\"word\",\"text\"",
    ///         ",\"title\",,\"Order\"",
    ///         "\"WORK\",\"entry\",\"Machine\",\"BW-2217\"",
    ///         "\"WORK\",\"table\",,\"1\"",
    ///         "\"WORK\",\"check\",,\"Done\"",
    ///     ]
    /// );
    /// ```
    #[must_use]
    pub fn beside_tables(&self) -> Table {
        let mut rows = Table::new(["section", "sort", "word", "text"].map(Column::text));
        rows.row([Cell::Empty, Cell::text("title"), Cell::Empty, Cell::text(&self.title)]);
        let mut tables = 0_usize;
        for section in &self.sections {
            let mut row = |sort: &str, word: Cell, text: Cell| {
                rows.row([Cell::maybe(section.heading.as_ref()), Cell::text(sort), word, text]);
            };
            for block in &section.blocks {
                match block {
                    Block::Line(text) => row("line", Cell::Empty, Cell::text(text)),
                    Block::Entry { word, text } => row("entry", Cell::text(word), Cell::text(text)),
                    Block::Item(text) => row("item", Cell::Empty, Cell::text(text)),
                    Block::Check(text) => row("check", Cell::Empty, Cell::text(text)),
                    Block::Blanks(words) => words.iter().for_each(|word| row("blank", Cell::text(word), Cell::Empty)),
                    Block::Table(_) => {
                        tables += 1;
                        row("table", Cell::Empty, Cell::text(tables));
                    }
                }
            }
        }
        rows
    }
}

impl Section {
    /// A section under a heading.
    #[must_use]
    pub fn new(heading: impl Into<String>) -> Self {
        Self { heading: Some(heading.into()), blocks: Vec::new() }
    }

    /// A section without a heading.
    #[must_use]
    pub fn plain() -> Self {
        Self::default()
    }

    /// Adds a piece.
    pub fn push(&mut self, block: Block) {
        self.blocks.push(block);
    }

    /// Adds a line or paragraph.
    #[must_use]
    pub fn line(mut self, text: impl Into<String>) -> Self {
        self.push(Block::Line(text.into()));
        self
    }

    /// Adds the lines of a text, each by itself.
    #[must_use]
    pub fn lines(mut self, text: &str) -> Self {
        self.blocks.extend(text.lines().map(|line| Block::Line(line.to_owned())));
        self
    }

    /// Adds a text behind a word that says what it is.
    #[must_use]
    pub fn entry(mut self, word: impl Into<String>, text: impl Into<String>) -> Self {
        self.push(Block::Entry { word: word.into(), text: text.into() });
        self
    }

    /// Adds points.
    #[must_use]
    pub fn items(mut self, texts: impl IntoIterator<Item = impl ToString>) -> Self {
        self.blocks.extend(texts.into_iter().map(|text| Block::Item(text.to_string())));
        self
    }

    /// Adds things to do.
    #[must_use]
    pub fn checks(mut self, texts: impl IntoIterator<Item = impl ToString>) -> Self {
        self.blocks.extend(texts.into_iter().map(|text| Block::Check(text.to_string())));
        self
    }

    /// Adds words with a space behind each, on one line.
    #[must_use]
    pub fn blanks(mut self, words: impl IntoIterator<Item = impl ToString>) -> Self {
        self.push(Block::Blanks(words.into_iter().map(|word| word.to_string()).collect()));
        self
    }

    /// Adds a table; one without rows is left out.
    #[must_use]
    pub fn table(mut self, table: Table) -> Self {
        if !table.rows.is_empty() {
            self.push(Block::Table(table));
        }
        self
    }
}
