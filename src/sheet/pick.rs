//! What the store lays out.

use crate::platform::Platform;
use crate::population::{Occupant, Population};
use crate::purchase::Plan;
use crate::sheet::{Cell, Column, ColumnSort, Job, Section, Sheet, Table, buying};
use crate::unit::counted;
use crate::work_order::WorkOrder;

impl Job<'_> {
    /// The pick list of a plan: what to take from which bin or delivery, with a space for serial numbers, and how many blanks are
    /// needed. No money.
    #[must_use]
    pub fn pick_list(&self, plan: &Plan) -> Sheet {
        self.picked(plan, blanks(self.machine.platform(), &self.request.present.population, plan))
    }

    /// The pick list of a plan whose work is ordered: with just the blanks that the order wants brought, for all its machines.
    #[must_use]
    pub fn pick_list_of_order(&self, plan: &Plan, order: &WorkOrder) -> Sheet {
        let machines = usize::try_from(order.machines).unwrap_or(usize::MAX);
        self.picked(plan, format!("To bring: {}.", counted(order.blanks_to_bring.saturating_mul(machines), "blank")))
    }

    fn picked(&self, plan: &Plan, blanks: String) -> Sheet {
        let telling = buying::telling(plan);
        let mut table = Table::new([
            Column::count("qty"),
            Column::text("from"),
            Column::text("part"),
            Column::text("module"),
            Column::text("serial numbers"),
            Column::new("picked", ColumnSort::Box),
        ]);
        for line in &plan.lines {
            table.row([
                Cell::count(line.quantity.saturating_sub(line.returned)),
                Cell::text(&line.source),
                Cell::maybe(line.module.part_number()),
                Cell::text(telling.text(&line.module)),
                Cell::text("________________"),
                Cell::Box,
            ]);
        }
        let pick = if plan.lines.is_empty() {
            Section::new("PICK").line("Nothing is picked.")
        } else {
            Section::new("PICK").table(table.without_empty_columns())
        };
        Sheet::new(format!("PICK LIST   {}", self.title))
            .section(pick)
            .section(Section::new("BLANKS").line(blanks))
            .section(Section::new("WITH CARE").items([
                "Wear a wrist strap. Hold modules by the edges and touch no contacts.",
                "Each module stays in its packaging until it is fitted. Stack nothing.",
                "Read each label: size, ranks x width, rate and kind are as listed, or it is not picked.",
            ]))
            .section(self.foundation([]))
            .section(Section::new("PICKED BY").blanks(["Name", "Date"]))
    }
}

/// How many blanks are needed, and how many become free.
fn blanks(platform: &Platform, before: &Population, plan: &Plan) -> String {
    let machines = usize::try_from(plan.machines).unwrap_or(usize::MAX);
    let count =
        |population: &Population| population.iter().filter(|(_, occupant)| matches!(occupant, Occupant::Blank)).count();
    let empty_after =
        platform.slots().iter().filter(|slot| plan.population.get(slot.label().as_str()).is_none()).count();
    let (had, has) = (count(before), count(&plan.population));
    let freed = had.saturating_sub(has).saturating_mul(machines);
    let is_asked = platform.description().blanks.is_some();
    let mut text = match empty_after.saturating_mul(machines) {
        0 => "No slot is left without a module or a blank.".to_owned(),
        _ if !is_asked => "None: the description of the board asks for no blanks. See its maker's manual.".to_owned(),
        1 => "1 slot is left empty: a blank for it, as the maker asks.".to_owned(),
        empty => format!("{empty} slots are left empty: as many blanks, as the maker asks."),
    };
    if freed > 0 {
        text.push_str(&format!(" {freed} come out of slots that are filled."));
    }
    text
}
