//! Where in a document something stands.

use core::fmt;

/// A place in a document, from the inside out.
#[derive(Clone, Copy)]
pub(crate) enum Path<'p> {
    Root,
    Field(&'p Path<'p>, &'p str),
    Item(&'p Path<'p>, usize),
}

impl fmt::Display for Path<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Root => Ok(()),
            Self::Field(Self::Root, name) => f.write_str(name),
            Self::Field(outer, name) => write!(f, "{outer}.{name}"),
            Self::Item(outer, index) => write!(f, "{outer}[{index}]"),
        }
    }
}
