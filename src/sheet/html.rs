//! A fragment of HTML that is XML too.

use crate::sheet::{Block, Cell, Sheet, Table, visible};

/// How a page looks, on paper first: black and white, with nothing from elsewhere. Rows, points and halts are not torn apart, and a table
/// that goes over a page has its headings on each.
const STYLE: &str = "\
@page { margin: 15mm; }
.sheet { font: 10pt/1.35 sans-serif; color: #000; background: #fff; max-width: 180mm; }
.sheet h1 { font-size: 14pt; border-bottom: 2pt solid #000; margin: 0 0 2mm; }
.sheet h2 { font-size: 11pt; border-bottom: 0.5pt solid #000; margin: 4mm 0 1mm; break-after: avoid; }
.sheet p { margin: 1mm 0; }
.sheet ul { margin: 1mm 0; padding-left: 5mm; }
.sheet li { margin: 0.5mm 0; break-inside: avoid; }
.sheet li.box { list-style: none; text-indent: -5mm; }
.sheet li.box::before { content: ''; display: inline-block; width: 3mm; height: 3mm; border: 0.75pt solid #000; margin-right: 2mm; vertical-align: -0.5mm; }
.sheet li.halt { border: 1.5pt solid #000; padding: 1mm 1mm 1mm 6mm; margin: 1.5mm 0 1.5mm -5mm; font-weight: bold; }
.sheet table { border-collapse: collapse; margin: 1mm 0; }
.sheet thead { display: table-header-group; }
.sheet tr { break-inside: avoid; }
.sheet th, .sheet td { border: 0.5pt solid #000; padding: 0.5mm 1.5mm; text-align: left; vertical-align: top; }
.sheet .number { text-align: right; }
.sheet td.box { white-space: pre; text-align: center; }
.sheet .blank { display: inline-block; margin: 6mm 8mm 0 0; }
";

impl Sheet {
    /// A document of HTML with the [fragment](Sheet::to_html) and a style for print: table lines, boxes to tick, halts set apart, headings
    /// of tables on each page, no row torn apart; black and white, with nothing from elsewhere. It is well-formed as XML too.
    ///
    /// ```
    /// use slotwright::sheet::{Section, Sheet};
    ///
    /// let page = Sheet::new("Order").section(Section::new("WORK").checks(["HALT, all out."])).to_html_document();
    /// assert!(page.starts_with("<!DOCTYPE html>") && page.contains("<title>Order</title>"));
    /// assert!(page.contains("<li class=\"box halt\" dir=\"auto\">HALT, all out.</li>"));
    /// ```
    #[must_use]
    pub fn to_html_document(&self) -> String {
        format!(
            "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\"/>\n<title>{}</title>\n<style>\n{STYLE}</style>\n\
             </head>\n<body>\n{}</body>\n</html>\n",
            escaped(&self.title),
            self.to_html()
        )
    }

    /// A fragment of HTML, well-formed as XML: one `section` of headings, paragraphs, lists and tables, without styles; number cells have
    /// the class `number`, boxes the class `box`, halts among them `halt` too. `& < > " '` are written as entities.
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
                    Block::Check(text) if text.starts_with("HALT, ") => Some((" class=\"box halt\"", text)),
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
                Cell::Box | Cell::Step(_) => " class=\"box\"",
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
