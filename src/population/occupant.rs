use core::fmt;

use serde::de::value::MapAccessDeserializer;
use serde::de::{self, Deserializer, IntoDeserializer, MapAccess, Visitor};
use serde::{Deserialize, Serialize};

use crate::module::{Individual, MemoryModule, Telling};
use crate::population::Fault;
use crate::unit::{Capacity, Name};

/// What sits in a slot that is not empty.
///
/// ```
/// # use slotwright::{Label, Machine, Planner, RuleBook, reference};
/// #
/// # let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build()?;
/// # let rules = RuleBook::standard();
/// # let planner = Planner::new(&machine, &rules);
/// # let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
/// use slotwright::population::{Occupant, Population};
///
/// let mut population = Population::new();
/// population.put("A1".parse()?, Occupant::module(module));
/// population.put("A2".parse()?, Occupant::Blank);
/// assert_eq!((population.len(), population.modules().count()), (2, 1));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum Occupant {
    /// A memory module.
    Module(Fitted),
    /// A device that is no plain memory.
    OtherDevice(OtherDevice),
    /// A blank that guides the air.
    Blank,
}

/// A module in a slot. In documents the text of its label will do.
///
/// ```
/// use slotwright::population::Population;
///
/// let short = r#"{ "schema": 1, "slots": { "A1": { "module": "32GB 2Rx4 PC4-2400T-RB2-11" } } }"#;
/// let long = r#"{ "schema": 1, "slots": { "A1": { "module": { "facts": "32GB 2Rx4 PC4-2400T-RB2-11" } } } }"#;
/// assert_eq!(serde_json::from_str::<Population>(short)?, serde_json::from_str::<Population>(long)?);
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema), schemars(from = "FieldsOrLabel", deny_unknown_fields))]
#[non_exhaustive]
pub struct Fitted {
    /// Its facts.
    #[serde(rename = "facts")]
    pub module: MemoryModule,
    /// Which one it is, where that is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub individual: Option<Individual>,
    /// What is wrong with it; nothing that is known where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fault: Option<Fault>,
}

impl Fitted {
    /// A module of which no more is known than its facts.
    #[must_use]
    pub fn new(module: MemoryModule) -> Self {
        Self { module, individual: None, fault: None }
    }

    setters! {
        some individual(individual: Individual);
        some fault(fault: Fault);
    }
}

/// The fields of [`Fitted`].
#[derive(Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema), schemars(inline))]
#[serde(deny_unknown_fields)]
pub(crate) struct FittedFields {
    /// Its facts.
    facts: MemoryModule,
    /// Which one it is, where that is known.
    #[serde(default)]
    individual: Option<Individual>,
    /// What is wrong with it; nothing that is known where absent.
    #[serde(default)]
    fault: Option<Fault>,
}

/// What is read as a [`Fitted`], for its schema.
#[cfg(feature = "schemars")]
#[derive(schemars::JsonSchema)]
#[schemars(untagged)]
#[expect(dead_code, reason = "only its schema is used; reading tells fields and labels apart by itself")]
enum FieldsOrLabel {
    Fields(FittedFields),
    Label(crate::module::Label),
}

impl<'de> Deserialize<'de> for Fitted {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct FactsOrLabel;

        impl<'de> Visitor<'de> for FactsOrLabel {
            type Value = Fitted;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a module's facts and which one it is, or the text of its label")
            }

            fn visit_newtype_struct<D: Deserializer<'de>>(self, inner: D) -> Result<Fitted, D::Error> {
                inner.deserialize_any(self)
            }

            fn visit_str<E: de::Error>(self, text: &str) -> Result<Fitted, E> {
                let module = MemoryModule::deserialize(text.into_deserializer())?;
                Ok(Fitted::new(module))
            }

            fn visit_map<A: MapAccess<'de>>(self, fields: A) -> Result<Fitted, A::Error> {
                let FittedFields { facts, individual, fault } =
                    FittedFields::deserialize(MapAccessDeserializer::new(fields))?;
                Ok(Fitted { module: facts, individual, fault })
            }
        }

        // the name tells a reader which fields there are
        deserializer.deserialize_newtype_struct("Fitted", FactsOrLabel)
    }
}

/// A device in a memory slot that is no plain memory. It occupies its slot and may hold data; it never
/// counts for rate, interleave or volatile capacity. Planning with such devices is not offered: they
/// stay where they are.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct OtherDevice {
    /// What sort it is.
    pub sort: DeviceSort,
    /// What it holds.
    pub capacity_mib: Capacity,
    /// What it is called.
    pub text: Name,
    /// Whether the owner allows it to be taken out. It holds data all the same.
    #[serde(default)]
    pub may_be_removed: bool,
}

impl OtherDevice {
    /// A device that stays.
    #[must_use]
    pub fn new(sort: DeviceSort, capacity: Capacity, text: Name) -> Self {
        Self { sort, capacity_mib: capacity, text, may_be_removed: false }
    }

    setters! {
        value may_be_removed(may_be_removed: bool);
    }
}

/// The sorts of other device.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum DeviceSort {
    /// Keeps its content without power.
    Persistent,
    /// Memory backed by storage.
    Hybrid,
    /// Extends memory over another link.
    Expander,
}

impl Occupant {
    /// A module of which no more is known than its facts.
    #[must_use]
    pub fn module(module: MemoryModule) -> Self {
        Self::Module(Fitted::new(module))
    }

    /// Its text, with what tells a module from others.
    #[must_use]
    pub fn text(&self, telling: &Telling) -> String {
        match self {
            Self::Module(Fitted { module, fault: None, .. }) => telling.text(module),
            Self::Module(Fitted { module, fault: Some(fault), .. }) => format!("{} ({fault})", telling.text(module)),
            Self::OtherDevice(_) | Self::Blank => self.to_string(),
        }
    }
}

impl fmt::Display for Occupant {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Module(Fitted { module, fault: None, .. }) => module.fmt(f),
            Self::Module(Fitted { module, fault: Some(fault), .. }) => write!(f, "{module} ({fault})"),
            Self::OtherDevice(device) => write!(f, "{} ({})", device.text, device.capacity_mib),
            Self::Blank => f.write_str("blank"),
        }
    }
}
