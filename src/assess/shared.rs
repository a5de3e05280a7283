use std::sync::Arc;

use crate::assess::Planner;
use crate::machine::Machine;
use crate::rule::RuleBook;

/// A machine and the rules in force, owned: for services that hand it to threads or keep it in a table. A clone copies neither.
///
/// ```
/// use std::thread;
///
/// use slotwright::assess::SharedPlanner;
/// use slotwright::{Label, Machine, RuleBook, reference};
///
/// let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build()?;
/// let shared = SharedPlanner::new(machine, RuleBook::standard());
/// let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
/// let asked: Vec<_> = (0..4)
///     .map(|_| {
///         let (shared, module) = (shared.clone(), module.clone());
///         thread::spawn(move || shared.planner().accepts(&module).at_most)
///     })
///     .collect();
/// assert!(asked.into_iter().all(|answer| answer.join().unwrap() == 12));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone)]
pub struct SharedPlanner(Arc<(Machine, RuleBook)>);

impl SharedPlanner {
    /// A planner for a machine under some rules.
    #[must_use]
    pub fn new(machine: Machine, rules: RuleBook) -> Self {
        Self(Arc::new((machine, rules)))
    }

    /// The planner that answers. It costs nothing to make.
    #[must_use]
    pub fn planner(&self) -> Planner<'_> {
        Planner::new(&self.0.0, &self.0.1)
    }
}
