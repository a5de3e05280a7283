//! The slot model: the usable slots of a machine, and the classes of module that may sit in them.

use std::cell::RefCell;
use std::collections::BTreeMap;
use std::rc::Rc;

use crate::fill::beside::{Company, Compared};
use crate::fill::exempt::Exempt;
use crate::fill::legal_loads::LegalLoads;
use crate::fill::level::top_level;
use crate::fill::load_facts::JudgedLoads;
use crate::fill::mixing::MixKeys;
use crate::fill::repeats::{FewSorts, Repeats};
use crate::fill::rows::Rows;
use crate::fill::slot_plan::SlotPlan;
use crate::fill::{Before, ChannelIx, ClassId, Demand, Level, LikeGroup, PlaceId, RulesInForce, ShapeIx, SocketIx};
use crate::finding::Severity;
use crate::machine::Machine;
use crate::module::MemoryModule;
use crate::platform::{ChannelId, SlotId, SocketId, UnlikeGrades};
use crate::population::{Content, Layout, ModuleSite};
use crate::rule::RuleBook;
use crate::search::Table;

/// What sits in each place: a module of a class, or nothing.
pub(crate) type Contents = Table<PlaceId, Option<ClassId>>;

/// A usable slot: live, and not taken by another device.
pub(crate) struct ModelSlot {
    pub(crate) id: SlotId,
    pub(crate) socket: SocketIx,
}

/// A channel of a present processor with its places, from the far end.
pub(crate) struct ModelChannel {
    pub(crate) id: ChannelId,
    pub(crate) slots: Vec<PlaceId>,
    /// Channels of one shape may carry the same loads.
    pub(crate) shape: ShapeIx,
}

/// The socket of a present processor.
pub(crate) struct ModelSocket {
    pub(crate) id: SocketId,
    pub(crate) channels: Vec<ChannelIx>,
    /// Capacities times this compare as shares of what each processor can take: its live slots. 0 for a processor
    /// without live slots, which is not compared.
    pub(crate) weight: u64,
}

pub(crate) struct SlotModel<'a> {
    pub(crate) machine: &'a Machine,
    pub(crate) in_force: Rc<RulesInForce<'a>>,
    pub(crate) classes: Table<ClassId, &'a MemoryModule>,
    pub(crate) slots: Table<PlaceId, ModelSlot>,
    pub(crate) channels: Table<ChannelIx, ModelChannel>,
    pub(crate) sockets: Table<SocketIx, ModelSocket>,
    pub(crate) rows: Rows,
    /// The highest step under the caps that hold whatever is fitted.
    pub(crate) top_level: Level,
    /// What cannot be planned with: other devices.
    pub(crate) fixed: Layout<'a>,
    /// The bounds on unlike modules whose keys are the same in every slot.
    pub(crate) mixes: Vec<MixKeys>,
    /// Whether the keys of all bounds on unlike modules are known and the same in every slot.
    pub(crate) keys_are_steady: bool,
    /// What is there before, where it carries what the rules would refuse.
    pub(crate) before: Option<Before<'a>>,
    /// What sits in each place before, where something does.
    at_first: Option<Contents>,
    /// The layouts of which rules on evenness are not asked beforehand, for a manual prints them.
    pub(crate) printed: Vec<Exempt>,
    /// What of the loads of all channels is the same, where the rules ask for that.
    pub(crate) repeats: Option<Repeats>,
    /// How many sorts of class there may be, where that is bounded otherwise.
    pub(crate) few_sorts: Option<FewSorts>,
    pub(crate) judged: JudgedLoads<'a>,
    /// By shape: what was asked of [`SlotModel::legal_loads`] before.
    pub(crate) legal: RefCell<Table<ShapeIx, BTreeMap<Vec<ClassId>, Rc<LegalLoads>>>>,
    /// What was asked of [`SlotModel::companies`] before.
    pub(crate) companies: RefCell<BTreeMap<(SocketIx, Compared, Vec<ClassId>), Option<Rc<Vec<Company>>>>>,
}

impl<'a> SlotModel<'a> {
    /// A model for some classes of module on a machine whose fixed contents are those of `fixed`.
    pub(crate) fn new(
        machine: &'a Machine,
        rules: &'a RuleBook,
        threshold: Severity,
        classes: Vec<&'a MemoryModule>,
        fixed: Layout<'a>,
    ) -> Self {
        Self::under(machine, Rc::new(RulesInForce::new(machine, rules, threshold)), classes, fixed)
    }

    /// The same under rules of which it is known what they tell.
    pub(crate) fn under(
        machine: &'a Machine,
        in_force: Rc<RulesInForce<'a>>,
        classes: Vec<&'a MemoryModule>,
        fixed: Layout<'a>,
    ) -> Self {
        let SlotPlan { slots, channels, sockets, shapes } = SlotPlan::new(machine, &fixed, in_force.is_uniform());
        let mut model = Self {
            machine,
            rows: Rows::new(machine, &slots, &in_force.rows),
            classes: classes.into_iter().collect(),
            slots,
            channels,
            sockets,
            top_level: top_level(machine),
            judged: JudgedLoads::new(&fixed, shapes),
            fixed,
            in_force,
            mixes: Vec::new(),
            keys_are_steady: false,
            before: None,
            at_first: None,
            printed: Vec::new(),
            repeats: None,
            few_sorts: None,
            companies: RefCell::default(),
            legal: RefCell::new(Table::filled(BTreeMap::new(), shapes)),
        };
        (model.mixes, model.keys_are_steady) = model.read_mixes();
        model.printed = Exempt::printed(&model);
        model.repeats = Repeats::of(&model);
        model.few_sorts = if model.repeats.is_none() { FewSorts::of(&model) } else { None };
        model
    }

    /// From now on this is what sits in the places before, beside modules that have to go. Warnings on evenness that it carries
    /// refuse nothing that leaves their processors alone.
    pub(crate) fn remember(&mut self, at_first: Contents, going: impl IntoIterator<Item = (SlotId, &'a MemoryModule)>) {
        let mut layout = self.layout(&at_first);
        going.into_iter().for_each(|(slot, module)| layout.set(slot, Content::Module(module)));
        self.before = Before::new(layout, &self.in_force);
        if let Some(before) = &self.before {
            self.few_sorts = None;
            self.printed.extend(Exempt::as_before(self, before, &at_first));
        }
        self.at_first = at_first.values().iter().any(Option::is_some).then_some(at_first);
    }

    /// What sits in the places before, where a demand asks for just that; and whether all of it may stay.
    pub(crate) fn as_before(&self, demand: &Demand) -> Option<(Contents, bool)> {
        let at_first = self.at_first.as_ref()?;
        let count = |class: ClassId| at_first.values().iter().filter(|held| **held == Some(class)).count();
        let all = at_first.values().iter().flatten().count();
        let wanted: usize = demand.counts.iter().map(|&(_, count)| count).sum();
        let used: usize = demand.used.values().iter().sum();
        let same = demand.counts.iter().all(|&(class, wanted)| count(class) == wanted);
        (same && wanted == all).then(|| (at_first.clone(), used == all))
    }

    /// Whether the module rules let a class into a place.
    pub(crate) fn admits(&self, place: PlaceId, class: ClassId) -> bool {
        match (self.slots.get(place), self.classes.get(class)) {
            (Some(slot), Some(module)) => {
                self.in_force.loads.allows_module(&ModuleSite { machine: self.machine, slot: slot.id, module })
            }
            _ => false,
        }
    }

    /// One channel of each shape: those that are alike are asked once.
    pub(crate) fn unlike_channels(&self) -> impl Iterator<Item = (ChannelIx, &ModelChannel)> {
        let mut seen = Vec::new();
        self.channels.iter().filter(move |(_, channel)| {
            let is_new = !seen.contains(&channel.shape);
            seen.extend(is_new.then_some(channel.shape));
            is_new
        })
    }

    /// The channels of a processor, in order.
    pub(crate) fn channels_of(&self, socket: SocketIx) -> &[ChannelIx] {
        self.sockets.get(socket).map_or(&[], |socket| &socket.channels)
    }

    /// The places of a channel, from the far end.
    pub(crate) fn places_of(&self, channel: ChannelIx) -> &[PlaceId] {
        self.channels.get(channel).map_or(&[], |channel| &channel.slots)
    }

    /// What a class's module holds, in MiB; a class that is not there holds nothing.
    pub(crate) fn capacity_of(&self, class: ClassId) -> u64 {
        self.classes.get(class).map_or(0, |module| module.capacity().mib())
    }

    /// Whether the rate of a candidate may lie below the level of each of its loads for their grades: a policy may lower that
    /// of mixed ones.
    pub(crate) fn lowers_unlike_grades(&self) -> bool {
        let policy = self.machine.platform().description().unlike_grades.as_ref().map(|policy| policy.value);
        matches!(policy, Some(UnlikeGrades::LowerToMts(_)))
    }

    /// The group of like channels that a channel belongs to, where a rule asks for such.
    pub(crate) fn like_group_of(&self, channel: ChannelIx) -> Option<LikeGroup> {
        let id = self.channels.get(channel)?.id;
        self.in_force.like_groups.first()?.groups.find(|group| group.contains(&id))
    }

    /// The layout in which each place holds a class or nothing.
    pub(crate) fn layout(&self, at: &Contents) -> Layout<'a> {
        let mut layout = self.fixed.clone();
        for (slot, class) in self.slots.values().iter().zip(at.values()) {
            if let Some(&module) = class.and_then(|class| self.classes.get(class)) {
                layout.set(slot.id, Content::Module(module));
            }
        }
        layout
    }
}
