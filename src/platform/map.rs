//! Where the slots lie, as text.

use core::fmt;

use crate::platform::{KeyFacing, Platform, Slot, SlotId};

/// Where the slots of a board lie, by its [rows](crate::platform::PlatformDescription::rows) where these are described, else channel by
/// channel.
///
/// ```
/// use slotwright::reference;
///
/// let map = reference::ddr3_1s_uneven().map().to_string();
/// assert!(map.starts_with("ddr3-1s-uneven, 8 slots. Not in board order: find the printed label.\n"));
/// assert!(map.contains("channel C  C1 light  C2 mid\n"));
/// ```
#[derive(Debug, Clone, Copy)]
pub struct SlotMap<'p>(&'p Platform);

impl Platform {
    /// The map of its slots.
    #[must_use]
    pub fn map(&self) -> SlotMap<'_> {
        SlotMap(self)
    }
}

impl fmt::Display for SlotMap<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let platform = self.0;
        let rows = &platform.description().rows;
        let how = if rows.is_empty() {
            "Not in board order: find the printed label."
        } else {
            "As the slots lie on the board."
        };
        writeln!(f, "{}, {} slots. {how}", platform.name(), platform.slots().len())?;
        if rows.is_empty() {
            self.by_channel(f)?;
        } else {
            self.by_row(f)?;
        }
        let turned = platform.slots().iter().filter(|slot| slot.description().key_facing == Some(KeyFacing::Turned));
        if turned.count() > 0 {
            writeln!(f, "' the key is turned: turn the module round")?;
        }
        if platform.slots().iter().any(|slot| slot.position().is_none()) {
            writeln!(f, "? which slot of the channel is filled first is not described: see the board")?;
        }
        if !platform.knows_turns() {
            writeln!(f, "In which order channels are filled is not described: see the board.")?;
        }
        Ok(())
    }
}

impl SlotMap<'_> {
    fn cell(&self, slot: &Slot) -> String {
        let mut cell = slot.label().to_string();
        if slot.description().key_facing == Some(KeyFacing::Turned) {
            cell.push('\'');
        }
        let is_alone = self.0.channel(slot.channel).slots.len() == 1;
        if slot.position().is_none() && !is_alone {
            cell.push('?');
        }
        cell
    }

    fn by_channel(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let platform = self.0;
        let text = |slot: &Slot| match &slot.description().marking {
            Some(marking) => format!("{} {marking}", self.cell(slot)),
            None => self.cell(slot),
        };
        let width = platform.slots().iter().map(|slot| text(slot).chars().count()).max().unwrap_or(0);
        let label = platform.channels().iter().map(|channel| channel.label.as_str().chars().count()).max().unwrap_or(0);
        for socket in platform.sockets() {
            writeln!(f, "processor {}", socket.label)?;
            for channel in socket.channels.iter().map(|&channel| platform.channel(channel)) {
                let cells: Vec<String> =
                    channel.slots.iter().map(|&slot| format!("{:width$}", text(platform.slot(slot)))).collect();
                let line = format!("  channel {:label$}  {}", channel.label.as_str(), cells.join("  "));
                writeln!(f, "{}", line.trim_end())?;
            }
        }
        writeln!(f, "In each channel the slot that is filled first stands first.")
    }

    fn by_row(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let platform = self.0;
        let cell = |name: &str| match platform.slot_named(name) {
            Some(slot) => self.cell(platform.slot(slot)),
            None => format!("[{name}]"),
        };
        let rows: Vec<Vec<String>> = platform
            .description()
            .rows
            .iter()
            .map(|row| row.iter().map(|name| cell(name.as_str())).collect())
            .collect();
        let width = rows.iter().flatten().map(|cell| cell.chars().count()).max().unwrap_or(0);
        for row in rows {
            let cells: Vec<String> = row.iter().map(|cell| format!("{cell:width$}")).collect();
            writeln!(f, "  {}", cells.join("  ").trim_end())?;
        }
        let named = |slot: &SlotId| {
            platform.description().rows.iter().flatten().any(|name| name == platform.slot(*slot).label())
        };
        let missing: Vec<&str> =
            platform.slot_ids().filter(|slot| !named(slot)).map(|slot| platform.slot(slot).label().as_str()).collect();
        if !missing.is_empty() {
            writeln!(f, "Not on the map: {}.", missing.join(", "))?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use expect_test::expect;

    use crate::module::Generation;
    use crate::platform::{BoardPattern, ChannelEnd, ChannelLabels, KeyFacing, KeyFacings, PlatformDescription};
    use crate::stated::Stated;
    use crate::testing::name;
    use crate::unit::Name;

    fn board() -> PlatformDescription {
        let label = "{channel}{number}".parse().unwrap();
        let pattern = BoardPattern::new([name("1"), name("2")], ChannelLabels::LettersRunningOn(2), 2, label)
            .number_one(Stated::assumed(ChannelEnd::Far))
            .key_facing(KeyFacings::BySocket(vec![KeyFacing::Usual, KeyFacing::Turned]));
        PlatformDescription::patterned(name("board"), Generation::Ddr4, pattern)
    }

    #[test]
    fn maps() {
        let map = |board: PlatformDescription| board.build().unwrap().map().to_string();
        expect![[r#"
            board, 8 slots. Not in board order: find the printed label.
            processor 1
              channel A  A1   A2
              channel B  B1   B2
            processor 2
              channel C  C1'  C2'
              channel D  D1'  D2'
            In each channel the slot that is filled first stands first.
            ' the key is turned: turn the module round
            In which order channels are filled is not described: see the board.
        "#]]
        .assert_eq(&map(board()));
        let names = |text: &str| text.split(' ').map(name).collect::<Vec<Name>>();
        expect![[r#"
            board, 8 slots. As the slots lie on the board.
              A1   A2   [1]  B2   B1
              D1'  D2'  [2]  C2'
            Not on the map: C1.
            ' the key is turned: turn the module round
            In which order channels are filled is not described: see the board.
        "#]]
        .assert_eq(&map(board().rows([names("A1 A2 1 B2 B1"), names("D1 D2 2 C2")])));
    }
}
