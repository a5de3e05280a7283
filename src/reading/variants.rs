//! Variants of an enum, of which a document may have some that are not known.

use core::fmt;
use core::marker::PhantomData;

use serde::de::value::StrDeserializer;
use serde::de::{
    DeserializeSeed, Deserializer, EnumAccess, Error, IgnoredAny, IntoDeserializer, MapAccess, VariantAccess, Visitor,
};

use crate::reading::deserializer::{Fields, Lenient};
use crate::reading::path::Path;

/// The variant that stands for those that are not known, as documents write it.
const OTHER: &str = "other";

/// Reads a variant: the text of its name, or an object of one field, which is its name and holds what it holds.
pub(crate) struct Variants<'p, V> {
    pub(crate) known: Fields,
    pub(crate) reader: Lenient<'p, V>,
}

impl<V> Variants<'_, V> {
    /// Whether a variant is to be read as the one for those that are not known; that is reported then.
    fn is_other(&self, name: &str) -> bool {
        let is_other = !self.known.contains(&name) && self.known.contains(&OTHER);
        if is_other {
            self.reader.skip(name);
        }
        is_other
    }
}

impl<'de, V: Visitor<'de>> Visitor<'de> for Variants<'_, V> {
    type Value = V::Value;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.reader.expecting(f)
    }

    fn visit_str<E: Error>(self, name: &str) -> Result<V::Value, E> {
        let variant: StrDeserializer<'_, E> = name.into_deserializer();
        match self.is_other(name) {
            true => self.reader.inner.visit_enum(Other { name, error: PhantomData }),
            false => self.reader.inner.visit_enum(variant),
        }
    }

    fn visit_map<A: MapAccess<'de>>(self, mut entries: A) -> Result<V::Value, A::Error> {
        let Some(name) = entries.next_key::<String>()? else {
            return Err(Error::custom("an object without a field names no variant"));
        };
        let found = if self.is_other(&name) {
            entries.next_value::<IgnoredAny>()?;
            self.reader.inner.visit_enum(Other { name: &name, error: PhantomData })?
        } else {
            let path = Path::Field(self.reader.path, &name);
            let content = Lenient::new(&mut entries, &path, self.reader.skipped);
            self.reader.inner.visit_enum(Known { name: &name, content })?
        };
        match entries.next_key::<IgnoredAny>()? {
            None => Ok(found),
            Some(_) => Err(Error::custom(format!("more than the field {name} in an object that names a variant"))),
        }
    }
}

/// A variant that is not known: just its name.
struct Other<'n, E> {
    name: &'n str,
    error: PhantomData<E>,
}

impl<'de, E: Error> EnumAccess<'de> for Other<'_, E> {
    type Error = E;
    type Variant = Self;

    fn variant_seed<S: DeserializeSeed<'de>>(self, seed: S) -> Result<(S::Value, Self), E> {
        let other: StrDeserializer<'_, E> = OTHER.into_deserializer();
        Ok((seed.deserialize(other)?, self))
    }
}

impl<'de, E: Error> VariantAccess<'de> for Other<'_, E> {
    type Error = E;

    fn unit_variant(self) -> Result<(), E> {
        Ok(())
    }

    fn newtype_variant_seed<S: DeserializeSeed<'de>>(self, seed: S) -> Result<S::Value, E> {
        let name: StrDeserializer<'_, E> = self.name.into_deserializer();
        seed.deserialize(name)
    }

    fn tuple_variant<V: Visitor<'de>>(self, _: usize, visitor: V) -> Result<V::Value, E> {
        let name: StrDeserializer<'_, E> = self.name.into_deserializer();
        name.deserialize_any(visitor)
    }

    fn struct_variant<V: Visitor<'de>>(self, _: Fields, visitor: V) -> Result<V::Value, E> {
        let name: StrDeserializer<'_, E> = self.name.into_deserializer();
        name.deserialize_any(visitor)
    }
}

/// A variant that is known, and what it holds.
struct Known<'p, 'n, A> {
    name: &'n str,
    content: Lenient<'p, A>,
}

impl<'de, A: MapAccess<'de>> EnumAccess<'de> for Known<'_, '_, &mut A> {
    type Error = A::Error;
    type Variant = Self;

    fn variant_seed<S: DeserializeSeed<'de>>(self, seed: S) -> Result<(S::Value, Self), A::Error> {
        let name: StrDeserializer<'_, A::Error> = self.name.into_deserializer();
        Ok((seed.deserialize(name)?, self))
    }
}

impl<'de, A: MapAccess<'de>> VariantAccess<'de> for Known<'_, '_, &mut A> {
    type Error = A::Error;

    fn unit_variant(self) -> Result<(), A::Error> {
        self.content.inner.next_value()
    }

    fn newtype_variant_seed<S: DeserializeSeed<'de>>(self, seed: S) -> Result<S::Value, A::Error> {
        let seed = self.content.around(seed);
        self.content.inner.next_value_seed(seed)
    }

    fn tuple_variant<V: Visitor<'de>>(self, len: usize, visitor: V) -> Result<V::Value, A::Error> {
        let seed = self.content.around(Shape { len, fields: None, visitor });
        self.content.inner.next_value_seed(seed)
    }

    fn struct_variant<V: Visitor<'de>>(self, fields: Fields, visitor: V) -> Result<V::Value, A::Error> {
        let seed = self.content.around(Shape { len: fields.len(), fields: Some(fields), visitor });
        self.content.inner.next_value_seed(seed)
    }
}

/// What a variant holds: so many items, or these fields.
struct Shape<V> {
    len: usize,
    fields: Option<Fields>,
    visitor: V,
}

impl<'de, V: Visitor<'de>> DeserializeSeed<'de> for Shape<V> {
    type Value = V::Value;

    fn deserialize<D: Deserializer<'de>>(self, content: D) -> Result<V::Value, D::Error> {
        match self.fields {
            Some(fields) => content.deserialize_struct("", fields, self.visitor),
            None => content.deserialize_tuple(self.len, self.visitor),
        }
    }
}
