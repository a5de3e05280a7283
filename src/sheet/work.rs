//! What hands do: the order of work and the way back.

use crate::platform::SlotId;
use crate::population::{Fitted, Occupant, Population};
use crate::sheet::slots::{LEGEND, brief, facing, occupant};
use crate::sheet::{Cell, Column, Job, Section, Sheet, Table};
use crate::unit::Name;
use crate::unit::counted;
use crate::work_order::{Action, Halt, HaltAt, OrderLine, PutDown, Step, TrialStart, WayBack, WorkOrder};

/// How to go back from where hands stopped between two halts.
const BETWEEN_HALTS: &str = "Stopped between two halts, undo first what was done since the last halt, blanks too, the last step \
    first, by the numbers of the order: take out what has gone in, and put it back where it came from; put back what has come out, into the slot it came from. \
    Then all is as at that halt, with the lid still off. Whoever gave the order can also print the way back after just the steps that \
    were done.";

impl Job<'_> {
    /// An order of work on one sheet, without money: what is true before the lid comes off, one row a slot with what comes out and what
    /// goes in, numbered in the order of the work, the halts, what to look at afterwards, when to stop. The ways back are a sheet
    /// of their own.
    #[must_use]
    pub fn work_order(&self, order: &WorkOrder) -> Sheet {
        let mut head = Section::plain().entry("Machine", which(order));
        head = head.entry("Work", summary(order));
        head = head.entry("Bring", brought(order));
        if order.lines.is_empty() {
            return Sheet::new(format!("WORK ORDER   {}", self.title))
                .section(Section::plain().entry("Machine", which(order)).line("Nothing is to be done."))
                .section(self.foundation(order.findings.iter().map(|finding| format!("as it is: {finding}"))));
        }
        let (trial, rest) = match &order.trial {
            TrialStart::Made(trial) => {
                let is_done = |line: &OrderLine| line.halt().is_some_and(|halt| halt.at == HaltAt::TrialDone);
                let end = order.lines.iter().position(is_done).map_or(0, |end| end + 1);
                (Some((trial, order.lines.get(..end).unwrap_or_default())), order.lines.get(end..).unwrap_or_default())
            }
            _ => (None, order.lines.as_slice()),
        };
        let mut sheet = Sheet::new(format!("WORK ORDER   {}", self.title)).section(head);
        let mut now = &order.before;
        if let Some((trial, lines)) = trial {
            let (before, work, after) = parts(lines);
            sheet = sheet
                .section(added(Section::new("BEFORE"), before))
                .section(added(self.table(Section::new("THE TRIAL START"), work, (now, &trial.population)), work))
                .section(added(Section::new("THE TRIAL START, AFTER THE LAST MODULE"), after));
            now = &trial.population;
        }
        let (before, work, after) = parts(rest);
        let name = if trial.is_some() { "THE REST OF THE WORK" } else { "THE WORK" };
        let foundation = self.foundation(order.findings.iter().map(|finding| format!("afterwards: {finding}")));
        sheet
            .section(added(Section::new("BEFORE"), before))
            .section(added(self.table(Section::new(name), work, (now, &order.after)), work))
            .section(added(Section::new("AFTERWARDS"), after))
            .section(stop(order))
            .section(foundation.blanks(["Technician", "Date and time"]))
    }

    /// The ways back from each halt of an order: a sheet to have at hand, and to put away unused.
    #[must_use]
    pub fn ways_back(&self, order: &WorkOrder) -> Sheet {
        if order.ways_back.is_empty() {
            return Sheet::new(format!("WAY BACK   {}", self.title))
                .section(Section::plain().entry("Machine", which(order)).line("Nothing is to be done."))
                .section(self.foundation([]));
        }
        let mut sheet = Sheet::new(format!("WAY BACK   {}", self.title)).section(
            Section::plain()
                .entry("Machine", which(order))
                .line("From the halt that was reached last, go back by its steps. What was found bad is not put back: ring first.")
                .line(BETWEEN_HALTS),
        );
        for way in &order.ways_back {
            sheet = sheet.section(back(way, &order.before));
        }
        sheet.section(stop(order)).section(self.foundation([]))
    }

    /// The way back from one halt, or from after some step, also where modules were found bad.
    #[must_use]
    pub fn way_back(&self, order: &WorkOrder, way: &WayBack) -> Sheet {
        Sheet::new(format!("WAY BACK   {}", self.title))
            .section(Section::plain().entry("Machine", which(order)))
            .section(back(way, &order.before))
            .section(stop(order))
            .section(self.foundation([]))
            .section(Section::new("DONE BY").blanks(["Technician", "Date and time"]))
    }

    /// The table of some steps, and how it is read.
    fn table(&self, section: Section, lines: &[OrderLine], populations: (&Population, &Population)) -> Section {
        let steps: Vec<&Step> = lines.iter().filter_map(OrderLine::step).collect();
        if steps.is_empty() {
            return section;
        }
        let (table, empty) = self.rows(&steps, populations);
        let has = |heading: &str| table.columns.iter().any(|column| column.heading == heading);
        let mut how = "Out by \"out\", stop, then in by \"in\". Bag what comes out under its slot.".to_owned();
        if steps.iter().any(|step| !step.is_handling()) {
            how.push_str(" b: a blank; modules go in first.");
        }
        if has("mark") {
            how.push_str(" Mark: what the slot shows.");
        }
        if has("key") {
            how.push_str(" Key turned: turn the module.");
        }
        let section = section.line(format!("{how} {LEGEND}")).table(table);
        if empty.is_empty() { section } else { section.line(format!("Empty, and stay so: {}.", empty.join(", "))) }
    }

    /// One row a slot, as the slots lie on the board where that is described, else by channel; and the slots that are empty and stay so.
    fn rows(&self, steps: &[&Step], (now, then): (&Population, &Population)) -> (Table, Vec<String>) {
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
        let number = |label: &Name, is_out: bool| {
            let (mut modules, mut blanks) = (0, 0);
            let mut found = Vec::new();
            for step in steps {
                if is_hand_out(&step.action) == is_out {
                    let (sort, count) = if step.is_handling() { ("", &mut modules) } else { ("b", &mut blanks) };
                    *count += 1;
                    if step.slot == *label {
                        found.push(format!("{sort}{count}"));
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
            let is_held = now.get(label.as_str()).is_some();
            if !is_held && !steps.iter().any(|step| step.slot == *label) {
                empty.push(label.to_string());
                continue;
            }
            let text = |population: &Population| population.get(label.as_str()).map_or("-".to_owned(), occupant);
            let of_slot = || steps.iter().filter(|step| step.slot == *label);
            let to: Vec<String> = of_slot().filter_map(|step| put_down(&step.action)).collect();
            let from: Vec<String> = of_slot().filter_map(|step| taken_from(&step.action)).collect();
            let is_touched = of_slot().next().is_some();
            let after = match now.get(label.as_str()) {
                _ if is_touched => text(then),
                Some(Occupant::Module(held)) => format!("stays{}", individual(held)),
                _ => "stays".to_owned(),
            };
            let data = of_slot().any(|step| !step.data_beside.is_empty());
            table.row([
                number(label, true),
                number(label, false),
                Cell::text(label),
                Cell::maybe(slot_of.description().marking.as_ref()),
                Cell::maybe(slot_of.description().key_facing.map(facing)),
                Cell::text(text(now)),
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
        Action::PutIn { module, from: PutDown::Bag { slot } } => Some(format!("bag of {slot}{}", individual(module))),
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
    let mut text = format!("{} handlings: {out} out, {put} in", out + put);
    let blanks = |action: &Action| order.steps().filter(|step| step.action == *action).count();
    let (blanks_out, blanks_in) = (blanks(&Action::TakeOutBlank), blanks(&Action::PutInBlank));
    if blanks_out + blanks_in > 0 {
        text.push_str(&format!("; blanks: {blanks_out} out, {blanks_in} in"));
    }
    if let TrialStart::Made(trial) = &order.trial {
        text.push_str(&format!("; {} of the handlings are for the trial start alone", trial.handlings));
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
        brought.push(counted(order.blanks_to_bring, "blank"));
    }
    if brought.is_empty() { "nothing".to_owned() } else { brought.join(", ") }
}

/// What comes before the first step, from there to the last one, and what comes after that; the last halt of the steps stands with them.
fn parts(lines: &[OrderLine]) -> (&[OrderLine], &[OrderLine], &[OrderLine]) {
    let is_step = |line: &OrderLine| line.step().is_some();
    let first = lines.iter().position(is_step).unwrap_or_default();
    let last = lines.iter().rposition(is_step).map_or(first, |last| last + 1);
    let ends_with_halt = last > first && lines.get(last).is_some_and(|line| line.halt().is_some());
    let last = last + usize::from(ends_with_halt);
    let part = |from: usize, to: usize| lines.get(from..to).unwrap_or_default();
    (part(0, first), part(first, last), part(last, lines.len()))
}

/// Cautions as points, checks and halts as boxes; steps stand in a table.
fn added(mut section: Section, lines: &[OrderLine]) -> Section {
    for line in lines {
        section = match line {
            OrderLine::Caution(caution) => section.items([caution]),
            OrderLine::Check(check) => section.checks([check]),
            OrderLine::Step(_) => section,
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
    let halt = way.from.to_string().to_uppercase();
    let mut section = Section::new(match way.steps_done {
        Some(steps) => format!("AFTER STEP {steps}, BLANKS COUNTED; LAST HALT {halt}"),
        None => format!("FROM THE HALT {halt}"),
    });
    if way.lines.iter().all(|line| line.step().is_none()) {
        section = section.line("No module is to be moved.");
    }
    if way.steps_done.is_none() && way.from == HaltAt::BeforeLid {
        section = section.line(
            "Where the lid came off since: see that every module is flush and its latches closed, put back what was lifted out, and put \
             the lid on, before any cord goes in.",
        );
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
    if order.stop_rules.is_empty() {
        return Section::plain();
    }
    let rules: Vec<String> = order.stop_rules.iter().map(ToString::to_string).collect();
    Section::new("STOP, PHOTOGRAPH, TOUCH NOTHING MORE AND RING AT").line(format!("{}.", rules.join("; ")))
}
