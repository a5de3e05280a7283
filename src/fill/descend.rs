//! Decides places in fill order, each for the best content from which the rest can still be placed.
//!
//! The best that is left is guessed for all of them, and the guess is followed as far as it can be. Whether it can is
//! asked of sets of states: which numbers of each kind a processor's channels can take between them. So the first
//! complete candidate is the best one in fill order.

use std::cell::OnceCell;

use crate::figure::{RunningRate, deciding};
use crate::fill::candidate::WHOLE_CHECK;
use crate::fill::choices::{Choices, OpenPlaces};
use crate::fill::level::level_of;
use crate::fill::place::Placing;
use crate::fill::slot_model::Contents;
use crate::fill::{KindIx, PlaceId, Placed, Rank};
use crate::search::{Budget, Index, StopReason};

/// What a place is guessed to hold: a module of a kind, or nothing.
type Guess = Option<KindIx>;

impl Placing<'_, '_> {
    /// The best placing in fill order at the level and target that are being tried. The places before `from` are
    /// decided, and the rest can be placed as far as states tell.
    pub(crate) fn descend(&mut self, from: PlaceId, budget: &mut Budget) -> Result<Option<Placed>, StopReason> {
        let base = self.open.clone();
        let guess = self.guess(from);
        self.follow(&base, from, &guess);
        let reached = if self.is_open(from.after(guess.len()), budget)? {
            budget.work(WHOLE_CHECK)?;
            if let Some(placed) = self.complete() {
                self.open = base;
                return Ok(Some(placed));
            }
            guess.len()
        } else {
            self.followed_to(&base, from, &guess, budget)?
        };
        let found = self.otherwise(&base, from, &guess, reached, budget)?;
        self.open = base;
        Ok(found)
    }

    /// How far a guess can be followed that cannot be as a whole: a prefix of one that can be, can be. It often ends at
    /// once.
    fn followed_to(
        &mut self,
        base: &OpenPlaces,
        from: PlaceId,
        guess: &[Guess],
        budget: &mut Budget,
    ) -> Result<usize, StopReason> {
        let (mut open, mut shut) = (0, guess.len());
        while shut - open > 1 {
            let middle = if open == 0 { 1 } else { usize::midpoint(open, shut.min(3 * open)) };
            self.follow(base, from, guess.iter().take(middle));
            if self.is_open(from.after(middle), budget)? {
                open = middle;
            } else {
                shut = middle;
            }
        }
        Ok(open)
    }

    /// The best placing that leaves the guess at one of the places up to where it was followed, the last of them
    /// first.
    fn otherwise(
        &mut self,
        base: &OpenPlaces,
        from: PlaceId,
        guess: &[Guess],
        reached: usize,
        budget: &mut Budget,
    ) -> Result<Option<Placed>, StopReason> {
        for (index, &guessed) in guess.iter().enumerate().take(reached + 1).rev() {
            let place = from.after(index);
            let Some(&choices) = base.get(place) else { continue };
            self.follow(base, from, guess.iter().take(index));
            for other in choices.best_first().skip_while(|&content| content != guessed).skip(1) {
                self.decide(place, other);
                if self.is_open(place.after(1), budget)? {
                    if let Some(placed) = self.descend(place.after(1), budget)? {
                        return Ok(Some(placed));
                    }
                }
            }
        }
        Ok(None)
    }

    /// For each place from `from` on, the best module that is left, whatever the rules make of it.
    fn guess(&self, from: PlaceId) -> Vec<Guess> {
        let mut left = self.loads.counts.clone();
        let mut take = |kind: KindIx| match left.get_mut(kind) {
            Some(count) if *count > 0 => {
                *count -= 1;
                true
            }
            _ => false,
        };
        // what is decided takes its modules first
        for kind in self.open.values().iter().filter_map(|choices| choices.decided()).flatten() {
            take(kind);
        }
        let mut guess = Vec::with_capacity(self.open.len() - from.get().min(self.open.len()));
        for choices in self.open.values().iter().skip(from.get()) {
            let best = match choices.decided() {
                Some(content) => Some(content),
                None => choices.best_first().find(|content| content.is_none_or(&mut take)),
            };
            // a place that may hold nothing that is left, or not even nothing, is found shut whatever is guessed
            guess.push(best.or_else(|| choices.best_first().next()).flatten());
        }
        guess
    }

    /// Decides places from `from` on, and no others after them.
    fn follow<'c>(&mut self, base: &OpenPlaces, from: PlaceId, contents: impl IntoIterator<Item = &'c Guess>) {
        self.open.clone_from(base);
        let places = self.open.iter_mut().skip(from.get()).zip(contents);
        places.for_each(|((_, choices), &content)| *choices = choices.and(Choices::only(content)));
    }

    fn decide(&mut self, place: PlaceId, content: Guess) {
        self.open.get_mut(place).into_iter().for_each(|choices| *choices = Choices::only(content));
    }

    /// Whether the rest can be placed once the places before `end` are decided.
    fn is_open(&self, end: PlaceId, budget: &mut Budget) -> Result<bool, StopReason> {
        budget.spend()?;
        if self.careful && self.model.in_force.is_lost(&self.model.layout(&self.contents(end))) {
            return Ok(false);
        }
        let reachable = self.reach.reachable(&self.open, &self.rates, budget)?;
        self.shares.feasible(&reachable, self.target, budget)
    }

    /// What the places before `end`, which are decided, hold.
    fn contents(&self, end: PlaceId) -> Contents {
        let class = |kind: KindIx| self.loads.kinds.get(kind).copied();
        let decided = self.open.iter().map(|(place, choices)| choices.decided().flatten().filter(|_| place < end));
        decided.map(|content| content.and_then(class)).collect()
    }

    /// The candidate of which every place is decided; `None` where it is not what it was hoped to be, or a rule
    /// refuses it.
    fn complete(&mut self) -> Option<Placed> {
        let at = self.contents(PlaceId::of(self.open.len()));
        let layout = self.model.layout(&at);
        let known = OnceCell::new();
        let running = known.get_or_init(|| RunningRate::of(&layout));
        let (rate, bandwidth) = (running.rate(), deciding(&layout, running));
        let too_slow =
            level_of(self.model.machine, rate) < self.level || bandwidth < self.scale.bandwidth(self.target.speed);
        if too_slow || !self.model.allows(&layout, &known) {
            self.careful = true;
            return None;
        }
        let ranks = Rank::of_each(&at, &self.loads.kinds);
        let (target, moves_first) = (self.target, self.demand.moves_first);
        Some(Placed { at, rate, bandwidth, target, ranks, moves_first, outside_rows: false })
    }
}
