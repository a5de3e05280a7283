//! A deserializer that leaves out what is not known.
//!
//! It stands between a format and what is read. Where fields of a struct are asked for, it knows their names, and takes the
//! others out of the document; where a variant is asked for, it knows the names of the variants, and gives `other` for one
//! that is not among them. Everything else passes through.

use std::cell::RefCell;

use serde::de::value::StrDeserializer;
use serde::de::{DeserializeSeed, Deserializer, Error, IgnoredAny, IntoDeserializer, MapAccess, SeqAccess, Visitor};

use crate::reading::fields::fields_of;
use crate::reading::path::Path;
use crate::reading::variants::Variants;

/// The names of the fields of a struct.
pub(crate) type Fields = &'static [&'static str];

/// What is left out, by its path.
type Skipped = RefCell<Vec<String>>;

/// What stands between a part of a document and what reads it.
#[derive(Clone, Copy)]
pub(crate) struct Lenient<'p, T> {
    pub(crate) inner: T,
    pub(crate) path: &'p Path<'p>,
    pub(crate) skipped: &'p Skipped,
    /// The fields of the struct that is read, where it is one.
    fields: Option<Fields>,
}

impl<'p, T> Lenient<'p, T> {
    pub(crate) fn new(inner: T, path: &'p Path<'p>, skipped: &'p Skipped) -> Self {
        Self { inner, path, skipped, fields: None }
    }

    /// Says that a part was left out.
    pub(crate) fn skip(&self, name: &str) {
        self.skipped.borrow_mut().push(Path::Field(self.path, name).to_string());
    }

    /// The same around something else.
    pub(crate) fn around<U>(&self, inner: U) -> Lenient<'p, U> {
        Lenient { inner, path: self.path, skipped: self.skipped, fields: self.fields }
    }
}

/// Passes on what needs no more than the visitor behind it to be lenient.
macro_rules! pass_on {
    ($($method:ident($($argument:ident: $type:ty),*);)*) => {
        $(
            fn $method<V: Visitor<'de>>(self, $($argument: $type,)* visitor: V) -> Result<V::Value, D::Error> {
                let visitor = self.around(visitor);
                self.inner.$method($($argument,)* visitor)
            }
        )*
    };
}

impl<'de, D: Deserializer<'de>> Deserializer<'de> for Lenient<'_, D> {
    type Error = D::Error;

    fn is_human_readable(&self) -> bool {
        self.inner.is_human_readable()
    }

    fn deserialize_struct<V: Visitor<'de>>(
        mut self,
        name: &'static str,
        fields: Fields,
        visitor: V,
    ) -> Result<V::Value, D::Error> {
        self.fields = Some(fields);
        let visitor = self.around(visitor);
        self.inner.deserialize_struct(name, fields, visitor)
    }

    fn deserialize_newtype_struct<V: Visitor<'de>>(
        mut self,
        name: &'static str,
        visitor: V,
    ) -> Result<V::Value, D::Error> {
        self.fields = fields_of(name);
        let visitor = self.around(visitor);
        self.inner.deserialize_newtype_struct(name, visitor)
    }

    fn deserialize_enum<V: Visitor<'de>>(
        self,
        _: &'static str,
        variants: Fields,
        visitor: V,
    ) -> Result<V::Value, D::Error> {
        let visitor = Variants { known: variants, reader: self.around(visitor) };
        // a variant that is not known may hold anything, so that the document has to tell
        self.inner.deserialize_any(visitor)
    }

    pass_on! {
        deserialize_any(); deserialize_bool(); deserialize_i8(); deserialize_i16(); deserialize_i32();
        deserialize_i64(); deserialize_i128(); deserialize_u8(); deserialize_u16(); deserialize_u32();
        deserialize_u64(); deserialize_u128(); deserialize_f32(); deserialize_f64(); deserialize_char();
        deserialize_str(); deserialize_string(); deserialize_bytes(); deserialize_byte_buf(); deserialize_option();
        deserialize_unit(); deserialize_unit_struct(name: &'static str); deserialize_seq();
        deserialize_tuple(len: usize); deserialize_tuple_struct(name: &'static str, len: usize); deserialize_map();
        deserialize_identifier(); deserialize_ignored_any();
    }
}

/// Passes on a value that holds nothing.
macro_rules! plain {
    ($($method:ident: $type:ty;)*) => {
        $(
            fn $method<E: Error>(self, value: $type) -> Result<V::Value, E> {
                self.inner.$method(value)
            }
        )*
    };
}

impl<'de, V: Visitor<'de>> Visitor<'de> for Lenient<'_, V> {
    type Value = V::Value;

    fn expecting(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        self.inner.expecting(f)
    }

    plain! {
        visit_bool: bool; visit_i64: i64; visit_i128: i128; visit_u64: u64; visit_u128: u128; visit_f64: f64;
        visit_str: &str; visit_borrowed_str: &'de str; visit_string: String; visit_bytes: &[u8];
        visit_borrowed_bytes: &'de [u8]; visit_byte_buf: Vec<u8>;
    }

    fn visit_none<E: Error>(self) -> Result<V::Value, E> {
        self.inner.visit_none()
    }

    fn visit_unit<E: Error>(self) -> Result<V::Value, E> {
        self.inner.visit_unit()
    }

    fn visit_some<D: Deserializer<'de>>(self, value: D) -> Result<V::Value, D::Error> {
        let value = self.around(value);
        self.inner.visit_some(value)
    }

    fn visit_newtype_struct<D: Deserializer<'de>>(self, value: D) -> Result<V::Value, D::Error> {
        let value = self.around(value);
        self.inner.visit_newtype_struct(value)
    }

    fn visit_seq<A: SeqAccess<'de>>(self, items: A) -> Result<V::Value, A::Error> {
        let items = Items { reader: self.around(items), index: 0 };
        self.inner.visit_seq(items)
    }

    fn visit_map<A: MapAccess<'de>>(self, entries: A) -> Result<V::Value, A::Error> {
        let entries = Entries { reader: self.around(entries), field: String::new() };
        self.inner.visit_map(entries)
    }
}

impl<'de, S: DeserializeSeed<'de>> DeserializeSeed<'de> for Lenient<'_, S> {
    type Value = S::Value;

    fn deserialize<D: Deserializer<'de>>(self, value: D) -> Result<S::Value, D::Error> {
        let value = Lenient::new(value, self.path, self.skipped);
        self.inner.deserialize(value)
    }
}

/// The items of a list.
struct Items<'p, A> {
    reader: Lenient<'p, A>,
    index: usize,
}

impl<'de, A: SeqAccess<'de>> SeqAccess<'de> for Items<'_, A> {
    type Error = A::Error;

    fn next_element_seed<S: DeserializeSeed<'de>>(&mut self, seed: S) -> Result<Option<S::Value>, A::Error> {
        let path = Path::Item(self.reader.path, self.index);
        self.index += 1;
        self.reader.inner.next_element_seed(Lenient::new(seed, &path, self.reader.skipped))
    }

    fn size_hint(&self) -> Option<usize> {
        self.reader.inner.size_hint()
    }
}

/// The entries of a map, or the fields of a struct.
struct Entries<'p, A> {
    reader: Lenient<'p, A>,
    /// The one whose value comes next.
    field: String,
}

impl<'de, A: MapAccess<'de>> MapAccess<'de> for Entries<'_, A> {
    type Error = A::Error;

    fn next_key_seed<S: DeserializeSeed<'de>>(&mut self, seed: S) -> Result<Option<S::Value>, A::Error> {
        while let Some(field) = self.reader.inner.next_key::<String>()? {
            if self.reader.fields.is_none_or(|fields| fields.contains(&field.as_str())) {
                let name: StrDeserializer<'_, A::Error> = field.as_str().into_deserializer();
                let key = seed.deserialize(name)?;
                self.field = field;
                return Ok(Some(key));
            }
            self.reader.skip(&field);
            self.reader.inner.next_value::<IgnoredAny>()?;
        }
        Ok(None)
    }

    fn next_value_seed<S: DeserializeSeed<'de>>(&mut self, seed: S) -> Result<S::Value, A::Error> {
        let path = Path::Field(self.reader.path, &self.field);
        self.reader.inner.next_value_seed(Lenient::new(seed, &path, self.reader.skipped))
    }
}
