//! A fragment of HTML that is XML too.

use crate::sheet::{Block, Cell, Sheet, Table, visible};

impl Sheet {
    /// A fragment of HTML, well-formed as XML: one `section` of headings, paragraphs, lists and tables, without styles; number cells have
    /// the class `number`, boxes the class `box`. `& < > " '` are written as entities.
    #[must_use]
    pub fn to_html(&self) -> String {
        let mut html = format!("<section class=\"sheet\">\n<h1>{}</h1>\n", escaped(&self.title));
        for section in &self.sections {
            if let Some(heading) = &section.heading {
                html.push_str(&format!("<h2>{}</h2>\n", escaped(heading)));
            }
            let mut is_list = false;
            for block in &section.blocks {
                let item = match block {
                    Block::Item(text) => Some(("", text)),
                    Block::Check(text) => Some((" class=\"box\"", text)),
                    _ => None,
                };
                if item.is_some() != is_list {
                    html.push_str(if is_list { "</ul>\n" } else { "<ul>\n" });
                    is_list = !is_list;
                }
                match item {
                    Some((class, text)) => html.push_str(&format!("<li{class} dir=\"auto\">{}</li>\n", escaped(text))),
                    None => html.push_str(&self::block(block)),
                }
            }
            if is_list {
                html.push_str("</ul>\n");
            }
        }
        html.push_str("</section>\n");
        html
    }
}

fn block(block: &Block) -> String {
    match block {
        Block::Line(text) | Block::Item(text) | Block::Check(text) => {
            format!("<p dir=\"auto\">{}</p>\n", escaped(text))
        }
        Block::Entry { word, text } => format!("<p><b>{}</b> <bdi>{}</bdi></p>\n", escaped(word), escaped(text)),
        Block::Blanks(words) => {
            let words: Vec<String> =
                words.iter().map(|word| format!("<span class=\"blank\">{}: ________</span>", escaped(word))).collect();
            format!("<p>{}</p>\n", words.join(" "))
        }
        Block::Table(table) => self::table(table),
    }
}

fn table(table: &Table) -> String {
    let mut html = "<table>\n<thead><tr>".to_owned();
    for column in &table.columns {
        html.push_str(&format!("<th>{}</th>", escaped(&column.heading)));
    }
    html.push_str("</tr></thead>\n<tbody>\n");
    for row in &table.rows {
        html.push_str("<tr>");
        for (cell, column) in row.iter().zip(&table.columns) {
            let class = match cell {
                Cell::Box => " class=\"box\"",
                _ if column.sort.is_number() => " class=\"number\"",
                Cell::Text(text) if !text.is_ascii() => " dir=\"auto\"",
                _ => "",
            };
            html.push_str(&format!("<td{class}>{}</td>", escaped(&cell.to_string())));
        }
        html.push_str("</tr>\n");
    }
    html.push_str("</tbody>\n</table>\n");
    html
}

/// A text as content of an element or an attribute.
pub(super) fn escaped(text: &str) -> String {
    let text = visible(text);
    let mut escaped = String::with_capacity(text.len() + 8);
    for letter in text.chars() {
        match letter {
            '&' => escaped.push_str("&amp;"),
            '<' => escaped.push_str("&lt;"),
            '>' => escaped.push_str("&gt;"),
            '"' => escaped.push_str("&quot;"),
            '\'' => escaped.push_str("&#39;"),
            // no characters of XML
            '\u{fffe}' | '\u{ffff}' => escaped.extend(letter.escape_unicode()),
            _ => escaped.push(letter),
        }
    }
    escaped
}
