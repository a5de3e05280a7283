//! Layouts of which the rules on evenness are not asked beforehand: those that a manual prints, and processors whose last
//! slot is filled.

use itertools::Itertools;

use crate::figure::regions::domains;
use crate::fill::choices::{Choices, OpenPlaces};
use crate::fill::loads::Loads;
use crate::fill::slot_model::{Contents, ModelSocket};
use crate::fill::{Before, ChannelIx, ClassId, PlaceId, SlotModel, SocketIx};
use crate::machine::{PrintedLayout, Wanted};
use crate::platform::TwoSizes;
use crate::rule::is_odd;
use crate::search::Table;

/// What the places of some processors hold; every other place of theirs is empty.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Exempt {
    pub(crate) sockets: Vec<SocketIx>,
    /// The places that are filled, and with which classes; any where absent.
    places: Vec<(PlaceId, Option<Vec<ClassId>>)>,
    /// Whether it was so before, whatever the number of modules.
    pub(crate) was_so_before: bool,
}

impl Exempt {
    /// The layouts that are printed for a model's machine and that some rule on evenness in force could refuse.
    pub(crate) fn printed(model: &SlotModel<'_>) -> Vec<Self> {
        let in_force = &model.in_force;
        let asks = in_force.one_region || in_force.spread_first || in_force.odd_channels || model.channels_are_alike();
        if !asks {
            return Vec::new();
        }
        let pairs = TwoSizes::among(model.classes.values().iter().copied());
        let of_each = |printed: &PrintedLayout| match printed.marks_sizes {
            false => Self::of(model, printed, None).into_iter().collect_vec(),
            true => pairs.iter().filter_map(|&sizes| Self::of(model, printed, Some(sizes))).collect(),
        };
        let layouts = model.machine.printed().iter().flat_map(of_each);
        layouts.filter(|exempt| exempt.can_be_filled() && !exempt.is_plainly_even(model)).collect()
    }

    /// A printed layout; of modules of these sizes, where it marks some.
    fn of(model: &SlotModel<'_>, printed: &PrintedLayout, sizes: Option<TwoSizes>) -> Option<Self> {
        let socket = |id: &crate::platform::SocketId| model.sockets.find(|socket| socket.id == *id);
        let place = |(slot, wanted): &(crate::platform::SlotId, Wanted)| {
            let suits = |&class: &ClassId| model.classes.get(class).is_some_and(|module| wanted.suits(module, sizes));
            let classes = match wanted {
                Wanted::Any => None,
                Wanted::InRow(_) | Wanted::Facts(_) => Some(model.classes.ids().filter(suits).collect()),
            };
            Some((model.slots.find(|known| known.id == *slot)?, classes))
        };
        Some(Self {
            sockets: printed.sockets.iter().map(socket).collect::<Option<_>>()?,
            places: printed.slots.iter().map(place).collect::<Option<_>>()?,
            was_so_before: false,
        })
    }

    /// Whether some class suits each place.
    fn can_be_filled(&self) -> bool {
        self.places.iter().all(|(_, classes)| classes.as_ref().is_none_or(|classes| !classes.is_empty()))
    }

    /// Whether a demand has some of what suits each place.
    fn suits(&self, loads: &Loads) -> bool {
        let is_there = |class: &ClassId| loads.kinds.values().contains(class);
        self.places.iter().all(|(_, classes)| classes.as_ref().is_none_or(|classes| classes.iter().any(is_there)))
    }

    /// All places of a processor.
    pub(crate) fn full(model: &SlotModel<'_>, socket: SocketIx) -> Self {
        let channels = model.channels_of(socket).iter();
        let places = channels.flat_map(|&channel| model.places_of(channel)).map(|&place| (place, None)).collect();
        Self { sockets: vec![socket], places, was_so_before: false }
    }

    /// The processors that what was carried before names, each as it was.
    pub(crate) fn as_before(model: &SlotModel<'_>, before: &Before<'_>, at_first: &Contents) -> Vec<Self> {
        let named = before.sockets();
        let sockets = model.sockets.iter().filter(|(_, socket)| named.contains(&socket.id));
        let of = |(socket, _): (SocketIx, &ModelSocket)| {
            let own =
                at_first.iter().filter(|(place, _)| model.slots.get(*place).is_some_and(|slot| slot.socket == socket));
            let places = own.filter_map(|(place, class)| Some((place, Some(vec![(*class)?])))).collect();
            Self { sockets: vec![socket], places, was_so_before: true }
        };
        sockets.map(of).filter(|exempt: &Self| exempt.modules() > 0).collect()
    }

    /// The classes of its places, where it says which.
    pub(crate) fn classes(&self) -> impl Iterator<Item = ClassId> + '_ {
        self.places.iter().filter_map(|(_, classes)| classes.as_ref()?.first().copied())
    }

    /// How many modules it holds.
    pub(crate) fn modules(&self) -> usize {
        self.places.len()
    }

    /// Whether a demand has all that was so before.
    fn is_at_hand(&self, loads: &Loads) -> bool {
        let own = |class: ClassId| self.classes().filter(|other| *other == class).count();
        let has = |class: ClassId| {
            let kinds = loads.kinds.iter().zip(loads.counts.values());
            kinds.filter(|((_, known), _)| **known == class).map(|(_, count)| *count).sum::<usize>()
        };
        !self.was_so_before || self.classes().all(|class| own(class) <= has(class))
    }

    /// What a place may hold beside what it may hold anyway; `None` for a place that it does not speak of.
    pub(crate) fn choices(&self, model: &SlotModel<'_>, loads: &Loads, place: PlaceId) -> Option<Choices> {
        let socket = model.slots.get(place)?.socket;
        if !self.sockets.contains(&socket) {
            return None;
        }
        Some(match self.places.iter().find(|(known, _)| *known == place) {
            None => Choices::only(None),
            Some((_, None)) => Choices::ANY_MODULE,
            Some((_, Some(classes))) => {
                let suits = |&(_, class): &(_, &ClassId)| classes.contains(class);
                Choices::modules(loads.kinds.iter().filter(suits).map(|(kind, _)| kind))
            }
        })
    }

    /// What places may hold with the layout imposed.
    pub(crate) fn impose(&self, model: &SlotModel<'_>, loads: &Loads, open: &OpenPlaces) -> OpenPlaces {
        let imposed = |(place, &choices): (PlaceId, &Choices)| {
            self.choices(model, loads, place).map_or(choices, |own| choices.and(own))
        };
        open.iter().map(imposed).collect()
    }

    /// Whether nothing but unlike modules could make the layout uneven: all channels with modules fill the same rounds, are one
    /// region, and where they fill more than one round, or are an odd number, none is left empty.
    fn is_plainly_even(&self, model: &SlotModel<'_>) -> bool {
        self.sockets.iter().all(|&socket| {
            let Some(entry) = model.sockets.get(socket) else { return true };
            let Some(wiring) = model.machine.wiring(entry.id) else { return true };
            let is_filled = |place: &PlaceId| self.places.iter().any(|(known, _)| known == place);
            let channels = model.channels_of(socket).iter().filter(|&&channel| !model.places_of(channel).is_empty());
            let filled = |&channel: &ChannelIx| {
                let places = model.places_of(channel).iter().zip(model.rounds_of(channel));
                let own = places.filter(|(place, _)| is_filled(place)).map(|(_, round)| round);
                (model.channels.get(channel).map(|channel| channel.id), own.sorted().collect_vec())
            };
            let mut rounds = channels.map(filled).collect_vec();
            let all = rounds.len();
            rounds.retain(|(_, rounds)| !rounds.is_empty());
            let cap = |channel| u64::from(rounds.iter().any(|(known, _)| *known == Some(channel)));
            let caps = wiring.channels.iter().map(|&channel| cap(channel)).collect_vec();
            let modules = rounds.iter().map(|(_, rounds)| rounds.len()).sum();
            let is_one_region = domains(wiring, &caps, modules).0.iter().all(|domain| domain.regions.len() <= 1);
            let alike = rounds.iter().map(|(_, rounds)| rounds).all_equal();
            let is_spread = rounds.first().is_none_or(|(_, rounds)| rounds.len() <= 1);
            let is_odd = wiring.sets.is_none() && is_odd(rounds.len(), all);
            alike && is_one_region && !is_odd && (is_spread || rounds.len() == all)
        })
    }
}

/// The exempt layouts of a demand: by processor, and those of several processors at once.
#[derive(Default)]
pub(crate) struct ExemptLayouts {
    pub(crate) of_socket: Table<SocketIx, Vec<Exempt>>,
    pub(crate) of_several: Vec<Exempt>,
}

impl ExemptLayouts {
    /// Those of a processor: its own, and what those of several say of it.
    pub(crate) fn of(&self, socket: SocketIx) -> impl Iterator<Item = &Exempt> {
        let several = self.of_several.iter().filter(move |exempt| exempt.sockets.contains(&socket));
        self.of_socket.get(socket).into_iter().flatten().chain(several)
    }

    /// Whether some processor may stay as it was before.
    pub(crate) fn keep_some(&self) -> bool {
        self.of_socket.values().iter().flatten().any(|exempt| exempt.was_so_before)
    }

    /// Whether there are some of a processor.
    pub(crate) fn speak_of(&self, socket: SocketIx) -> bool {
        self.of(socket).next().is_some()
    }

    /// The layouts that the modules of a demand could fill.
    pub(crate) fn new(model: &SlotModel<'_>, loads: &Loads) -> Self {
        let fits =
            |exempt: &&Exempt| exempt.modules() <= loads.total() && exempt.suits(loads) && exempt.is_at_hand(loads);
        let of_socket = |socket: SocketIx| {
            let printed = model.printed.iter().filter(|exempt| exempt.sockets == [socket]).filter(fits).cloned();
            let full = Exempt::full(model, socket);
            let is_met = full.modules() > 0 && fits(&&full) && model.in_force.one_region;
            printed.chain(is_met.then_some(full)).collect()
        };
        let everywhere = |exempt: &&Exempt| {
            let all = exempt.sockets.len() == model.sockets.len();
            exempt.sockets.len() > 1 && fits(exempt) && (!all || exempt.modules() == loads.total())
        };
        Self {
            of_socket: model.sockets.ids().map(of_socket).collect(),
            of_several: model.printed.iter().filter(everywhere).cloned().collect(),
        }
    }
}
