use core::fmt;
use core::marker::PhantomData;

use serde::de::value::MapAccessDeserializer;
use serde::de::{Error, MapAccess, Visitor};
use serde::{Deserialize, Deserializer, Serialize};

/// Something by its name, or described.
///
/// In documents it is a text or an object.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(untagged)]
pub enum NamedOr<T> {
    /// By its name.
    Named(String),
    /// Described.
    Described(Box<T>),
}

impl<T> From<&str> for NamedOr<T> {
    fn from(name: &str) -> Self {
        Self::Named(name.to_owned())
    }
}

impl<'de, T: Deserialize<'de>> Deserialize<'de> for NamedOr<T> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct NameOrDescription<T>(PhantomData<T>);

        impl<'de, T: Deserialize<'de>> Visitor<'de> for NameOrDescription<T> {
            type Value = NamedOr<T>;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a name, or a description")
            }

            fn visit_str<E: Error>(self, name: &str) -> Result<NamedOr<T>, E> {
                Ok(name.into())
            }

            fn visit_map<A: MapAccess<'de>>(self, fields: A) -> Result<NamedOr<T>, A::Error> {
                T::deserialize(MapAccessDeserializer::new(fields))
                    .map(|described| NamedOr::Described(Box::new(described)))
            }
        }

        deserializer.deserialize_any(NameOrDescription(PhantomData))
    }
}
