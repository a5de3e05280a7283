//! Why a machine is not as planned, and what to do: equal faults together, and the machine opened once.

use std::mem::{Discriminant, discriminant};

use crate::acceptance::{
    Cause, CauseGroup, Causes, Evidence, FaultSort, NextOutcome, NextStep, Shown, Step, WorkFault,
};
use crate::finding::Place;
use crate::population::PlaceState;
use crate::sheet::accept::{brief, capital};
use crate::sheet::{Cell, Column, Section, Sheet, Table};
use crate::unit::{Name, listed};

/// The faults, then what to do next.
pub(super) fn causes(sheet: Sheet, causes: &Causes) -> Sheet {
    let is_proved = causes.groups.iter().all(|group| group.is_proved);
    let count = match (causes.faults_at_least, is_proved) {
        (1, true) => "1 FAULT".to_owned(),
        (count, true) => format!("{count} FAULTS"),
        (count, false) => format!("AT LEAST {count} FAULT{}", if count == 1 { "" } else { "S" }),
    };
    let mut section = Section::new(format!("WHY: {count}")).line(least(causes, is_proved));
    let blocks = alike(&causes.groups);
    let is_single = blocks.len() == 1;
    for (at, block) in blocks.iter().enumerate() {
        section = explained(section, block, (!is_single).then_some(at + 1));
    }
    sheet.section(section).section(to_do(&causes.groups))
}

/// What "least" means.
fn least(causes: &Causes, is_proved: bool) -> String {
    match (is_proved, causes.stopped) {
        (true, _) if causes.faults_at_least == 1 => "One fault explains all that is not as planned.".to_owned(),
        (true, _) => "Together they explain all that is not as planned; no smaller set of faults does.".to_owned(),
        (false, stopped) => {
            let stopped = stopped.map_or(String::new(), |stopped| format!(" The search {stopped}:"));
            format!(
                "No smaller set of faults explains this report.{stopped} it may take more, and what is listed may not be all of it."
            )
        }
    }
}

/// Groups that tell of the same sort of faults, in other places.
fn alike(groups: &[CauseGroup]) -> Vec<Vec<&CauseGroup>> {
    let mut blocks: Vec<Vec<&CauseGroup>> = Vec::new();
    for group in groups {
        let found = blocks.iter_mut().find(|block| block.first().is_some_and(|first| is_alike(first, group)));
        match found {
            Some(block) => block.push(group),
            None => blocks.push(vec![group]),
        }
    }
    blocks
}

fn is_alike(one: &CauseGroup, other: &CauseGroup) -> bool {
    let shape = |group: &CauseGroup| -> Vec<Vec<(Sort, Vec<FaultSort>)>> {
        let cause = |cause: &Cause| (sort(&cause.fault), cause.may_be.clone());
        group.alternatives.iter().map(|own| own.causes.iter().map(cause).collect()).collect()
    };
    one.further == 0 && other.further == 0 && one.is_proved == other.is_proved && shape(one) == shape(other)
}

/// What is equal of faults in other places: their sort, what fails as one, and how that reads.
type Sort = (Discriminant<WorkFault>, Option<Discriminant<Place>>, Option<PlaceState>);

fn sort(fault: &WorkFault) -> Sort {
    let (unit, reads) = match fault {
        WorkFault::Unread { unit, reads, .. } => (Some(discriminant(unit)), Some(*reads)),
        WorkFault::WrongPart { reads, .. } | WorkFault::Unplanned { reads, .. } => (None, Some(*reads)),
        _ => (None, None),
    };
    (discriminant(fault), unit, reads)
}

/// A block of faults: its alternatives, and of each its parts.
fn explained(mut section: Section, block: &[&CauseGroup], number: Option<usize>) -> Section {
    let Some(first) = block.first() else { return section };
    let is_only = first.is_proved && first.further == 0 && first.alternatives.len() == 1;
    let number = number.map_or(String::new(), |number| format!("{number}. "));
    for at in 0..first.alternatives.len() {
        let all = block.iter().filter_map(|group| group.alternatives.get(at)).flat_map(|own| &own.causes);
        let mut parts: Vec<Vec<&Cause>> = Vec::new();
        for cause in all {
            let is_same = |other: &&Cause| sort(&other.fault) == sort(&cause.fault) && other.may_be == cause.may_be;
            match parts.iter_mut().find(|part| part.first().is_some_and(is_same)) {
                Some(part) => part.push(cause),
                None => parts.push(vec![cause]),
            }
        }
        for (part, causes) in parts.iter().enumerate() {
            let word = match (at, part) {
                (_, 1..) => "and".to_owned(),
                (0, 0) if is_only => format!("{number}It is"),
                (0, 0) => format!("{number}It may be"),
                _ => "or".to_owned(),
            };
            section = told(section, word, causes);
        }
    }
    if first.further > 0 {
        section = section.line(format!("Or one of {} more of as many faults.", first.further));
    }
    section
}

fn told(section: Section, word: String, causes: &[&Cause]) -> Section {
    let faults: Vec<&WorkFault> = causes.iter().map(|cause| &cause.fault).collect();
    let may_be = causes.first().map_or(String::new(), |cause| joined(&cause.may_be));
    let mut section = section.entry(word, format!("{}.", capital(&phrase(&faults))));
    section = section.entry("", format!("{}: {may_be}.", if causes.len() > 1 { "Each may be" } else { "That may be" }));
    for (word, of) in [("For it", true), ("Against it", false)] {
        let said = causes.iter().flat_map(|cause| if of { &cause.speaks_for } else { &cause.speaks_against });
        let said = evidence(&said.collect::<Vec<_>>());
        if !said.is_empty() {
            section = section.entry("", format!("{word}: {}.", said.join("; ")));
        }
    }
    section
}

/// Equal faults in one sentence, without its full stop.
fn phrase(faults: &[&WorkFault]) -> String {
    let slots: Vec<Name> = faults.iter().filter_map(|fault| slot(fault)).cloned().collect();
    let all = |text: &str| format!("{} faults: {text}", faults.len());
    let pairs = |between: &str| {
        let pair = |fault: &&WorkFault| match fault {
            WorkFault::WrongSlot { from, to } | WorkFault::MoveUndone { from, to } => format!("{from}{between}{to}"),
            WorkFault::Swapped { first, second } => format!("{first}{between}{second}"),
            other => other.to_string(),
        };
        faults.iter().map(pair).collect::<Vec<_>>().join(", ")
    };
    match faults {
        [WorkFault::WrongPart { slot, shows, .. }] => {
            format!("slot {slot} holds another module than planned: {}", brief(shows))
        }
        [WorkFault::Unplanned { slot, shows, .. }] => {
            format!("slot {slot} holds a module that is not planned there: {}", brief(shows))
        }
        [one] => one.to_string(),
        [WorkFault::Unread { unit: Place::Slot { .. }, reads: PlaceState::Absent, .. }, ..] => {
            all(&format!("the modules planned for slots {} are not seen", listed(&slots)))
        }
        [WorkFault::Unread { unit: Place::Slot { .. }, reads, .. }, ..] => {
            all(&format!("the modules in slots {} are {reads}", listed(&slots)))
        }
        [WorkFault::WrongPart { .. }, ..] => all(&format!("slots {} hold other modules than planned", listed(&slots))),
        [WorkFault::Unplanned { .. }, ..] => {
            all(&format!("slots {} hold modules that are not planned there", listed(&slots)))
        }
        [WorkFault::WrongSlot { .. }, ..] => {
            all(&format!("modules sit in other slots than planned: {}", pairs(" in ")))
        }
        [WorkFault::MoveUndone { .. }, ..] => all(&format!("modules were not moved: {}", pairs(" to "))),
        [WorkFault::Swapped { .. }, ..] => all(&format!("modules are swapped: {}", pairs(" and "))),
        _ => faults.iter().map(ToString::to_string).collect::<Vec<_>>().join("; "),
    }
}

fn slot(fault: &WorkFault) -> Option<&Name> {
    match fault {
        WorkFault::Unread { unit: Place::Slot { slot }, .. } => Some(slot),
        WorkFault::WrongPart { slot, .. } | WorkFault::Unplanned { slot, .. } => Some(slot),
        _ => None,
    }
}

/// What speaks for faults or against them; what the table of slots says is not said again.
fn evidence(all: &[&Evidence]) -> Vec<String> {
    let of = |is: &dyn Fn(&Evidence) -> Option<Name>| -> Vec<Name> {
        let mut slots: Vec<Name> = Vec::new();
        for slot in all.iter().filter_map(|one| is(one)) {
            if !slots.contains(&slot) {
                slots.push(slot);
            }
        }
        slots
    };
    type Of<'f> = (&'f dyn Fn(&Evidence) -> Option<Name>, &'f str, &'f str);
    let together: [Of<'_>; 4] = [
        (
            &|one| if let Evidence::AsBefore { slot } = one { Some(slot.clone()) } else { None },
            "",
            " show what was there before the work",
        ),
        (
            &|one| if let Evidence::ChannelReads { slot } = one { Some(slot.clone()) } else { None },
            "",
            " of the same channels are read",
        ),
        (
            &|one| if let Evidence::NothingRead { slot } = one { Some(slot.clone()) } else { None },
            "nothing can be read of what is in ",
            "",
        ),
        (
            &|one| if let Evidence::FaultyBefore { slot } = one { Some(slot.clone()) } else { None },
            "what was faulty before was in ",
            "",
        ),
    ];
    let mut said = Vec::new();
    for (is, before, after) in together {
        match of(is).as_slice() {
            [] => {}
            [_] => said.extend(all.iter().find(|one| is(one).is_some()).map(ToString::to_string)),
            slots => said.push(format!("{before}slots {}{after}", listed(slots))),
        }
    }
    for one in all {
        let is_told = matches!(one, Evidence::Reads { .. }) || together.iter().any(|(is, ..)| is(one).is_some());
        let text = one.to_string();
        if !is_told && !said.contains(&text) {
            said.push(text);
        }
    }
    said
}

pub(super) fn joined<T: ToString>(parts: &[T]) -> String {
    parts.iter().map(ToString::to_string).collect::<Vec<_>>().join("; ")
}

/// The next steps of all groups: equal ones as one, the least effort first.
pub(super) fn steps(groups: &[CauseGroup]) -> Vec<NextStep> {
    let mut steps: Vec<NextStep> = Vec::new();
    for next in groups.iter().map(|group| &group.next) {
        let same = steps.iter_mut().find(|own| own.step == next.step && own.is_remedy == next.is_remedy);
        let Some(own) = same else {
            steps.push(next.clone());
            continue;
        };
        own.merge(next);
    }
    // what is looked into first, then what is done with it open
    steps.sort_by_key(|next| (next.effort, next.is_remedy));
    steps
}

/// What to do: the machine is opened once.
fn to_do(groups: &[CauseGroup]) -> Section {
    let steps = steps(groups);
    let mut section = Section::new(if steps.len() == 1 { "NEXT" } else { "NEXT, IN THIS ORDER" });
    let mut is_open = false;
    for next in &steps {
        section = section.checks([capital(&step(next, is_open))]);
        section = follow(section, next, groups);
        is_open |= opened(next.step).is_some();
    }
    section
}

/// What a step may show; then the steps that follow where it does not tell, each once.
fn follow(mut section: Section, next: &NextStep, groups: &[CauseGroup]) -> Section {
    if next.is_remedy && next.outcomes.len() < 2 {
        return section;
    }
    section = section.table(outcomes(next));
    let mut left: Vec<NextStep> = Vec::new();
    for then in next.outcomes.iter().filter_map(|outcome| next.following(outcome)) {
        match left.iter_mut().find(|own| own.step == then.step) {
            Some(own) => own.merge(&then),
            None => left.push(then),
        }
    }
    for mut then in left {
        // only the slots of what it may still be
        let means: Vec<FaultSort> = then.outcomes.iter().flat_map(|outcome| outcome.means.clone()).collect();
        let causes = groups.iter().flat_map(|group| &group.alternatives).flat_map(|own| &own.causes);
        let causes = causes.filter(|cause| cause.may_be.iter().any(|sort| means.contains(sort)));
        let slots: Vec<&Name> = causes.flat_map(|cause| &cause.next.slots).collect();
        then.slots.retain(|slot| slots.is_empty() || slots.contains(&slot));
        let told = step(&then, next.step == Step::Look);
        section = follow(section.checks([format!("If it is not told by that: {told}")]), &then, groups);
    }
    section
}

/// What a step asks for where the machine is open already; nothing of one that needs no opening.
fn opened(step: Step) -> Option<String> {
    let text = step.to_string();
    let rest = text.strip_prefix("power off, cords out, ")?;
    Some(rest.strip_prefix("and ").unwrap_or(rest).to_owned())
}

/// A step, with its slots.
pub(super) fn step(next: &NextStep, is_open: bool) -> String {
    let text = match opened(next.step).filter(|_| is_open) {
        Some(text) => format!("while it is open, {text}"),
        None => next.step.to_string(),
    };
    let slots = if next.step == Step::NewReport { &[] } else { next.slots.as_slice() };
    match slots {
        [] => format!("{text}."),
        slots => format!("{text} ({}).", listed(slots)),
    }
}

fn outcomes(next: &NextStep) -> Table {
    let mut table = Table::new(["if it shows", "it may be", "and then"].map(Column::text));
    for outcome in &next.outcomes {
        table.row([
            Cell::text(outcome.shows),
            Cell::text(if outcome.means.is_empty() {
                "not told by a report".to_owned()
            } else {
                joined(&outcome.means)
            }),
            Cell::text(then(next, outcome)),
        ]);
    }
    table
}

/// What is done once a step has shown something.
fn then(next: &NextStep, outcome: &NextOutcome) -> String {
    match outcome.remedy.or_else(|| next.following(outcome).map(|then| then.step)) {
        // that was the remedy
        Some(Step::NewReport) if outcome.remedy.is_some() && outcome.shows == Shown::AsPlanned => {
            "hold it against the plan".to_owned()
        }
        Some(step) if step == next.step && outcome.shows == Shown::AsPlanned => {
            "take a new report, and hold it against the plan".to_owned()
        }
        Some(step) => opened(step).unwrap_or_else(|| step.to_string()),
        None => "have it looked at by those qualified for it".to_owned(),
    }
}
