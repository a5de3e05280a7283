use crate::intake::firmware_table::printed::fields::{self, Dialect};
use crate::intake::firmware_table::printed::lines::Line;
use crate::intake::firmware_table::printed::record::Record;
use crate::intake::firmware_table::{Table, report};
use crate::population::{Remark, Report};
use crate::unit::Name;

/// How many machines are read from one text.
const MOST_MACHINES: usize = 1_000;

/// The reports of the machines whose tables a text prints; none where it prints none.
pub(crate) fn reports_of_text(name: &Name, text: &str) -> Vec<Report> {
    let mut reader = Reader::new(name);
    for (index, line) in text.lines().enumerate() {
        reader.line(index + 1, Line::of(line));
    }
    reader.end_machine();
    reader.reports
}

/// Whether the beginning of a text has a line that only such prints have.
pub(crate) fn begins_print(text: &str) -> bool {
    let is_sign = |line| matches!(Line::of(line), Line::Tool(_) | Line::Handle { .. } | Line::Title(16 | 17));
    text.lines().any(is_sign)
}

struct Reader<'t> {
    name: &'t Name,
    reports: Vec<Report>,
    dialect: Dialect,
    table: Table<'t>,
    record: Option<Record<'t>>,
    /// Handle and type of the first structure of the machine.
    first: Option<(u16, u8)>,
    /// The types that the machine has had.
    kinds: [bool; 128],
    /// Whether the tool has begun anew since the last structure.
    tool_anew: bool,
    is_blank_before: bool,
    machines: usize,
    /// The lines from the first to the last that tell of a module before any structure has begun.
    stray: Option<(usize, usize)>,
}

/// Keys that only stand in the structure of a module.
const OF_MODULES: [&str; 7] =
    ["Size", "Locator", "Bank Locator", "Form Factor", "Type Detail", "Total Width", "Part Number"];

impl<'t> Reader<'t> {
    fn new(name: &'t Name) -> Self {
        Self {
            name,
            reports: Vec::new(),
            dialect: Dialect::default(),
            table: Table::default(),
            record: None,
            first: None,
            kinds: [false; 128],
            tool_anew: false,
            is_blank_before: false,
            machines: 0,
            stray: None,
        }
    }

    fn line(&mut self, number: usize, line: Line<'t>) {
        let is_blank_before = core::mem::replace(&mut self.is_blank_before, line == Line::Blank);
        match line {
            Line::Blank => {
                if let Some(record) = &mut self.record {
                    record.close();
                }
            }
            Line::Tool(version) => {
                self.end_record();
                self.tool_anew = true;
                self.dialect.version = version.or(self.dialect.version);
            }
            Line::Handle { handle, kind } => {
                self.end_record();
                self.begin(Record::new(number, Some(handle), kind));
            }
            Line::Kind(kind) => self.entitle(number, kind, true),
            Line::Title(kind) => self.entitle(number, kind, false),
            Line::Entry { key, value } => {
                if let Some(record) = &mut self.record {
                    record.entry(number, key, value);
                } else if OF_MODULES.contains(&key) {
                    self.stray = Some((self.stray.map_or(number, |(first, _)| first), number));
                }
            }
            Line::Rest(text) => match &mut self.record {
                // the name of a type that is not read, in a print without handles
                Some(record) if is_blank_before && record.handle.is_none() => self.end_record(),
                Some(record) => record.rest(text),
                None => {}
            },
        }
    }

    /// A line that names a type: of the structure whose handle stands before it, or, without a handle, of a new one.
    fn entitle(&mut self, number: usize, kind: u8, is_certain: bool) {
        match &mut self.record {
            Some(record) if record.is_empty() && (record.kind.is_none() || record.kind == Some(kind)) => {
                let is_new = record.kind.is_none();
                record.kind = Some(kind);
                record.close();
                if is_new {
                    self.note_kind();
                }
            }
            // the handle is followed by the type, and that by its name
            Some(record) if record.is_empty() && (is_certain || record.handle.is_some()) => {}
            _ => {
                self.end_record();
                self.begin(Record::new(number, None, Some(kind)));
            }
        }
    }

    /// Begins a structure.
    fn begin(&mut self, record: Record<'t>) {
        let is_known = record.kind.is_some();
        self.record = Some(record);
        if is_known {
            self.note_kind();
        }
    }

    /// Once its type is known: a structure may be the first of another machine.
    fn note_kind(&mut self) {
        let Some(record) = &self.record else { return };
        let (Some(kind), handle) = (record.kind, record.handle) else { return };
        let has_kind = self.kinds.get(usize::from(kind)).is_some_and(|had| *had);
        let is_first_again = handle.is_some_and(|handle| self.first == Some((handle, kind)));
        let is_anew = is_first_again
            || (kind == 0 && has_kind)
            || (kind == 1 && has_kind && handle.is_none())
            || (self.tool_anew && has_kind);
        if is_anew {
            let record = self.record.take();
            self.end_machine();
            self.record = record;
        }
        if let (None, Some(handle)) = (self.first, handle) {
            self.first = Some((handle, kind));
        }
        if let Some(had) = self.kinds.get_mut(usize::from(kind)) {
            *had = true;
        }
        self.tool_anew = false;
    }

    fn end_record(&mut self) {
        if let Some(record) = self.record.take() {
            fields::take(record, self.dialect, &mut self.table);
        }
    }

    fn end_machine(&mut self) {
        self.end_record();
        let mut table = core::mem::take(&mut self.table);
        if let Some((first, last)) = self.stray.take() {
            let at = format!("lines {first} to {last}");
            table.remarks.add(|| Remark::unread(&at, "a part of a structure", "its beginning is not in the text"));
            table.is_cut = true;
        }
        let is_any = self.kinds.iter().any(|had| *had);
        self.kinds = [false; 128];
        self.first = None;
        if !is_any {
            return;
        }
        self.machines += 1;
        if self.machines > MOST_MACHINES {
            return;
        }
        if self.machines == MOST_MACHINES {
            table.remarks.add(|| Remark::unread("the rest", "any more machine", "a text has at most 1,000"));
        }
        self.reports.push(report(numbered(self.name, self.machines), table));
    }
}

/// The name of the first machine, and those of the others after it.
fn numbered(name: &Name, number: usize) -> Name {
    if number == 1 {
        return name.clone();
    }
    let tail = format!(" ({number})");
    let mut room = Name::MAX_BYTES - tail.len();
    while !name.as_str().is_char_boundary(room.min(name.as_str().len())) {
        room -= 1;
    }
    let kept = name.as_str().get(..room).unwrap_or(name.as_str());
    Name::lossy(&format!("{}{tail}", kept.trim_end()))
}
