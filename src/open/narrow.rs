use crate::assess::Planner;
use crate::finding::{Severity, Verdict};
use crate::module::MemoryModule;
use crate::platform::SlotId;
use crate::population::{Assumed, LeansOn, ModuleSite, PlaceState, Sited, SitedModule};
use crate::unit::Name;

impl Planner<'_> {
    /// The same reports, less the readings of modules in use that the machine could not use where they are: what runs is
    /// evidence of what a module is. Where that leaves nothing, the description or the report is wrong; all readings stay, and
    /// it is said in [`Sited::assumed`].
    ///
    /// ```
    /// use slotwright::module::{Generation, ModuleKind};
    /// use slotwright::population::{Medium, Observed, PlaceState, Report, SeenModule, SeenPlace};
    /// use slotwright::{Capacity, Machine, Name, Planner, RuleBook, reference};
    ///
    /// let machine = Machine::builder(reference::ddr4_1s_2ch_2spc_unbuffered()).processor_named("1", "later").build()?;
    /// let rules = RuleBook::standard();
    /// let planner = Planner::new(&machine, &rules);
    ///
    /// // nobody says whether it is buffered; the board takes unbuffered modules alone
    /// let seen = SeenModule::new().generation(Generation::Ddr4).capacity(Capacity::from_gib(16));
    /// let slot = machine.platform().slots()[0].label().clone();
    /// let place = SeenPlace::new(Name::new("0x0040")?, PlaceState::InUse).locator(slot.clone()).module(seen);
    /// let sited = Observed::from(Report::new(Name::new("dump")?, Medium::Machine).place(place)).on(machine.platform())?;
    /// assert!(sited.population().is_err());
    /// let module = planner.narrow(&sited).population()?.modules().next().unwrap().1.module.clone();
    /// assert_eq!(module.kind(), ModuleKind::Unbuffered);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn narrow(&self, sited: &Sited) -> Sited {
        let mut narrowed = sited.clone();
        let mut refused = Vec::new();
        let states: Vec<(Name, PlaceState)> = sited.slots.iter().map(|slot| (slot.slot.clone(), slot.state)).collect();
        let is_in_use =
            |slot: &&Name| states.iter().any(|(label, state)| label == *slot && *state == PlaceState::InUse);
        for module in &mut narrowed.modules {
            let platform = self.machine().platform();
            let in_use: Vec<SlotId> =
                module.slots.iter().filter(is_in_use).filter_map(|slot| platform.slot_named(slot.as_str())).collect();
            if in_use.is_empty() || module.readings.is_empty() {
                continue;
            }
            let (kept, why) = self.usable_readings(module, &in_use);
            if kept.is_empty() {
                refused.push(Assumed::RefusedInUse { slots: module.slots.clone(), why: why.unwrap_or_default() });
            } else if kept.len() < module.readings.len() {
                module.readings = kept;
                module.leans_on.insert(LeansOn::InUse);
            }
        }
        narrowed.assumed.retain(|assumed| !matches!(assumed, Assumed::RefusedInUse { .. }));
        narrowed.assumed.extend(refused);
        narrowed.assumed.sort();
        narrowed
    }

    /// The readings that no rule on modules refuses in any of these slots, and what the rules say of the first that is refused.
    fn usable_readings(&self, module: &SitedModule, slots: &[SlotId]) -> (Vec<MemoryModule>, Option<String>) {
        // slots of one socket and form are alike to rules on modules only as far as these read no more: each is asked
        let refusal = |reading: &MemoryModule| {
            slots.iter().find_map(|&slot| {
                let site = ModuleSite { machine: self.machine(), slot, module: reading };
                let found = self.rules().check_module(&site).into_iter();
                let mut broken =
                    found.filter(|finding| finding.severity == Severity::Error && finding.verdict == Verdict::Violated);
                broken.next().map(|finding| finding.to_string())
            })
        };
        let (mut kept, mut why) = (Vec::new(), None);
        for reading in &module.readings {
            match refusal(reading) {
                None => kept.push(reading.clone()),
                Some(refused) => why = why.or(Some(refused)),
            }
        }
        (kept, why)
    }
}
