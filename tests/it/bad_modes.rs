//! What is wrong with redundancy modes, domain schemes and interleave sets is told when they are built.
#![allow(clippy::unwrap_used)]

use std::collections::BTreeSet;
use std::fmt::Debug;

use serde::Serialize;
use serde::de::DeserializeOwned;
use slotwright::machine::{Machine, MachineError, MachineProblem};
use slotwright::module::{DeviceWidth, Ecc, Generation, ModuleKind};
use slotwright::platform::{
    ChannelDescription, ChannelGroup, ChannelMinimum, ControllerDescription, DomainScheme, Domains, Identical, Mode,
    Platform, PlatformDescription, PlatformProblem as Problem, Redundancy, Settings, SlotDescription,
    SocketDescription,
};
use slotwright::processor::{
    InterleaveProblem, InterleaveSet, InterleaveSets, ModulePattern, PermittedSet, ProcessorDescription,
    ProcessorProblem,
};
use slotwright::purchase::PlanRequest;
use slotwright::stated::{Basis, FieldPath, Source, Stated};
use slotwright::unit::{Bandwidth, DataRate, Name};

use crate::boards::name;

/// Sockets "1" and "2" with channels "A" to "D" of one slot each.
fn board() -> PlatformDescription {
    let channel = |socket: u16, place: u16| {
        let label = ["A", "B", "C", "D"].map(name).into_iter().nth(place.into()).unwrap();
        let slot = SlotDescription::new(name(&format!("{socket}{label}1")), 0, 4 * socket + place);
        ChannelDescription::new(label, [slot])
    };
    let socket = |socket: u16| {
        let channels = (0..4).map(|place| channel(socket, place));
        let controllers = vec![ControllerDescription::new(name("0"), channels)];
        SocketDescription::new(name(&socket.to_string()), controllers)
    };
    PlatformDescription::new(name("board"), Generation::Ddr4, vec![socket(1), socket(2)])
}

/// A group, such as "1 A B": the socket, then channels.
fn group(text: &str) -> ChannelGroup {
    let mut words = text.split(' ').map(name);
    ChannelGroup::new(words.next().unwrap(), words)
}

fn groups(texts: &[&str]) -> Vec<ChannelGroup> {
    texts.iter().map(|text| group(text)).collect()
}

fn scheme(called: &str, texts: &[&str], falls_back_to: Option<&str>) -> DomainScheme {
    let domains = Domains::Groups { groups: groups(texts), needs_memory_in_each: false };
    of_domains(called, domains, falls_back_to)
}

fn of_domains(called: &str, domains: Domains, falls_back_to: Option<&str>) -> DomainScheme {
    let falls_back_to = falls_back_to.map(name);
    DomainScheme::new(name(called), domains, Basis::BoardManual).falls_back_to(falls_back_to)
}

/// Something wrong that is added to a board, and every problem that it makes, with its text.
#[derive(Default)]
struct Case {
    modes: Vec<Mode>,
    schemes: Vec<DomainScheme>,
    problems: Vec<(Problem, &'static str)>,
}

impl Case {
    fn mode(called: &str, redundancy: Redundancy, texts: &[&str], change: impl FnOnce(&mut Mode)) -> Self {
        let mut mode = Mode::new(name(called), redundancy, Basis::BoardManual);
        mode.groups = groups(texts);
        change(&mut mode);
        Self { modes: vec![mode], ..Self::default() }
    }

    fn schemes(schemes: impl Into<Vec<DomainScheme>>) -> Self {
        Self { schemes: schemes.into(), ..Self::default() }
    }

    fn makes(mut self, problem: Problem, text: &'static str) -> Self {
        self.problems.push((problem, text));
        self
    }

    fn add_to(&self, mut board: PlatformDescription) -> PlatformDescription {
        board.modes.extend(self.modes.iter().cloned());
        board.domain_schemes.extend(self.schemes.iter().cloned());
        board
    }
}

/// A place by its text.
fn path(text: &str) -> FieldPath {
    let mut path = FieldPath::default();
    for part in text.split('.') {
        let (field, entry) = part.split_once('[').map_or((part, None), |(field, rest)| (field, rest.strip_suffix(']')));
        path = path.field(Box::leak(field.to_owned().into_boxed_str()));
        path = match entry.map(|entry| (entry, entry.parse())) {
            None => path,
            Some((_, Ok(index))) => path.index(index),
            Some((entry, Err(_))) => path.named(&name(entry)),
        };
    }
    path
}

fn unknown(place: &str, what: &'static str, called: &str) -> Problem {
    Problem::Unknown { place: path(place), what, name: name(called) }
}

fn empty(place: &str) -> Problem {
    Problem::Empty { place: path(place) }
}

fn overlap(place: &str, channel: &str) -> Problem {
    Problem::Overlap { place: path(place), socket: name("1"), channel: name(channel) }
}

fn group_cases() -> Vec<Case> {
    let mode = |called: &str, texts: &[&str]| Case::mode(called, Redundancy::None, texts, |_| ());
    let rest = ["2 A B C D"];
    let with = |called: &str, texts: &[&str]| Case::schemes([scheme(called, &[texts, &rest].concat(), None)]);
    vec![
        mode("m-twice", &["1 A B", "1 B C"]).makes(
            overlap("modes[m-twice].groups[1].channels", "B"),
            "modes[m-twice].groups[1].channels: channel B of socket 1 is in two groups; groups must not overlap",
        ),
        mode("m-channel", &["1 A B", "1 C Z"]).makes(
            unknown("modes[m-channel].groups[1].channels", "channel", "Z"),
            "modes[m-channel].groups[1].channels names channel Z, which the board does not have",
        ),
        mode("m-socket", &["9 A B"]).makes(
            unknown("modes[m-socket].groups[0].socket", "socket", "9"),
            "modes[m-socket].groups[0].socket names socket 9, which the board does not have",
        ),
        mode("m-none", &["1"])
            .makes(empty("modes[m-none].groups[0].channels"), "modes[m-none].groups[0].channels is empty; it needs at least one entry"),
        with("s-twice", &["1 A B", "1 B C D"]).makes(
            overlap("domain_schemes[s-twice].domains.groups.groups[1].channels", "B"),
            "domain_schemes[s-twice].domains.groups.groups[1].channels: channel B of socket 1 is in two groups; groups must not overlap",
        ),
        with("s-channel", &["1 A B C D Z"]).makes(
            unknown("domain_schemes[s-channel].domains.groups.groups[0].channels", "channel", "Z"),
            "domain_schemes[s-channel].domains.groups.groups[0].channels names channel Z, which the board does not have",
        ),
        with("s-socket", &["1 A B C D", "9 A"]).makes(
            unknown("domain_schemes[s-socket].domains.groups.groups[1].socket", "socket", "9"),
            "domain_schemes[s-socket].domains.groups.groups[1].socket names socket 9, which the board does not have",
        ),
        with("s-none", &["1 A B C D", "1"]).makes(
            empty("domain_schemes[s-none].domains.groups.groups[1].channels"),
            "domain_schemes[s-none].domains.groups.groups[1].channels is empty; it needs at least one entry",
        ),
        with("s-left", &["1 A B C"]).makes(
            Problem::LeftOut { scheme: name("s-left"), socket: name("1"), channel: name("D") },
            "domain scheme s-left leaves out channel D of socket 1; every channel with slots needs a domain",
        ),
    ]
}

fn size_cases() -> Vec<Case> {
    const STEP: &str = "channels that work in step come in groups of 2 or more";
    const MIRROR: &str = "a mirror needs groups of 2 or more channels";
    const ALIKE: &str = "all groups of a mode must have as many";
    let size = |called: &str, found, allowed| Problem::GroupSize { mode: name(called), found, allowed };
    let paired = |called: &str, texts: &[&str]| Case::mode(called, Redundancy::Paired, texts, |_| ());
    let mirrored = |called: &str, texts: &[&str]| {
        Case::mode(called, Redundancy::Mirrored, texts, |mode| mode.identical = Identical::Capacity)
    };
    let unequal = Case::mode("unequal", Redundancy::Mirrored, &["1 A B"], |_| ());
    vec![
        paired("single", &["1 A", "2 A"]).makes(
            size("single", 1, STEP),
            "mode single has groups of 1 channels; channels that work in step come in groups of 2 or more",
        ),
        paired("groupless", &[]).makes(
            size("groupless", 0, STEP),
            "mode groupless has groups of 0 channels; channels that work in step come in groups of 2 or more",
        ),
        mirrored("mateless", &["1 A"]).makes(
            size("mateless", 1, MIRROR),
            "mode mateless has groups of 1 channels; a mirror needs groups of 2 or more channels",
        ),
        paired("unlike", &["1 A B", "2 A B C"]).makes(
            size("unlike", 3, ALIKE),
            "mode unlike has groups of 3 channels; all groups of a mode must have as many",
        ),
        unequal.makes(
            Problem::UnequalMirror { mode: name("unequal") },
            "mode unequal mirrors, so the channels of a group must be identical in capacity at least",
        ),
    ]
}

fn number_cases() -> Vec<Case> {
    let case = |called: &str, redundancy, (what, found, most), text| {
        let problem = Problem::ModeNumber { mode: name(called), what, found, least: 1, most };
        Case::mode(called, redundancy, &[], |_| ()).makes(problem, text)
    };
    let part = |mirrored_per_mille| Redundancy::PartlyMirrored { mirrored_per_mille };
    let own = |usable_per_mille| Redundancy::Own { usable_per_mille };
    let spare = |spare_ranks| Redundancy::RankSparing { spare_ranks };
    let (mirror, usable, ranks) =
        ("a mirror in thousandths", "a usable part in thousandths", "a number of spare ranks");
    vec![
        case("p0", part(0), (mirror, 0, 500), "mode p0: a mirror in thousandths of 0; 1 to 500 are allowed"),
        case("p501", part(501), (mirror, 501, 500), "mode p501: a mirror in thousandths of 501; 1 to 500 are allowed"),
        case("o0", own(0), (usable, 0, 1000), "mode o0: a usable part in thousandths of 0; 1 to 1000 are allowed"),
        case(
            "o1001",
            own(1001),
            (usable, 1001, 1000),
            "mode o1001: a usable part in thousandths of 1001; 1 to 1000 are allowed",
        ),
        case("r0", spare(0), (ranks, 0, 64), "mode r0: a number of spare ranks of 0; 1 to 64 are allowed"),
    ]
}

fn list_cases() -> Vec<Case> {
    let mode = |called: &str, change: fn(&mut Mode)| Case::mode(called, Redundancy::None, &[], change);
    vec![
        mode("l1", |mode| mode.widths = Some(BTreeSet::new()))
            .makes(empty("modes[l1].widths"), "modes[l1].widths is empty; it needs at least one entry"),
        mode("l2", |mode| mode.ecc = Some(BTreeSet::new()))
            .makes(empty("modes[l2].ecc"), "modes[l2].ecc is empty; it needs at least one entry"),
        mode("l3", |mode| mode.processors = Some(BTreeSet::new()))
            .makes(empty("modes[l3].processors"), "modes[l3].processors is empty; it needs at least one entry"),
        mode("masks", |mode| mode.masks = vec![name("1A1"), name("9Z9")]).makes(
            unknown("modes[masks].masks", "slot", "9Z9"),
            "modes[masks].masks names slot 9Z9, which the board does not have",
        ),
    ]
}

fn fall_back_cases() -> Vec<Case> {
    const CIRCLE: &str = "the schemes fall back in a circle";
    let all = ["1 A B C D", "2 A B C D"];
    let halves = |called: &str, to: Option<&str>| scheme(called, &all, to);
    let falls = |called: &str, to: &str, why| Problem::FallBack { scheme: name(called), to: name(to), why };
    let together = |called: &str, to: Option<&str>| of_domains(called, Domains::AllProcessors, to);
    vec![
        Case::schemes([halves("lost", Some("nowhere"))]).makes(
            unknown("domain_schemes[lost].falls_back_to", "domain scheme", "nowhere"),
            "domain_schemes[lost].falls_back_to names domain scheme nowhere, which the board does not have",
        ),
        Case::schemes([halves("own", Some("own"))]).makes(
            falls("own", "own", CIRCLE),
            "domain scheme own cannot fall back to own: the schemes fall back in a circle",
        ),
        Case::schemes([halves("a", Some("b")), of_domains("b", Domains::OnePerProcessor, Some("a"))])
            .makes(falls("a", "b", CIRCLE), "domain scheme a cannot fall back to b: the schemes fall back in a circle")
            .makes(falls("b", "a", CIRCLE), "domain scheme b cannot fall back to a: the schemes fall back in a circle"),
        Case::schemes([together("t1", Some("h1")), halves("h1", None)]).makes(
            falls("t1", "h1", "one domain for all processors falls back to one for each"),
            "domain scheme t1 cannot fall back to h1: one domain for all processors falls back to one for each",
        ),
        Case::schemes([together("t2", None), halves("h2", Some("t2"))]).makes(
            falls("h2", "t2", "it would need more than this scheme does"),
            "domain scheme h2 cannot fall back to t2: it would need more than this scheme does",
        ),
    ]
}

fn cases() -> Vec<Case> {
    [group_cases(), size_cases(), number_cases(), list_cases(), fall_back_cases()].into_iter().flatten().collect()
}

#[test]
fn each_problem_is_told_by_itself() {
    assert!(board().build().is_ok());
    for case in cases() {
        let found = case.add_to(board()).build().unwrap_err().problems;
        let texts: Vec<_> = found.iter().map(ToString::to_string).collect();
        let (wanted, told): (Vec<_>, Vec<_>) = case.problems.into_iter().unzip();
        assert_eq!((found, texts), (wanted, told.into_iter().map(str::to_owned).collect()));
    }
}

#[test]
fn a_document_with_every_problem_tells_them_all() {
    let cases = cases();
    let mut board = cases.iter().fold(board(), |board, case| case.add_to(board));
    board.default_settings.domain_scheme = Some(name("nothing"));
    let said = unknown("default_settings.domain_scheme", "domain scheme", "nothing");
    let mut texts: Vec<_> = cases.iter().flat_map(|case| &case.problems).map(|(_, text)| (*text).to_owned()).collect();
    texts.push("default_settings.domain_scheme names domain scheme nothing, which the board does not have".to_owned());
    texts.sort();
    let document = serde_json::to_string(&board).unwrap();
    let read = serde_json::from_str::<Platform>(&document).unwrap_err().to_string();
    assert!(read.starts_with("platform board: "), "{read}");
    let error = board.build().unwrap_err();
    let mut found: Vec<_> = error.problems.iter().map(ToString::to_string).collect();
    found.sort();
    assert_eq!(found, texts);
    assert!(error.problems.contains(&said));
    assert!(read.starts_with(&error.to_string()), "{read}");
    assert!(texts.iter().all(|text| read.contains(text)), "{read}");
}

fn processor(channels: &[&str], permitted: &[&str]) -> ProcessorDescription {
    let (name_of, kinds) = (name("proc"), [ModuleKind::Registered]);
    let mut processor =
        ProcessorDescription::new(name_of, Generation::Ddr4, kinds, DataRate::DDR4_2400, Basis::DataSheet);
    let names = |texts: &[&str]| -> Vec<Name> { texts.iter().map(|text| name(text)).collect() };
    let permitted = vec![PermittedSet::of(InterleaveSet::Channels(names(permitted)))];
    processor.interleave = Some(Stated::new(InterleaveSets::new(names(channels), permitted), Basis::DataSheet));
    processor
}

#[test]
fn a_permitted_set_of_an_unknown_channel() {
    let error = processor(&["A", "B"], &["A", "E"]).build().unwrap_err();
    let (channel, allowed) = (name("E"), ["A", "B"].into_iter().collect());
    let problem = InterleaveProblem::UnknownChannel { set: 0, channel, allowed };
    assert_eq!(error.problems, [ProcessorProblem::Interleave(problem)]);
    let text = "processor proc: interleave: permitted[0] names channel E; the processor's channels are A, B";
    assert_eq!(error.to_string(), text);
}

fn machine(channels: &[&str]) -> Result<Machine, MachineError> {
    let processor = processor(channels, &channels[..2]).build().unwrap();
    Machine::builder(board().build().unwrap()).processor("2", processor).build()
}

#[test]
fn interleave_sets_of_other_channels() {
    // by label and more of them, by label in another order, by number
    for fitting in [&["A", "B", "C", "D", "E"][..], &["D", "C", "B", "A"], &["W", "X", "Y", "Z"]] {
        assert!(machine(fitting).is_ok(), "{fitting:?}");
    }
    for other in [&["A", "B", "C"][..], &["A", "B", "C", "E", "F"]] {
        let error = machine(other).unwrap_err();
        let (socket, processor) = (name("2"), name("proc"));
        let problem = MachineProblem::UnlikeChannels { socket, processor, listed: other.len(), found: 4 };
        assert_eq!(error.problems, [problem]);
        let text = format!(
            "machine on board: socket 2: processor proc lists {} channels for its interleave sets, the socket has 4 of \
             other labels",
            other.len()
        );
        assert_eq!(error.to_string(), text);
    }
}

#[test]
fn schemes_that_hold_at_no_sensible_numbers() {
    let with = |counts: &[u16], domains: Option<Domains>| {
        let mut halves = scheme("halves", &["1 A B", "1 C D", "2 A B C D"], None);
        halves.counts = Some(counts.to_vec());
        halves.domains = domains.unwrap_or(halves.domains);
        let mut board = board();
        board.domain_schemes = vec![halves];
        board.build().map_err(|error| error.problems)
    };
    let count = |found, before| Problem::SchemeCount { scheme: name("halves"), found, before };
    assert!(with(&[2, 4, 8], None).is_ok());
    assert_eq!(with(&[0, 4], None).unwrap_err(), [count(0, 0)]);
    assert_eq!(with(&[4, 2, 2], None).unwrap_err(), [count(2, 4), count(2, 2)]);
    assert_eq!(with(&[], None).unwrap_err(), [empty("domain_schemes[halves].counts")]);
    assert!(with(&[4], Some(Domains::AllProcessors)).is_ok());
    let whole = with(&[4], Some(Domains::OnePerProcessor)).unwrap_err();
    assert_eq!(whole, [Problem::CountsOfOneDomain { scheme: name("halves") }]);
    assert_eq!(
        [count(2, 4), whole[0].clone()].map(|problem| problem.to_string()),
        [
            "domain scheme halves holds at 2 modules, given after 4; numbers must ascend from above 0",
            "domain scheme halves has one domain for each processor, which holds at any number of modules; give none",
        ]
    );
}

#[test]
fn a_machine_set_to_an_unknown_scheme() {
    let mut board = board();
    board.domain_schemes = vec![scheme("halves", &["1 A B", "1 C D", "2 A B C D"], None)];
    let platform = board.build().unwrap();
    let set = |called: &str| {
        let settings = Settings::default().domain_scheme(name(called));
        let processor = processor(&["A", "B", "C", "D"], &["A", "B"]).build().unwrap();
        Machine::builder(platform.clone()).processor("1", processor).settings(settings).build()
    };
    assert!(set("halves").is_ok() && set(DomainScheme::ONE_PER_PROCESSOR).is_ok());
    let error = set("thirds").unwrap_err();
    let allowed = ["one-per-processor", "halves"].into_iter().collect();
    assert_eq!(
        error.problems,
        [MachineProblem::Unknown {
            place: path("settings.domain_scheme"),
            what: "domain scheme",
            name: "thirds".to_owned(),
            allowed
        }]
    );
    let text = r#"machine on board: there is no domain scheme "thirds"; allowed: one-per-processor, halves"#;
    assert_eq!(error.to_string(), text);
}

/// Reads back what was written, and gives the document.
fn read_back<T: Serialize + DeserializeOwned + PartialEq + Debug>(value: &T) -> serde_json::Value {
    let document = serde_json::to_value(value).unwrap();
    assert_eq!(serde_json::from_value::<T>(document.clone()).unwrap(), *value);
    document
}

#[test]
fn modes_read_back() {
    let mode = Mode::new(name("full"), Redundancy::Mirrored, Basis::BoardManual)
        .groups(groups(&["1 A B", "2 C D"]))
        .masks([name("1D1")])
        .identical(Identical::Organization)
        .modules_at_least(2)
        .any_of([ChannelMinimum::new(ModulePattern::default().package_ranks(4), 1)])
        .counted_ranks_at_least(3)
        .widths([DeviceWidth::X4, DeviceWidth::X8])
        .ecc([Ecc::Ecc])
        .processors([name("proc")])
        .rate_cap(DataRate::DDR4_2133)
        .source(Source::new(name("manual, page 7")).date(name("rev. 2")));
    let document = read_back(&mode);
    assert_eq!(document.as_object().unwrap().len(), 14);
    let redundancies = [
        Redundancy::None,
        Redundancy::Paired,
        Redundancy::PartlyMirrored { mirrored_per_mille: 500 },
        Redundancy::RankSparing { spare_ranks: 64 },
        Redundancy::DeviceCorrection,
        Redundancy::Own { usable_per_mille: 1000 },
    ];
    for redundancy in redundancies {
        read_back(&{
            let mut changed = mode.clone();
            changed.redundancy = redundancy;
            changed
        });
    }
    for identical in [Identical::Nothing, Identical::Capacity, Identical::Facts] {
        read_back(&mode.clone().identical(identical));
    }
}

#[test]
fn schemes_read_back() {
    for needs_memory_in_each in [false, true] {
        let domains = Domains::Groups { groups: groups(&["1 A B", "2 A"]), needs_memory_in_each };
        let document = read_back(&of_domains("parts", domains, Some("each")));
        let at = |pointer: &str| document.pointer(pointer).cloned();
        assert_eq!(at("/domains/groups/needs_memory_in_each"), Some(needs_memory_in_each.into()));
        assert_eq!(at("/domains/groups/groups/1/socket"), Some("2".into()));
        assert_eq!(at("/falls_back_to"), Some("each".into()));
    }
    let mut each = of_domains("each", Domains::OnePerProcessor, None);
    assert_eq!(read_back(&each)["domains"], "one_per_processor");
    each.source = Some(Source::new(name("manual")));
    read_back(&each);
    assert_eq!(read_back(&of_domains("all", Domains::AllProcessors, None))["domains"], "all_processors");
}

#[test]
fn sets_and_requests_read_back() {
    let channels = ["A", "B", "C"].map(name).to_vec();
    let pair = PermittedSet::of(InterleaveSet::Channels(channels[..2].to_vec())).if_equal();
    let permitted = vec![PermittedSet::of(InterleaveSet::Ways(3)), pair];
    let document = read_back(&InterleaveSets::new(channels, permitted));
    assert_eq!(document.pointer("/permitted/0/set/ways"), Some(&3.into()));
    assert_eq!(document.pointer("/permitted/1/equal"), Some(&true.into()));

    let request = PlanRequest::new().bandwidth_at_least(Bandwidth::from_mbps(51_200, 3).unwrap());
    let document = read_back(&request);
    assert_eq!(document.pointer("/bandwidth_at_least_mbps"), Some(&serde_json::json!([51_200, 3])));
    let unreduced = serde_json::json!({ "schema": 1, "bandwidth_at_least_mbps": [102_400, 6] });
    assert_eq!(serde_json::from_value::<PlanRequest>(unreduced).unwrap(), request);
    let nothing = serde_json::json!({ "schema": 1, "bandwidth_at_least_mbps": [1, 0] });
    let error = serde_json::from_value::<PlanRequest>(nothing).unwrap_err().to_string();
    assert_eq!(error, "the denominator of a fraction is 0; it must be 1 or more");
}
