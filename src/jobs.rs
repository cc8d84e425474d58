//! Work done on all cores, whose results stand in order however many there are.
//!
//! Depends on: nothing.

use std::num::NonZeroUsize;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Mutex, PoisonError};

/// Jobs that a thread takes at a time: enough that taking them costs nothing, few enough that no thread is
/// left with a long tail.
const BATCH: usize = 8;

/// How many cores there are to work on.
pub fn cores() -> usize {
    std::thread::available_parallelism().map_or(1, NonZeroUsize::get)
}

/// `work` for 0 to `count` on several threads; the results stand in order.
pub fn in_order<T: Send>(count: usize, threads: usize, work: impl Fn(usize) -> T + Sync) -> Vec<T> {
    let threads = threads.clamp(1, count.div_ceil(BATCH).max(1));
    if threads == 1 {
        return (0..count).map(work).collect();
    }
    let next = AtomicUsize::new(0);
    let done: Mutex<Vec<(usize, Vec<T>)>> = Mutex::new(Vec::new());
    std::thread::scope(|scope| {
        for _ in 0..threads {
            scope.spawn(|| {
                loop {
                    let from = next.fetch_add(BATCH, Ordering::Relaxed);
                    if from >= count {
                        return;
                    }
                    let batch: Vec<T> = (from..count.min(from + BATCH)).map(&work).collect();
                    // Every push is whole, so that a thread that panicked leaves nothing half done.
                    done.lock()
                        .unwrap_or_else(PoisonError::into_inner)
                        .push((from, batch));
                }
            });
        }
    });
    let mut done = done.into_inner().unwrap_or_else(PoisonError::into_inner);
    done.sort_by_key(|(from, _)| *from);
    done.into_iter().flat_map(|(_, batch)| batch).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn results_stand_in_order_on_any_number_of_threads() {
        for threads in [0, 1, 2, 7] {
            for count in [0, 1, BATCH, 100] {
                let all: Vec<usize> = (0..count).map(|i| i * i).collect();
                assert_eq!(
                    in_order(count, threads, |i| i * i),
                    all,
                    "{threads} threads, {count} jobs"
                );
            }
        }
    }
}
