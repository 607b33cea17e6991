//! Both loops side by side, each on a thread of its own, a few chunks ahead at most: nothing is kept of them here.

use std::sync::mpsc::{SyncSender, sync_channel};

use super::Sample;

/// Samples that go from a loop to its observer at once.
const CHUNK: usize = 1 << 13;

/// Where a loop puts its samples.
pub(super) struct Sink {
    chunk: Vec<Sample>,
    to: SyncSender<Vec<Sample>>,
}

impl Sink {
    /// The next sample.
    pub(super) fn put(&mut self, sample: Sample) {
        self.chunk.push(sample);
        if self.chunk.len() == CHUNK {
            self.send();
        }
    }

    fn send(&mut self) {
        let chunk = std::mem::replace(&mut self.chunk, Vec::with_capacity(CHUNK));
        self.to.send(chunk).expect("the receiver waits for all");
    }
}

impl Drop for Sink {
    fn drop(&mut self) {
        // a loop that panicked has no one to send to
        if !self.chunk.is_empty() && !std::thread::panicking() {
            self.send();
        }
    }
}

/// Runs both loops and shows their samples pairwise; gives back what the loop in integers gives.
pub(super) fn pairs<R: Send>(
    fixed: impl FnOnce(&mut Sink) -> R + Send,
    real: impl FnOnce(&mut Sink) + Send,
    take: &mut dyn FnMut(&Sample, &Sample),
) -> R {
    std::thread::scope(|scope| {
        let (send_fixed, integers) = sync_channel(2);
        let (send_real, arithmetic) = sync_channel(2);
        let sink = |to| Sink {
            chunk: Vec::with_capacity(CHUNK),
            to,
        };
        let (mut to_fixed, mut to_real) = (sink(send_fixed), sink(send_real));
        let first = scope.spawn(move || fixed(&mut to_fixed));
        scope.spawn(move || real(&mut to_real));
        for (a, b) in integers.iter().zip(arithmetic.iter()) {
            a.iter().zip(&b).for_each(|(a, b)| take(a, b));
        }
        first.join().expect("the loop runs to its end")
    })
}
