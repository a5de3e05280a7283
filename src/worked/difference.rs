use core::fmt;

use itertools::Itertools;

use crate::module::MemoryModule;
use crate::unit::{Capacity, DataRate, Name};

/// One thing in which a description does not do what a worked row says.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub enum Difference {
    /// Equal modules go to other slots.
    Slots {
        /// The module.
        module: MemoryModule,
        /// The slots that the row states, sorted.
        stated: Vec<Name>,
        /// The slots of the best arrangement, sorted.
        found: Vec<Name>,
    },
    /// The memory runs at another rate.
    Rate {
        /// The rate that the row states.
        stated: DataRate,
        /// The running rate; absent where there is none.
        found: Option<DataRate>,
    },
    /// Another capacity.
    Capacity {
        /// The capacity that the row states.
        stated: Capacity,
        /// The capacity of the best arrangement.
        found: Capacity,
    },
    /// Another usable capacity.
    Usable {
        /// The capacity that the row states.
        stated: Capacity,
        /// The usable capacity of the best arrangement.
        found: Capacity,
    },
    /// The row says that the modules work, and no arrangement of them is legal.
    Refused {
        /// The codes of the errors on the modules put in by turn, sorted.
        codes: Vec<Name>,
        /// How many modules found no slot at all.
        left_over: usize,
    },
    /// The row says that a rule refuses the modules, and an arrangement of them is legal.
    NotRefused {
        /// The code that the row states.
        stated: Name,
    },
    /// The row says that a rule refuses the modules, and other rules do.
    RefusedByOthers {
        /// The code that the row states.
        stated: Name,
        /// The codes of the errors on the modules put in by turn, sorted.
        codes: Vec<Name>,
        /// How many modules found no slot at all.
        left_over: usize,
    },
}

/// What refuses modules: codes, and a lack of slots.
fn refusal(codes: &[Name], left_over: usize) -> String {
    let codes = (!codes.is_empty()).then(|| codes.iter().join(", "));
    let slots = (left_over > 0).then(|| format!("a lack of slots for {left_over} of them"));
    codes.into_iter().chain(slots).join(" and ")
}

impl fmt::Display for Difference {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Slots { module, stated, found } => write!(
                f,
                "the row puts {module} in {}, the description in {}",
                stated.iter().join(" "),
                found.iter().join(" ")
            ),
            Self::Rate { stated, found: Some(found) } => {
                write!(f, "the row says {stated}, the description gives {found}")
            }
            Self::Rate { stated, found: None } => write!(f, "the row says {stated}, the description gives no rate"),
            Self::Capacity { stated, found } => write!(f, "the row says {stated}, the description gives {found}"),
            Self::Usable { stated, found } => {
                write!(f, "the row says {stated} usable, the description gives {found}")
            }
            Self::Refused { codes, left_over } => {
                write!(f, "the row says that the modules work, the description refuses them by ")?;
                f.write_str(&refusal(codes, *left_over))
            }
            Self::NotRefused { stated } => {
                write!(f, "the row says that {stated} refuses the modules, the description takes them")
            }
            Self::RefusedByOthers { stated, codes, left_over } => {
                write!(f, "the row says that {stated} refuses the modules, the description refuses them by ")?;
                f.write_str(&refusal(codes, *left_over))
            }
        }
    }
}
