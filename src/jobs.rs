//! Work done on all cores, whose results stand in order however many there are.
//!
//! Depends on: nothing.

use std::num::NonZeroUsize;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Mutex, PoisonError};

/// How many cores there are to work on.
pub fn cores() -> usize {
    std::thread::available_parallelism().map_or(1, NonZeroUsize::get)
}

/// `work` for 0 to `count` on several threads; the results stand in order.
pub fn in_order<T: Send>(count: usize, threads: usize, work: impl Fn(usize) -> T + Sync) -> Vec<T> {
    let threads = threads.clamp(1, count.max(1));
    if threads == 1 {
        return (0..count).map(work).collect();
    }
    let next = AtomicUsize::new(0);
    let done: Mutex<Vec<(usize, T)>> = Mutex::new(Vec::with_capacity(count));
    let take = || {
        // One at a time: to take a job costs nothing beside any job, and no thread is left with a long tail.
        loop {
            let n = next.fetch_add(1, Ordering::Relaxed);
            if n >= count {
                return;
            }
            let result = work(n);
            // Every push is whole, so that a thread that panicked leaves nothing half done.
            done.lock()
                .unwrap_or_else(PoisonError::into_inner)
                .push((n, result));
        }
    };
    std::thread::scope(|scope| {
        // This thread works too: each more has an arena of memory of its own, most of it unused.
        for _ in 1..threads {
            scope.spawn(take);
        }
        take();
    });
    let mut done = done.into_inner().unwrap_or_else(PoisonError::into_inner);
    done.sort_by_key(|(n, _)| *n);
    done.into_iter().map(|(_, result)| result).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn results_stand_in_order_on_any_number_of_threads() {
        for threads in [0, 1, 2, 7] {
            for count in [0, 1, 8, 100] {
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
