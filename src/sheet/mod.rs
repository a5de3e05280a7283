//! What is handed on: plans, orders of work and records as sheets of paper and of programs.
//!
//! A [`Sheet`] is sections of lines and tables whose columns have types; writers turn it into text of a stated width, Markdown, HTML
//! or, table by table, CSV ([`Sheet::beside_tables`] is the table of everything else). Sheets are values: a caller adds sections, leaves some out, or writes a writer of their own.
//!
//! ```
//! use slotwright::sheet::{Cell, Column, Section, Sheet, Table};
//!
//! let mut table = Table::new([Column::text("slot"), Column::count("modules")]);
//! table.row([Cell::text("A1"), Cell::Count(1)]);
//! let sheet = Sheet::new("What is where").section(Section::new("SLOTS").line("As found.").table(table));
//! assert_eq!(sheet.to_markdown(), "# What is where\n\n## SLOTS\n\nAs found.\n\n| slot | modules |\n|---|--:|\n| A1 | 1 |\n");
//! assert!(sheet.to_text(40).ends_with("As found.\nslot  modules\nA1          1\n"));
//! assert!(sheet.to_html().contains("<tr><td>A1</td><td class=\"number\">1</td></tr>"));
//! ```
//!
//! # What writers escape
//!
//! Texts come from labels, lists and reports of others. A control character, and a character that turns the direction of writing, is
//! written by its number, `\u{202e}`, in every form, so that nothing is lost and nothing looks like what it is not. Each form escapes
//! what it has to beyond that ([`Sheet::to_markdown`], [`Sheet::to_html`], [`Table::to_csv`]).

mod accept;
mod answer;
mod buying;
mod causes;
mod cell;
mod csv;
mod goods;
mod html;
mod job;
mod lost;
mod markdown;
mod offer;
mod pick;
mod picture;
mod record;
mod section;
mod slots;
mod steps;
mod swap;
mod table;
mod text;
mod ways_back;
mod wishes;
mod work;

pub use cell::Cell;
pub use csv::Formulas;
pub use goods::goods_in_record;
pub use job::Job;
pub use offer::{CurrenciesDiffer, CustomerLine, CustomerOffer};
pub use picture::map_picture;
pub use record::acceptance_record;
pub use section::{Block, Section, Sheet};
pub use table::{Column, ColumnSort, Table};

/// A text with control characters, and those that turn the direction of writing, by their numbers: for what is shown beside sheets.
///
/// ```
/// assert_eq!(slotwright::sheet::visible("a\u{202e}b\u{1b}[31m"), "a\\u{202e}b\\u{1b}[31m");
/// ```
#[must_use]
pub fn visible(text: &str) -> std::borrow::Cow<'_, str> {
    let is_hidden = |letter: char| {
        letter.is_control()
            || matches!(letter, '\u{200e}' | '\u{200f}' | '\u{061c}' | '\u{2028}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{feff}')
    };
    if !text.contains(is_hidden) {
        return text.into();
    }
    let mut written = String::with_capacity(text.len() + 16);
    for letter in text.chars() {
        if is_hidden(letter) {
            written.extend(letter.escape_unicode());
        } else {
            written.push(letter);
        }
    }
    written.into()
}

/// The same of a text of several lines, which stay lines: for what a program writes to a terminal.
///
/// ```
/// assert_eq!(slotwright::sheet::visible_lines("a\u{1b}[31m\nb\r"), "a\\u{1b}[31m\nb\\u{d}");
/// ```
#[must_use]
pub fn visible_lines(text: &str) -> String {
    text.split('\n').map(visible).collect::<Vec<_>>().join("\n")
}
