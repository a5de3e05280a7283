//! What states count, and how they are numbered.

use crate::fill::{BesideIx, KindIx, LowerIx, PresentGroup, SpareIx, VectorIx};
use crate::search::{DigitIx, Index, Space, StateIx, StateSet, StopReason, Table};

/// The states of a demand.
///
/// A state counts the modules of each kind; and beside them how many of each group of present modules stay, the empty
/// slots that are lost, how much is spared, and which voltages below the one that is driven at are barred. It says what a channel, a processor or the machine holds; states of
/// parts add up to those of the whole.
///
/// The number of a state is that of its count vector and, so many times the number of count vectors, that of what it
/// counts beside it.
pub(crate) struct StateSpace {
    space: Space,
    kinds: usize,
    groups: usize,
    spares: usize,
    lower: usize,
    vectors: usize,
}

/// What a load adds to a state.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Counted {
    pub(crate) kinds: Table<KindIx, usize>,
    pub(crate) stays: Table<PresentGroup, usize>,
    pub(crate) lost: usize,
    pub(crate) spares: Table<SpareIx, usize>,
    /// For each voltage below that which is driven at, how many loads are counted as barred at it: of those that are, any
    /// number is.
    pub(crate) barred: Table<LowerIx, usize>,
}

impl Counted {
    /// Nothing, of so many kinds and groups.
    pub(crate) fn nothing(kinds: usize, groups: usize) -> Self {
        let (kinds, stays) = (Table::filled(0, kinds), Table::filled(0, groups));
        Self { kinds, stays, lost: 0, spares: Table::default(), barred: Table::default() }
    }

    /// In the order of the digits.
    fn digits(&self) -> impl Iterator<Item = usize> + '_ {
        let modules = self.kinds.values().iter().chain(self.stays.values()).copied();
        let beside = self.spares.values().iter().chain(self.barred.values()).copied();
        modules.chain([self.lost]).chain(beside)
    }
}

impl StateSpace {
    /// The states up to these limits.
    ///
    /// # Errors
    /// Where there are too many to search.
    pub(crate) fn new(limits: &Counted) -> Result<Self, StopReason> {
        let space = Space::new(&limits.digits().collect::<Vec<usize>>())?;
        // no more than there are states
        let vectors = limits.kinds.values().iter().map(|count| count + 1).product();
        let (kinds, groups) = (limits.kinds.len(), limits.stays.len());
        Ok(Self { space, kinds, groups, spares: limits.spares.len(), lower: limits.barred.len(), vectors })
    }

    /// How many states there are.
    pub(crate) fn size(&self) -> usize {
        self.space.size()
    }

    pub(crate) fn no_states(&self) -> StateSet {
        self.space.no_states()
    }

    /// The number of a state within the limits.
    pub(crate) fn number(&self, counts: &Counted) -> Option<StateIx> {
        self.space.number(counts.digits())
    }

    /// Whether something is within the limits.
    pub(crate) fn has_room_for(&self, counts: &Counted) -> bool {
        self.number(counts).is_some()
    }

    /// The states to which `counts` can be added.
    pub(crate) fn room_for(&self, counts: &Counted) -> StateSet {
        self.space.below(counts.digits())
    }

    /// The count vectors.
    pub(crate) fn vectors(&self) -> impl Iterator<Item = VectorIx> + use<> {
        (0..self.vectors).map(VectorIx::of)
    }

    /// The count vector of all modules of the demand.
    pub(crate) fn everything(&self) -> VectorIx {
        // there is always the vector of no module
        VectorIx::of(self.vectors - 1)
    }

    pub(crate) fn vector_of(&self, state: StateIx) -> VectorIx {
        // mostly nothing is counted beside it, and a comparison is faster than a division
        let number = state.get();
        VectorIx::of(if number < self.vectors { number } else { number % self.vectors })
    }

    pub(crate) fn beside(&self, state: StateIx) -> BesideIx {
        let number = state.get();
        BesideIx::of(if number < self.vectors { 0 } else { number / self.vectors })
    }

    /// The state of a count vector and what is counted beside it.
    pub(crate) fn state(&self, vector: VectorIx, beside: BesideIx) -> StateIx {
        StateIx::of(beside.get() * self.vectors + vector.get())
    }

    /// All states with a count vector.
    pub(crate) fn states_with(&self, vector: VectorIx) -> impl Iterator<Item = StateIx> + use<> {
        (vector.get()..self.size()).step_by(self.vectors).map(StateIx::of)
    }

    /// How many modules of a kind a count vector has.
    pub(crate) fn count(&self, vector: VectorIx, kind: KindIx) -> usize {
        self.space.digit(StateIx::of(vector.get()), DigitIx::of(kind.get()))
    }

    /// How many present modules of a group stay.
    pub(crate) fn stays(&self, state: StateIx, group: PresentGroup) -> usize {
        self.space.digit(state, DigitIx::of(self.kinds + group.get()))
    }

    /// How many slots are lost.
    pub(crate) fn lost(&self, state: StateIx) -> usize {
        self.space.digit(state, DigitIx::of(self.kinds + self.groups))
    }

    /// Whether some load is counted as barred at each lower voltage.
    pub(crate) fn bars_all_lower(&self, state: StateIx) -> bool {
        let first = self.kinds + self.groups + 1 + self.spares;
        (first..first + self.lower).all(|digit| self.space.digit(state, DigitIx::of(digit)) > 0)
    }

    /// How many there are of a sort of what is spared.
    pub(crate) fn spares(&self, state: StateIx, sort: SpareIx) -> usize {
        self.space.digit(state, DigitIx::of(self.kinds + self.groups + 1 + sort.get()))
    }
}
