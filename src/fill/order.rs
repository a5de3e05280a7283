use serde::{Deserialize, Serialize};

use crate::assess::Planner;
use crate::fill::FollowedRow;
use crate::platform::{FillRow, SlotId};
use crate::stated::Schema;
use crate::unit::Name;

/// The slots to fill for a number of modules, in order.
///
/// ```
/// # use slotwright::{Label, Machine, Planner, RuleBook, reference};
/// #
/// # let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build()?;
/// # let rules = RuleBook::standard();
/// # let planner = Planner::new(&machine, &rules);
/// # let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
/// let order = planner.fill_order(5).unwrap();
/// assert_eq!(order.slots.iter().map(|slot| slot.as_str()).collect::<Vec<_>>(), ["A1", "B1", "C1", "D1", "A2"]);
/// assert_eq!(planner.fill_order(13), None); // twelve slots
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct FillOrder {
    /// The version of the document's form.
    pub schema: Schema,
    /// The slots' labels, by turn.
    pub slots: Vec<Name>,
    /// The platform's fill rows that the slots follow; turns alone where empty.
    pub rows: Vec<FollowedRow>,
}

impl Planner<'_> {
    /// The slots to fill for `count` equal modules: those of the platform's row for this number, mode and
    /// number of processors, else the live slots by turn. `None` where there are fewer live slots.
    ///
    /// Rows for one processor are followed for each processor by itself, for as many modules as it gets
    /// when slots are filled by turn.
    ///
    /// ```
    /// use slotwright::assess::Planner;
    /// use slotwright::machine::Machine;
    /// use slotwright::reference;
    /// use slotwright::rule::RuleBook;
    ///
    /// let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build()?;
    /// let rules = RuleBook::standard();
    /// let order = Planner::new(&machine, &rules).fill_order(5).unwrap();
    /// assert_eq!(order.slots.len(), 5);
    /// # Ok::<(), slotwright::machine::MachineError>(())
    /// ```
    #[must_use]
    pub fn fill_order(&self, count: usize) -> Option<FillOrder> {
        let machine = self.machine();
        let platform = machine.platform();
        let live: Vec<SlotId> = machine.live_slots().collect();
        let by_turn = live.get(..count)?;
        let present = machine.processors().count();
        let sockets_of = |row: &FillRow| {
            let slots = row.slots.iter().filter_map(|slot| platform.slot_named(slot.slot.as_str()));
            let mut sockets: Vec<_> = slots.map(|slot| platform.slot(slot).socket).collect();
            sockets.sort_unstable();
            sockets.dedup();
            sockets
        };
        let row_for = |sockets: &[_], count: usize| {
            platform.description().fill_rows.iter().position(|row| {
                let live = |slot: SlotId| machine.is_live(slot);
                row.speaks_of(count, None)
                    && row.is_for(machine.mode(), present)
                    && sockets_of(row) == sockets
                    && row.slots.iter().all(|slot| platform.slot_named(slot.slot.as_str()).is_some_and(live))
            })
        };
        let mut chosen: Vec<SlotId> = Vec::new();
        let mut rows = Vec::new();
        let mut take = |row: Option<usize>, otherwise: &mut dyn Iterator<Item = SlotId>| match row
            .and_then(|row| platform.description().fill_rows.get(row))
        {
            Some(found) => {
                rows.push(FollowedRow::of(found, row));
                chosen.extend(found.slots.iter().filter_map(|slot| platform.slot_named(slot.slot.as_str())));
            }
            None => chosen.extend(otherwise),
        };
        let all: Vec<_> = machine.processors().map(|(socket, _)| socket).collect();
        let whole = row_for(&all, count);
        if whole.is_some() {
            take(whole, &mut std::iter::empty());
        } else {
            for socket in all {
                let mut own = by_turn.iter().copied().filter(|&slot| platform.slot(slot).socket == socket);
                let count = own.clone().count();
                take(row_for(&[socket], count), &mut own);
            }
        }
        chosen.sort_by_key(|&slot| platform.slot(slot).order());
        let slots = chosen.into_iter().map(|slot| platform.slot(slot).label().clone()).collect();
        Some(FillOrder { schema: Schema, slots, rows })
    }
}
