//! Which slots the places of reports are.

use slotwright::platform::{ChannelId, Platform, SlotAddress};
use slotwright::population::{
    Medium, Observed, PlaceState, PlacedBy, Placement, Population, Report, SeenModule, SeenPlace, SeenProcessor, Sited,
    SitingError,
};
use slotwright::unit::Name;
use slotwright::{Machine, reference};

use crate::boards::{module, name};
use crate::reports::{report, some, with_texts};

/// Two processors, four channels each, three slots: A1 to H3.
fn machine() -> Machine {
    Machine::builder(reference::ddr4_2s_4ch_3spc())
        .processor_named("1", "later")
        .processor_named("2", "later")
        .build()
        .unwrap()
}

fn filled(slots: &str) -> (Machine, Population) {
    let machine = machine();
    let population = some(&machine, &module("16GB 2Rx4 PC4-2400T-RA1-11"), slots);
    (machine, population)
}

fn placed(sited: &Sited) -> Vec<&str> {
    sited.slots.iter().filter(|slot| slot.module.is_some()).map(|slot| slot.slot.as_str()).collect()
}

/// Socket, channel in the socket, channel on the board and slot of the channel of each slot, from 0.
fn counted(platform: &Platform) -> Vec<(usize, usize, usize, usize)> {
    let channels: Vec<ChannelId> = platform.sockets().iter().flat_map(|socket| socket.channels.clone()).collect();
    let number = |slot: &slotwright::platform::Slot| {
        let socket = platform.socket_ids().position(|id| id == slot.socket).unwrap();
        let of_socket = platform.socket(slot.socket).channels.iter().position(|id| *id == slot.channel).unwrap();
        let of_board = channels.iter().position(|id| *id == slot.channel).unwrap();
        // the labels of a channel end in its number
        let digit = slot.label().as_str().chars().last().unwrap().to_digit(10).unwrap() as usize;
        (socket, of_socket, of_board, digit - 1)
    };
    platform.slots().iter().map(number).collect()
}

fn letter(at: usize) -> char {
    char::from(b'A' + u8::try_from(at).unwrap())
}

/// The way in which a report writes a place, and how it numbers.
type Text = fn(usize, usize, usize, usize) -> (String, String);

// every shape of the table that can name the slots of the board: socket s, channel of the socket c, of the board b, slot d, all from 0
const SHAPES: [(&str, Text); 33] = [
    ("letters run on, from 1", |s, _, b, d| (format!("P{}-DIMM{}{}", s + 1, letter(b), d + 1), String::new())),
    ("letters run on, sockets from 0", |s, _, b, d| (format!("P{s}_DIMM{}{}", letter(b), d + 1), String::new())),
    ("letters restart", |s, c, _, d| (format!("P{}-DIMM{}{}", s + 1, letter(c), d + 1), String::new())),
    ("slots from 0", |s, c, _, d| (format!("P{}-DIMM{}{d}", s + 1, letter(c)), String::new())),
    ("number, then letter", |s, c, _, d| (format!("P{}-DIMM{}{}", s + 1, c + 1, letter(d)), String::new())),
    ("number, then letter, bare", |s, c, _, d| (format!("P{}_{}{}", s + 1, c + 1, letter(d)), String::new())),
    ("letter is the socket", |s, c, _, d| (format!("{}{}", letter(s), c * 3 + d + 1), String::new())),
    ("letter is the socket, with a word", |s, c, _, d| (format!("DIMM_{}{}", letter(s), c * 3 + d + 1), String::new())),
    ("processor and slot of it", |s, c, _, d| (format!("PROC {} DIMM {}", s + 1, c * 3 + d + 1), String::new())),
    ("blanks", |s, c, _, d| (format!("PROC  {}  DIMM  {}", s + 1, c * 3 + d + 1), String::new())),
    ("a letter behind", |s, c, _, d| (format!("PROC {} DIMM {} {}", s + 1, c * 3 + d + 1, letter(c)), String::new())),
    ("processor, channel, slot", |s, c, _, d| (format!("CPU{}_DIMM_{}{}", s + 1, letter(c), d + 1), String::new())),
    ("processors from 0", |s, c, _, d| (format!("CPU{s} DIMM {}{}", letter(c), d + 1), String::new())),
    ("short", |s, c, _, d| (format!("CPU{}_{}{}", s + 1, letter(c), d + 1), String::new())),
    ("apart", |s, c, _, d| (format!("CPU_{}_DIMM_{}_{}", s + 1, letter(c), d + 1), String::new())),
    ("one word", |s, c, _, d| (format!("CPU{}_DIMM{}{}", s + 1, letter(c), d + 1), String::new())),
    ("C and D", |s, c, _, d| (format!("CPU{s}_C{c}D{d}"), String::new())),
    ("DIMM first, running on", |s, _, b, d| (format!("DIMM_P{s}_{}{d}", letter(b)), String::new())),
    ("Ch", |s, c, _, d| (format!("P{s}-Ch{}-DIMM{d}", letter(c)), String::new())),
    ("controllers", |s, c, _, d| (format!("P{s}_MC{}_DIM_CH_{}{d}", c / 4, letter(c)), String::new())),
    ("three digits", |s, c, _, d| (format!("DIMM{s}{c}{d} J{}", 7 * c), String::new())),
    ("slot of the processor last", |s, c, _, d| (format!("DIMM{}_CPU{}", c * 3 + d + 1, s + 1), String::new())),
    ("slot of the processor", |s, c, _, d| (format!("CPU{}-DIMM{}", s + 1, c * 3 + d + 1), String::new())),
    ("node and slot", |s, c, _, d| (format!("Node{s}_Dimm{}", c * 3 + d + 1), String::new())),
    ("slot of the board", |_, _, b, d| (format!("DIMM {}", b * 3 + d + 1), String::new())),
    ("socket in the bank", |s, c, _, d| (format!("DIMM_{}{}", letter(c), d + 1), format!("CPU {}", s + 1))),
    ("slot of the processor in the bank", |s, c, _, d| (format!("DIMM {}", c * 3 + d + 1), format!("NODE {}", s + 1))),
    ("processor and channel in the bank", |s, c, _, d| (format!("DIMM {d}"), format!("P{s} CHANNEL {}", letter(c)))),
    ("all in the bank", |s, c, _, d| ("DIMM".to_owned(), format!("NODE {} CHANNEL {c} DIMM {d}", s + 1))),
    ("a node is a controller", |s, c, _, d| (String::new(), format!("P{s}_Node0_Channel{c}_Dimm{d}"))),
    ("sockets in the bank", |s, c, _, d| (String::new(), format!("SOCKET {s} CHANNEL {c} DIMM {d}"))),
    ("unlike bases in the two", |s, c, _, d| {
        (format!("P{}-DIMM{}{}", s + 1, letter(c), d + 1), format!("P{s}_Node0_Channel{c}_Dimm{d}"))
    }),
    ("a bank that says nothing", |s, c, _, d| (format!("CPU{s}_{}{d}", letter(c)), format!("BANK {}", c * 3 + d))),
];

#[test]
fn each_shape_finds_the_slots() {
    let (machine, population) = filled("A1 B1 C1 D1 E1 F1 G1 H1 A2");
    let platform = machine.platform();
    let counted = counted(platform);
    for (what, text) in SHAPES {
        let texts = |at: usize| {
            let (s, c, b, d) = counted[at];
            let (locator, bank) = text(s, c, b, d);
            let some = |text: String| (!text.is_empty()).then(|| name(&text));
            (some(locator), some(bank))
        };
        let sited = Observed::from(with_texts(report(platform, &population), texts)).on(platform);
        let sited = sited.unwrap_or_else(|error| panic!("{what}: {error}"));
        assert_eq!(placed(&sited), ["A1", "A2", "B1", "C1", "D1", "E1", "F1", "G1", "H1"], "{what}");
        assert_eq!(sited.slots.iter().filter(|slot| slot.state == PlaceState::Absent).count(), 15, "{what}");
        assert!(sited.unplaced.is_empty());
        assert_eq!(sited.population().unwrap(), population, "{what}");
    }
}

#[test]
fn labels_are_found_as_reports_write_them() {
    let (machine, population) = filled("A1 B1 H3");
    let platform = machine.platform();
    let whole = report(platform, &population);
    type Write = fn(&str) -> String;
    let ways: [Write; 5] = [
        |label| label.to_lowercase(),
        |label| format!("DIMM_{}", label.replace('A', "a")),
        |label| format!(" {}-0{}", &label[..1], &label[1..]).trim().to_owned(),
        |label| format!("DIMM {label}"),
        |label| format!("dimm slot {label}"),
    ];
    for write in ways {
        let texts = |at: usize| (Some(name(&write(platform.slots()[at].label().as_str()))), None);
        let sited = Observed::from(with_texts(whole.clone(), texts)).on(platform).unwrap();
        assert_eq!(placed(&sited), ["A1", "B1", "H3"]);
        assert_eq!(sited.placements[0].by, PlacedBy::Label);
    }
}

#[test]
fn labels_that_collide_are_compared_as_they_stand() {
    use slotwright::module::Generation;
    use slotwright::platform::{
        ChannelDescription, ControllerDescription, PlatformDescription, SlotDescription, SocketDescription,
    };
    let slots = [("1-12", 0), ("11-2", 1)].map(|(label, at)| SlotDescription::new(name(label), at, u16::from(at)));
    let channel = ChannelDescription::new(name("A"), slots);
    let socket = SocketDescription::new(name("1"), [ControllerDescription::new(name("0"), [channel])]);
    let platform = PlatformDescription::new(name("board"), Generation::Ddr4, vec![socket]).build().unwrap();
    let seen = SeenModule::of(&module("16GB 2Rx4 PC4-2400T-RA1-11"));
    let at = |text: &str| {
        let place = SeenPlace::new(name("1"), PlaceState::InUse).locator(name(text)).module(seen.clone());
        Observed::from(Report::new(name("dump"), Medium::Machine).place(place)).on(&platform)
    };
    assert_eq!(placed(&at("11-2").unwrap()), ["11-2"]);
    assert_eq!(placed(&at("1-12").unwrap()), ["1-12"]);
    assert!(at("112").is_err());
}

#[test]
fn empty_slots_that_lose_their_label_are_no_hindrance() {
    let (machine, population) = filled("A1 E1");
    let platform = machine.platform();
    let mut lost = report(platform, &population);
    for place in lost.places.iter_mut().filter(|place| place.state == PlaceState::Absent) {
        place.locator = Some(name("NO DIMM"));
        place.bank = Some(name("NO DIMM"));
    }
    let sited = Observed::from(lost).on(platform).unwrap();
    assert_eq!(placed(&sited), ["A1", "E1"]);
    // which is which is no matter: all others are empty
    assert!(sited.to_string().contains("22 slots are taken to be empty: dump is complete"), "{sited}");
}

#[test]
fn what_fits_in_several_ways_is_returned_whole() {
    let (machine, population) = filled("A1 B1");
    let platform = machine.platform();
    // the numbers may begin at 0 or at 1, and only filled places are listed
    let mut few = with_texts(report(platform, &population), |at| {
        let label = platform.slots()[at].label().as_str();
        (Some(name(&format!("CPU1_C{}D1", usize::from(label.as_bytes()[0] - b'A') + 1))), None)
    });
    few.places.retain(|place| place.state == PlaceState::InUse);
    let error = Observed::from(few.clone()).on(platform).unwrap_err();
    let SitingError::SeveralWays { ways, .. } = &error else { panic!("{error}") };
    let slots = |way: &Placement| way.slots.values().map(Name::to_string).collect::<Vec<_>>().join(" ");
    let all: Vec<String> = ways.iter().map(slots).collect();
    assert!(all.contains(&"A1 B1".to_owned()) && all.len() > 4, "{all:?}");
    assert!(error.to_string().contains("say which is meant"), "{error}");
    let meant = ways.iter().find(|way| slots(way) == "A1 B1").unwrap().clone();
    let sited = Observed::from(few.clone()).on_as(platform, std::slice::from_ref(&meant)).unwrap();
    assert_eq!(placed(&sited), ["A1", "B1"]);
    // processors decide
    let seen = |socket: &str, there| SeenProcessor::new(name(socket)).is_present(there);
    let with = few.clone().processor(seen("CPU1", true)).processor(seen("CPU2", false));
    let Err(SitingError::SeveralWays { ways, .. }) = Observed::from(with).on(platform) else { panic!() };
    assert!(
        ways.iter()
            .all(|way| way.slots.values().all(|slot| ('A'..='D').contains(&slot.as_str().chars().next().unwrap())))
    );
    // a caller's placement is checked
    let mut wrong = meant;
    wrong.slots.insert(name("0x9999"), name("A1"));
    let error = Observed::from(few).on_as(platform, &[wrong]).unwrap_err();
    assert!(matches!(error, SitingError::UnknownPlacement { .. }), "{error}");
}

#[test]
fn a_report_of_another_board_does_not_fit() {
    let (machine, population) = filled("A1");
    let platform = machine.platform();
    let mut other = report(platform, &population);
    other.places[0].locator = Some(name("P7-DIMMZ9"));
    let error = Observed::from(other).on(platform).unwrap_err();
    assert!(error.to_string().starts_with("dump does not fit ddr4-2s-4ch-3spc: no reading seats"), "{error}");
    // two modules in one slot
    let mut twice = report(platform, &population);
    twice.places[1] = twice.places[0].clone();
    twice.places[1].id = name("0x9");
    assert!(matches!(Observed::from(twice).on(platform), Err(SitingError::DoesNotFit { .. })));
    let virtual_one = Report::new(name("dump"), Medium::Machine).virtual_machine(name("a made-up host"));
    let error = Observed::from(virtual_one).on(platform).unwrap_err();
    assert!(error.to_string().starts_with("dump is of a virtual machine (a made-up host)"), "{error}");
}

#[test]
fn numbers_are_read_by_declared_schemes_and_else_by_counting() {
    let (machine, population) = filled("A1 B2 H3");
    let platform = machine.platform();
    let counted = counted(platform);
    let with = |number: &dyn Fn((usize, usize, usize, usize)) -> [Option<usize>; 3]| {
        let mut report = with_texts(report(platform, &population), |_| (None, None));
        for (place, at) in report.places.iter_mut().zip(&counted) {
            let [socket, channel, slot] = number(*at).map(|number| number.map(|number| u16::try_from(number).unwrap()));
            place.address = Some(SlotAddress::new(name("redfish")).socket(socket).channel(channel).slot(slot));
        }
        Observed::from(report).on(platform)
    };
    // the board's description declares "event log": sockets, channels and slots from 0
    let declared = with(&|(s, c, _, d)| [Some(s), Some(c), Some(d)]).unwrap();
    assert_eq!(placed(&declared), ["A1", "B2", "H3"]);
    assert_eq!(declared.placements[0].by, PlacedBy::Address(name("event log")));
    let from_1 = with(&|(s, c, _, d)| [Some(s + 1), Some(c + 1), Some(d + 1)]).unwrap();
    assert_eq!((placed(&from_1), &from_1.placements[0].by), (vec!["A1", "B2", "H3"], &PlacedBy::Counting));
    // the slot counts in the socket, and the channel says nothing of use
    let of_socket = with(&|(s, c, _, d)| [Some(s + 1), None, Some(c * 3 + d + 1)]).unwrap();
    assert_eq!(placed(&of_socket), ["A1", "B2", "H3"]);
    // over the board
    let of_board = with(&|(_, _, b, d)| [None, None, Some(b * 3 + d + 1)]).unwrap();
    assert_eq!(placed(&of_board), ["A1", "B2", "H3"]);
}

#[test]
fn uneven_channels_are_counted_as_they_are() {
    let platform = reference::ddr3_1s_uneven();
    let texts: Vec<(usize, usize)> = platform
        .channels()
        .iter()
        .enumerate()
        .flat_map(|(channel, of)| (0..of.slots.len()).map(move |slot| (channel, slot)))
        .collect();
    let mut report = Report::new(name("dump"), Medium::Machine);
    let seen = SeenModule::of(&module("8GB 2Rx4 PC3L-10600R-09-11-E2"));
    for (at, (channel, slot)) in texts.iter().enumerate() {
        let place = SeenPlace::new(name(&format!("{at}")), PlaceState::InUse).module(seen.clone());
        report = report.place(place.locator(name(&format!("Channel{}-DIMM{slot}", letter(*channel)))));
    }
    let sited = Observed::from(report).on(&platform).unwrap();
    assert_eq!(placed(&sited).len(), platform.slots().len());
}
