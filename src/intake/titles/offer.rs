use core::fmt;

use serde::Serialize;
use thiserror::Error;

use crate::intake::titles::{Lot, LotCondition, LotDoubt, LotFact, LotReading};
use crate::module::{MemoryModule, ModuleKind};
use crate::population::{ModuleFact, common_of, open_facts_of, readings_of};
use crate::purchase::{Condition, Offer};
use crate::unit::{Name, Price};

/// Why a title makes no offer: all that is to be asked.
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[error("the lot is not settled: {}", self.texts())]
#[non_exhaustive]
pub struct LotOpen {
    /// What is open, in the order in which it was found.
    pub matters: Vec<LotMatter>,
}

/// Something that a lot leaves open.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum LotMatter {
    /// Nothing in it speaks of a memory module.
    NoModule,
    /// A doubt.
    Doubt(LotDoubt),
    /// A word that makes it uncertain, or says that it is not for sale, or no plain memory.
    Word(String),
    /// A number that is not understood.
    Number(String),
    /// It is said to be broken, or for parts.
    Broken,
    /// More are sold at least than there are.
    #[non_exhaustive]
    AtLeast {
        /// The fewest that are sold.
        at_least: u32,
        /// How many there are.
        count: u32,
    },
    /// How many there are is not said, or is open.
    Count,
    /// A fact that has several values in what the lot can mean, or none.
    #[non_exhaustive]
    Fact {
        /// The fact.
        fact: ModuleFact,
        /// Its possible values, as texts; none where nothing is said.
        values: Vec<String>,
    },
}

impl LotOpen {
    fn texts(&self) -> String {
        self.matters.iter().map(ToString::to_string).collect::<Vec<_>>().join("; ")
    }
}

impl fmt::Display for LotMatter {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoModule => f.write_str("nothing in it speaks of a memory module"),
            Self::Doubt(doubt) => write!(f, "{doubt}"),
            Self::Word(text) => write!(f, "\u{201c}{text}\u{201d} is said of it"),
            Self::Number(text) => write!(f, "what {text} means is not clear"),
            Self::AtLeast { at_least, count } => write!(f, "at least {at_least} are sold, and there are {count}"),
            Self::Broken => f.write_str("it is sold as broken, or for parts"),
            Self::Count => f.write_str("how many there are is not said, or not in one way only"),
            Self::Fact { fact, values } if values.is_empty() => write!(f, "the {fact} is not said"),
            Self::Fact { fact, values } => write!(f, "the {fact} may be {}", values.join(" or ")),
        }
    }
}

impl Lot {
    /// The module that is for sale, with the facts that all readings have in common. Generation, kind and size must be
    /// settled, and each of `needed`: the facts that the caller's question hangs on.
    ///
    /// ```
    /// use slotwright::intake::titles::{self, Words};
    /// use slotwright::population::ModuleFact;
    ///
    /// let lot = titles::read("64GB (4x16GB) 2Rx4 PC4-2400T-R ECC RDIMM, pulled", &Words::standard());
    /// let module = lot.module(&[ModuleFact::Grade, ModuleFact::Width])?;
    /// assert_eq!(module.capacity(), slotwright::Capacity::from_gib(16));
    ///
    /// let lot = titles::read("16GB DDR4 ECC REG", &Words::standard());
    /// let open = lot.module(&[ModuleFact::Grade]).unwrap_err();
    /// assert_eq!(
    ///     open.to_string(),
    ///     "the lot is not settled: the kind may be registered or load-reduced; the rated rate is not said"
    /// );
    /// # Ok::<(), slotwright::intake::titles::LotOpen>(())
    /// ```
    ///
    /// # Errors
    /// All that is open: a title that speaks of no module, or of several; claims that contradict each other; a size for
    /// which there never was a die; modules that are broken; facts that are not said, or not in one way only.
    pub fn module(&self, needed: &[ModuleFact]) -> Result<MemoryModule, LotOpen> {
        let mut matters = self.matters();
        let modules: Vec<MemoryModule> = self.readings.iter().flat_map(LotReading::possible).collect();
        let open = if modules.is_empty() { Vec::new() } else { open_facts_of(&modules) };
        let firm = [ModuleFact::Generation, ModuleFact::Kind, ModuleFact::Capacity];
        let common = common_of(&modules);
        for &fact in firm.iter().chain(needed.iter().filter(|fact| !firm.contains(fact))) {
            let is_known = common.as_ref().is_some_and(|module| crate::population::SeenModule::of(module).has(fact));
            let is_open = match (modules.is_empty(), firm.contains(&fact)) {
                // without a size there is no module yet; what is said once is known all the same
                (true, true) => self.values(fact).len() != 1,
                (_, true) => open.contains(&fact),
                (_, false) if common.is_none() => self.values(fact).len() != 1,
                (_, false) => !is_known,
            };
            if is_open && !self.is_in_doubt(fact) {
                matters.push(LotMatter::Fact { fact, values: self.values(fact) });
            }
        }
        common.filter(|_| matters.is_empty()).ok_or(LotOpen { matters })
    }

    /// An offer of the lot at a price for one module; its stock is the number of modules that is said. What the title says
    /// of their state, and what is not understood, travels in [`Offer::data`]. There is none where a number was not understood:
    /// it may be any of those that count.
    ///
    /// # Errors
    /// As [`Lot::module`], and where the number of modules is open: [confirm](Lot::confirm) it.
    pub fn offer(&self, id: Name, unit_price: Price, needed: &[ModuleFact]) -> Result<Offer, LotOpen> {
        let module = self.module(needed);
        let mut counts = self.readings.iter().map(LotReading::modules);
        let first = counts.next().flatten().filter(|first| counts.all(|other| other == Some(*first)));
        let is_asked = self.readings.is_empty()
            || self.doubts.contains(&LotDoubt::SeveralLots)
            || self.contradictions().any(|fact| fact == LotFact::Amount);
        match (module, first) {
            (Ok(module), Some(stock)) => {
                let at_least = self.readings.iter().filter_map(|reading| reading.at_least).max().unwrap_or(1);
                if at_least > stock {
                    return Err(LotOpen { matters: vec![LotMatter::AtLeast { at_least, count: stock }] });
                }
                let offer = Offer::new(id, module, unit_price, stock).minimum_quantity(at_least);
                Ok(offer.condition(self.condition()).data(self.remark()))
            }
            (Ok(_), None) => Err(LotOpen { matters: vec![LotMatter::Count] }),
            (Err(mut open), count) => {
                if count.is_none() && !is_asked {
                    open.matters.push(LotMatter::Count);
                }
                Err(open)
            }
        }
    }

    /// What an offer cannot say otherwise: the state as said, and what was not understood.
    fn remark(&self) -> Option<String> {
        let condition =
            self.readings.first().and_then(|reading| reading.condition).map(|condition| condition.to_string());
        let texts: Vec<&str> = self.not_understood.iter().map(|passage| passage.text.as_str()).collect();
        let unread = (!texts.is_empty()).then(|| format!("not understood: {}", texts.join(", ")));
        let remark: Vec<String> = condition.into_iter().chain(unread).collect();
        (!remark.is_empty()).then(|| remark.join("; "))
    }

    fn matter(&self, doubt: LotDoubt) -> LotMatter {
        match doubt {
            LotDoubt::Uncertain { claim } => {
                LotMatter::Word(self.claims.get(claim).map_or(String::new(), |claim| claim.text.clone()))
            }
            other => LotMatter::Doubt(other),
        }
    }

    fn matters(&self) -> Vec<LotMatter> {
        if self.readings.is_empty() {
            return vec![LotMatter::NoModule];
        }
        let mut matters: Vec<LotMatter> = self.doubts.iter().cloned().map(|doubt| self.matter(doubt)).collect();
        // a number that nobody understood may be any of those that count
        let is_number =
            |passage: &&crate::intake::titles::Passage| passage.text.bytes().all(|byte| byte.is_ascii_digit());
        for passage in self.not_understood.iter().filter(is_number) {
            matters.push(LotMatter::Number(passage.text.clone()));
        }
        if self.readings.iter().any(|reading| reading.condition == Some(LotCondition::Broken)) {
            matters.push(LotMatter::Broken);
        }
        matters
    }

    /// Whether a doubt asks about a fact already.
    fn is_in_doubt(&self, fact: ModuleFact) -> bool {
        self.readings.is_empty()
            || self.doubts.iter().any(|doubt| match doubt {
                LotDoubt::SeveralLots => true,
                LotDoubt::NoSuchDie { .. } => fact == ModuleFact::Capacity,
                LotDoubt::Contradiction { fact: of, .. } => match of {
                    LotFact::Amount => fact == ModuleFact::Capacity,
                    LotFact::Generation => fact == ModuleFact::Generation,
                    LotFact::Kind => fact == ModuleFact::Kind,
                    LotFact::Rate => fact == ModuleFact::Grade,
                    LotFact::CheckBits => fact == ModuleFact::Ecc,
                    LotFact::Width => fact == ModuleFact::Width,
                    _ => false,
                },
                _ => false,
            })
    }

    /// What is said of a fact, over all readings.
    fn values(&self, fact: ModuleFact) -> Vec<String> {
        let mut values: Vec<String> = Vec::new();
        for reading in &self.readings {
            let of_reading: Vec<String> = match fact {
                ModuleFact::Kind => reading.kinds.iter().map(ToString::to_string).collect(),
                _ => reading.seen().text(fact).into_iter().collect(),
            };
            for value in of_reading {
                if !values.contains(&value) {
                    values.push(value);
                }
            }
        }
        values
    }

    fn condition(&self) -> Option<Condition> {
        let mut all = self.readings.iter().map(|reading| reading.condition);
        let first = all.next().flatten().filter(|first| all.all(|other| other == Some(*first)))?;
        match first {
            LotCondition::New => Some(Condition::New),
            LotCondition::Tested => Some(Condition::Tested),
            LotCondition::Pulled => Some(Condition::Pulled),
            LotCondition::Used | LotCondition::Refurbished | LotCondition::Untested | LotCondition::Broken => None,
        }
    }
}

impl LotReading {
    /// The modules that it can mean.
    fn possible(&self) -> Vec<MemoryModule> {
        if let Some(label) = self.label_that_holds() {
            return vec![label.to_module()];
        }
        let kinds: Vec<Option<ModuleKind>> = match self.kinds.as_slice() {
            [] => vec![None],
            kinds => kinds.iter().copied().map(Some).collect(),
        };
        let seen = self.seen();
        kinds.into_iter().flat_map(|kind| readings_of(&seen.clone().kind(kind))).collect()
    }
}
