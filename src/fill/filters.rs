//! Which loads the channels of a processor may carry beside each other, for each way to fill them: asked once and kept.

use std::cell::RefCell;
use std::collections::BTreeMap;
use std::rc::Rc;

use crate::fill::beside::{Company, Compared};
use crate::fill::exempt::ExemptLayouts;
use crate::fill::loads::Loads;
use crate::fill::marks::{Marks, OwnLoads};
use crate::fill::pace::Held;
use crate::fill::reachable::Origin;
use crate::fill::{SlotModel, SocketIx, SortIx};
use crate::search::{Budget, StopReason, Table};

/// Which loads may stand beside each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum By {
    /// By all rules in force; an odd number of channels with memory may be refused.
    Rules,
    /// As under printed layouts.
    Printed,
    /// Any.
    Nothing,
}

/// What filters are for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct FiltersFor {
    pub(crate) socket: SocketIx,
    pub(crate) by: By,
    pub(crate) origin: Origin,
    pub(crate) has_rate: bool,
    /// What every load with modules is, where that is one sort.
    pub(crate) sort: Option<SortIx>,
}

/// Loads that channels may carry beside each other, whatever their places may hold.
pub(crate) struct Filter {
    pub(crate) marks: Marks,
    /// How many modules each load with some has, where all have as many.
    pub(crate) modules: Option<usize>,
}

/// The filters of a way to fill channels at a level: one for each company of loads that they may have.
pub(crate) struct Filters<'q> {
    pub(crate) by: By,
    pub(crate) held: &'q Held,
    pub(crate) all: Rc<Vec<Filter>>,
}

/// The loads of each processor's channels, and which of them may stand beside each other.
pub(crate) struct LoadFilters<'m> {
    own: Table<SocketIx, OwnLoads<'m>>,
    /// Absent where no rule compares a processor's channels.
    companies: Table<SocketIx, Option<Vec<Marks>>>,
    /// The same under printed layouts.
    printed: Table<SocketIx, Option<Vec<Marks>>>,
    known: RefCell<BTreeMap<FiltersFor, Rc<Vec<Filter>>>>,
}

impl<'m> LoadFilters<'m> {
    pub(crate) fn new(
        (model, errors): (&SlotModel<'_>, &SlotModel<'_>),
        loads: &'m Loads,
        exempt: &ExemptLayouts,
        budget: &mut Budget<'_>,
    ) -> Result<Self, StopReason> {
        let (mut own, mut companies, mut printed) = (Table::default(), Table::default(), Table::default());
        for socket in model.sockets.ids() {
            let loads_of = OwnLoads::new(model, loads, socket);
            let mut largest = |compared| {
                let found = model.companies(errors, (socket, compared), loads.kinds.values(), budget)?;
                let marks = |company: &Company| loads_of.marks(|shape, load| company.admits(shape, load.legal));
                Ok(found.map(|all| Marks::largest(all.iter().map(marks).collect())))
            };
            companies.push(largest(Compared::Fully)?);
            let is_exempt = exempt.speak_of(socket) || model.rows.of_socket(socket).is_some();
            printed.push(if is_exempt { largest(Compared::ByRound)? } else { None });
            own.push(loads_of);
        }
        Ok(Self { own, companies, printed, known: RefCell::default() })
    }

    /// The loads of a processor's channels.
    pub(crate) fn own(&self, socket: SocketIx) -> Option<&OwnLoads<'m>> {
        self.own.get(socket)
    }

    /// Whether some rule compares the channels of a processor.
    pub(crate) fn compare_channels(&self) -> bool {
        self.companies.values().iter().any(Option::is_some)
    }

    /// The filters of a way that holds so much.
    pub(crate) fn of<'q>(&self, what: FiltersFor, held: &'q Held) -> Filters<'q> {
        let known = self.known.borrow().get(&what).map(Rc::clone);
        let all = known.unwrap_or_else(|| {
            let found = Rc::new(self.find(what, held));
            self.known.borrow_mut().insert(what, Rc::clone(&found));
            found
        });
        Filters { by: what.by, held, all }
    }

    fn find(&self, what: FiltersFor, held: &Held) -> Vec<Filter> {
        let Some(own) = self.own.get(what.socket) else { return Vec::new() };
        let companies = match what.by {
            By::Rules => self.companies.get(what.socket).and_then(Option::as_ref),
            By::Printed => self.printed.get(what.socket).and_then(Option::as_ref),
            By::Nothing => None,
        };
        let sort = what.sort.filter(|_| what.by != By::Nothing);
        let marks = own.marks(|_, load| {
            let is_held = match held {
                Held::Any | Held::OneOf(_) => true,
                Held::AtMost(most) => load.usable <= *most,
                Held::JustOrNothing(held) => load.usable == *held || load.usable == 0,
            };
            is_held
                && load.level >= what.origin.level
                && (load.modules == 0 || sort.is_none_or(|sort| load.sort == Some(sort)))
        });
        let is_narrow = what.has_rate && (companies.is_some() || sort.is_some());
        let bare = own.marks(|_, load| load.modules == 0);
        // states in which no channel is as full as the way says are left to other ways
        let exact = |marks: Marks| match held {
            Held::AtMost(most) | Held::JustOrNothing(most)
                if is_narrow && !own.marked(&marks).any(|load| load.usable == *most) =>
            {
                marks.and(&bare)
            }
            _ => marks,
        };
        let all = match companies {
            None => vec![exact(marks)],
            Some(companies) => Marks::largest(companies.iter().map(|own| exact(marks.and(own))).collect()),
        };
        all.into_iter().map(|marks| Filter { modules: own.modules_of_each(&marks), marks }).collect()
    }
}
