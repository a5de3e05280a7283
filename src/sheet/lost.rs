//! One is lost: what a message means, and the ways to go on; a swap test.

use std::cmp::Reverse;

use crate::acceptance::SwapTest;
use crate::finding::{Finding, Severity};
use crate::population::Population;
use crate::purchase::WhyNoStandIn;
use crate::sheet::answer::listed;
use crate::sheet::slots::{LEGEND, brief, occupant};
use crate::sheet::{Cell, Column, ColumnSort, Job, Section, Sheet, Table};
use crate::unit::Name;
use crate::work_order::{SlotStandIns, Without, WithoutAnswer};

impl Job<'_> {
    /// What to do when modules fail, on half a page: what the message said, which slots that is and what they hold, the ways to go
    /// on with what each leaves and asks for, fewest handlings first, and what may stand in. `population` is what is fitted now; `message` is
    /// what named the slots, as it was given.
    #[must_use]
    pub fn one_is_lost(&self, message: &str, population: &Population, answer: &WithoutAnswer) -> Sheet {
        let mut head = Section::plain().entry("Message", message);
        for slot in &answer.slots {
            head = head.entry("Slot", self.place_of(slot, population));
        }
        if let Some(best) = answer.best() {
            head = head.entry("Best", format!("{}: {}.", best.way, done(best)));
        }
        for of in &answer.stand_ins {
            head = head.entry("Exchange", exchange(of));
        }
        let notes = answer.notes.iter().map(ToString::to_string);
        Sheet::new(format!("ONE IS LOST   {}", self.title))
            .section(head)
            .section(Section::new("WAYS TO GO ON").table(ways(&answer.ways)).items(notes))
            .section(findings(&answer.ways))
            .section(stand_ins(answer))
            .section(Section::new("WITH CARE").items([
                "A message may be wrong about the slot: compare the serial number there with a report first.",
                "Machine off and every cord out before anything is touched; modules may be hot. Wear a strap.",
                "Keep the module until it is known whether it, its slot or a contact is at fault.",
            ]))
            .section(self.foundation([]))
    }

    /// A swap test: whether a fault follows a module, or stays with its slot or processor.
    #[must_use]
    pub fn swap_test(&self, test: &SwapTest) -> Sheet {
        let mut table = Table::new([
            Column::count("no."),
            Column::text("swap"),
            Column::text("the module is at fault if"),
            Column::text("the slot is at fault if"),
            Column::text("it was a contact if"),
            Column::text("seen"),
        ]);
        let suspect = test.look_into.first().map_or("?", Name::as_str);
        for (at, state) in test.states.iter().enumerate().skip(1) {
            table.row([
                Cell::count(at),
                Cell::text(format!("{suspect} and {}", state.module_in)),
                Cell::text(&state.if_module),
                Cell::text(&state.if_slot),
                Cell::text(&state.if_gone),
                Cell::text("__________"),
            ]);
        }
        Sheet::new(format!("SWAP TEST   {}", self.title))
            .section(
                Section::plain()
                    .entry("In question", format!("the module of slot {suspect}"))
                    .entry("First", format!("{} ({}), and at the edges of the modules.", test.first, listed(&test.look_into, "none"))),
            )
            .section(
                Section::new("THEN")
                    .line("Each swap starts from where everything was. Power off and cords out each time; take a report after each.")
                    .table(table),
            )
            .section(Section::new("WHAT IT COMES TO").items([
                "It follows the module: exchange that.",
                "It stays with the slot: close it, or have board and processor looked at by those qualified.",
                "It stays with the processor, whatever sits there: have it and its contacts looked at by those qualified.",
                "It is gone: a contact. Watch the error counters, and return nothing.",
            ]))
            .section(self.foundation([]))
            .section(Section::new("DONE BY").blanks(["Technician", "Date and time"]))
    }

    /// "B1 (light), channel B of processor 1: 32GB 2Rx4 2400 R".
    fn place_of(&self, label: &Name, population: &Population) -> String {
        let platform = self.machine.platform();
        let mut text = label.to_string();
        if let Some(slot) = platform.slot_named(label.as_str()).map(|slot| platform.slot(slot)) {
            if let Some(marking) = &slot.description().marking {
                text.push_str(&format!(" (marked {marking})"));
            }
            let (channel, socket) = (platform.channel(slot.channel), platform.socket(slot.socket));
            text.push_str(&format!(", channel {} of processor {}", channel.label, socket.label));
        }
        let held = population.get(label.as_str());
        text.push_str(&held.map_or(": nothing".to_owned(), |held| format!(": holds {}", occupant(held))));
        text
    }
}

/// What hands do, and what stays out of use.
fn done(way: &Without) -> String {
    let mut parts: Vec<String> = Vec::new();
    if !way.taken_out.is_empty() {
        parts.push(format!("out of {}", listed(&way.taken_out, "none")));
    }
    parts.extend(way.moved.iter().map(|(from, to)| format!("{from} to {to}")));
    if !way.mapped_out.is_empty() {
        parts.push(format!("{} out of use", listed(&way.mapped_out, "none")));
    }
    listed(parts, "nothing is touched")
}

fn ways(ways: &[Without]) -> Table {
    let mut table = Table::new([
        Column::count("no."),
        Column::text("way"),
        Column::text("what is done"),
        Column::count("handlings"),
        Column::new("memory", ColumnSort::Size),
        Column::new("rate", ColumnSort::Rate),
        Column::count("errors"),
        Column::count("warnings"),
    ]);
    for (at, way) in ways.iter().enumerate() {
        let (errors, warnings) = way.faults();
        let unsure = if way.is_not_proved { " (fewer partners may do)" } else { "" };
        table.row([
            Cell::count(at + 1),
            Cell::text(format!("{}{unsure}", way.way)),
            Cell::text(done(way)),
            Cell::count(way.handlings),
            Cell::Size(way.usable_mib),
            way.rate_mts.map_or(Cell::Empty, Cell::Rate),
            Cell::count(errors),
            Cell::count(warnings),
        ]);
    }
    table
}

/// What the rules find, worst first: each sort of error and warning once, with the numbers of the ways that have it.
fn findings(ways: &[Without]) -> Section {
    let mut found: Vec<(&Finding, Vec<String>)> = Vec::new();
    for (at, way) in ways.iter().enumerate() {
        let number = (at + 1).to_string();
        for finding in way.findings.iter().filter(|finding| finding.severity >= Severity::Warning) {
            match found.iter_mut().find(|(known, _)| known.code == finding.code && known.severity == finding.severity) {
                Some((_, of)) if of.contains(&number) => {}
                Some((_, of)) => of.push(number.clone()),
                None => found.push((finding, vec![number.clone()])),
            }
        }
    }
    found.sort_by_key(|(finding, _)| Reverse(finding.severity));
    let text = |(finding, of): (&Finding, Vec<String>)| {
        format!("{}: {} {}: {}", listed(of, "all"), finding.severity, finding.code, finding.summary)
    };
    Section::new("WHAT THE RULES SAY, BY NUMBER").items(found.into_iter().map(text))
}

/// What to put in its place, or why there is nothing.
fn exchange(of: &SlotStandIns) -> String {
    match of.stand_ins.first() {
        Some(first) => {
            let module = brief(&first.module);
            format!("of {}, 2 handlings: {module} from {}, {} then.", of.slot, first.source, first.usable_mib)
        }
        None if of.others.is_empty() => format!("of {}: nothing is on the shelf or on offer.", of.slot),
        None => format!("of {}: nothing at hand may stand in, see below why.", of.slot),
    }
}

/// Why what is at hand may not stand in: each reason once, with what it holds back.
fn others(of: &SlotStandIns) -> Vec<String> {
    let mut reasons: Vec<(String, Vec<String>)> = Vec::new();
    for other in &of.others {
        let what = format!("{} ({})", other.source, brief(&other.module));
        let why = match &other.why {
            WhyNoStandIn::NewFinding(finding) => format!("{} {}: {}", finding.severity, finding.code, finding.summary),
            why => why.to_string(),
        };
        match reasons.iter_mut().find(|(known, _)| *known == why) {
            Some((_, held)) => held.push(what),
            None => reasons.push((why, vec![what])),
        }
    }
    reasons.into_iter().map(|(why, held)| format!("{}, not {}: {why}", of.slot, listed(held, "none"))).collect()
}

fn stand_ins(answer: &WithoutAnswer) -> Section {
    let mut table = Table::new([
        Column::text("slot"),
        Column::text("module"),
        Column::text("from"),
        Column::money("cost"),
        Column::new("memory then", ColumnSort::Size),
    ]);
    for of in &answer.stand_ins {
        for found in &of.stand_ins {
            table.row([
                Cell::text(&of.slot),
                Cell::text(brief(&found.module)),
                Cell::text(&found.source),
                found.cost.map_or(Cell::Empty, |cost| Cell::Money(cost.into())),
                Cell::Size(found.usable_mib),
            ]);
        }
    }
    let section = Section::new("WHAT MAY STAND IN");
    let section = match (table.rows.is_empty(), answer.stand_ins.is_empty()) {
        (true, true) => section,
        (true, false) => section.line("Nothing on the shelf or on offer may stand in."),
        (false, _) => section.line(LEGEND).table(table),
    };
    // where something may, nobody asks why others may not
    section.items(answer.stand_ins.iter().filter(|of| of.stand_ins.is_empty()).flat_map(others))
}
