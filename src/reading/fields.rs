//! The fields of what is read in more than one form, so that its own reader does not tell them.

use serde::de::value::Error;
use serde::de::{Deserialize, Deserializer, Error as _, Visitor};

use crate::module::MemoryModuleBuilder;
use crate::population::FittedFields;
use crate::processor::{PatternFields, ProcessorDescription};
use crate::reading::deserializer::Fields;

/// The fields of what is read as an object or as a text; `None` for anything else.
pub(crate) fn fields_of(name: &str) -> Option<Fields> {
    match name {
        "MemoryModule" => of::<MemoryModuleBuilder>(),
        "Fitted" => of::<FittedFields>(),
        "ModulePattern" => of::<PatternFields>(),
        "FittedProcessor" => of::<ProcessorDescription>(),
        _ => None,
    }
}

fn of<'de, T: Deserialize<'de>>() -> Option<Fields> {
    let mut fields = None;
    // it takes the names and reads nothing
    let _ = T::deserialize(Names(&mut fields));
    fields
}

/// Takes the names of the fields that are asked for.
struct Names<'n>(&'n mut Option<Fields>);

impl<'de> Deserializer<'de> for Names<'_> {
    type Error = Error;

    fn deserialize_any<V: Visitor<'de>>(self, _: V) -> Result<V::Value, Error> {
        Err(Error::custom("names only"))
    }

    fn deserialize_struct<V: Visitor<'de>>(self, _: &str, fields: Fields, visitor: V) -> Result<V::Value, Error> {
        *self.0 = Some(fields);
        self.deserialize_any(visitor)
    }

    serde::forward_to_deserialize_any! {
        bool i8 i16 i32 i64 i128 u8 u16 u32 u64 u128 f32 f64 char str string bytes byte_buf option unit unit_struct
        newtype_struct seq tuple tuple_struct map enum identifier ignored_any
    }
}
