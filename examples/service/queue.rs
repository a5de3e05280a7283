//! What waits for a worker, and how long each may take.

use std::collections::{BTreeMap, VecDeque};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::time::Instant;

use super::lines::Waiting;

#[derive(Default)]
struct State {
    waiting: VecDeque<Waiting>,
    /// By id: what stops a request, from when it waits until it is answered.
    stops: BTreeMap<u64, Arc<AtomicBool>>,
    is_closed: bool,
}

/// Requests that wait for a worker.
pub(crate) struct Queue {
    workers: u32,
    state: Mutex<State>,
    changed: Condvar,
}

impl Queue {
    pub(crate) fn new(workers: usize) -> Self {
        let workers = u32::try_from(workers).unwrap_or(u32::MAX);
        Self { workers, state: Mutex::default(), changed: Condvar::new() }
    }

    fn state(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    pub(crate) fn put(&self, waiting: Waiting) {
        let mut state = self.state();
        // what is answered is dropped there, and nobody can stop it any more
        state.stops.retain(|_, stop| Arc::strong_count(stop) > 1);
        state.stops.insert(waiting.id, Arc::clone(&waiting.stop));
        state.waiting.push_back(waiting);
        drop(state);
        self.changed.notify_one();
    }

    /// No more comes.
    pub(crate) fn close(&self) {
        self.state().is_closed = true;
        self.changed.notify_all();
    }

    /// Stops a request; does nothing if it is answered already.
    pub(crate) fn cancel(&self, id: u64) {
        self.state().stops.get(&id).into_iter().for_each(|stop| stop.store(true, Ordering::Relaxed));
    }

    /// The next request and its deadline; `None` once all is done and no more comes.
    pub(crate) fn take(&self) -> Option<(Waiting, Option<Instant>)> {
        let mut state = self.state();
        loop {
            match state.waiting.pop_front() {
                Some(next) => {
                    let others = u32::try_from(state.waiting.len()).unwrap_or(u32::MAX);
                    let now = Instant::now();
                    let left = next.until.map(|until| until.saturating_duration_since(now));
                    let share = |left: std::time::Duration| {
                        // as much as each would get if all that wait took as long
                        left / others.div_ceil(self.workers).saturating_add(1)
                    };
                    let until = left.and_then(|left| now.checked_add(share(left)));
                    return Some((next, until));
                }
                None if state.is_closed => return None,
                None => state = self.changed.wait(state).unwrap_or_else(PoisonError::into_inner),
            }
        }
    }
}
