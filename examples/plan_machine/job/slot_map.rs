//! Every slot before and after, with the order of work.

use slotwright::module::ModuleKind;
use slotwright::platform::{KeyFacing, Slot};
use slotwright::population::Occupant;
use slotwright::purchase::ModuleSource;
use slotwright::{Machine, MemoryModule, Name, Plan, Population};

use super::paper::Paper;

/// Slots by processor and channel, from the far end; the numbers are the order of work.
pub(crate) fn write(paper: &mut Paper, machine: &Machine, before: &Population, plan: &Plan) {
    let work = Work::of(machine, plan);
    paper.heading("SLOT MAP AND ORDER OF WORK");
    paper.line("First take out by the numbers on the left, then put in by the numbers on the right.");
    paper.line("Modules are given as size, ranks x width, rated MT/s and kind: R registered, L load-reduced,");
    paper.line("U unbuffered. Of each channel the slot farthest from the processor comes first. Mark: what is");
    paper.line("printed or coloured at the slot. Key: which way it faces. Old to: where the one before goes.");
    paper.line(" out   in   slot  mark   key    now                  afterwards");
    let platform = machine.platform();
    for socket in platform.sockets() {
        paper.line(&format!("processor {}", socket.label));
        for &channel in &socket.channels {
            for &slot in &platform.channel(channel).slots {
                let state = if machine.is_live(slot) { "" } else { "cannot be used" };
                row(paper, platform.slot(slot), state, (before, plan), &work);
            }
        }
    }
}

fn row(paper: &mut Paper, slot: &Slot, state: &str, (before, plan): (&Population, &Plan), work: &Work) {
    let number = |steps: &[Name]| match steps.iter().position(|label| *label == *slot.label()) {
        Some(step) => format!("[{:>2}]", step + 1),
        None => String::new(),
    };
    let held = before.get(slot.label().as_str()).map_or("-".to_owned(), occupant);
    let planned = plan.slots.iter().find(|planned| planned.slot == *slot.label());
    let pulled = plan.pulled.iter().any(|pulled| pulled.slot == *slot.label());
    let moves_to = plan.slots.iter().find(|to| to.source == ModuleSource::MovesFrom { slot: slot.label().clone() });
    let mut how: Vec<String> = planned.map(|planned| planned.source.to_string()).into_iter().collect();
    how.extend(moves_to.map(|to| format!("old to {}", to.slot)));
    how.extend(pulled.then(|| "old pulled".to_owned()));
    let after = match (planned, plan.population.get(slot.label().as_str())) {
        (Some(planned), _) => brief(&planned.module),
        (None, Some(other)) => occupant(other),
        (None, None) => "-".to_owned(),
    };
    if plan.free_slots.contains(slot.label()) {
        how.push("free".to_owned());
    }
    how.extend((!state.is_empty()).then(|| state.to_owned()));
    let marking = slot.description().marking.as_ref().map_or("", Name::as_str);
    let facing = match slot.description().key_facing {
        None => "",
        Some(KeyFacing::Usual) => "usual",
        Some(KeyFacing::Turned) => "turned",
    };
    let (out, put) = (number(&work.out), number(&work.put));
    let label = slot.label().as_str();
    paper.line(&format!(
        "{out:>5} {put:>4}  {label:<5} {marking:<6} {facing:<6} {held:<20} {after:<20} {}",
        how.join(", ")
    ));
}

/// The slots in the order in which they are worked on.
struct Work {
    out: Vec<Name>,
    put: Vec<Name>,
}

impl Work {
    /// Everything that goes comes out first, in the order of the board; then slots are filled by turn, so
    /// that at every moment the far slots of a channel are filled first.
    fn of(machine: &Machine, plan: &Plan) -> Self {
        let leaves = |label: &Name| {
            let moves = |planned: &slotwright::purchase::PlannedSlot| {
                planned.source == ModuleSource::MovesFrom { slot: label.clone() }
            };
            plan.pulled.iter().any(|pulled| pulled.slot == *label) || plan.slots.iter().any(moves)
        };
        let labels = machine.platform().slots().iter().map(|slot| slot.label().clone());
        let new = plan.slots.iter().filter(|planned| planned.source != ModuleSource::Stays);
        Self { out: labels.filter(leaves).collect(), put: new.map(|planned| planned.slot.clone()).collect() }
    }
}

fn occupant(occupant: &Occupant) -> String {
    match occupant {
        Occupant::Module(fitted) => brief(&fitted.module),
        Occupant::OtherDevice(_) | Occupant::Blank => occupant.to_string(),
    }
}

/// "16GB 2Rx4 2400 R".
fn brief(module: &MemoryModule) -> String {
    let kind = match module.kind() {
        ModuleKind::Registered => "R",
        ModuleKind::LoadReduced => "L",
        ModuleKind::Unbuffered => "U",
        other => other.word(),
    };
    let organization = module.organization().map(|organization| organization.to_string());
    let grade = module.grade().map(|grade| grade.name_mts().to_string());
    let capacity = module.capacity().to_string().replace(' ', "");
    let unknown = || "?".to_owned();
    format!("{capacity} {} {} {kind}", organization.unwrap_or_else(unknown), grade.unwrap_or_else(unknown))
}
