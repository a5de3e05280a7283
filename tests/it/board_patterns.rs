//! Boards as patterns: what they write out, and what is wrong with them.

use slotwright::Name;
use slotwright::module::Generation;
use slotwright::platform::{
    AddressPattern, BoardPattern, ChannelDescription, ChannelEnd, ChannelLabels, ControllerDescription, CountRow,
    FillRow, KeyFacing, KeyFacings, LabelPattern, Platform, PlatformDescription, PlatformProblem, PositionOrder,
    ProcessorTurns, SlotAddress, SlotDescription, SlotLabels, SlotOverride, SlotsPerChannel, SocketDescription, Turns,
    WorkedRow,
};
use slotwright::processor::{ModulePattern, RateTable};
use slotwright::reference;
use slotwright::stated::{Basis, Demand, Located, Scope, Stated};

fn name(text: &str) -> Name {
    Name::new(text).unwrap()
}

fn names(text: &str) -> Vec<Name> {
    text.split_whitespace().map(name).collect()
}

fn stated<T>(value: T) -> Stated<T> {
    Stated::new(value, Basis::BoardManual)
}

/// A reference board written out slot by slot: channels by letters that run on, far end first, one position of all channels after
/// the other, processors in turn.
fn written_out(sockets: usize, controllers: usize, slots: &[usize], order: &[usize]) -> Vec<SocketDescription> {
    let channels = slots.len();
    let of_controller = channels / controllers;
    let mut turns: Vec<(usize, usize, usize)> = Vec::new();
    for socket in 0..sockets {
        for (channel, &count) in slots.iter().enumerate() {
            let rank = order.iter().position(|&next| next == channel).unwrap();
            turns.extend((0..count).map(|position| (position, rank, socket)));
        }
    }
    turns.sort_unstable();
    let slot = |socket: usize, channel: usize, position: usize| {
        let letter = char::from(b'A' + u8::try_from(socket * channels + channel).unwrap());
        let rank = order.iter().position(|&next| next == channel).unwrap();
        let turn = turns.iter().position(|&turn| turn == (position, rank, socket)).unwrap();
        let number = |number: usize| u16::try_from(number).unwrap();
        let address = SlotAddress::new(name("event log"))
            .socket(number(socket))
            .controller(number(channel / of_controller))
            .channel(number(channel % of_controller))
            .slot(number(position));
        let label = name(&format!("{letter}{}", position + 1));
        SlotDescription::new(label, u8::try_from(position).unwrap(), number(turn))
            .marking(name(["light", "mid", "dark"][position]))
            .key_facing(if socket == 0 { KeyFacing::Usual } else { KeyFacing::Turned })
            .addresses([address])
    };
    let channel = |socket: usize, channel: usize| {
        let letter = char::from(b'A' + u8::try_from(socket * channels + channel).unwrap());
        let slots = (0..slots[channel]).map(|position| slot(socket, channel, position));
        ChannelDescription::new(name(&letter.to_string()), slots)
    };
    let controller = |socket: usize, controller: usize| {
        let own = controller * of_controller..(controller + 1) * of_controller;
        ControllerDescription::new(name(&controller.to_string()), own.map(|of| channel(socket, of)))
    };
    let socket = |socket: usize| {
        SocketDescription::new(name(&(socket + 1).to_string()), (0..controllers).map(|of| controller(socket, of)))
    };
    (0..sockets).map(socket).collect()
}

#[test]
fn reference_boards_are_what_their_written_out_forms_are() {
    let boards: [(&str, (usize, usize), &[usize], &[usize]); 10] = [
        ("ddr3-1s-3ch-3spc", (1, 1), &[3; 3], &[0, 1, 2]),
        ("ddr3-1s-uneven", (1, 1), &[3, 3, 2], &[0, 1, 2]),
        ("ddr3-2s-4ch-3spc", (2, 1), &[3; 4], &[0, 1, 2, 3]),
        ("ddr4-1s-2ch-2spc-unbuffered", (1, 1), &[2; 2], &[0, 1]),
        ("ddr4-2s-4ch-2spc", (2, 1), &[2; 4], &[0, 1, 2, 3]),
        ("ddr4-2s-4ch-3spc", (2, 1), &[3; 4], &[0, 1, 2, 3]),
        ("ddr4-2s-6ch-2spc", (2, 2), &[2; 6], &[0, 3, 1, 4, 2, 5]),
        ("ddr4-2s-8ch-2spc", (2, 4), &[2; 8], &[2, 3, 6, 7, 0, 1, 4, 5]),
        ("ddr5-1s-12ch-1spc", (1, 12), &[1; 12], &[0, 6, 2, 8, 1, 7, 4, 10, 3, 9, 5, 11]),
        ("ddr5-2s-8ch-2spc", (2, 4), &[2; 8], &[0, 4, 2, 6, 1, 5, 3, 7]),
    ];
    assert_eq!(boards.len(), reference::all().len());
    for (board, (sockets, controllers), slots, order) in boards {
        let platform = reference::by_name(board).unwrap();
        assert_eq!(platform.description().sockets, written_out(sockets, controllers, slots, order), "{board}");
        // it is written as the pattern that it is, and read back
        let written = platform.as_written();
        assert!(written.sockets.is_empty() && written.pattern.is_some(), "{board}");
        let text = serde_json::to_string(&platform).unwrap();
        assert_eq!(serde_json::from_str::<PlatformDescription>(&text).unwrap(), written, "{board}");
        assert_eq!(serde_json::from_str::<Platform>(&text).unwrap(), platform, "{board}");
        // and the written-out form is the same board
        assert_eq!(platform.description().clone().build().unwrap(), platform, "{board}");
    }
}

fn pieces(text: &str) -> SlotLabels {
    text.parse().unwrap()
}

/// One processor with channels A to D of two slots, number 1 at the far end, in order.
fn small() -> BoardPattern {
    BoardPattern::new([name("1")], ChannelLabels::LettersRunningOn(4), 2, pieces("{channel}{number}"))
        .number_one(stated(ChannelEnd::Far))
        .turns(stated(Turns::by_position()))
}

fn described(pattern: BoardPattern) -> PlatformDescription {
    PlatformDescription::patterned(name("board"), Generation::Ddr4, pattern)
}

fn order(pattern: BoardPattern) -> String {
    let board = described(pattern).build().unwrap();
    board.fill_order().iter().map(|&slot| board.slot(slot).label().as_str()).collect::<Vec<_>>().join(" ")
}

/// Label, position and turn of every slot.
fn slots(pattern: BoardPattern) -> String {
    let board = described(pattern).build().unwrap();
    let number = |number: Option<u16>| number.map_or("?".to_owned(), |number| number.to_string());
    let slot = |slot: &slotwright::platform::Slot| {
        let turn = slot.description().turn;
        format!("{}:{}:{}", slot.label(), number(slot.position().map(u16::from)), number(turn))
    };
    board.slots().iter().map(slot).collect::<Vec<_>>().join(" ")
}

#[test]
fn labels() {
    let two = |channels, text: &str| BoardPattern::new(names("1 2"), channels, 2, pieces(text));
    assert_eq!(
        slots(two(ChannelLabels::LettersStartingAgain(1), "P{socket}-{channel}{number}")),
        "P1-A1:?:? P1-A2:?:? P2-A1:?:? P2-A2:?:?"
    );
    assert_eq!(
        slots(two(ChannelLabels::Listed(names("x y")), "{{{socket}}}{number_in_socket:2}")).split(' ').next(),
        Some("{1}01:?:?")
    );
    let by_socket = ChannelLabels::ListedBySocket(vec![names("a b"), names("c d")]);
    assert_eq!(slots(two(by_socket, "{channel}{number}")), "a1:?:? a2:?:? b1:?:? b2:?:? c1:?:? c2:?:? d1:?:? d2:?:?");
    let listed = SlotLabels::Listed(vec![names("8 7"), names("6 5")]);
    let listed = BoardPattern::new([name("1")], ChannelLabels::LettersRunningOn(2), 2, listed)
        .number_one(stated(ChannelEnd::Near));
    assert_eq!(slots(listed), "8:1:? 7:0:? 6:1:? 5:0:?");
}

#[test]
fn positions_and_turns() {
    assert_eq!(slots(small()), "A1:0:0 A2:1:4 B1:0:1 B2:1:5 C1:0:2 C2:1:6 D1:0:3 D2:1:7");
    assert_eq!(order(small().number_one(stated(ChannelEnd::Near))), "A2 B2 C2 D2 A1 B1 C1 D1");
    assert_eq!(order(small().turns(stated(Turns::by_position_over(names("A C B D"))))), "A1 C1 B1 D1 A2 C2 B2 D2");
    let near_first = Stated::new(PositionOrder::Sequence(vec![1, 0]), Basis::BoardManual);
    let board = described(small()).position_order(near_first).build().unwrap();
    assert_eq!(board.slot(board.fill_order()[0]).label().as_str(), "A2");
    let two = |processors| {
        BoardPattern::new(names("1 2"), ChannelLabels::LettersRunningOn(2), 1, pieces("{channel}"))
            .turns(stated(Turns::ByPosition { channels: vec![], processors }))
    };
    assert_eq!(order(two(ProcessorTurns::Alternating)), "A C B D");
    assert_eq!(order(two(ProcessorTurns::OneAfterOther)), "A B C D");
    // nothing is known: in the order of the document, and the first slots first
    let bare = small().number_one(None).turns(None);
    assert_eq!(slots(bare.clone()), "A1:?:? A2:?:? B1:?:? B2:?:? C1:?:? C2:?:? D1:?:? D2:?:?");
    assert_eq!(order(bare.clone()), "A1 B1 C1 D1 A2 B2 C2 D2");
    let board = described(bare).build().unwrap();
    assert_eq!(
        (board.knows_turns(), board.description().position_basis, board.description().turn_basis),
        (false, None, None)
    );
    let board = described(small()).build().unwrap();
    assert_eq!(board.description().turn_basis, Some(Basis::BoardManual));
}

#[test]
fn turns_from_printed_rows() {
    let printed =
        |rows: &[&str], processors| Turns::Printed { rows: rows.iter().map(|row| names(row)).collect(), processors };
    let rows = ["A1", "A1 C1", "C1 A1 D1 B1", "A1 B1 C1 D1 A2 C2", "A1 B1 C1 D1 A2 B2 C2 D2"];
    assert_eq!(order(small().turns(stated(printed(&rows, None)))), "A1 C1 D1 B1 A2 C2 B2 D2");
    // of one processor, the other alike
    let two = BoardPattern::new(names("1 2"), ChannelLabels::LettersRunningOn(2), 1, pieces("{channel}"));
    let of_one = |processors| two.clone().turns(stated(printed(&["B", "B A"], Some(processors))));
    assert_eq!(order(of_one(ProcessorTurns::Alternating)), "B D A C");
    assert_eq!(order(of_one(ProcessorTurns::OneAfterOther)), "B A D C");
    // rows that do not nest give no turns: they stay rows
    let rows = ["A1 C1", "A1 B1 D1", "A1 B1 C1 D1 A2 B2 C2 D2"];
    let board = described(small().turns(stated(printed(&rows, None)))).build().unwrap();
    assert!(!board.knows_turns());
    let kept: Vec<usize> = board.description().fill_rows.iter().map(|row| row.slots.len()).collect();
    assert_eq!(kept, [2, 3, 8]);
    assert!(board.as_written().fill_rows.is_empty());
    assert_eq!(board.as_written().build().unwrap(), board);
}

#[test]
fn the_rest_of_a_pattern() {
    let own = SlotOverride::new().label(name("A2 riser")).marking(name("red")).key_facing(KeyFacing::Turned);
    let scheme = AddressPattern::new(name("event log")).channel_from(1).slot_from(0);
    let pattern = small()
        .controllers(names("0 1"))
        .markings(names("white black"))
        .key_facing(KeyFacings::ByChannel(vec![
            KeyFacing::Usual,
            KeyFacing::Usual,
            KeyFacing::Turned,
            KeyFacing::Turned,
        ]))
        .addresses([scheme])
        .slots([(name("A2"), own)]);
    let board = described(pattern).build().unwrap();
    let slot = |label: &str| board.slot(board.slot_named(label).unwrap()).description();
    let at = |label: &str| slot(label).addresses.first().map(|address| (address.channel, address.slot));
    assert_eq!(
        (slot("A1").marking.as_ref(), slot("D2").marking.as_ref()),
        (Some(&name("white")), Some(&name("black")))
    );
    assert_eq!((slot("A2 riser").marking.as_ref(), slot("A2 riser").position), (Some(&name("red")), Some(1)));
    assert_eq!((slot("B1").key_facing, slot("C1").key_facing), (Some(KeyFacing::Usual), Some(KeyFacing::Turned)));
    assert_eq!((at("A1"), at("D2")), (Some((Some(1), Some(0))), Some((Some(4), Some(1)))));
    let controllers: Vec<&str> = board.channels().iter().map(|channel| channel.controller.as_str()).collect();
    assert_eq!(controllers, ["0", "0", "1", "1"]);
    let mut uneven = small();
    uneven.slots_per_channel = SlotsPerChannel::Each(vec![2, 1, 2, 0]);
    assert_eq!(slots(uneven), "A1:0:0 A2:1:3 B1:0:1 C1:0:2 C2:1:4");
}

/// Every problem, with its place.
fn problems(description: PlatformDescription) -> Vec<String> {
    let error = description.build().unwrap_err();
    error.problems.iter().map(|problem: &PlatformProblem| format!("{}: {problem}", problem.place())).collect()
}

#[test]
fn bad_patterns_say_all_that_is_wrong() {
    let again = BoardPattern::new(names("1 2"), ChannelLabels::LettersStartingAgain(1), 2, pieces("{channel}{number}"));
    assert_eq!(
        problems(described(again)),
        [
            "pattern.slot_labels: slot label A1 stands for slot 1 of channel A of socket 1, and for slot 1 of channel A of socket 2; labels must differ",
            "pattern.slot_labels: slot label A2 stands for slot 2 of channel A of socket 1, and for slot 2 of channel A of socket 2; labels must differ",
        ]
    );
    let turns = |text: &str| small().turns(stated(Turns::Listed(names(text))));
    assert_eq!(
        problems(described(turns("A1 B1 B1 Z9"))),
        [
            "pattern.turns.value.listed[2]: pattern.turns.value.listed[2] names slot B1 again",
            "pattern.turns.value.listed[3]: pattern.turns.value.listed[3] names slot Z9, which the board does not have; it has A1, A2, B1, B2, C1, C2, D1, D2",
            "pattern.turns.value.listed: pattern.turns.value.listed leaves out slots A2, B2, C1, C2, D1, D2",
        ]
    );
    let mut both = described(small());
    both.sockets = reference::ddr3_1s_uneven().description().sockets.clone();
    assert_eq!(problems(both), ["pattern: the board has sockets and a pattern; it must have one of them"]);
    assert_eq!(
        problems(described(turns("A2 B1 C1 D1 A1 B2 C2 D2"))),
        [
            "pattern.number_one: channel A of socket 1: the turns fill slot A2 before A1, but by the end that has number 1 A1 comes first; \
          one of number_one, turns and position_order is wrong"
        ]
    );
    let rows = described(small()).rows([names("A1 A2 Z9"), names("B1 A1")]);
    assert_eq!(
        problems(rows),
        [
            "rows[0][2]: rows[0][2] names slot Z9, which the board does not have; it has A1, A2, B1, B2, C1, C2, D1, D2",
            "rows[1][1]: rows[1][1] names slot A1 again",
        ]
    );
    let mut many = small().controllers(names("0 1 2")).key_facing(KeyFacings::BySocket(vec![]));
    many.slots_per_channel = SlotsPerChannel::Each(vec![2, 2]);
    assert_eq!(
        problems(described(many))[..3],
        [
            "pattern.controllers: socket 1: 4 channels cannot be shared evenly among 3 controllers",
            "pattern.slots_per_channel: pattern.slots_per_channel has 2 entries for 4 channels of a processor",
            "pattern.key_facing.by_socket: pattern.key_facing.by_socket has 0 entries for 1 sockets",
        ]
    );
    let letters = BoardPattern::new(names("1 2"), ChannelLabels::LettersRunningOn(20), 1, pieces("{channel}"));
    assert_eq!(
        problems(described(letters))[0],
        "pattern.channels: channels: letters end at Z; list the labels of more than 26 channels"
    );
    let unknown = small().slots([(name("Q1"), SlotOverride::new())]);
    assert_eq!(
        problems(described(unknown)),
        [
            "pattern.slots[Q1]: pattern.slots[Q1] names slot Q1, which the board does not have; it has A1, A2, B1, B2, C1, C2, D1, D2"
        ]
    );
    let collides = small().slots([(name("A1"), SlotOverride::new().label(name("B1")))]);
    assert_eq!(
        problems(described(collides)),
        [
            "pattern.slot_labels: slot label B1 stands for slot 1 of channel A of socket 1, and for slot 1 of channel B of socket 1; labels must differ"
        ]
    );
    let basis = described(small()).turn_basis(Basis::Measured);
    assert_eq!(
        problems(basis),
        ["turn_basis: turn_basis stands beside a pattern, which says itself what its positions and turns rest on"]
    );
}

#[test]
fn documents_of_patterns() {
    let text = r#"{
        "sockets": "1 2",
        "channels": { "letters_running_on": 2 },
        "slots_per_channel": [2, 1],
        "slot_labels": [["A-1", "A-2"], "B-1", "C-1 C-2", ["D-1"]],
        "number_one": { "value": "far", "basis": "board-manual" },
        "turns": { "value": { "printed": { "rows": ["A-1", "A-1 B-1, A-2"], "processors": "alternating" } }, "basis": "board-manual" }
    }"#;
    let pattern: BoardPattern = serde_json::from_str(text).unwrap();
    assert_eq!(order(pattern.clone()), "A-1 C-1 B-1 D-1 A-2 C-2");
    // written in the long form, and read back
    let written = serde_json::to_string(&pattern).unwrap();
    assert!(written.contains(r#""sockets":["1","2"]"#), "{written}");
    assert_eq!(serde_json::from_str::<BoardPattern>(&written).unwrap(), pattern);
    for (wrong, said) in [
        (text.replace("[2, 1]", "300"), "a number of slots from 0 to 255"),
        (text.replace(r#""far""#, r#""left""#), "unknown variant `left`"),
        (text.replace(r#"[["A-1", "A-2"], "B-1", "C-1 C-2", ["D-1"]]"#, r#""{slot}""#), "there is no piece {slot}"),
        (text.replace("sockets", "socket"), "unknown field `socket`"),
    ] {
        let error = serde_json::from_str::<BoardPattern>(&wrong).unwrap_err().to_string();
        assert!(error.contains(said), "{error}");
    }
}

/// A short document may not ask for a large board.
#[test]
fn a_pattern_of_too_many_slots_is_not_written_out() {
    let many = |count: usize| (0..count).map(|index| name(&format!("x{index}"))).collect::<Vec<_>>();
    let huge = |sockets, channels, slots: u8| {
        BoardPattern::new(
            many(sockets),
            ChannelLabels::Listed(many(channels)),
            slots,
            pieces("{socket}{channel}{number}"),
        )
    };
    for (pattern, said) in [
        (huge(5_000, 1, 1), "pattern: the pattern makes 5000 sockets; at most 4096 are allowed"),
        (huge(4_000, 4_000, 1), "pattern: the pattern makes 16000000 channels; at most 4096 are allowed"),
        (huge(2, 9, 255), "pattern: the pattern makes 4590 slots; at most 4096 are allowed"),
    ] {
        assert!(problems(described(pattern)).contains(&said.to_owned()), "{said}");
    }
    let schemes = (0..17).map(|index| AddressPattern::new(name(&format!("s{index}"))));
    assert!(problems(described(small().addresses(schemes)))[0].ends_with("17 address schemes; at most 16 are allowed"));
    let rows = vec![names("A1"); 300_000];
    let printed = small().turns(stated(Turns::Printed { rows, processors: None }));
    assert!(problems(described(printed))[0].contains("300000 slots in printed rows"));
    // the largest board, all of it unknown to the turns
    let wrong = Turns::Listed(many(4_096));
    let largest = huge(16, 1, 255).turns(stated(wrong));
    assert_eq!(problems(described(largest)).len(), 4_097);
}

proptest::proptest! {
    /// Whatever is written, reading says what is wrong with it or reads it, and what is read is written so that it reads the same.
    #[test]
    fn law_any_line_is_read_or_refused(line in r"[ -~]{0,60}|(RDIMM|LRDIMM|[1-9][RS]|x[48]|[0-9]{1,4}(GB|Gb|V|R)?|[:,+/{}-]| |in|->|socket|channel|number){0,16}") {
        if let Ok(pattern) = line.parse::<LabelPattern>() {
            proptest::prop_assert_eq!(pattern.to_string().parse::<LabelPattern>().unwrap(), pattern);
        }
        if let Ok(pattern) = line.parse::<ModulePattern>() {
            let written = serde_json::to_string(&pattern).unwrap();
            proptest::prop_assert_eq!(serde_json::from_str::<ModulePattern>(&written).unwrap(), pattern);
        }
        let table = RateTable::new(Basis::BoardManual);
        if let Ok(read) = table.clone().line(&line).and_then(|table| table.mix_line(&line)) {
            let written = serde_json::to_string(&read).unwrap();
            proptest::prop_assert_eq!(serde_json::from_str::<RateTable>(&written).unwrap(), read);
        }
        let row = FillRow::of_line(&line, Demand::Advised, Basis::BoardManual);
        proptest::prop_assert!(row.is_ok() || !row.unwrap_err().to_string().is_empty());
        let _ = WorkedRow::of_line(&line, [], Basis::BoardManual);
        let _ = CountRow::of_line(&line, Scope::Socket, Demand::Advised, Basis::BoardManual);
    }
}
