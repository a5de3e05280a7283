use core::fmt;

use serde::{Deserialize, Serialize};

/// What is wrong with a module that sits in a slot. Such a module counts for nothing and nothing is planned with it: a plan
/// pulls it.
///
/// ```
/// use slotwright::module::Label;
/// use slotwright::population::{Fault, Fitted, Occupant, Population};
///
/// let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
/// let mut population = Population::new().with("A1".parse()?, module.clone());
/// population.put("B1".parse()?, Occupant::Module(Fitted::new(module).fault(Fault::Failed)));
/// assert_eq!(population.modules().filter(|(_, fitted)| fitted.fault.is_some()).count(), 1);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum Fault {
    /// It is known to have failed.
    Failed,
    /// It is suspected: errors were logged, or its test is in doubt.
    Suspect,
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Failed => "failed",
            Self::Suspect => "suspect",
        })
    }
}
