use core::fmt;

use serde::{Deserialize, Serialize};

use crate::intake::titles::{Claim, LotCondition, LotFact, Says, fold};
use crate::module::{DeviceWidth, Ecc, FormFactor, Generation, Label, ModuleKind, Stack};
use crate::population::SeenModule;
use crate::unit::{Capacity, DataRate, Voltage};

/// What a seller's title says, and what it leaves open.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Lot {
    /// The title as given.
    pub title: String,
    /// The pieces of it that are understood, in its order.
    pub claims: Vec<Claim>,
    /// The numbers and words that are not, in its order.
    pub not_understood: Vec<Passage>,
    /// What somebody has confirmed beside it; it stands above the title.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub confirmed: Vec<Says>,
    /// All that it can mean; none is likelier than another. Empty where nothing in it speaks of a module.
    pub readings: Vec<LotReading>,
    /// What a careful buyer asks about before anything is ordered.
    pub doubts: Vec<LotDoubt>,
}

/// A piece of a title.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Passage {
    /// The first of its bytes in the title.
    pub start: usize,
    /// The byte behind its last.
    pub end: usize,
    /// Its text.
    pub text: String,
}

/// One meaning of a title. What is absent is not said, or is said in two ways that contradict each other.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, default)]
#[non_exhaustive]
pub struct LotReading {
    /// How many modules.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub count: Option<u32>,
    /// The fewest that are sold.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub at_least: Option<u32>,
    /// What one of them holds, in MiB.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub capacity_mib: Option<Capacity>,
    /// What all of them hold together, in MiB, where that is said.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub together_mib: Option<Capacity>,
    /// The generation.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub generation: Option<Generation>,
    /// The rate that they are rated for, in MT/s.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub grade_mts: Option<DataRate>,
    /// The kinds that are left open; none where nothing is said of it, and all that are claimed where claims contradict.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub kinds: Vec<ModuleKind>,
    /// Whether there are check bits.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub has_check_bits: Option<bool>,
    /// The mechanical form.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub form_factor: Option<FormFactor>,
    /// A number of ranks; what it counts, people do not say.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rank_number: Option<u8>,
    /// Package ranks, where it is said that these are counted.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub package_ranks: Option<u8>,
    /// What a package holds.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stack: Option<Stack>,
    /// Data bits of a device.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub width: Option<DeviceWidth>,
    /// The supply voltage, in mV.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub voltage_mv: Option<Voltage>,
    /// What state they are in.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub condition: Option<LotCondition>,
    /// The standard label, where the title has one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub label: Option<Label>,
}

/// What a buyer asks a seller about.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
#[non_exhaustive]
pub enum LotDoubt {
    /// Claims that cannot all be true.
    #[non_exhaustive]
    Contradiction {
        /// What they speak of.
        fact: LotFact,
        /// The claims, by their place in [`Lot::claims`].
        claims: Vec<usize>,
    },
    /// More than one sort of module is for sale, or is spoken of.
    SeveralLots,
    /// A size that, with the ranks and width claimed, needs a die that the generation never had.
    #[non_exhaustive]
    NoSuchDie {
        /// What one module is to hold, in MiB.
        capacity_mib: Capacity,
        /// The generation.
        generation: Generation,
    },
    /// A rate that is none of the generation's by the standards.
    #[non_exhaustive]
    NoSuchRate {
        /// In MT/s.
        mts: u32,
        /// The generation.
        generation: Generation,
    },
    /// A voltage that is none of the generation's by the standards.
    #[non_exhaustive]
    NoSuchVoltage {
        /// In mV.
        voltage_mv: Voltage,
        /// The generation.
        generation: Generation,
    },
    /// A word that makes a claim, or the lot, uncertain: the claim, by its place in [`Lot::claims`].
    #[non_exhaustive]
    Uncertain {
        /// Which one: a hedge, a denial of something that is not understood, that it is not for sale, or no plain memory.
        claim: usize,
    },
    /// The title has more ways to be read than are looked at.
    TooManyReadings,
}

impl Lot {
    /// The same with what somebody has confirmed, the seller in an answer or a photograph of the label: it replaces what
    /// the title says of the same facts, contradictions included.
    ///
    /// ```
    /// use slotwright::intake::titles::{self, Says, Words};
    /// use slotwright::module::ModuleKind;
    ///
    /// let lot = titles::read("4x 16GB DDR4-2400 ECC registered", &Words::standard());
    /// assert!(lot.module(&[]).is_err()); // registered, or load-reduced?
    /// let lot = lot.confirm([Says::Kinds(vec![ModuleKind::Registered])]);
    /// assert_eq!(lot.module(&[])?.kind(), ModuleKind::Registered);
    /// # Ok::<(), slotwright::intake::titles::LotOpen>(())
    /// ```
    #[must_use]
    pub fn confirm(mut self, says: impl IntoIterator<Item = Says>) -> Self {
        self.confirmed.extend(says);
        fold::judge(&mut self);
        self
    }

    /// Whether anything in it speaks of a memory module.
    #[must_use]
    pub fn is_of_modules(&self) -> bool {
        !self.readings.is_empty()
    }

    /// Whether it can mean one thing only, and nothing about it is in doubt. It may still leave facts unsaid.
    #[must_use]
    pub fn is_clear(&self) -> bool {
        self.readings.len() == 1 && self.doubts.is_empty()
    }

    /// The facts about which its claims contradict each other.
    pub fn contradictions(&self) -> impl Iterator<Item = LotFact> {
        self.doubts.iter().filter_map(|doubt| match doubt {
            LotDoubt::Contradiction { fact, .. } => Some(*fact),
            _ => None,
        })
    }
}

impl LotReading {
    /// How many modules: as said, or what all hold by what one holds.
    #[must_use]
    pub fn modules(&self) -> Option<u32> {
        let derived = || {
            let (each, together) = (self.capacity_mib?.mib(), self.together_mib?.mib());
            u32::try_from(together.checked_div(each)?).ok().filter(|_| together % each == 0)
        };
        self.count.or_else(derived)
    }

    /// The label, where nothing that is said or confirmed stands against it.
    pub(super) fn label_that_holds(&self) -> Option<&Label> {
        self.label.as_ref().filter(|label| {
            let module = label.module();
            self.kinds == [module.kind()]
                && self.generation == Some(module.generation())
                && self.capacity_mib == Some(module.capacity())
                && self.grade_mts == Some(label.data_rate())
                && self.width == module.width()
                && self.package_ranks == module.package_ranks()
                && self.has_check_bits == module.ecc().map(Ecc::corrects)
                && self.voltage_mv.is_none_or(|said| module.voltages().is_none_or(|of| of.contains(said)))
        })
    }

    /// What is said of one module, of the only kind left open if there is one.
    #[must_use]
    pub fn seen(&self) -> SeenModule {
        let kind = if let [only] = *self.kinds.as_slice() { Some(only) } else { None };
        if let Some(label) = self.label_that_holds() {
            return SeenModule::of(label.module());
        }
        let ecc = match (self.has_check_bits, self.generation) {
            (Some(false), _) => Some(Ecc::None),
            (Some(true), Some(Generation::Ddr3 | Generation::Ddr4)) => Some(Ecc::Ecc),
            // how many check bits a DDR5 module has, the word does not say
            _ => None,
        };
        let voltages = self.voltage_mv.and_then(|said| match self.generation {
            // low-voltage modules run at the higher voltages too
            Some(generation) => {
                let from = generation.voltages().iter().position(|voltage| *voltage == said)?;
                crate::module::Voltages::new(generation.voltages().iter().take(from + 1).copied())
            }
            None => None,
        });
        let mut seen = SeenModule::new().ecc(ecc).kind(kind).voltages(voltages);
        seen.generation = self.generation;
        seen.capacity_mib = self.capacity_mib;
        seen.form_factor = self.form_factor;
        seen.package_ranks = self.package_ranks;
        seen.rank_number = self.rank_number;
        seen.stack = self.stack;
        seen.width = self.width;
        seen.grade_mts = self.grade_mts;
        seen
    }
}

/// One line a reading, then what is not clear.
impl fmt::Display for Lot {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.readings.is_empty() {
            f.write_str("nothing that speaks of a memory module")?;
        }
        for (at, reading) in self.readings.iter().enumerate() {
            write!(f, "{}{reading}", if at == 0 { "" } else { "\nor " })?;
        }
        for doubt in &self.doubts {
            write!(f, "\nask: ")?;
            match doubt {
                LotDoubt::Contradiction { fact, claims } => {
                    let texts: Vec<String> = claims
                        .iter()
                        .filter_map(|at| self.claims.get(*at))
                        .map(|claim| format!("\u{201c}{}\u{201d}", claim.text))
                        .collect();
                    write!(f, "{fact}: {} cannot all be true", texts.join(", "))?;
                }
                LotDoubt::Uncertain { claim } => {
                    let text = self.claims.get(*claim).map_or("", |claim| claim.text.as_str());
                    write!(f, "\u{201c}{text}\u{201d}: what does it mean for the lot?")?;
                }
                other => write!(f, "{other}")?,
            }
        }
        Ok(())
    }
}

impl fmt::Display for LotDoubt {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Contradiction { fact, .. } => write!(f, "claims on {fact} contradict each other"),
            Self::SeveralLots => f.write_str("it speaks of more than one sort of module: read them one by one"),
            Self::NoSuchDie { capacity_mib, generation } => write!(
                f,
                "a {generation} module of {capacity_mib} so organised needs a die that was never made: ask for a photograph of \
                 the label"
            ),
            Self::NoSuchRate { mts, generation } => write!(f, "{mts} MT/s is no standard rate of {generation}"),
            Self::NoSuchVoltage { voltage_mv, generation } => {
                write!(f, "{voltage_mv} is no standard voltage of {generation}")
            }
            Self::Uncertain { .. } => f.write_str("a word makes it uncertain, or says that it is not for sale"),
            Self::TooManyReadings => f.write_str("it can be read in more ways than are looked at"),
        }
    }
}

impl fmt::Display for LotReading {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(count) = self.count {
            write!(f, "{count} x ")?;
        }
        let kinds: Vec<String> = self.kinds.iter().map(ToString::to_string).collect();
        let mut seen = self.seen();
        if kinds.len() > 1 {
            seen.kind = None;
        }
        write!(f, "{seen}")?;
        if kinds.len() > 1 {
            write!(f, ", {}", kinds.join(" or "))?;
        }
        if self.has_check_bits == Some(true) && seen.ecc.is_none() {
            f.write_str(", with check bits")?;
        }
        if let Some(at_least) = self.at_least {
            write!(f, "; at least {at_least}")?;
        }
        if let Some(together) = self.together_mib {
            write!(f, "; {together} together")?;
        }
        if let Some(condition) = self.condition {
            write!(f, "; {condition}")?;
        }
        Ok(())
    }
}
