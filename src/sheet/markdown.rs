//! Markdown, with tables.

use crate::sheet::{Block, Sheet, Table, visible};

impl Sheet {
    /// Markdown: CommonMark with tables. What would be read as markup is escaped by a backslash, in texts and cells alike.
    #[must_use]
    pub fn to_markdown(&self) -> String {
        let mut parts = vec![format!("# {}\n", escaped(&self.title))];
        for section in &self.sections {
            parts.extend(section.heading.as_ref().map(|heading| format!("## {}\n", escaped(heading))));
            let mut list = String::new();
            for block in &section.blocks {
                let item = match block {
                    Block::Item(text) => Some(format!("- {}\n", escaped(text))),
                    Block::Check(text) => Some(format!("- [ ] {}\n", escaped(text))),
                    _ => None,
                };
                match item {
                    Some(item) => list.push_str(&item),
                    None => {
                        parts.extend((!list.is_empty()).then(|| core::mem::take(&mut list)));
                        parts.push(self::block(block));
                    }
                }
            }
            parts.extend((!list.is_empty()).then_some(list));
        }
        parts.join("\n")
    }
}

fn block(block: &Block) -> String {
    match block {
        Block::Line(text) | Block::Item(text) | Block::Check(text) => format!("{}\n", escaped(text)),
        Block::Entry { word, text } => format!("**{}:** {}\n", escaped(word), escaped(text)),
        Block::Blanks(words) => {
            let blanks: Vec<String> =
                words.iter().map(|word| format!("{}: \\_\\_\\_\\_\\_\\_\\_\\_", escaped(word))).collect();
            format!("{}\n", blanks.join(" "))
        }
        Block::Table(table) => self::table(table),
    }
}

fn table(table: &Table) -> String {
    let row = |cells: &mut dyn Iterator<Item = String>| format!("| {} |\n", cells.collect::<Vec<_>>().join(" | "));
    let mut text = row(&mut table.columns.iter().map(|column| escaped(&column.heading)));
    let marks = table.columns.iter().map(|column| if column.sort.is_number() { "--:" } else { "---" });
    text.push_str(&format!("|{}|\n", marks.collect::<Vec<_>>().join("|")));
    for cells in &table.rows {
        text.push_str(&row(&mut cells.iter().map(|cell| escaped(&cell.to_string()))));
    }
    text
}

/// A text that no reader takes for markup.
fn escaped(text: &str) -> String {
    let text = visible(text);
    let text = text.trim();
    let mut escaped = String::with_capacity(text.len() + 8);
    let starts_list = {
        let digits = text.len() - text.trim_start_matches(|letter: char| letter.is_ascii_digit()).len();
        (digits > 0)
            .then_some(digits)
            .filter(|&digits| text.get(digits..).is_some_and(|rest| rest.starts_with(['.', ')'])))
    };
    for (at, letter) in text.char_indices() {
        let is_markup =
            matches!(letter, '\\' | '`' | '*' | '_' | '[' | ']' | '<' | '>' | '#' | '|' | '~' | '&' | '!' | '$' | '^')
                || at == 0 && matches!(letter, '-' | '+' | '=' | ':')
                || starts_list == Some(at);
        if is_markup {
            escaped.push('\\');
        }
        escaped.push(letter);
    }
    escaped
}
