//! What a description leaves out that matters for one question.

use crate::assess::Planner;
use crate::machine::Machine;
use crate::module::MemoryModule;
use crate::platform::{Gap, Matters};
use crate::purchase::PlanRequest;

impl Planner<'_> {
    /// What the description of the machine [leaves out](crate::platform::Platform::gaps) that can matter for a request: of the processors that are
    /// fitted, and for the modules that are present, on the shelf or on offer.
    ///
    /// ```
    /// use slotwright::{Label, Machine, Name, Offer, PlanRequest, Planner, Price, RuleBook, reference};
    ///
    /// let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build()?;
    /// let rules = RuleBook::standard();
    /// let planner = Planner::new(&machine, &rules);
    /// let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
    /// let offer = Offer::new(Name::new("lot-7")?, module, Price::new(4_500, "EUR".parse()?), 40);
    /// let gaps = planner.gaps(&PlanRequest::new().offer(offer));
    /// let places: Vec<String> = gaps.iter().map(|gap| gap.place.to_string()).collect();
    /// assert!(places.contains(&"listed_modules".to_owned()));
    /// // no module is known to be of any height, and one processor need not be like another
    /// assert!(!places.contains(&"slots.height_limit_um".to_owned()) && !places.contains(&"sockets_alike".to_owned()));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn gaps(&self, request: &PlanRequest) -> Vec<Gap> {
        let machine = self.machine();
        let present = request.present.population.modules().map(|(_, fitted)| &fitted.module);
        let offered = request.offers.iter().map(|offer| &offer.module);
        let modules: Vec<&MemoryModule> =
            present.chain(offered).chain(request.shelf.iter().map(|item| &item.module)).collect();
        let mut gaps = machine.platform().gaps();
        gaps.retain(|gap| may_matter(gap.matters, machine, &modules) && is_of_machine(gap, machine));
        gaps
    }
}

/// Whether a fact can matter for some modules in a machine.
fn may_matter(matters: Matters, machine: &Machine, modules: &[&MemoryModule]) -> bool {
    let any = |has: fn(&MemoryModule) -> bool| modules.iter().any(|module| has(module));
    match matters {
        Matters::Always => true,
        Matters::ManyProcessors => machine.processors().count() > 1,
        Matters::Stacked => any(|module| module.stack().is_none_or(|stack| stack.height() > 1)),
        Matters::Unlike => modules.windows(2).any(|pair| matches!(pair, [one, next] if !one.is_like(next))),
        Matters::Modes => machine.mode() != crate::platform::Mode::INDEPENDENT,
        Matters::Power => any(|module| module.power().is_some()),
        Matters::Height => any(|module| module.height().is_some()),
        Matters::SeveralSlots => machine.platform().channels().iter().any(|channel| channel.slots.len() > 1),
    }
}

/// Whether it is of the board, or of a processor that is fitted.
fn is_of_machine(gap: &Gap, machine: &Machine) -> bool {
    gap.processor.as_ref().is_none_or(|name| machine.processors().any(|(_, processor)| processor.name() == name))
}
