use core::fmt;

use serde::{Serialize, Serializer};

use crate::unit::Name;

/// A step of a [`FieldPath`].
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[non_exhaustive]
pub enum PathStep {
    /// A field.
    Field(&'static str),
    /// An entry of a list, from 0.
    Index(usize),
    /// An entry of a list by its name, or of a map by its key.
    Name(Name),
}

/// Where in a document something stands: `fill_rows[2].slots[0]`. Entries of lists that have names are told by them:
/// `modes[mirrored].groups`.
///
/// ```
/// use slotwright::stated::FieldPath;
///
/// let path = FieldPath::of("fill_rows").index(2).field("slots").index(0);
/// assert_eq!(path.to_string(), "fill_rows[2].slots[0]");
/// assert_eq!(path.steps().len(), 4);
/// assert_eq!(FieldPath::default().to_string(), "");
/// ```
#[derive(Debug, Clone, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct FieldPath(Vec<PathStep>);

impl FieldPath {
    /// A field of the document itself.
    #[must_use]
    pub fn of(field: &'static str) -> Self {
        Self::default().field(field)
    }

    /// A field of what is there.
    #[must_use]
    pub fn field(self, field: &'static str) -> Self {
        self.then(PathStep::Field(field))
    }

    /// An entry of the list that is there.
    #[must_use]
    pub fn index(self, index: usize) -> Self {
        self.then(PathStep::Index(index))
    }

    /// The entry of this name.
    #[must_use]
    pub fn named(self, name: &Name) -> Self {
        self.then(PathStep::Name(name.clone()))
    }

    fn then(mut self, step: PathStep) -> Self {
        self.0.push(step);
        self
    }

    /// A place below this one.
    #[must_use]
    pub fn join(mut self, below: &Self) -> Self {
        self.0.extend_from_slice(&below.0);
        self
    }

    /// The place below a first field, where it is there.
    pub(crate) fn within(&self, field: &str) -> Option<Self> {
        match self.0.split_first() {
            Some((PathStep::Field(first), below)) if *first == field => Some(Self(below.to_vec())),
            _ => None,
        }
    }

    /// From the outside in.
    #[must_use]
    pub fn steps(&self) -> &[PathStep] {
        &self.0
    }
}

impl fmt::Display for FieldPath {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (place, step) in self.0.iter().enumerate() {
            match step {
                PathStep::Field(field) if place == 0 => f.write_str(field)?,
                PathStep::Field(field) => write!(f, ".{field}")?,
                PathStep::Index(index) => write!(f, "[{index}]")?,
                PathStep::Name(name) => write!(f, "[{name}]")?,
            }
        }
        Ok(())
    }
}

/// As its text.
impl Serialize for FieldPath {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

/// A problem that says where in its document it is.
pub trait Located {
    /// The field, or the entry of a list; the document itself where there is none to blame.
    fn place(&self) -> FieldPath;
}
