use itertools::Itertools;

use crate::finding::Place;
use crate::population::{ChannelLoad, Content};
use crate::rule::{Detail, Form, Report};

/// Where the description does not know the positions of a channel, and it matters which slot has which module: the board says it.
pub(super) fn form() -> Form {
    Form::Channel(Box::new(check))
}

fn check(load: &ChannelLoad<'_>, report: &mut Report<'_>) {
    let (machine, platform) = (load.machine(), load.machine().platform());
    let positions = || load.contents().filter(|&(slot, _)| machine.is_position(slot));
    if load.is_empty()
        || positions().all(|(slot, _)| platform.slot(slot).position().is_some())
        || positions().count() < 2
    {
        return;
    }
    // where turns are known, they say which slot is first
    let is_gap = |content: &Content<'_>| matches!(content, Content::Empty | Content::Blank);
    let gaps = || positions().filter(|(_, content)| is_gap(content)).map(|(slot, _)| platform.slot(slot).order());
    let last = load.modules().map(|site| platform.slot(site.slot).order()).max();
    let has_gap = || gaps().any(|gap| !platform.knows_turns() || Some(gap) < last);
    let limits = &platform.description().module_limits;
    let is_barred = || limits.iter().any(|limit| !limit.value.barred_positions.is_empty());
    let has_priority = || {
        platform.description().priority_along_channel.is_some()
            || limits.iter().any(|limit| limit.value.first_in_channel)
    };
    let are_unlike = || !load.modules().map(|site| site.module).tuple_windows().all(|(one, next)| one.is_like(next));
    if has_gap() || is_barred() || (has_priority() && are_unlike()) {
        report.violation(|| Detail::at(Place::channel(platform, load.id())));
    }
}

#[cfg(test)]
mod tests {
    use crate::platform::PlatformDescription;
    use crate::stated::{Demand, Stated};
    use crate::testing::{self, name, population, said};

    /// The test board, of which nobody has written down which end is which.
    fn board() -> PlatformDescription {
        let mut board = testing::board();
        testing::slots_mut(&mut board).for_each(|slot| slot.position = None);
        board
    }

    #[test]
    fn which_slot_is_first_is_not_known() {
        let machine = testing::machine(board(), testing::processor());
        let mut no_turns = board();
        testing::slots_mut(&mut no_turns).for_each(|slot| slot.turn = None);
        let no_turns = testing::machine(no_turns, testing::processor());
        let (plain, quad) = (testing::plain(), testing::quad());
        let note = "note first-slot";
        let one = |slot: &str| {
            let mut findings = said(&machine, &population(&[(slot, &plain)]));
            findings.retain(|finding| finding.contains("first-slot") || finding.contains("position-order"));
            findings
        };
        // the turns tell which slot is first: nothing to look up but where one is passed over
        assert!(one("1A1").is_empty());
        assert_eq!(one("1A3"), [note]);
        let found = testing::findings(&no_turns, &population(&[("1A1", &plain)]));
        let found = found.iter().find(|finding| finding.code == *"first-slot").unwrap();
        assert_eq!(
            found.to_string(),
            "note first-slot: which slot of the channel is filled first is not described: see the board (channel A of processor 1)"
        );
        // a full channel has no first slot
        let full = testing::in_every_channel(&machine, &[&plain, &plain, &plain]);
        assert!(said(&machine, &full).iter().all(|finding| !finding.contains("first-slot")));

        // unless it matters which module is where
        let priority = Some(Stated::assumed(Demand::Required));
        let mut board = PlatformDescription { priority_along_channel: priority, ..board() };
        let unlike = population(&[("1A1", &plain), ("1A2", &quad), ("1A3", &plain)]);
        let found = |board: &PlatformDescription| {
            let machine = testing::machine(board.clone(), testing::processor());
            let mut codes = testing::codes(&machine, &unlike);
            codes.retain(|code| ["first-slot", "priority-order"].contains(&code.as_str()));
            codes.join(" ")
        };
        assert_eq!(found(&board), "first-slot");
        (0..).zip(testing::slots_mut(&mut board)).for_each(|(index, slot)| slot.position = Some(index % 3));
        assert_eq!(found(&board), "priority-order");
        // one slot that is not known makes all of its channel unknown
        testing::slots_mut(&mut board).find(|slot| slot.label == name("1A2")).unwrap().position = None;
        assert_eq!(found(&board), "first-slot");
    }
}
