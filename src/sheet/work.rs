//! What hands do: the order of work and the way back.

use crate::platform::SlotId;
use crate::population::{Fitted, Population};
use crate::sheet::slots::{LEGEND, brief, facing, occupant};
use crate::sheet::{Cell, Column, Job, Section, Sheet, Table};
use crate::unit::Name;
use crate::work_order::{Action, Halt, HaltAt, OrderLine, PutDown, Step, TrialStart, WayBack, WorkOrder};

impl Job<'_> {
    /// An order of work on one sheet, without money: what is true before the lid comes off, one row a slot with what comes out and what
    /// goes in, numbered in the order of the work, the halts, what to look at afterwards, when to stop. The ways back are a sheet
    /// of their own.
    #[must_use]
    pub fn work_order(&self, order: &WorkOrder) -> Sheet {
        let mut head = Section::plain().entry("Machine", which(order));
        head = head.entry("Work", summary(order));
        head = head.entry("Bring", brought(order));
        let is_step = |line: &OrderLine| line.step().is_some();
        let first = order.lines.iter().position(is_step).unwrap_or(order.lines.len());
        let last = order.lines.iter().rposition(is_step).map_or(first, |last| last + 1);
        let part = |from: usize, to: usize| order.lines.get(from..to).unwrap_or_default();
        let mut work = Section::new("THE WORK");
        if order.lines.is_empty() {
            work = work.line("Nothing is to be done.");
        } else {
            let (table, empty) = self.rows(order);
            work = work
                .line("Out by the numbers in \"out\", then in by those in \"in\". Bag what comes out under its slot.");
            work = work.line(LEGEND).table(table);
            if !empty.is_empty() {
                work = work.line(format!("Empty, and stay so: {}.", empty.join(", ")));
            }
        }
        let on_the_way = part(first, last).iter().filter(|line| !is_step(line));
        let foundation = self.foundation(order.findings.iter().map(|finding| format!("afterwards: {finding}")));
        Sheet::new(format!("WORK ORDER   {}", self.title))
            .section(head)
            .section(added(Section::new("BEFORE"), part(0, first).iter()))
            .section(added(work, on_the_way))
            .section(added(Section::new("AFTERWARDS"), part(last, order.lines.len()).iter()))
            .section(stop(order))
            .section(foundation.blanks(["Technician", "Date and time"]))
    }

    /// The ways back from each halt of an order: a sheet to have at hand, and to put away unused.
    #[must_use]
    pub fn ways_back(&self, order: &WorkOrder) -> Sheet {
        let mut sheet = Sheet::new(format!("WAY BACK   {}", self.title)).section(
            Section::plain()
                .entry("Machine", which(order))
                .line("From the halt that was reached last, go back by its steps. What was found bad is not put back: ring first."),
        );
        for way in &order.ways_back {
            sheet = sheet.section(back(way, &order.before));
        }
        sheet.section(stop(order)).section(self.foundation([]))
    }

    /// The way back from one halt, also where modules were found bad.
    #[must_use]
    pub fn way_back(&self, order: &WorkOrder, way: &WayBack) -> Sheet {
        Sheet::new(format!("WAY BACK   {}", self.title))
            .section(Section::plain().entry("Machine", which(order)))
            .section(back(way, &order.before))
            .section(stop(order))
            .section(self.foundation([]))
            .section(Section::new("DONE BY").blanks(["Technician", "Date and time"]))
    }

    /// One row a slot, as the slots lie on the board where that is described, else by channel; and the slots that are empty and stay so.
    fn rows(&self, order: &WorkOrder) -> (Table, Vec<String>) {
        let platform = self.machine.platform();
        let mut slots: Vec<SlotId> = Vec::new();
        for name in platform.description().rows.iter().flatten() {
            slots.extend(platform.slot_named(name.as_str()));
        }
        for socket in platform.sockets() {
            for &channel in &socket.channels {
                let more = platform.channel(channel).slots.iter().filter(|slot| !slots.contains(slot)).copied();
                slots.extend(more.collect::<Vec<_>>());
            }
        }
        let steps: Vec<&Step> = order.steps().collect();
        let number = |label: &Name, is_out: bool| {
            let mut count = 0;
            let mut found = Vec::new();
            for step in &steps {
                if is_hand_out(&step.action) == is_out {
                    count += 1;
                    if step.slot == *label {
                        found.push(count.to_string());
                    }
                }
            }
            if found.is_empty() { Cell::Empty } else { Cell::text(format!("[{:>2}]", found.join(" "))) }
        };
        let mut table =
            Table::new(["out", "in", "slot", "mark", "key", "now", "put", "afterwards", "from"].map(Column::text));
        let mut empty = Vec::new();
        for slot in slots {
            let slot_of = platform.slot(slot);
            let label = slot_of.label();
            let is_held = order.before.get(label.as_str()).is_some();
            if !is_held && !steps.iter().any(|step| step.slot == *label) {
                empty.push(label.to_string());
                continue;
            }
            let text = |population: &Population| population.get(label.as_str()).map_or("-".to_owned(), occupant);
            let of_slot = || steps.iter().filter(|step| step.slot == *label);
            let to: Vec<String> = of_slot().filter_map(|step| put_down(&step.action)).collect();
            let from: Vec<String> = of_slot().filter_map(|step| taken_from(&step.action)).collect();
            let is_touched = of_slot().next().is_some();
            let after = if is_touched { text(&order.after) } else { "stays".to_owned() };
            let data = of_slot().any(|step| !step.data_beside.is_empty());
            table.row([
                number(label, true),
                number(label, false),
                Cell::text(label),
                Cell::maybe(slot_of.description().marking.as_ref()),
                Cell::maybe(slot_of.description().key_facing.map(facing)),
                Cell::text(text(&order.before)),
                Cell::text(to.join(", ")),
                Cell::text(after),
                Cell::text(if data { format!("{} data beside!", from.join(", ")) } else { from.join(", ") }),
            ]);
        }
        for row in &mut table.rows {
            for cell in row.iter_mut().filter(|cell| **cell == Cell::Text(String::new())) {
                *cell = Cell::Empty;
            }
        }
        (table.without_empty_columns(), empty)
    }
}

fn is_hand_out(action: &Action) -> bool {
    matches!(action, Action::TakeOut { .. } | Action::TakeOutBlank)
}

fn individual(held: &Fitted) -> String {
    held.individual.as_ref().map_or(String::new(), |individual| format!(" no. {}", individual.id))
}

/// Where what comes out is put.
fn put_down(action: &Action) -> Option<String> {
    match action {
        Action::TakeOut { module, to: PutDown::Bag { .. } } => Some(format!("bag{}", individual(module))),
        Action::TakeOut { module, to } => Some(format!("{to}{}", individual(module))),
        Action::TakeOutBlank => Some("blank out".to_owned()),
        _ => None,
    }
}

/// Where what goes in comes from.
fn taken_from(action: &Action) -> Option<String> {
    match action {
        Action::PutIn { module, from: PutDown::Bag { slot } } => Some(format!("bag {slot}{}", individual(module))),
        Action::PutIn { module, from } => Some(format!("{from}{}", individual(module))),
        Action::PutInBlank => Some("a blank".to_owned()),
        _ => None,
    }
}

fn which(order: &WorkOrder) -> String {
    let mut text = order.identity.to_string();
    if text.is_empty() {
        text.push_str("which one, was not said: ask before anything is opened");
    }
    if let Some(place) = &order.place {
        text.push_str(&format!(", in {place}"));
    }
    text.push_str(&format!("; board {}", order.platform));
    if order.machines > 1 {
        text.push_str(&format!("; this order is for one of {} alike", order.machines));
    }
    text
}

fn summary(order: &WorkOrder) -> String {
    let out = order.steps().filter(|step| matches!(step.action, Action::TakeOut { .. })).count();
    let put = order.steps().filter(|step| matches!(step.action, Action::PutIn { .. })).count();
    let mut text = format!("{} handlings: {out} out, {put} in", order.handlings);
    if let TrialStart::Made(trial) = &order.trial {
        text.push_str(&format!(", {} of them for a trial start alone", trial.handlings));
    }
    text
}

fn brought(order: &WorkOrder) -> String {
    let supplies = order.supplies.iter().map(|supply| {
        let from = supply.source.as_ref().map_or(String::new(), |source| format!(" ({source})"));
        format!("{} x {}{from}", supply.count, brief(&supply.module))
    });
    let mut brought: Vec<String> = supplies.collect();
    if order.blanks_to_bring > 0 {
        brought.push(format!("{} blanks", order.blanks_to_bring));
    }
    if brought.is_empty() { "nothing".to_owned() } else { brought.join(", ") }
}

/// Cautions as points, checks and halts as boxes.
fn added<'l>(mut section: Section, lines: impl Iterator<Item = &'l OrderLine>) -> Section {
    for line in lines {
        section = match line {
            OrderLine::Caution(caution) => section.items([caution]),
            OrderLine::Check(check) => section.checks([check]),
            OrderLine::Step(step) => section.checks([step]),
            OrderLine::Halt(halt) => section.checks([halt_text(halt)]),
            OrderLine::Other(name) => section.items([name]),
        };
    }
    section
}

fn halt_text(halt: &Halt) -> String {
    let checks: Vec<String> = halt.checks.iter().map(ToString::to_string).collect();
    format!("HALT, {}. {}", halt.at, checks.join(" "))
}

fn back(way: &WayBack, before: &Population) -> Section {
    let mut section = Section::new(format!("FROM THE HALT {}", way.from.to_string().to_uppercase()));
    if way.lines.iter().all(|line| line.step().is_none()) {
        section = section.line("No module was moved: close up.");
    }
    for bad in &way.bad {
        section = section.items([match bad {
            crate::work_order::FoundBad::InSlot { slot } => format!("what is in {slot} was found bad"),
            crate::work_order::FoundBad::InBag { slot } => format!("what is in the bag of {slot} was found bad"),
            crate::work_order::FoundBad::Other(name) => name.to_string(),
        }]);
    }
    let telling = way.population.telling();
    for line in &way.lines {
        section = match line {
            OrderLine::Step(step) => section.checks([step.text(&telling)]),
            OrderLine::Caution(caution) => section.items([caution]),
            OrderLine::Check(check) => section.checks([check]),
            OrderLine::Halt(halt) => section.checks([halt_text(halt)]),
            OrderLine::Other(name) => section.items([name]),
        };
    }
    if let Some(without) = &way.without {
        section = section.items([format!("the machine goes on so: {without}")]);
    } else if matches!(way.from, HaltAt::BeforeLid) || way.population == *before {
        section = section.items(["afterwards everything is where it was"]);
    }
    section
}

fn stop(order: &WorkOrder) -> Section {
    let rules: Vec<String> = order.stop_rules.iter().map(ToString::to_string).collect();
    Section::new("STOP, PHOTOGRAPH, TOUCH NOTHING MORE AND RING AT").line(format!("{}.", rules.join("; ")))
}
