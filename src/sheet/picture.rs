//! The slot map as a picture.

use crate::machine::Machine;
use crate::platform::{KeyFacing, SlotId};
use crate::population::{Occupant, Population};
use crate::sheet::{html, slots, visible};
use crate::unit::Name;

/// Lengths, in the units of the picture: about pixels.
const MARGIN: u32 = 16;
const CELL: (u32, u32) = (136, 58);
const GAP: u32 = 8;
/// How wide a letter of the small and of the large size is taken to be.
const SMALL: (u32, u32) = (11, 7);
const LARGE: (u32, u32) = (14, 9);
/// How many characters of the small size a cell takes.
const LETTERS: usize = 17;

/// A picture of the slots of a machine (SVG): what it is called, which machine it is (nothing where that is empty), where they lie, what sits in each, and what changes between two populations. It can be read
/// in black and white, and has its legend in it. By the rows of the board where its description has them, else by channel, and then it
/// says so. A text that is too long for its place is cut there and stands whole in the title of its element.
///
/// ```
/// use slotwright::sheet::map_picture;
/// use slotwright::{Label, Machine, Population, reference};
///
/// let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build()?;
/// let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
/// let after = Population::new().with("A1".parse()?, module);
/// let svg = map_picture("Host 7", "serial 77", &machine, &Population::new(), &after);
/// assert!(svg.starts_with("<svg ") && svg.contains("serial 77") && svg.contains("32GB 2Rx4 2400 R"));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[must_use]
pub fn map_picture(title: &str, which: &str, machine: &Machine, before: &Population, after: &Population) -> String {
    let mut picture = Picture { machine, before, after, svg: String::new(), width: 0 };
    let mut y = MARGIN + LARGE.0;
    picture.text(MARGIN, y, LARGE, 60, "bold", title);
    if !which.is_empty() {
        y += LARGE.0 + 6;
        picture.text(MARGIN, y, SMALL, 80, "normal", which);
    }
    let rows = &machine.platform().description().rows;
    y += LARGE.0 + 6;
    let how = if rows.is_empty() {
        "By channel, not in board order: find the printed label."
    } else {
        "As the slots lie on the board."
    };
    picture.text(MARGIN, y, SMALL, 80, "normal", &format!("{}. {how}", machine.platform().name()));
    y += GAP * 2;
    y = if rows.is_empty() { picture.by_channel(y) } else { picture.by_row(y, rows) };
    y = picture.legend(y);
    picture.finish(y + MARGIN)
}

struct Picture<'p> {
    machine: &'p Machine,
    before: &'p Population,
    after: &'p Population,
    svg: String,
    width: u32,
}

/// What happens in a slot.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Change {
    None,
    In,
    Out,
    Exchange,
}

impl Picture<'_> {
    /// Processors two side by side, each with a line for each channel.
    fn by_channel(&mut self, top: u32) -> u32 {
        let platform = self.machine.platform();
        let label_width = 64;
        let most = platform.channels().iter().map(|channel| channel.slots.len()).max().unwrap_or(0);
        let block = label_width + u32::try_from(most).unwrap_or(8) * (CELL.0 + GAP) + GAP;
        let mut y = top;
        for pair in platform.sockets().chunks(2) {
            let mut lowest = y;
            for (side, socket) in pair.iter().enumerate() {
                let x = MARGIN + u32::try_from(side).unwrap_or(0) * (block + MARGIN);
                let mut line = y + LARGE.0 + 4;
                let state = if self.machine.processors().any(|(of, _)| platform.socket(of).label == socket.label) {
                    ""
                } else {
                    " (empty)"
                };
                self.text(x + 4, line, LARGE, 24, "bold", &format!("processor {}{state}", socket.label));
                line += GAP;
                for &channel in &socket.channels {
                    let channel = platform.channel(channel);
                    self.text(x + 4, line + CELL.1 / 2 + 4, SMALL, 8, "normal", &format!("ch. {}", channel.label));
                    for (at, &slot) in channel.slots.iter().enumerate() {
                        let place = x + label_width + u32::try_from(at).unwrap_or(0) * (CELL.0 + GAP);
                        self.slot(place, line, slot);
                    }
                    line += CELL.1 + GAP;
                }
                let height = (line - y).saturating_sub(LARGE.0);
                self.frame(x, y + LARGE.0 - 10, block, height + 10);
                lowest = lowest.max(line);
            }
            y = lowest + GAP * 2;
        }
        y
    }

    /// The rows of the board, one below the other.
    fn by_row(&mut self, top: u32, rows: &[Vec<Name>]) -> u32 {
        let platform = self.machine.platform();
        let mut y = top;
        for row in rows {
            for (at, name) in row.iter().enumerate() {
                let x = MARGIN + u32::try_from(at).unwrap_or(0) * (CELL.0 + GAP);
                match platform.slot_named(name.as_str()) {
                    Some(slot) => self.slot(x, y, slot),
                    None => {
                        self.frame(x, y, CELL.0, CELL.1);
                        self.text(x + 6, y + CELL.1 / 2 + 4, SMALL, LETTERS, "normal", name.as_str());
                    }
                }
            }
            y += CELL.1 + GAP * 2;
        }
        let is_drawn = |slot: &SlotId| rows.iter().flatten().any(|name| name == platform.slot(*slot).label());
        let missing: Vec<SlotId> = platform.slot_ids().filter(|slot| !is_drawn(slot)).collect();
        if !missing.is_empty() {
            y += SMALL.0;
            self.text(MARGIN, y, SMALL, 60, "normal", "Not in the rows that are described: find the printed label.");
            y += GAP;
            for line in missing.chunks(6) {
                for (at, &slot) in line.iter().enumerate() {
                    self.slot(MARGIN + u32::try_from(at).unwrap_or(0) * (CELL.0 + GAP), y, slot);
                }
                y += CELL.1 + GAP;
            }
        }
        y
    }

    fn slot(&mut self, x: u32, y: u32, id: SlotId) {
        let slot = self.machine.platform().slot(id);
        let label = slot.label();
        let text = |occupant: Option<&Occupant>| occupant.map_or("empty".to_owned(), slots::occupant);
        let (was, will) = (self.before.get(label.as_str()), self.after.get(label.as_str()));
        let change = match (was, will) {
            _ if was == will => Change::None,
            (None | Some(Occupant::Blank), _) => Change::In,
            (_, None | Some(Occupant::Blank)) => Change::Out,
            _ => Change::Exchange,
        };
        let is_live = self.machine.is_live(id);
        self.cell(x, y, change, is_live);
        let mut name = label.to_string();
        if slot.description().key_facing == Some(KeyFacing::Turned) {
            name.push('\'');
        }
        self.text(x + 6, y + 16, LARGE, 7, "bold", &name);
        let mark = slot.description().marking.as_ref().map_or("", Name::as_str);
        self.text(x + 74, y + 15, SMALL, 8, "normal", mark);
        let lines = match change {
            Change::None if !is_live && was.is_none() => vec!["cannot be used".to_owned()],
            Change::None => vec![text(was)],
            Change::In => vec![format!("+{}", text(will))],
            Change::Out => vec![format!("-{}", text(was))],
            Change::Exchange => vec![format!("-{}", text(was)), format!("+{}", text(will))],
        };
        for (line, at) in lines.iter().zip(0..) {
            self.text(x + 6, y + 33 + at * 15, SMALL, LETTERS + 1, "normal", line);
        }
    }

    fn cell(&mut self, x: u32, y: u32, change: Change, is_live: bool) {
        let (width, height) = CELL;
        let style = match change {
            Change::None => "stroke-width=\"1\"",
            Change::In => "stroke-width=\"3\"",
            Change::Out => "stroke-width=\"2\" stroke-dasharray=\"6 4\"",
            Change::Exchange => "stroke-width=\"3\" stroke-dasharray=\"12 3\"",
        };
        self.push(&format!(
            "<rect x=\"{x}\" y=\"{y}\" width=\"{width}\" height=\"{height}\" fill=\"white\" stroke=\"black\" {style}/>"
        ));
        if !is_live {
            // strokes across the lower right corner, clear of the texts
            let (right, bottom) = (x + width, y + height);
            for reach in [8, 14, 20] {
                let (from, to) = (right - reach, bottom - reach);
                self.push(&format!("<path d=\"M{from} {bottom} L{right} {to}\" stroke=\"black\" stroke-width=\"1\"/>"));
            }
        }
        self.width = self.width.max(x + width);
    }

    fn frame(&mut self, x: u32, y: u32, width: u32, height: u32) {
        self.push(&format!(
            "<rect x=\"{x}\" y=\"{y}\" width=\"{width}\" height=\"{height}\" fill=\"none\" stroke=\"gray\" stroke-width=\"0.5\"/>"
        ));
        self.width = self.width.max(x + width);
    }

    /// A text of at most so many characters, held to the width that it is taken to have.
    fn text(&mut self, x: u32, y: u32, (size, letter): (u32, u32), most: usize, weight: &str, text: &str) {
        let text = visible(text);
        let shown = shortened(&text, most);
        if shown.is_empty() {
            return;
        }
        let length = u32::try_from(shown.chars().count()).unwrap_or(0) * letter;
        let title = if shown == text { String::new() } else { format!("<title>{}</title>", html::escaped(&text)) };
        self.push(&format!(
            "<text x=\"{x}\" y=\"{y}\" font-size=\"{size}\" font-weight=\"{weight}\" textLength=\"{length}\" \
             lengthAdjust=\"spacingAndGlyphs\">{}{title}</text>",
            html::escaped(&shown)
        ));
        self.width = self.width.max(x + length);
    }

    fn legend(&mut self, top: u32) -> u32 {
        let mut y = top + GAP;
        let samples = [
            (Change::None, true, "stays as it is"),
            (Change::In, true, "+ goes in"),
            (Change::Out, true, "- comes out"),
            (Change::Exchange, true, "- out, + in"),
            (Change::None, false, "cannot be used"),
        ];
        for (at, (change, is_live, text)) in samples.into_iter().enumerate() {
            let x = MARGIN + u32::try_from(at).unwrap_or(0) * (CELL.0 + GAP);
            self.cell(x, y, change, is_live);
            self.text(x + 6, y + CELL.1 / 2 + 4, SMALL, LETTERS, "normal", text);
        }
        y += CELL.1 + GAP + SMALL.0;
        for line in [
            "' the key is turned: turn the module round. Beside the label: what is printed or coloured at the slot.",
            slots::LEGEND,
        ] {
            self.text(MARGIN, y, (9, 5), 130, "normal", line);
            y += 14;
        }
        y
    }

    fn push(&mut self, element: &str) {
        self.svg.push_str(element);
        self.svg.push('\n');
    }

    fn finish(self, height: u32) -> String {
        let width = self.width + MARGIN;
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width} {height}\" width=\"{width}\" height=\"{height}\" \
             font-family=\"monospace\">\n<rect width=\"{width}\" height=\"{height}\" fill=\"white\"/>\n{}</svg>\n",
            self.svg
        )
    }
}

/// A text cut to a number of characters, and marked where it is.
fn shortened(text: &str, most: usize) -> String {
    if text.chars().count() <= most {
        return text.to_owned();
    }
    text.chars().take(most.saturating_sub(1)).chain(['…']).collect()
}
