//! How often something may be tried: so often at once, and then at an even pace.

use std::collections::HashMap;
use std::net::IpAddr;
use std::sync::Mutex;
use std::time::{Duration, Instant};

use super::hall::held;

const MINUTE: Duration = Duration::from_secs(60);

/// All addresses together have so many times what one has.
const ALL: u32 = 10;

/// Turns for each address, and for all of them together.
#[derive(Debug)]
pub(super) struct Pace {
    /// So many turns at once, and as many in each minute after.
    most: u32,
    /// Those who take no more turns have all of theirs again then; no address: all together.
    rested: Mutex<HashMap<Option<IpAddr>, Instant>>,
}

impl Pace {
    /// So many turns at once from an address, and as many in each minute after.
    pub(super) fn new(most: u32) -> Self {
        let rested = Mutex::default();
        Self { most, rested }
    }

    /// How long until the next turn of an address comes, which then is taken; none if that is longer
    /// than `longest`, and then it is not.
    pub(super) fn turn(&self, peer: IpAddr, now: Instant, longest: Duration) -> Option<Duration> {
        let mut rested = held(&self.rested);
        rested.retain(|_, at| *at > now);
        let next = self.each(peer).map(|(who, most)| {
            let from = rested.get(&who).copied().unwrap_or(now).max(now);
            (who, from + MINUTE / most)
        });
        let wait = |(_, at): &(Option<IpAddr>, Instant)| at.duration_since(now).checked_sub(MINUTE);
        let wait = next.iter().filter_map(wait).max().unwrap_or_default();
        (wait <= longest).then(|| {
            rested.extend(next);
            wait
        })
    }

    /// A turn that was taken does not count.
    pub(super) fn give_back(&self, peer: IpAddr) {
        let mut rested = held(&self.rested);
        for (who, most) in self.each(peer) {
            let at = rested.get_mut(&who);
            if let Some((at, back)) = at.and_then(|at| Some((at.checked_sub(MINUTE / most)?, at))) {
                *back = at;
            }
        }
    }

    /// Who takes a turn with an address, and how many each has in a minute.
    fn each(&self, peer: IpAddr) -> [(Option<IpAddr>, u32); 2] {
        [(Some(peer), self.most), (None, ALL * self.most)]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn peer(n: u8) -> IpAddr {
        [192, 0, 2, n].into()
    }

    #[test]
    fn turns_come_at_once_then_at_a_pace_and_again_after_a_rest() {
        let (pace, now) = (Pace::new(6), Instant::now());
        let long = Duration::from_secs(25);
        let at_once: Vec<_> = (0..6).map(|_| pace.turn(peer(1), now, long)).collect();
        assert!(at_once.iter().all(|turn| *turn == Some(Duration::ZERO)));
        let later = [pace.turn(peer(1), now, long), pace.turn(peer(1), now, long)];
        assert_eq!(later, [10, 20].map(|s| Some(Duration::from_secs(s))));
        // No turn is taken that would be too late, and another address has its own.
        assert_eq!(pace.turn(peer(1), now, long), None);
        assert_eq!(pace.turn(peer(2), now, long), Some(Duration::ZERO));
        let rested = now + Duration::from_secs(80);
        assert_eq!(pace.turn(peer(1), rested, long), Some(Duration::ZERO));
    }

    #[test]
    fn what_is_given_back_does_not_count() {
        let (pace, now) = (Pace::new(6), Instant::now());
        for _ in 0..200 {
            assert_eq!(pace.turn(peer(1), now, MINUTE), Some(Duration::ZERO));
            pace.give_back(peer(1));
        }
    }

    #[test]
    fn many_addresses_have_ten_times_as_much() {
        let (pace, now) = (Pace::new(6), Instant::now());
        let turn = |n: u8| pace.turn(peer(n / 4), now, Duration::ZERO);
        let taken = (0..200).filter(|n| turn(*n).is_some()).count();
        assert_eq!(taken, 60);
    }
}
