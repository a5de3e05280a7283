//! Text of a fixed width.

use crate::sheet::{Block, Cell, Section, Sheet, Table, visible};

/// The narrowest page that is written.
const NARROWEST: usize = 24;

/// How far a column is from the next.
const GAP: usize = 2;

impl Sheet {
    /// Plain text with no line longer than `width` characters (24 at least); a word that is longer is cut up.
    #[must_use]
    pub fn to_text(&self, width: usize) -> String {
        let mut page = Page { width: width.max(NARROWEST), text: String::new() };
        page.rule();
        page.hanging(&visible(&self.title), 4);
        page.rule();
        for section in &self.sections {
            page.section(section);
        }
        page.text
    }
}

struct Page {
    width: usize,
    text: String,
}

fn width_of(text: &str) -> usize {
    text.chars().count()
}

impl Page {
    fn rule(&mut self) {
        self.push(&"=".repeat(self.width));
    }

    fn push(&mut self, line: &str) {
        self.text.push_str(line.trim_end());
        self.text.push('\n');
    }

    fn section(&mut self, section: &Section) {
        if let Some(heading) = &section.heading {
            let heading = visible(heading);
            self.push("");
            let rule = "-".repeat(self.width.saturating_sub(width_of(&heading) + 1));
            self.hanging(&format!("{heading} {rule}"), 4);
        }
        let words = section.blocks.iter().filter_map(|block| match block {
            Block::Entry { word, .. } => Some(width_of(&visible(word))),
            _ => None,
        });
        let word_width = words.max().unwrap_or(0).max(10).min(self.width / 3);
        for block in &section.blocks {
            self.block(block, word_width);
        }
    }

    fn block(&mut self, block: &Block, word_width: usize) {
        match block {
            Block::Line(text) => {
                let text = visible(text);
                let indent = text.chars().take_while(|letter| *letter == ' ').count();
                self.hanging(text.trim_end(), indent);
            }
            Block::Entry { word, text } => {
                self.hanging(&format!("{:word_width$}  {}", visible(word), visible(text)), word_width + 2);
            }
            Block::Item(text) => self.hanging(&format!("- {}", visible(text)), 2),
            Block::Check(text) => self.hanging(&format!("[ ] {}", visible(text)), 4),
            Block::Blanks(words) => self.blanks(words),
            Block::Table(table) => self.table(table),
        }
    }

    fn blanks(&mut self, words: &[String]) {
        let each = (self.width + GAP) / words.len().max(1);
        let mut line = String::new();
        for word in words {
            let word = visible(word);
            let blank = each.saturating_sub(width_of(&word) + 1 + GAP).max(3);
            let piece = format!("{word} {}", "_".repeat(blank));
            if !line.is_empty() && width_of(&line) + GAP + width_of(&piece) > self.width {
                self.push("");
                self.hanging(&core::mem::take(&mut line), 0);
            }
            if !line.is_empty() {
                line.push_str("  ");
            }
            line.push_str(&piece);
        }
        self.push("");
        self.hanging(&line, 0);
    }

    fn hanging(&mut self, text: &str, indent: usize) {
        for line in wrapped(text, self.width, indent.min(self.width / 2)) {
            self.push(&line);
        }
    }

    fn table(&mut self, table: &Table) {
        let heading: Vec<String> = table.columns.iter().map(|column| visible(&column.heading).into_owned()).collect();
        let rows: Vec<Vec<String>> = table
            .rows
            .iter()
            .map(|row| row.iter().map(|cell| visible(&cell.to_string()).into_owned()).collect())
            .collect();
        let widths = self.widths(&heading, &rows);
        if widths.iter().sum::<usize>() + GAP * widths.len().saturating_sub(1) > self.width {
            // too many columns for the page: cell by cell
            for (row, cells) in rows.iter().zip(&table.rows) {
                for ((word, text), cell) in heading.iter().zip(row).zip(cells) {
                    if *cell != Cell::Empty {
                        self.hanging(&format!("{word}: {text}"), 4);
                    }
                }
                self.push("");
            }
            return;
        }
        let is_number: Vec<bool> = table.columns.iter().map(|column| column.sort.is_number()).collect();
        self.row(&heading, &widths, &is_number);
        for row in &rows {
            self.row(row, &widths, &is_number);
        }
    }

    /// How wide each column is: as its widest cell, and where that is too much the widest of texts are made narrower.
    fn widths(&self, heading: &[String], rows: &[Vec<String>]) -> Vec<usize> {
        let mut widths: Vec<usize> = heading.iter().map(|text| width_of(text)).collect();
        for row in rows {
            for (width, cell) in widths.iter_mut().zip(row) {
                *width = (*width).max(width_of(cell));
            }
        }
        let longest_word = |at: usize| {
            let cells = rows.iter().filter_map(|row| row.get(at)).chain(heading.get(at));
            cells.flat_map(|cell| cell.split(' ')).map(width_of).max().unwrap_or(0)
        };
        let gaps = GAP * widths.len().saturating_sub(1);
        // no narrower than a word, unless the words alone do not fit
        for may_cut in [false, true] {
            let least: Vec<usize> =
                (0..widths.len()).map(|at| if may_cut { 6.min(longest_word(at)) } else { longest_word(at) }).collect();
            while widths.iter().sum::<usize>() + gaps > self.width {
                let room = widths.iter_mut().zip(&least).filter(|(width, least)| **width > **least);
                match room.max_by_key(|(width, _)| **width) {
                    Some((widest, _)) => *widest -= 1,
                    None => break,
                }
            }
        }
        widths
    }

    fn row(&mut self, cells: &[String], widths: &[usize], is_number: &[bool]) {
        let parts: Vec<Vec<String>> =
            cells.iter().zip(widths).map(|(cell, width)| wrapped(cell, (*width).max(1), 0)).collect();
        let lines = parts.iter().map(Vec::len).max().unwrap_or(0);
        for at in 0..lines {
            let mut line = String::new();
            for (column, ((part, width), is_number)) in parts.iter().zip(widths).zip(is_number).enumerate() {
                if column > 0 {
                    line.push_str("  ");
                }
                let text = part.get(at).map_or("", String::as_str);
                let blank = " ".repeat(width.saturating_sub(width_of(text)));
                if *is_number {
                    line.push_str(&blank);
                    line.push_str(text);
                } else {
                    line.push_str(text);
                    line.push_str(&blank);
                }
            }
            self.push(&line);
        }
    }
}

/// A text broken at spaces so that it keeps to a width; a word that is longer is cut up.
fn wrapped(text: &str, width: usize, indent: usize) -> Vec<String> {
    let mut lines = Vec::new();
    let mut rest: Vec<char> = text.chars().collect();
    let mut used = 0;
    while rest.len() > width {
        let space = (used + 1..=width).rev().find(|&at| rest.get(at) == Some(&' '));
        let tail = rest.split_off(space.unwrap_or(width.max(used + 1)));
        lines.push(rest.iter().collect::<String>().trim_end().to_owned());
        let skipped = tail.iter().take_while(|letter| **letter == ' ').count();
        rest = core::iter::repeat_n(' ', indent).chain(tail.into_iter().skip(skipped)).collect();
        used = indent;
    }
    lines.push(rest.into_iter().collect());
    lines
}
