//! Which slots of a board the places of a report are.

use core::cell::OnceCell;
use core::fmt;
use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};

use crate::platform::{ChannelId, Platform, SlotAddress, SlotId};
use crate::population::observed::locator::{self, Count, Part, Parts, Way};
use crate::population::observed::sockets::Sockets;
use crate::population::{Medium, PlaceState, Report, SeenPlace};
use crate::unit::Name;

/// Which slot each place of a report is. Every place in which a module is has a slot, and no two have the same; empty places
/// have one where the report tells them apart.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Placement {
    /// The report.
    pub report: Name,
    /// How it was found.
    pub by: PlacedBy,
    /// The slot of each place, by the place's id.
    pub slots: BTreeMap<Name, Name>,
}

/// How the slots of a report's places were found.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum PlacedBy {
    /// The report names the slots as the board does.
    Label,
    /// Its numbers are those of a scheme that the board's description declares.
    Address(Name),
    /// Its texts or numbers count sockets, channels and slots in the only way that fits the board and the processors seen.
    Counting,
    /// The caller said so.
    Caller,
}

impl fmt::Display for PlacedBy {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Label => f.write_str("by the labels of the slots"),
            Self::Address(scheme) => write!(f, "by the addresses of the scheme {scheme}"),
            Self::Counting => f.write_str("by counting sockets, channels and slots"),
            Self::Caller => f.write_str("as the caller said"),
        }
    }
}

/// Place by place, in the order of the report: which slot.
type Mapping = Vec<Option<SlotId>>;

impl Placement {
    /// As a caller says it: the slot of each place, by the place's id. What is not there is found out when it is used.
    #[must_use]
    pub fn new(report: Name, slots: impl IntoIterator<Item = (Name, Name)>) -> Self {
        Self { report, by: PlacedBy::Caller, slots: slots.into_iter().collect() }
    }

    fn of(report: &Report, platform: &Platform, by: PlacedBy, mapping: &Mapping) -> Self {
        let of = |(place, slot): (&SeenPlace, &Option<SlotId>)| {
            Some((place.id.clone(), platform.slot((*slot)?).label().clone()))
        };
        Self { report: report.name.clone(), by, slots: report.places.iter().zip(mapping).filter_map(of).collect() }
    }

    /// All placements that fit: by labels, else by declared addresses, else by counting. More than one is an ambiguity,
    /// none a report that does not fit the board.
    pub(crate) fn all(report: &Report, platform: &Platform) -> Vec<Self> {
        let board = Board::new(platform, report);
        if let Some(mapping) = board.by_label() {
            return vec![Self::of(report, platform, PlacedBy::Label, &mapping)];
        }
        let mut found: BTreeMap<Mapping, PlacedBy> = BTreeMap::new();
        for (scheme, mapping) in board.by_address() {
            found.entry(mapping).or_insert(PlacedBy::Address(scheme));
        }
        if found.is_empty() {
            found.extend(board.by_counting(board.countings()).into_iter().map(|mapping| (mapping, PlacedBy::Counting)));
        }
        found.iter().map(|(mapping, by)| Self::of(report, platform, by.clone(), mapping)).collect()
    }
}

/// The slots that the numbers of a text may mean, by each way of counting that reports use.
pub(crate) fn counted(text: &str, platform: &Platform) -> Vec<SlotId> {
    let Ok(text) = Name::new(text.trim()) else { return Vec::new() };
    let place = SeenPlace::new(text.clone(), PlaceState::InUse).locator(text.clone());
    let report = Report::new(text, Medium::Machine).place(place);
    let board = Board::new(platform, &report);
    // one number alone may be of anything
    let says_where = |parts: &Vec<Parts>| parts.iter().all(|parts| parts.len() > 1);
    let mappings = board.by_counting(board.countings().into_iter().filter(says_where));
    let found: BTreeSet<SlotId> = mappings.into_iter().flatten().flatten().collect();
    found.into_iter().collect()
}

/// The labels of a board as reports may write them.
pub(crate) struct Labels<'a> {
    platform: &'a Platform,
    /// By what is left without case, blanks and separators; `None` where labels collide. Most reports write labels as they are.
    folded: OnceCell<BTreeMap<String, Option<SlotId>>>,
}

impl<'a> Labels<'a> {
    pub(crate) const fn new(platform: &'a Platform) -> Self {
        Self { platform, folded: OnceCell::new() }
    }

    /// The slot that a text names by its label, where just one does.
    pub(crate) fn slot(&self, text: &str) -> Option<SlotId> {
        let folded = |text: String| self.folded.get_or_init(|| self.folded()).get(&text).copied().flatten();
        let exact = self.platform.slot_named(text.trim());
        exact.or_else(|| folded(locator::folded(text))).or_else(|| folded(locator::folded_without_words(text)))
    }

    fn folded(&self) -> BTreeMap<String, Option<SlotId>> {
        let mut folded = BTreeMap::new();
        for slot in self.platform.slot_ids() {
            let label = locator::folded(self.platform.slot(slot).label().as_str());
            folded.entry(label).and_modify(|known| *known = None).or_insert(Some(slot));
        }
        folded
    }
}

/// A board and a report that is to be laid on it.
struct Board<'a> {
    platform: &'a Platform,
    report: &'a Report,
    sockets: Sockets,
    /// For those who count.
    sorted: OnceCell<Sorted>,
}

/// The slots of a board as people count them.
struct Sorted {
    /// Slots of each socket and of all, as their labels are sorted.
    of_socket: Vec<Vec<SlotId>>,
    of_board: Vec<SlotId>,
    of_channel: BTreeMap<ChannelId, Vec<SlotId>>,
    /// The channels of the board: socket by socket, in the order of the description.
    channels: Vec<ChannelId>,
}

impl Sorted {
    fn of(platform: &Platform) -> Self {
        let sorted = |slots: &[SlotId]| {
            let mut slots = slots.to_vec();
            slots.sort_by_cached_key(|&slot| locator::natural(platform.slot(slot).label().as_str()));
            slots
        };
        let channels: Vec<ChannelId> = platform.sockets().iter().flat_map(|socket| socket.channels.clone()).collect();
        let all: Vec<SlotId> = platform.slot_ids().collect();
        Self {
            of_socket: platform.sockets().iter().map(|socket| sorted(&socket.slots)).collect(),
            of_board: sorted(&all),
            of_channel: channels.iter().map(|&channel| (channel, sorted(&platform.channel(channel).slots))).collect(),
            channels,
        }
    }
}

impl<'a> Board<'a> {
    fn new(platform: &'a Platform, report: &'a Report) -> Self {
        Self { platform, report, sockets: Sockets::of(report, platform), sorted: OnceCell::new() }
    }

    fn sorted(&self) -> &Sorted {
        self.sorted.get_or_init(|| Sorted::of(self.platform))
    }

    /// Whether a mapping seats every filled place, each in a slot of its own, at a processor that may be there.
    fn fits(&self, mapping: &Mapping) -> bool {
        let mut taken = BTreeSet::new();
        self.report.places.iter().zip(mapping).all(|(place, slot)| match slot {
            None => !place.state.is_filled(),
            Some(slot) => taken.insert(*slot) && self.sockets.allow(place, self.platform.slot(*slot).socket),
        })
    }

    fn by_label(&self) -> Option<Mapping> {
        let labels = Labels::new(self.platform);
        type TextOf = fn(&SeenPlace) -> Option<String>;
        let texts: [TextOf; 5] = [
            |place| place.service_label.as_ref().map(ToString::to_string),
            |place| place.locator.as_ref().map(ToString::to_string),
            |place| place.bank.as_ref().map(ToString::to_string),
            |place| Some(format!("{} {}", place.bank.as_ref()?, place.locator.as_ref()?)),
            |place| Some(format!("{} {}", place.locator.as_ref()?, place.bank.as_ref()?)),
        ];
        let whole = texts.iter().find_map(|text| {
            let slot = |place: &SeenPlace| labels.slot(&text(place)?);
            let mapping: Mapping = self.report.places.iter().map(slot).collect();
            (mapping.iter().any(Option::is_some) && self.fits(&mapping)).then_some(mapping)
        });
        whole.or_else(|| self.by_label_behind_processor(&labels))
    }

    /// Texts that name a processor and then the slot by its label, where one number is one socket throughout.
    fn by_label_behind_processor(&self, labels: &Labels) -> Option<Mapping> {
        let (mut sockets, mut numbers) = (BTreeMap::new(), BTreeMap::new());
        let mut is_one_to_one = true;
        let mut slot = |place: &SeenPlace| {
            let text = place.service_label.as_ref().or(place.locator.as_ref())?;
            let (number, label) = locator::behind_processor(text.as_str())?;
            let slot = labels.slot(label)?;
            let socket = self.platform.slot(slot).socket;
            is_one_to_one &= *sockets.entry(number).or_insert(socket) == socket;
            is_one_to_one &= *numbers.entry(socket).or_insert(number) == number;
            Some(slot)
        };
        let mapping: Mapping = self.report.places.iter().map(&mut slot).collect();
        (is_one_to_one && mapping.iter().any(Option::is_some) && self.fits(&mapping)).then_some(mapping)
    }

    fn by_address(&self) -> Vec<(Name, Mapping)> {
        let schemes: BTreeSet<&Name> = self
            .platform
            .slots()
            .iter()
            .flat_map(|slot| slot.description().addresses.iter().map(|address| &address.scheme))
            .collect();
        let as_scheme = |scheme: &Name| {
            let slot = |place: &SeenPlace| {
                let address = SlotAddress { scheme: scheme.clone(), ..place.address.clone()? };
                let slots = self.platform.slots_at(&address);
                match slots.as_slice() {
                    [slot] => Some(*slot),
                    _ => None,
                }
            };
            let mapping: Mapping = self.report.places.iter().map(slot).collect();
            (mapping.iter().any(Option::is_some) && self.fits(&mapping)).then(|| (scheme.clone(), mapping))
        };
        schemes.into_iter().filter_map(as_scheme).collect()
    }

    /// Every way of counting that fits. Ways that seat the empty places too come first; where there are such, no other counts.
    fn by_counting(&self, countings: impl IntoIterator<Item = Vec<Parts>>) -> BTreeSet<Mapping> {
        let mut whole = BTreeSet::new();
        let mut filled = BTreeSet::new();
        for parts in countings {
            let told = |place: &SeenPlace, parts: &Parts| place.state.is_filled() || !parts.is_empty();
            for counting in Counting::all(self, &parts) {
                let slots = parts.iter().map(|parts| counting.slot(self, parts));
                let mapping: Mapping = slots.collect();
                let mut places = self.report.places.iter().zip(&parts).zip(&mapping);
                let is_whole = places.all(|((place, parts), slot)| !told(place, parts) || slot.is_some());
                if is_whole && self.fits(&mapping) {
                    whole.insert(mapping);
                } else if whole.is_empty() {
                    // an empty place that no slot is, or that shares one with another
                    let keep = |(place, slot): (&SeenPlace, &Option<SlotId>)| slot.filter(|_| place.state.is_filled());
                    let mapping: Mapping = self.report.places.iter().zip(&mapping).map(keep).collect();
                    if mapping.iter().any(Option::is_some) && self.fits(&mapping) {
                        filled.insert(mapping);
                    }
                }
            }
        }
        if whole.is_empty() { filled } else { whole }
    }

    /// What the texts or the numbers of the places say, place by place: each way in which a report may be read.
    fn countings(&self) -> BTreeSet<Vec<Parts>> {
        let places = &self.report.places;
        let of_text = |text: fn(&SeenPlace) -> Option<&Name>| -> Vec<Vec<Parts>> {
            let texts: Vec<&str> = places.iter().map(|place| text(place).map_or("", Name::as_str)).collect();
            readings(&texts)
        };
        let locators = of_text(|place| place.locator.as_ref().or(place.service_label.as_ref()));
        let banks = of_text(|place| place.bank.as_ref());
        let mut all: BTreeSet<Vec<Parts>> = BTreeSet::new();
        for locator in &locators {
            for bank in &banks {
                // each fills in what the other leaves out
                all.insert(joined(locator, bank));
                all.insert(joined(bank, locator));
            }
        }
        all.extend(locators);
        all.extend(banks);
        all.extend(self.numbered());
        let is_told = |parts: &Vec<Parts>| {
            let mut places = places.iter().zip(parts);
            places.all(|(place, parts)| !place.state.is_filled() || !parts.is_empty())
        };
        all.retain(is_told);
        all
    }

    /// What the numbers of the places may say: the last one may count in the channel, the socket or on the board.
    fn numbered(&self) -> Vec<Vec<Parts>> {
        let as_part = |last: Part| {
            let parts = |place: &SeenPlace| {
                let Some(SlotAddress { socket, controller, channel, slot, .. }) = &place.address else {
                    return Parts::new();
                };
                let mut parts = Parts::new();
                let named =
                    [(Part::Socket, socket), (Part::Controller, controller), (Part::Channel, channel), (last, slot)];
                for (part, number) in named {
                    let counts = match last {
                        Part::OfSocket => !matches!(part, Part::Controller | Part::Channel),
                        Part::OfBoard => part == last,
                        _ => true,
                    };
                    if let Some(number) = number.filter(|_| counts) {
                        parts.insert(part, Count::Number(number));
                    }
                }
                parts
            };
            self.report.places.iter().map(parts).collect::<Vec<Parts>>()
        };
        if self.report.places.iter().all(|place| place.address.is_none()) {
            return Vec::new();
        }
        vec![as_part(Part::OfChannel), as_part(Part::OfSocket), as_part(Part::OfBoard)]
    }
}

/// Place by place what one says, and what the other says besides.
fn joined(one: &[Parts], other: &[Parts]) -> Vec<Parts> {
    let join = |(one, other): (&Parts, &Parts)| {
        let mut both = other.clone();
        both.extend(one.iter().map(|(part, count)| (*part, *count)));
        both
    };
    one.iter().zip(other).map(join).collect()
}

/// The most ways in which the texts of a report are read.
const MOST_READINGS: usize = 64;

/// Every way to read some texts, those of one shape in one way.
fn readings(texts: &[&str]) -> Vec<Vec<Parts>> {
    let mut known: BTreeMap<&str, Vec<Way>> = BTreeMap::new();
    for text in texts {
        known.entry(text).or_insert_with(|| locator::ways(text));
    }
    // texts that can be read in the same ways are of one sort
    let sorts: BTreeSet<&Vec<Way>> = known.values().filter(|ways| !ways.is_empty()).collect();
    let mut chosen: Vec<BTreeMap<&Vec<Way>, &Way>> = vec![BTreeMap::new()];
    for sort in sorts {
        if chosen.len() * sort.len() > MOST_READINGS {
            return Vec::new();
        }
        let mut more = Vec::new();
        for choice in &chosen {
            for way in sort {
                let mut choice = choice.clone();
                choice.insert(sort, way);
                more.push(choice);
            }
        }
        chosen = more;
    }
    let read = |choice: &BTreeMap<&Vec<Way>, &Way>| {
        let parts = |text: &&str| {
            let way = known.get(*text).and_then(|ways| choice.get(ways));
            way.and_then(|way| way.read(text)).unwrap_or_default()
        };
        texts.iter().map(parts).collect::<Vec<Parts>>()
    };
    chosen.iter().map(read).collect()
}

/// Where counting begins, and what a channel is counted in.
#[derive(Debug, Clone, Copy)]
struct Counting {
    socket: u16,
    controller: u16,
    channel: u16,
    slot: u16,
    channels: ChannelsOf,
}

/// What the channels are counted in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum ChannelsOf {
    Controller,
    Socket,
    Board,
}

impl Counting {
    /// Those that can fit what is counted.
    fn all(board: &Board<'_>, parts: &[Parts]) -> Vec<Self> {
        let first = |wanted: &[Part]| {
            let numbers = parts.iter().flat_map(|parts| {
                parts.iter().filter_map(|(part, count)| match count {
                    Count::Number(number) if wanted.contains(part) => Some(*number),
                    _ => None,
                })
            });
            match numbers.min() {
                // nothing is numbered: all the same
                None | Some(0) => 0..=0,
                Some(_) => 0..=1,
            }
        };
        let says = |part: Part| parts.iter().any(|parts| parts.contains_key(&part));
        let mut channels = vec![ChannelsOf::Socket];
        if says(Part::Controller) {
            channels.push(ChannelsOf::Controller);
        }
        if says(Part::Channel) && board.platform.sockets().len() > 1 {
            channels.push(ChannelsOf::Board);
        }
        let mut all = Vec::new();
        for channels in channels {
            for socket in first(&[Part::Socket]) {
                for controller in first(&[Part::Controller]) {
                    for channel in first(&[Part::Channel]) {
                        for slot in first(&[Part::OfChannel, Part::OfSocket, Part::OfBoard]) {
                            all.push(Self { socket, controller, channel, slot, channels });
                        }
                    }
                }
            }
        }
        all
    }

    fn slot(self, board: &Board<'_>, parts: &Parts) -> Option<SlotId> {
        let index = |part: Part, base: u16| match parts.get(&part)? {
            Count::Number(number) => number.checked_sub(base).map(usize::from),
            Count::Letter(letter) => Some(usize::from(*letter)),
        };
        let sockets = board.platform.sockets();
        let socket = match parts.contains_key(&Part::Socket) {
            true => Some(index(Part::Socket, self.socket)?),
            false => (sockets.len() == 1).then_some(0),
        };
        if parts.contains_key(&Part::OfSocket) {
            return board.sorted().of_socket.get(socket?)?.get(index(Part::OfSocket, self.slot)?).copied();
        }
        if parts.contains_key(&Part::OfBoard) {
            return board.sorted().of_board.get(index(Part::OfBoard, self.slot)?).copied();
        }
        let at = index(Part::Channel, self.channel)?;
        let channel = match self.channels {
            ChannelsOf::Board => {
                let channel = *board.sorted().channels.get(at)?;
                let is_there = socket
                    .is_none_or(|socket| sockets.get(socket).is_some_and(|socket| socket.channels.contains(&channel)));
                is_there.then_some(channel)?
            }
            ChannelsOf::Socket => *sockets.get(socket?)?.channels.get(at)?,
            ChannelsOf::Controller => {
                let controller = index(Part::Controller, self.controller)?;
                let channels = &sockets.get(socket?)?.channels;
                let mut controllers: Vec<&Name> = Vec::new();
                for channel in channels {
                    let controller = &board.platform.channel(*channel).controller;
                    if !controllers.contains(&controller) {
                        controllers.push(controller);
                    }
                }
                let controller = *controllers.get(controller)?;
                let mut own =
                    channels.iter().filter(|channel| board.platform.channel(**channel).controller == *controller);
                *own.nth(at)?
            }
        };
        let slots = board.sorted().of_channel.get(&channel)?;
        match (parts.contains_key(&Part::OfChannel), slots.as_slice()) {
            (true, slots) => slots.get(index(Part::OfChannel, self.slot)?).copied(),
            (false, [only]) => Some(*only),
            (false, _) => None,
        }
    }
}
