//! Lists of names in documents: one by one, or as a line with blanks or commas between the names.

use core::fmt;

use serde::de::value::SeqAccessDeserializer;
use serde::de::{self, SeqAccess, Visitor};
use serde::{Deserialize, Deserializer};

use crate::unit::Name;

/// A list of names as it may stand in a document, for its schema.
#[cfg(feature = "schemars")]
#[derive(schemars::JsonSchema)]
#[schemars(untagged, inline)]
#[expect(dead_code, reason = "only its schema is used")]
pub(crate) enum NameListForm {
    List(Vec<Name>),
    Line(String),
}

/// The words of a line, with blanks or commas between.
pub(crate) fn words(line: &str) -> impl Iterator<Item = &str> {
    line.split(|char: char| char.is_whitespace() || char == ',').filter(|word| !word.is_empty())
}

struct ListOrLine;

impl<'de> Visitor<'de> for ListOrLine {
    type Value = Vec<Name>;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("names in a list, or in a line with blanks or commas between")
    }

    fn visit_str<E: de::Error>(self, line: &str) -> Result<Vec<Name>, E> {
        words(line).map(|name| Name::new(name).map_err(E::custom)).collect()
    }

    fn visit_seq<A: SeqAccess<'de>>(self, names: A) -> Result<Vec<Name>, A::Error> {
        Vec::deserialize(SeqAccessDeserializer::new(names))
    }
}

/// A list of names.
pub(crate) mod one {
    use serde::{Deserializer, Serialize, Serializer};

    use crate::platform::pattern::lists::ListOrLine;
    use crate::unit::Name;

    pub(crate) fn serialize<S: Serializer>(names: &[Name], serializer: S) -> Result<S::Ok, S::Error> {
        names.serialize(serializer)
    }

    pub(crate) fn deserialize<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Vec<Name>, D::Error> {
        deserializer.deserialize_any(ListOrLine)
    }
}

/// Lists of names.
pub(crate) mod many {
    use serde::{Deserialize, Deserializer, Serialize, Serializer};

    use crate::platform::pattern::lists::List;
    use crate::unit::Name;

    pub(crate) fn serialize<S: Serializer>(lists: &[Vec<Name>], serializer: S) -> Result<S::Ok, S::Error> {
        lists.serialize(serializer)
    }

    pub(crate) fn deserialize<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Vec<Vec<Name>>, D::Error> {
        let lists: Vec<List> = Vec::deserialize(deserializer)?;
        Ok(lists.into_iter().map(|list| list.0).collect())
    }
}

/// One of several lists.
pub(crate) struct List(pub(crate) Vec<Name>);

impl<'de> Deserialize<'de> for List {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        one::deserialize(deserializer).map(Self)
    }
}
