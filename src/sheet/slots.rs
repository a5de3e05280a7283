//! Every slot before and after.

use crate::machine::Machine;
use crate::module::{MemoryModule, ModuleKind};
use crate::platform::KeyFacing;
use crate::population::{Occupant, Population};
use crate::purchase::{ModuleSource, Plan};
use crate::sheet::{Cell, Column, Job, Section, Sheet, Table};
use crate::unit::Name;

/// What the short texts of modules mean.
pub(super) const LEGEND: &str =
    "Modules: size, ranks x width, rated MT/s, kind (R registered, L load-reduced, U unbuffered).";

impl Job<'_> {
    /// The slots of the machine, before and after a plan, each with its marking, the way its key faces, where its module comes from
    /// and where the one before goes. By the rows of the board where these are described; otherwise it says that it is not.
    #[must_use]
    pub fn slot_map(&self, plan: &Plan) -> Sheet {
        Sheet::new(format!("SLOT MAP   {}", self.title))
            .section(before_and_after(self.machine, &self.request.present.population, plan))
            .section(self.board())
            .section(self.foundation(self.assumed_of(plan)))
    }

    fn board(&self) -> Section {
        Section::new("THE BOARD").lines(&self.machine.platform().map().to_string())
    }
}

pub(super) fn before_and_after(machine: &Machine, before: &Population, plan: &Plan) -> Section {
    let platform = machine.platform();
    let mut table = Table::new(["proc.", "slot", "mark", "key", "now", "afterwards", "how"].map(Column::text));
    for socket in platform.sockets() {
        for &channel in &socket.channels {
            for &slot in &platform.channel(channel).slots {
                let slot_of = platform.slot(slot);
                let label = slot_of.label();
                let state = if machine.is_live(slot) { None } else { Some("cannot be used") };
                table.row([
                    Cell::text(&socket.label),
                    Cell::text(label),
                    Cell::maybe(slot_of.description().marking.as_ref()),
                    Cell::maybe(slot_of.description().key_facing.map(facing)),
                    Cell::text(before.get(label.as_str()).map_or("empty".to_owned(), occupant)),
                    Cell::text(plan.population.get(label.as_str()).map_or("empty".to_owned(), occupant)),
                    Cell::text(how(label, plan, state)),
                ]);
            }
        }
    }
    Section::new("SLOTS, NOW AND AFTERWARDS").line(LEGEND).table(table.without_empty_columns())
}

pub(super) fn facing(facing: KeyFacing) -> &'static str {
    match facing {
        KeyFacing::Usual => "usual",
        KeyFacing::Turned => "turned",
    }
}

/// Where the module of a slot comes from and where the one before goes.
fn how(label: &Name, plan: &Plan, state: Option<&str>) -> String {
    let planned = plan.slots.iter().find(|planned| planned.slot == *label);
    let moves_to = plan.slots.iter().find(|to| to.source == ModuleSource::MovesFrom { slot: label.clone() });
    let is_pulled = plan.pulled.iter().any(|pulled| pulled.slot == *label);
    let mut how: Vec<String> = planned.map(|planned| planned.source.to_string()).into_iter().collect();
    how.extend(moves_to.map(|to| format!("old to {}", to.slot)));
    how.extend(is_pulled.then(|| "old pulled".to_owned()));
    how.extend(plan.free_slots.contains(label).then(|| "free".to_owned()));
    how.extend(state.map(str::to_owned));
    how.join(", ")
}

pub(super) fn occupant(occupant: &Occupant) -> String {
    match occupant {
        Occupant::Module(fitted) => brief(&fitted.module),
        Occupant::OtherDevice(_) | Occupant::Blank => occupant.to_string(),
    }
}

/// "16GB 2Rx4 2400 R".
pub(super) fn brief(module: &MemoryModule) -> String {
    let kind = kind_letter(module.kind());
    let organization = module.organization().map(|organization| organization.to_string());
    let organization = organization.or_else(|| module.package_ranks().map(|ranks| format!("{ranks}R")));
    let grade = module.grade().map(|grade| grade.name_mts().to_string());
    let capacity = module.capacity().to_string().replace(' ', "");
    let unknown = || "?".to_owned();
    format!("{capacity} {} {} {kind}", organization.unwrap_or_else(unknown), grade.unwrap_or_else(unknown))
}

pub(super) fn kind_letter(kind: ModuleKind) -> &'static str {
    match kind {
        ModuleKind::Registered => "R",
        ModuleKind::LoadReduced => "L",
        ModuleKind::Unbuffered => "U",
        other => other.word(),
    }
}
