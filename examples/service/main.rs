//! A service over lines of JSON: requests on standard input, answers on standard output, each as it is ready.
//!
//! ```sh
//! cargo run --release --example service < examples/data/service.jsonl
//! ```
//!
//! A line is `{"id": 1, "limit_ms": 500, "question": {...}}`, with a `Question` of the library, or `{"cancel": 1}`. Its answer is
//! `{"id": 1, "ms": 12, "answer": {...}}`, or `{"id": 1, "error": {...}}`. A limit counts from when the line was read; a search that
//! has used up its time gives the best plan so far and a bound, and `"cancelled"` as its reason, as one that was cancelled does. An id
//! is used for one request at a time; a line without one is answered with `"id": null`.
//!
//! The library looks at no clock and starts no thread: both are here. Each processor of this machine has one worker. Where
//! requests wait, one may take just its share of the time that is left to it, so that the others keep their limits too.

mod lines;
mod queue;

use std::io::{BufRead, Write};
use std::num::NonZero;
use std::process::ExitCode;
use std::sync::{Mutex, PoisonError};
use std::thread;
use std::time::Instant;

use lines::{Line, Reply};
use queue::Queue;

fn main() -> ExitCode {
    match serve(std::io::stdin().lock(), std::io::stdout()) {
        Ok(()) => ExitCode::SUCCESS,
        Err(_) => ExitCode::FAILURE,
    }
}

/// Answers every line; ends once the input has ended and all is answered.
pub(crate) fn serve(input: impl BufRead, output: impl Write + Send) -> std::io::Result<()> {
    let workers = thread::available_parallelism().map_or(2, NonZero::get);
    let (queue, output) = (Queue::new(workers), Mutex::new(output));
    let say = |reply: &Reply| {
        let line = serde_json::to_string(reply).map_err(std::io::Error::from)?;
        let mut output = output.lock().unwrap_or_else(PoisonError::into_inner);
        writeln!(output, "{line}").and_then(|()| output.flush())
    };
    thread::scope(|scope| {
        let (queue, say) = (&queue, &say);
        let work = || while_some(|| queue.take(), |(waiting, until)| say(&waiting.answer(until)));
        let workers: Vec<_> = (0..workers).map(|_| scope.spawn(work)).collect();
        let mut lines = input.lines();
        let read = while_some(
            || lines.next(),
            |line| {
                let (text, read_at) = (line?, Instant::now());
                match Line::read(text, read_at) {
                    Ok(Line::Empty) => {}
                    Ok(Line::Cancel(id)) => queue.cancel(id),
                    Ok(Line::Ask(waiting)) => queue.put(waiting),
                    Err(reply) => say(&reply)?,
                }
                Ok(())
            },
        );
        queue.close();
        let joined =
            workers.into_iter().map(|worker| worker.join().unwrap_or_else(|_| Err(std::io::ErrorKind::Other.into())));
        joined.fold(read, Result::and)
    })
}

/// Does something with each, until there is none or it fails.
fn while_some<T>(
    mut next: impl FnMut() -> Option<T>,
    mut each: impl FnMut(T) -> std::io::Result<()>,
) -> std::io::Result<()> {
    while let Some(item) = next() {
        each(item)?;
    }
    Ok(())
}
