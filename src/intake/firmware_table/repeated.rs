use crate::intake::firmware_table::Said;
use crate::population::MakerId;
use crate::unit::Name;

/// What was made of a text, kept as long as the next device has the same: most modules of a machine are alike.
#[derive(Debug)]
pub(crate) struct Last<'d, T>(Option<(&'d Said<'d>, T)>);

impl<T> Default for Last<'_, T> {
    fn default() -> Self {
        Self(None)
    }
}

impl<'d, T: Clone> Last<'d, T> {
    /// What the text makes.
    pub(crate) fn of(&mut self, said: &'d Said<'d>, make: impl FnOnce(&'d Said<'d>) -> T) -> T {
        match &self.0 {
            Some((last, made)) if *last == said => made.clone(),
            _ => self.0.insert((said, make(said))).1.clone(),
        }
    }
}

/// The texts that stand in one device as in the one before it.
#[derive(Debug, Default)]
pub(crate) struct Repeated<'d> {
    pub(crate) bank: Last<'d, Option<Name>>,
    pub(crate) maker: Last<'d, (Option<Name>, Option<MakerId>)>,
    pub(crate) part: Last<'d, Option<Name>>,
}
