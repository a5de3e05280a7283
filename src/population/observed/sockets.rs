//! Which sockets of a board the processors of a report sit in.

use std::collections::BTreeMap;

use crate::platform::{Platform, SocketId};
use crate::population::observed::locator;
use crate::population::{Report, SeenPlace, SeenProcessor};
use crate::unit::Name;

/// The sockets of a board, as a report tells of them.
#[derive(Debug, Clone, Default)]
pub(crate) struct Sockets {
    /// By socket: what the report says of it.
    seen: BTreeMap<SocketId, SeenProcessor>,
    /// By what the report refers to a processor.
    by_id: BTreeMap<Name, SocketId>,
}

impl Sockets {
    /// Empty where it is not clear which is which.
    pub(crate) fn of(report: &Report, platform: &Platform) -> Self {
        let sockets: Vec<SocketId> = platform.socket_ids().collect();
        let mut seen: Vec<&SeenProcessor> = report.processors.iter().collect();
        let number = |text: &str| {
            let digits: String = text.chars().rev().take_while(char::is_ascii_digit).collect();
            digits.chars().rev().collect::<String>()
        };
        // by the label of the socket: its text, or the number behind it
        let labelled = |processor: &&SeenProcessor| {
            let text = processor.socket.as_str();
            let is_meant = |socket: &&SocketId| {
                let label = platform.socket(**socket).label.as_str();
                locator::folded(label) == locator::folded(text) || *label == number(text)
            };
            sockets.iter().find(is_meant).copied()
        };
        let by_label: Option<Vec<SocketId>> = seen.iter().map(labelled).collect();
        let is_one_to_one = |found: &Vec<SocketId>| {
            let mut found = found.clone();
            found.sort();
            found.windows(2).all(|pair| matches!(pair, [one, other] if one != other))
        };
        let found = match by_label.filter(is_one_to_one) {
            Some(found) => found,
            // as many as there are: in their order
            None if seen.len() == sockets.len() => {
                seen.sort_by_cached_key(|processor| locator::natural(processor.socket.as_str()));
                sockets
            }
            None => return Self::default(),
        };
        let by_id = |(processor, socket): (&&SeenProcessor, &SocketId)| Some((processor.id.clone()?, *socket));
        Self {
            by_id: seen.iter().zip(&found).filter_map(by_id).collect(),
            seen: found.into_iter().zip(seen.into_iter().cloned()).collect(),
        }
    }

    /// What is said of each socket.
    pub(crate) fn seen(&self) -> impl Iterator<Item = (SocketId, &SeenProcessor)> {
        self.seen.iter().map(|(socket, processor)| (*socket, processor))
    }

    /// Whether a place may be at a socket: the report ties it to no other, and no module is where no processor is.
    pub(crate) fn allow(&self, place: &SeenPlace, socket: SocketId) -> bool {
        let tied = place.processor.as_ref().and_then(|id| self.by_id.get(id));
        let is_empty = self.seen.get(&socket).is_some_and(|processor| processor.is_present == Some(false));
        tied.is_none_or(|tied| *tied == socket) && !(is_empty && place.state.is_filled())
    }
}
