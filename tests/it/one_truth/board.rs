//! The layout of a board.

use slotwright::module::FormFactor;
use slotwright::platform::{
    ChannelDescription, ControllerDescription, KeyFacing, SlotAddress, SlotDescription, SocketDescription,
};
use slotwright::unit::{Height, Name};

use crate::boards::name;
use crate::one_truth::draw::Draw;

/// The most slots of a board.
pub const MOST_SLOTS: usize = 8;

/// How many slots each channel of each socket has.
type Wiring = Vec<Vec<usize>>;

fn wiring(draw: &mut Draw<'_, '_>) -> Wiring {
    let sockets = draw.pick(&[1, 2, 1, 2, 1, 2, 3]);
    let mut channels = draw.pick(&[2, 1, 2, 3, 4]);
    let mut slots = draw.pick(&[1, 2, 1, 2, 3, 4]);
    while sockets * channels * slots > MOST_SLOTS {
        if slots > 1 && draw.once_in(2) {
            slots -= 1;
        } else if channels > 1 {
            channels -= 1;
        } else {
            slots -= 1;
        }
    }
    let mut wiring = vec![vec![slots; channels]; sockets];
    if draw.once_in(3) {
        for channel in wiring.iter_mut().flatten() {
            if draw.once_in(3) {
                *channel = draw.pick(&[1, 0, 2, 3]);
            }
        }
    }
    let total = |wiring: &Wiring| wiring.iter().flatten().sum::<usize>();
    while total(&wiring) > MOST_SLOTS {
        let fullest = wiring.iter_mut().flatten().max().unwrap();
        *fullest -= 1;
    }
    if total(&wiring) == 0 {
        wiring[0][0] = 1;
    }
    wiring
}

/// The turns: far slots of every channel first, or any.
fn turns(draw: &mut Draw<'_, '_>, wiring: &Wiring) -> Vec<(usize, usize, usize)> {
    let mut slots: Vec<(usize, usize, usize)> = Vec::new();
    for (s, socket) in wiring.iter().enumerate() {
        for (c, &count) in socket.iter().enumerate() {
            slots.extend((0..count).map(|p| (p, c, s)));
        }
    }
    slots.sort_unstable();
    if draw.once_in(4) {
        draw.source.shuffle(&mut slots);
    }
    slots
}

fn slot(draw: &mut Draw<'_, '_>, label: Name, position: usize, turn: usize) -> SlotDescription {
    let (position, turn) = (u8::try_from(position).unwrap(), u16::try_from(turn).unwrap());
    let SlotDescription {
        label,
        position,
        turn,
        form_factor: _,
        height_limit_um: _,
        marking: _,
        key_facing: _,
        addresses: _,
        ..
    } = SlotDescription::new(label, position, turn);
    let address = SlotAddress::new(name("bios")).socket(0).slot(turn);
    SlotDescription::new(label, position, turn)
        .form_factor(if draw.once_in(40) { FormFactor::SoDimm } else { FormFactor::Dimm })
        .height_limit(draw.once_in(30).then(|| Height::from_um(20_000)))
        .marking(draw.once_in(20).then(|| name("blue")))
        .key_facing(if draw.once_in(20) { Some(draw.pick(&[KeyFacing::Turned, KeyFacing::Usual])) } else { None })
        .addresses(if draw.once_in(20) { vec![address] } else { Vec::new() })
}

/// Sockets "1", "2", "3" with channels "A" to "D" and slots "1A1" and so on.
pub fn sockets(draw: &mut Draw<'_, '_>) -> Vec<SocketDescription> {
    let wiring = wiring(draw);
    let turns = turns(draw, &wiring);
    let two_controllers = draw.once_in(3);
    // positions need not be without gaps
    let gaps = draw.once_in(12);
    let knows_positions = !draw.once_in(10);
    let knows_turns = !draw.once_in(10);
    let mut sockets = Vec::new();
    for (s, socket) in wiring.iter().enumerate() {
        let mut channels = Vec::new();
        for (c, &count) in socket.iter().enumerate() {
            let letter = ["A", "B", "C", "D"][c];
            let slots = (0..count).map(|p| {
                let turn = turns.iter().position(|&at| at == (p, c, s)).unwrap();
                let position = if gaps { 2 * p } else { p };
                let mut slot = slot(draw, name(&format!("{}{letter}{}", s + 1, p + 1)), position, turn);
                // one that is not known is enough for its channel, or for all turns
                slot.position = slot.position.filter(|_| knows_positions && !draw.once_in(40));
                slot.turn = slot.turn.filter(|_| knows_turns && !draw.once_in(100));
                slot
            });
            channels.push(ChannelDescription::new(name(letter), slots));
        }
        let second = channels.split_off(if two_controllers { channels.len().div_ceil(2) } else { channels.len() });
        let controller = |(number, channels): (usize, Vec<ChannelDescription>)| {
            ControllerDescription::new(name(&number.to_string()), channels)
        };
        let parts = [channels, second].into_iter().enumerate().filter(|(_, channels)| !channels.is_empty());
        let controllers: Vec<_> = parts.map(controller).collect();
        sockets.push(SocketDescription::new(name(&(s + 1).to_string()), controllers));
    }
    sockets
}

/// The channels of a socket.
pub fn channels(socket: &SocketDescription) -> impl Iterator<Item = &ChannelDescription> {
    socket.controllers.iter().flat_map(|controller| &controller.channels)
}

/// The labels of the slots of a board, by turn.
pub fn slots(sockets: &[SocketDescription]) -> Vec<Name> {
    let mut slots: Vec<&SlotDescription> =
        sockets.iter().flat_map(channels).flat_map(|channel| &channel.slots).collect();
    slots.sort_by_key(|slot| slot.turn);
    slots.into_iter().map(|slot| slot.label.clone()).collect()
}
