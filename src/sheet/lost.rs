//! One is lost: what a message means, and the ways to go on.

use std::cmp::Reverse;

use crate::finding::{Finding, Severity};
use crate::platform::KeyFacing;
use crate::population::{Occupant, Population};
use crate::purchase::{ModuleSource, WhyNoStandIn};
use crate::sheet::answer::listed;
use crate::sheet::slots::{LEGEND, brief, occupant};
use crate::sheet::steps::is_turned;
use crate::sheet::{Cell, Column, ColumnSort, Job, Section, Sheet, Table};
use crate::unit::Name;
use crate::work_order::before_and_after::{Texts, closing, first_start, opening};
use crate::work_order::{Caution, OrderLine, SlotStandIns, Without, WithoutAnswer};

impl Job<'_> {
    /// What to do when modules fail, on a page: what is said of the message (`said`: each with the word before it), which slots that is and
    /// what they hold, the ways to go on with what each leaves and asks for, fewest handlings first, and what may stand in. `population` is what
    /// is fitted now.
    #[must_use]
    pub fn one_is_lost(&self, said: &[(&str, String)], population: &Population, answer: &WithoutAnswer) -> Sheet {
        let mut head = said.iter().fold(Section::plain(), |head, (word, text)| head.entry(*word, text));
        for slot in &answer.slots {
            head = head.entry("Slot", self.place_of(slot, population));
        }
        if let Some(best) = answer.best() {
            head = head.entry("Best", format!("{}: {}.", best.way, self.done(best)));
        }
        for of in &answer.stand_ins {
            head = head.entry("Exchange", self.exchange(of));
        }
        let notes = answer.notes.iter().map(ToString::to_string);
        let [before, after] = self.with_care(population);
        Sheet::new(format!("ONE IS LOST   {}", self.title))
            .section(head)
            .section(Section::new("WAYS TO GO ON").table(self.ways(&answer.ways)).items(notes))
            .section(findings(&answer.ways))
            .section(self.stand_ins(answer))
            .section(
                Section::new("WITH CARE")
                    .items([
                        "A message may be wrong about the slot: compare the serial number there with a report first.",
                    ])
                    .items([format!("Before hands go in: {}", before.join(" ")), format!("Then: {}", after.join(" "))])
                    .items(["Keep the module until it is known whether it, its slot or a contact is at fault."]),
            )
            .section(self.foundation([]))
    }

    /// What a work order says too: before hands go in, and after.
    pub(super) fn with_care(&self, population: &Population) -> [Vec<String>; 2] {
        let texts = Texts::of(self.machine);
        let platform = self.machine.platform();
        let said = |line: &OrderLine| match line {
            OrderLine::Caution(caution) => Some(caution.to_string()),
            OrderLine::Check(check) => Some(check.to_string()),
            OrderLine::Step(_) | OrderLine::Halt(_) | OrderLine::Other(_) => None,
        };
        let mut before: Vec<String> = opening(&texts, true).iter().filter_map(said).collect();
        before.push(Caution::NoForce.to_string());
        let devices = population.iter().filter(|(_, occupant)| matches!(occupant, Occupant::OtherDevice(_)));
        let slots: Vec<Name> = devices.map(|(slot, _)| slot.clone()).collect();
        before.extend((!slots.is_empty()).then(|| Caution::DataOnDevices { slots }.to_string()));
        before.extend(platform.description().rows.is_empty().then(|| Caution::FindTheLabel.to_string()));
        if platform.slot_ids().any(|slot| is_turned(platform, slot)) {
            before.push("Key turned: turn the module round.".to_owned());
        }
        let after = closing(&texts, None).iter().chain(&first_start(&texts)).filter_map(said).collect();
        [before, after]
    }

    /// "E1 (key turned)".
    pub(super) fn slot(&self, label: &Name) -> String {
        let platform = self.machine.platform();
        let is_turned = platform.slot_named(label.as_str()).is_some_and(|slot| is_turned(platform, slot));
        if is_turned { format!("{label} (key turned)") } else { label.to_string() }
    }

    /// "B1 (marked light), channel B of processor 1: 32GB 2Rx4 2400 R".
    fn place_of(&self, label: &Name, population: &Population) -> String {
        let platform = self.machine.platform();
        let mut text = label.to_string();
        if let Some(slot) = platform.slot_named(label.as_str()).map(|slot| platform.slot(slot)) {
            let mut marks: Vec<String> = Vec::new();
            marks.extend(slot.description().marking.as_ref().map(|marking| format!("marked {marking}")));
            marks.extend((slot.description().key_facing == Some(KeyFacing::Turned)).then(|| "key turned".to_owned()));
            if !marks.is_empty() {
                text.push_str(&format!(" ({})", marks.join(", ")));
            }
            let (channel, socket) = (platform.channel(slot.channel), platform.socket(slot.socket));
            text.push_str(&format!(", channel {} of processor {}", channel.label, socket.label));
        }
        let held = population.get(label.as_str());
        text.push_str(&held.map_or(": nothing".to_owned(), |held| format!(": holds {}", occupant(held))));
        text
    }

    /// What hands do, and what stays out of use.
    fn done(&self, way: &Without) -> String {
        let mut parts: Vec<String> = Vec::new();
        if !way.taken_out.is_empty() {
            parts.push(format!("out of {}", listed(&way.taken_out, "none")));
        }
        parts.extend(way.moved.iter().map(|(from, to)| format!("{from} to {}", self.slot(to))));
        if !way.mapped_out.is_empty() {
            parts.push(format!("{} out of use", listed(&way.mapped_out, "none")));
        }
        listed(parts, "nothing is touched")
    }

    fn ways(&self, ways: &[Without]) -> Table {
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
                Cell::text(self.done(way)),
                Cell::count(way.handlings),
                Cell::Size(way.usable_mib),
                way.rate_mts.map_or(Cell::Empty, Cell::Rate),
                Cell::count(errors),
                Cell::count(warnings),
            ]);
        }
        table
    }

    /// What to put in its place, or why there is nothing.
    fn exchange(&self, of: &SlotStandIns) -> String {
        let slot = self.slot(&of.slot);
        match of.stand_ins.first() {
            Some(first) => {
                let (module, pack) = (brief(&first.module), self.pack(&first.source));
                format!("of {slot}, 2 handlings: {module} from {}{pack}; {} then.", first.source, first.usable_mib)
            }
            None if of.others.is_empty() => format!("of {slot}: nothing is on the shelf or on offer."),
            None if has_warned(of) => {
                format!("of {slot}: nothing at hand may stand in without a warning, see below.")
            }
            None => format!("of {slot}: nothing at hand may stand in, see below why."),
        }
    }

    /// ", a pack of 4".
    fn pack(&self, source: &ModuleSource) -> String {
        let pack = match source {
            ModuleSource::Offer { id } => {
                self.request.offers.iter().find(|offer| offer.id == *id).map(|offer| offer.pack)
            }
            _ => None,
        };
        match pack.filter(|&pack| pack > 1) {
            Some(pack) => format!(", a pack of {pack}"),
            None => String::new(),
        }
    }

    fn stand_ins(&self, answer: &WithoutAnswer) -> Section {
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
                    Cell::text(self.slot(&of.slot)),
                    Cell::text(brief(&found.module)),
                    Cell::text(format!("{}{}", found.source, self.pack(&found.source))),
                    found.cost.map_or(Cell::Empty, |cost| Cell::Money(cost.into())),
                    Cell::Size(found.usable_mib),
                ]);
            }
        }
        let section = Section::new("WHAT MAY STAND IN");
        let section = match (table.rows.is_empty(), answer.stand_ins.is_empty()) {
            (true, true) => section,
            (true, false) if answer.stand_ins.iter().any(has_warned) => {
                section.line("Nothing on the shelf or on offer may stand in without a warning.")
            }
            (true, false) => section.line("Nothing on the shelf or on offer may stand in."),
            (false, _) => section.line(LEGEND).table(table),
        };
        section.items(answer.stand_ins.iter().flat_map(|of| self.others(of)))
    }

    /// What else is at hand: each reason once, with what it holds back. What would carry but a warning is told apart from what cannot be.
    fn others(&self, of: &SlotStandIns) -> Vec<String> {
        let mut reasons: Vec<(bool, String, Vec<String>)> = Vec::new();
        for other in &of.others {
            let what = format!("{} ({}{})", other.source, brief(&other.module), self.pack(&other.source));
            let (is_warning, why) = match (warning(&other.why), &other.why) {
                (Some(finding), _) => (true, format!("{} ({})", finding.code, finding.summary)),
                (None, WhyNoStandIn::NewFinding(finding)) => {
                    (false, format!("{} {}: {}", finding.severity, finding.code, finding.summary))
                }
                (None, why) => (false, why.to_string()),
            };
            match reasons.iter_mut().find(|(_, known, _)| *known == why) {
                Some((_, _, held)) => held.push(what),
                None => reasons.push((is_warning, why, vec![what])),
            }
        }
        reasons.sort_by_key(|(is_warning, _, _)| !is_warning);
        let slot = &of.slot;
        let text = |(is_warning, why, held): (bool, String, Vec<String>)| match is_warning {
            true => format!("{slot}, would carry the warning {why}: {}", listed(held, "none")),
            false => format!("{slot}, not {}: {why}", listed(held, "none")),
        };
        reasons.into_iter().map(text).collect()
    }
}

/// Whether something at hand would carry but a warning.
fn has_warned(of: &SlotStandIns) -> bool {
    of.others.iter().any(|other| warning(&other.why).is_some())
}

/// The warning that is all that speaks against a module.
fn warning(why: &WhyNoStandIn) -> Option<&Finding> {
    match why {
        WhyNoStandIn::NewFinding(finding) if finding.severity < Severity::Error => Some(finding),
        _ => None,
    }
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
