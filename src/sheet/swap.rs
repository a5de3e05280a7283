//! A swap test.

use crate::acceptance::SwapTest;
use crate::sheet::answer::listed;
use crate::sheet::{Cell, Column, Job, Section, Sheet, Table};

impl Job<'_> {
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
        let suspect = test.look_into.first();
        let suspect_text = suspect.map_or("?".to_owned(), |slot| self.slot(slot));
        for (at, state) in test.states.iter().enumerate().skip(1) {
            table.row([
                Cell::count(at),
                Cell::text(format!("{suspect_text} and {}", self.slot(&state.module_in))),
                Cell::text(&state.if_module),
                Cell::text(&state.if_slot),
                Cell::text(&state.if_gone),
                Cell::text("__________"),
            ]);
        }
        let now = test.states.first().map(|state| state.population.clone()).unwrap_or_default();
        let [before, after] = self.with_care(&now);
        Sheet::new(format!("SWAP TEST   {}", self.title))
            .section(
                Section::plain()
                    .entry("In question", format!("the module of slot {suspect_text}"))
                    .entry("First", format!("{} ({}), and at the edges of the modules.", test.first, listed(&test.look_into, "none"))),
            )
            .section(Section::new("BEFORE THE LOOK, AND BEFORE EACH SWAP").items(before))
            .section(
                Section::new("THEN")
                    .line("Each swap starts from where everything was; take a report after each.")
                    .table(table),
            )
            .section(Section::new("AFTER EACH SWAP").items(after))
            .section(Section::new("WHAT IT COMES TO").items([
                "It follows the module: exchange that.",
                "It stays with the slot: close it, or have board and processor looked at by those qualified.",
                "It stays with the processor, whatever sits there: have it and its contacts looked at by those qualified.",
                "It is gone: a contact. Watch the error counters, and return nothing.",
            ]))
            .section(self.foundation([]))
            .section(Section::new("DONE BY").blanks(["Technician", "Date and time"]))
    }
}
