//! Pieces put to lines: as many right ones as can be, then as many as can be that may be right, then those that are
//! better known.

use std::ops::{Add, Sub};

/// What a piece on a line that it does not contradict is worth: compared field by field from the first, and added up
/// over all pieces.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Fit {
    /// 1 for a piece that is right.
    pub(crate) right: i64,
    /// 1 for one that may be right.
    pub(crate) open: i64,
    /// 1 where its SPD was read.
    pub(crate) with_spd: i64,
    /// 1 where its label was read.
    pub(crate) with_label: i64,
    /// One less for each fact of the line that was not read.
    pub(crate) read: i64,
}

impl Fit {
    fn with(self, other: Self, of: impl Fn(i64, i64) -> i64) -> Self {
        Self {
            right: of(self.right, other.right),
            open: of(self.open, other.open),
            with_spd: of(self.with_spd, other.with_spd),
            with_label: of(self.with_label, other.with_label),
            read: of(self.read, other.read),
        }
    }
}

impl Add for Fit {
    type Output = Self;

    fn add(self, other: Self) -> Self {
        self.with(other, i64::saturating_add)
    }
}

impl Sub for Fit {
    type Output = Self;

    fn sub(self, other: Self) -> Self {
        self.with(other, i64::saturating_sub)
    }
}

/// How a unit comes to a line on a path of changes.
#[derive(Debug, Clone, Copy)]
enum Step {
    /// A piece of a group that is put nowhere yet.
    Enters(usize),
    /// A piece of a group that sits on another line.
    Moves { from: usize, group: usize },
}

/// Groups of equal pieces against lines.
struct Matching<'f> {
    fits: &'f [Vec<Option<Fit>>],
    /// How many of a group are put to a line.
    put: Vec<Vec<usize>>,
    /// How many of a group are put nowhere.
    left: Vec<usize>,
    /// How many a line still takes.
    room: Vec<usize>,
    /// The best move of a piece from a line to another: its gain, and of which group.
    moves: Vec<Vec<Option<(Fit, usize)>>>,
}

/// How many pieces of each group go to each line. `fits` is by group, then by line.
///
/// Pieces are put one path after the other, each of the greatest gain; so the sum is the greatest of any matching
/// (common knowledge of flows of least cost).
pub(crate) fn most(fits: &[Vec<Option<Fit>>], sizes: &[usize], room: &[usize]) -> Vec<Vec<usize>> {
    let lines = room.len();
    let mut matching = Matching {
        fits,
        put: vec![vec![0; lines]; sizes.len()],
        left: sizes.to_vec(),
        room: room.to_vec(),
        moves: vec![vec![None; lines]; lines],
    };
    while matching.put_more() {}
    matching.put
}

impl Matching<'_> {
    fn gain(&self, group: usize, line: usize) -> Option<Fit> {
        self.fits.get(group)?.get(line).copied()?
    }

    /// Puts pieces along the best path; false where there is none.
    fn put_more(&mut self) -> bool {
        let reached = self.reach();
        let free = reached.iter().zip(&self.room).enumerate().filter(|(_, (_, room))| **room > 0);
        let ends = free.filter_map(|(line, (reached, _))| reached.map(|(gain, _)| (gain, line)));
        let ends = ends.filter(|(gain, _)| *gain > Fit::default());
        // the first of those of the greatest gain
        let Some((_, end)) = ends.max_by_key(|(gain, line)| (*gain, std::cmp::Reverse(*line))) else { return false };
        let mut path = Vec::new();
        let mut line = end;
        while let Some((_, step)) = reached.get(line).copied().flatten() {
            path.push((line, step));
            match step {
                Step::Enters(_) => break,
                Step::Moves { from, .. } if path.len() < reached.len() => line = from,
                // no path is longer than there are lines
                Step::Moves { .. } => return false,
            }
        }
        let many = path.iter().map(|(_, step)| self.available(*step)).min().unwrap_or(0);
        let many = many.min(self.room.get(end).copied().unwrap_or(0));
        self.take(&path, end, many);
        many > 0
    }

    /// How many pieces a step has.
    fn available(&self, step: Step) -> usize {
        match step {
            Step::Enters(group) => self.left.get(group).copied(),
            Step::Moves { from, group } => self.put.get(group).and_then(|lines| lines.get(from)).copied(),
        }
        .unwrap_or(0)
    }

    /// The greatest gain with which a unit can come to each line, and by which step.
    fn reach(&self) -> Vec<Option<(Fit, Step)>> {
        let enters = |line: usize| {
            let open = self.left.iter().enumerate().filter(|(_, left)| **left > 0);
            let gains = open.filter_map(|(group, _)| Some((self.gain(group, line)?, group)));
            let best = gains.max_by_key(|(gain, group)| (*gain, std::cmp::Reverse(*group)));
            best.map(|(gain, group)| (gain, Step::Enters(group)))
        };
        let lines = self.room.len();
        let mut reached: Vec<Option<(Fit, Step)>> = (0..lines).map(enters).collect();
        for _ in 0..lines {
            let mut is_changed = false;
            for (from, moves) in self.moves.iter().enumerate() {
                let Some((before, _)) = reached.get(from).copied().flatten() else { continue };
                for (to, known) in moves.iter().zip(&mut reached) {
                    let Some((gain, group)) = *to else { continue };
                    if known.is_none_or(|(known, _)| before + gain > known) {
                        *known = Some((before + gain, Step::Moves { from, group }));
                        is_changed = true;
                    }
                }
            }
            if !is_changed {
                break;
            }
        }
        reached
    }

    /// Puts so many pieces along a path, whose last step comes first.
    fn take(&mut self, path: &[(usize, Step)], end: usize, many: usize) {
        let mut change = |group: usize, line: usize, is_more: bool| {
            if let Some(put) = self.put.get_mut(group).and_then(|lines| lines.get_mut(line)) {
                *put = if is_more { put.saturating_add(many) } else { put.saturating_sub(many) };
            }
        };
        for (line, step) in path {
            match *step {
                Step::Enters(group) => {
                    change(group, *line, true);
                    if let Some(left) = self.left.get_mut(group) {
                        *left = left.saturating_sub(many);
                    }
                }
                Step::Moves { from, group } => {
                    change(group, *line, true);
                    change(group, from, false);
                }
            }
        }
        if let Some(room) = self.room.get_mut(end) {
            *room = room.saturating_sub(many);
        }
        for (line, _) in path {
            self.find_moves(*line);
        }
    }

    /// Finds the moves from a line anew.
    fn find_moves(&mut self, from: usize) {
        let here: Vec<(usize, Fit)> = self
            .put
            .iter()
            .enumerate()
            .filter(|(_, lines)| lines.get(from).is_some_and(|put| *put > 0))
            .filter_map(|(group, _)| Some((group, self.gain(group, from)?)))
            .collect();
        let best = |to: usize| {
            let gains = here.iter().filter_map(|(group, before)| Some((self.gain(*group, to)? - *before, *group)));
            gains.max_by_key(|(gain, group)| (*gain, std::cmp::Reverse(*group))).filter(|_| to != from)
        };
        let moves: Vec<Option<(Fit, usize)>> = (0..self.room.len()).map(best).collect();
        if let Some(known) = self.moves.get_mut(from) {
            *known = moves;
        }
    }
}
