//! What the long tests share: how much they try, chance from a fixed seed, and work on every core.

use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

/// How much a campaign tries: a small sample, or what `BACKSHELL_CAMPAIGN` says, `middle` or `full`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Size {
    Small,
    Middle,
    Full,
}

impl Size {
    pub fn asked_for() -> Self {
        match std::env::var("BACKSHELL_CAMPAIGN").as_deref() {
            Ok("middle") => Size::Middle,
            Ok("full") => Size::Full,
            Ok(other) => panic!("BACKSHELL_CAMPAIGN={other}: middle or full"),
            Err(_) => Size::Small,
        }
    }

    pub fn of(self, small: usize, middle: usize, full: usize) -> usize {
        match self {
            Size::Small => small,
            Size::Middle => middle,
            Size::Full => full,
        }
    }
}

/// Chance that repeats itself (a linear congruential generator, with the multiplier of D. Knuth's MMIX).
pub struct Random(u64);

impl Random {
    pub const SEED: u64 = 0x5eed;

    /// A stream of its own for each number.
    pub fn new(stream: usize) -> Self {
        let mut random = Random(Self::SEED ^ ((stream as u64) << 20));
        for _ in 0..8 {
            random.below(1);
        }
        random
    }

    pub fn below(&mut self, n: usize) -> usize {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        usize::try_from(self.0 >> 33).unwrap() % n
    }

    /// From 0 to 1.
    pub fn share(&mut self) -> f64 {
        const STEPS: u32 = 1 << 30;
        f64::from(u32::try_from(self.below(STEPS as usize)).unwrap()) / f64::from(STEPS)
    }
}

/// Does every job, on all cores, and gives the results in their order.
pub fn in_parallel<J: Sync, R: Send>(jobs: &[J], run: impl Fn(usize, &J) -> R + Sync) -> Vec<R> {
    let next = AtomicUsize::new(0);
    let results: Mutex<Vec<(usize, R)>> = Mutex::new(Vec::new());
    std::thread::scope(|scope| {
        for _ in 0..std::thread::available_parallelism().map_or(1, usize::from) {
            scope.spawn(|| {
                while let Some((at, job)) = Some(next.fetch_add(1, Ordering::Relaxed)).and_then(|at| Some((at, jobs.get(at)?))) {
                    let result = run(at, job);
                    results.lock().unwrap().push((at, result));
                }
            });
        }
    });
    let mut results = results.into_inner().unwrap();
    results.sort_by_key(|(at, _)| *at);
    results.into_iter().map(|(_, result)| result).collect()
}
