//! What hands do: the order of work and the way back.

use crate::population::{MachineIdentity, Population};
use crate::sheet::slots::{LEGEND, brief};
use crate::sheet::steps::{Board, Numbered, is_from_own_bag, is_hand_out, ranges};
use crate::sheet::{Job, Section, Sheet, Table};
use crate::unit::{counted, listed};
use crate::work_order::{Action, Check, Halt, HaltAt, OrderLine, Step, Trial, TrialStart, WorkOrder};

/// How many slots a halt lists; more are those that the table has.
const MOST_LISTED: usize = 12;

impl Job<'_> {
    /// An order of work on one sheet, without money: what is true before the lid comes off, one row a slot with what comes out and what
    /// goes in, numbered in the order of the work, the halts, what to look at afterwards, when to stop. The ways back are a sheet
    /// of their own.
    #[must_use]
    pub fn work_order(&self, order: &WorkOrder) -> Sheet {
        let head = Section::plain().entry("Machine", which(order));
        if order.lines.is_empty() {
            return Sheet::new(format!("WORK ORDER   {}", self.title))
                .section(head.line("Nothing is to be done."))
                .section(self.foundation(order.findings.iter().map(|finding| format!("as it is: {finding}"))));
        }
        let head = head.entry("Work", summary(order)).entry("Bring", brought(order));
        let mut sheet = Sheet::new(format!("WORK ORDER   {}", self.title)).section(head);
        let lines = counted_through(&order.lines);
        let (mut rest, mut now, mut name) = (lines.as_slice(), &order.before, "THE WORK");
        if let TrialStart::Made(trial) = &order.trial {
            let is_done = |(_, line): &(_, &OrderLine)| line.halt().is_some_and(|halt| halt.at == HaltAt::TrialDone);
            let end = lines.iter().position(is_done).map_or(0, |end| end + 1);
            let (before, work, after) = parts(lines.get(..end).unwrap_or_default());
            sheet = sheet
                .section(added(Section::new("BEFORE"), before))
                .section(self.trial_steps(work).items(carried(trial)))
                .section(added(Section::new("THE TRIAL START, AFTER THE LAST MODULE"), after));
            (rest, now, name) = (lines.get(end..).unwrap_or_default(), &trial.population, "THE REST OF THE WORK");
        }
        let (before, work, after) = parts(rest);
        let foundation = self.foundation(order.findings.iter().map(|finding| format!("afterwards: {finding}")));
        sheet
            .section(added(Section::new("BEFORE"), before))
            .section(self.steps(Section::new(name), work, now))
            .section(added_where(Section::new("AFTERWARDS"), after, order.expected_text().as_deref()))
            .section(stop(order))
            .section(foundation.blanks(["Technician", "Date and time"]))
    }

    /// The table of the steps of a trial start, without the slots that it does not touch.
    fn trial_steps(&self, lines: Lines<'_, '_>) -> Section {
        let section = Section::new("THE TRIAL START");
        let steps = numbered(lines);
        if steps.is_empty() {
            return added(section, lines);
        }
        let section = section.line("All slots that are not listed stay as they are.");
        added(self.table_of(section, &steps, false), lines)
    }

    /// The table of some steps, without the slots that they do not touch; `only_some` where not all of them are done.
    pub(super) fn table_of(&self, section: Section, steps: &[Numbered<'_>], only_some: bool) -> Section {
        let now = &Population::new();
        let (table, _) = Board { platform: self.machine.platform(), now, only_some }.table(steps);
        section.line(legend(&table, steps)).table(table)
    }

    /// The table of some steps, how it is read, and by their numbers what is done between the halts.
    fn steps(&self, section: Section, lines: &[(Option<usize>, &OrderLine)], now: &Population) -> Section {
        let steps = numbered(lines);
        if steps.is_empty() {
            return added(section, lines);
        }
        let (table, empty) = Board { platform: self.machine.platform(), now, only_some: false }.table(&steps);
        let section = section.line(legend(&table, &steps)).table(table);
        let section =
            if empty.is_empty() { section } else { section.line(format!("Empty, and stay so: {}.", empty.join(", "))) };
        added(section, lines)
    }
}

/// How a table of steps is read.
pub(super) fn legend(table: &Table, steps: &[Numbered<'_>]) -> String {
    let has = |heading: &str| table.columns.iter().any(|column| column.heading == heading);
    let mut how = "By number.".to_owned();
    if steps.iter().any(|(_, step)| is_hand_out(&step.action) && step.is_handling()) {
        how.push_str(" What comes out goes into the bag of its slot");
        how.push_str(if has("put") { ", unless \"put\" says otherwise." } else { "." });
    }
    if steps.iter().any(|(_, step)| is_from_own_bag(step)) {
        how.push_str(" What goes in comes from the bag of its slot");
        how.push_str(if has("from") { ", unless \"from\" says otherwise." } else { "." });
    }
    if has("key") {
        how.push_str(" Key 180: turned, turn the module round.");
    }
    format!("{how} {LEGEND}")
}

/// The steps among numbered lines.
pub(super) fn numbered<'a>(lines: &[(Option<usize>, &'a OrderLine)]) -> Vec<Numbered<'a>> {
    lines.iter().filter_map(|(number, line)| Some(((*number)?, line.step()?))).collect()
}

/// The lines, each step with its number in the whole.
pub(super) fn counted_through(lines: &[OrderLine]) -> Vec<(Option<usize>, &OrderLine)> {
    let mut count = 0;
    let with_number = |line| {
        let is_step = OrderLine::step(line).is_some();
        count += usize::from(is_step);
        (is_step.then_some(count), line)
    };
    lines.iter().map(with_number).collect()
}

pub(super) fn which(order: &WorkOrder) -> String {
    let mut text = match order.identity == MachineIdentity::new() {
        true => "which one, was not said: ask before anything is opened".to_owned(),
        false => order.identity.to_string(),
    };
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
    match &order.trial {
        TrialStart::NotAsked => {}
        TrialStart::Made(trial) => {
            text.push_str(&match trial.handlings {
                0 => "; none of them is for the trial start alone".to_owned(),
                1 => "; 1 of them is for the trial start alone".to_owned(),
                alone => format!("; {alone} of them are for the trial start alone"),
            });
            text.push_str(if trial.is_not_proved { " (fewer may do)" } else { "" });
        }
        TrialStart::NothingNew => text.push_str("; no trial start: no part is new to the machine"),
        TrialStart::NoneFound => text.push_str("; a trial start was asked for, and none was found"),
        TrialStart::Other(name) => text.push_str(&format!("; trial start: {name}")),
    }
    text
}

/// What a trial start carries: what is to be done about it is no matter then.
fn carried(trial: &Trial) -> Option<String> {
    let mut found: Vec<String> =
        trial.findings.iter().map(|finding| format!("{} {}", finding.severity, finding.code)).collect();
    found.dedup();
    (!found.is_empty()).then(|| format!("The trial start may show, and that is no fault: {}.", found.join(", ")))
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
pub(super) type Lines<'a, 'o> = &'a [(Option<usize>, &'o OrderLine)];

fn parts<'a, 'o>(lines: Lines<'a, 'o>) -> (Lines<'a, 'o>, Lines<'a, 'o>, Lines<'a, 'o>) {
    let is_step = |(number, _): &(Option<usize>, &OrderLine)| number.is_some();
    let first = lines.iter().position(is_step).unwrap_or_default();
    let last = lines.iter().rposition(is_step).map_or(first, |last| last + 1);
    let ends_with_halt = last > first && lines.get(last).is_some_and(|(_, line)| line.halt().is_some());
    let last = last + usize::from(ends_with_halt);
    let part = |from: usize, to: usize| lines.get(from..to).unwrap_or_default();
    (part(0, first), part(first, last), part(last, lines.len()))
}

/// Cautions as points, checks and halts as boxes; steps stand in a table, and here are a box for each stretch of their numbers.
pub(super) fn added(section: Section, lines: Lines<'_, '_>) -> Section {
    added_where(section, lines, None)
}

/// The same, where what a report is expected to say is known.
fn added_where(mut section: Section, lines: Lines<'_, '_>, expected: Option<&str>) -> Section {
    let mut stretch: Vec<Numbered<'_>> = Vec::new();
    let mut rest = lines.iter().peekable();
    while let Some((number, line)) = rest.next() {
        if let (Some(number), OrderLine::Step(step)) = (number, line) {
            stretch.push((*number, step));
            let goes_on = rest.peek().and_then(|(_, next)| next.step()).is_some_and(|next| sort(next) == sort(step));
            if !goes_on {
                section = section.checks([format!(
                    "{}: {}.",
                    sort(step),
                    ranges(stretch.drain(..).map(|(number, _)| number))
                )]);
            }
            continue;
        }
        section = match line {
            OrderLine::Caution(caution) => section.items([caution]),
            OrderLine::Check(check) => section.checks([check]),
            OrderLine::Step(_) => section,
            OrderLine::Halt(halt) => section.checks([halt_text(halt, expected)]),
            OrderLine::Other(name) => section.items([name]),
        };
    }
    section
}

/// What is done at a stretch; blanks come out among the modules, and go in after them.
fn sort(step: &Step) -> &'static str {
    match &step.action {
        Action::TakeOut { .. } | Action::TakeOutBlank => "Take out, by number",
        Action::PutIn { .. } => "Put in, by number",
        Action::PutInBlank => "Put in blanks, by number",
        Action::Other(_) => "Do, by number",
    }
}

fn halt_text(halt: &Halt, expected: Option<&str>) -> String {
    let mut checks: Vec<String> = Vec::new();
    let mut rest = halt.checks.iter().peekable();
    while let Some(check) = rest.next() {
        checks.push(match (check, rest.peek()) {
            // the same slots need not be listed twice
            (Check::SlotsEmpty { slots }, Some(Check::BagsLabelled { slots: bags })) if slots == bags => {
                rest.next();
                match slots.len() > MOST_LISTED {
                    true => "Each slot under \"out\" is empty, each module in its labelled bag.".to_owned(),
                    false => format!("Empty, and each module in a bag with its label: {}.", listed(slots)),
                }
            }
            (Check::BagsAtHand { slots }, _) if slots.len() > MOST_LISTED => {
                format!("At hand: {} bags, labelled with the slots under \"out\".", slots.len())
            }
            // the slots are those of the numbers above
            (&Check::ModulesIn { count, blanks, .. }, _) => {
                Check::ModulesIn { count, blanks, slots: Vec::new() }.to_string()
            }
            (Check::ReportAsExpected, _) if expected.is_some() => {
                format!("The report of the machine is as expected: {}.", expected.unwrap_or_default())
            }
            _ => check.to_string(),
        });
    }
    format!("HALT, {}. {}", halt.at, checks.join(" "))
}

pub(super) fn stop(order: &WorkOrder) -> Section {
    if order.stop_rules.is_empty() {
        return Section::plain();
    }
    let rules: Vec<String> = order.stop_rules.iter().map(ToString::to_string).collect();
    Section::new("STOP, PHOTOGRAPH, TOUCH NOTHING MORE AND RING AT").line(format!("{}.", rules.join("; ")))
}
