//! Places for those who watch: bounded, so that the logging keeps its files, and shared out, so that
//! nobody can take them all. This computer's own, where the teacher sits, are kept apart.

use std::collections::VecDeque;
use std::net::IpAddr;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex};

use tokio::sync::Notify;

use super::door::{Caller, Role};
use super::hall::held;

/// Connections from this computer. With those from others they are fewer than the 1024 files that a
/// system may allow a program, of which the logging needs some.
const OWN_CONNECTIONS: usize = 100;
/// Connections from others, and from each address: a class may share one.
const CONNECTIONS: usize = 300;
const CONNECTIONS_FROM_ONE: usize = 100;

/// Streams to teachers.
const OWN_STREAMS: usize = 40;
/// Streams to others, to each address, and to each browser, whose tabs and screens have one each.
const STREAMS: usize = 160;
const STREAMS_FROM_ONE: usize = 40;
const STREAMS_OF_SESSION: usize = 6;

/// Who has a place: the oldest first.
#[derive(Debug)]
pub(super) struct Taken<H> {
    next: u64,
    taken: VecDeque<(u64, H, Arc<Notify>)>,
}

impl<H> Taken<H> {
    fn count(&self, is_it: impl Fn(&H) -> bool) -> usize {
        self.taken.iter().filter(|(_, who, _)| is_it(who)).count()
    }

    /// Whether there is room for one more of a kind: there may be `most`, or the oldest one is ended
    /// that may be.
    fn room(&mut self, most: usize, is_it: impl Fn(&H) -> bool, may: impl Fn(&H) -> bool) -> bool {
        if self.count(&is_it) < most {
            return true;
        }
        let mut all = self.taken.iter();
        let oldest = all.position(|(_, who, _)| is_it(who) && may(who));
        let ended = oldest.and_then(|index| self.taken.remove(index));
        ended.is_some_and(|(_, _, end)| {
            end.notify_one();
            true
        })
    }
}

/// Places of one kind.
#[derive(Debug)]
pub(super) struct Places<H>(Mutex<Taken<H>>);

/// A place, for as long as this lives.
#[derive(Debug)]
pub(super) struct Place<H> {
    places: Arc<Places<H>>,
    number: u64,
    end: Arc<Notify>,
}

impl<H> Place<H> {
    /// Waits until somebody else needs the place.
    pub(super) async fn ended(&self) {
        self.end.notified().await;
    }
}

impl<H> Drop for Place<H> {
    fn drop(&mut self) {
        let mut places = held(&self.places.0);
        places.taken.retain(|(number, ..)| *number != self.number);
    }
}

impl<H> Places<H> {
    /// None taken.
    pub(super) fn new() -> Arc<Self> {
        let taken = VecDeque::new();
        Arc::new(Self(Mutex::new(Taken { next: 0, taken })))
    }

    /// Whether any is taken.
    pub(super) fn any(&self) -> bool {
        !held(&self.0).taken.is_empty()
    }

    fn take(self: &Arc<Self>, who: H, room: impl Fn(&mut Taken<H>) -> bool) -> Option<Place<H>> {
        let mut places = held(&self.0);
        if !room(&mut places) {
            return None;
        }
        let end = Arc::new(Notify::new());
        let number = places.next;
        places.next += 1;
        places.taken.push_back((number, who, Arc::clone(&end)));
        drop(places);
        let places = Arc::clone(self);
        Some(Place {
            places,
            number,
            end,
        })
    }
}

/// Who has a connection.
#[derive(Debug)]
pub(super) struct Connected {
    pub(super) ip: IpAddr,
    /// It has asked for something.
    pub(super) asked: Arc<AtomicBool>,
}

impl Places<Connected> {
    /// A place for a connection. Where there is none, the oldest goes that has not asked for anything
    /// yet: who holds connections half open keeps nobody out.
    pub(super) fn connect(self: &Arc<Self>, who: Connected) -> Option<Place<Connected>> {
        let ip = who.ip;
        let is_silent = |who: &Connected| !who.asked.load(Ordering::Relaxed);
        let is_own = |who: &Connected| who.ip.is_loopback();
        let is_other = |who: &Connected| !who.ip.is_loopback();
        let from_one = |who: &Connected| who.ip == ip;
        self.take(who, |taken| {
            if ip.is_loopback() {
                return taken.room(OWN_CONNECTIONS, is_own, is_silent);
            }
            taken.room(CONNECTIONS_FROM_ONE, from_one, is_silent)
                && taken.room(CONNECTIONS, is_other, is_silent)
        })
    }
}

/// Who is sent a stream.
#[derive(Debug)]
pub(super) struct Watching {
    pub(super) caller: Caller,
    pub(super) ip: IpAddr,
}

impl Places<Watching> {
    /// A place for a stream. A browser that has all of its own gets the newest for the oldest, which
    /// may be to a page that nobody sees any more; an address likewise.
    pub(super) fn watch(self: &Arc<Self>, who: Watching) -> Option<Place<Watching>> {
        let Watching { caller, ip } = who;
        let is_teacher = |who: &Watching| who.caller.role == Role::Acts;
        let is_other = |who: &Watching| who.caller.role != Role::Acts;
        let of_session = |who: &Watching| who.caller.session == caller.session;
        let from_one = |who: &Watching| is_other(who) && who.ip == ip;
        let any = |_: &Watching| true;
        self.take(who, |taken| {
            if !caller.is_here() && !taken.room(STREAMS_OF_SESSION, of_session, any) {
                return false;
            }
            if caller.role == Role::Acts {
                return taken.room(OWN_STREAMS, is_teacher, any);
            }
            taken.room(STREAMS_FROM_ONE, from_one, any) && taken.room(STREAMS, is_other, |_| false)
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn connected(last: u8, asked: bool) -> Connected {
        Connected {
            ip: [192, 0, 2, last].into(),
            asked: Arc::new(AtomicBool::new(asked)),
        }
    }

    fn watching(role: Role, session: u64, last: u8) -> Watching {
        Watching {
            caller: Caller { role, session },
            ip: [192, 0, 2, last].into(),
        }
    }

    #[test]
    fn who_holds_connections_half_open_keeps_nobody_out() {
        let places = Places::new();
        let silent: Vec<_> = (0..400)
            .map(|_| places.connect(connected(1, false)))
            .collect();
        assert!(silent.iter().all(Option::is_some));
        assert_eq!(held(&places.0).taken.len(), CONNECTIONS_FROM_ONE);
        // Those who asked stay, and an address that has no more than such is refused; no other is.
        let asked: Vec<_> = (0..CONNECTIONS_FROM_ONE)
            .map(|_| places.connect(connected(1, true)))
            .collect();
        assert!(asked.iter().all(Option::is_some));
        assert!(places.connect(connected(1, true)).is_none());
        let _other = places.connect(connected(2, true)).unwrap();
        drop(asked);
        assert!(places.connect(connected(1, true)).is_some());
    }

    #[test]
    fn this_computer_has_places_of_its_own() {
        let places = Places::new();
        let many: Vec<_> = (0..=255_u8)
            .flat_map(|last| [places.connect(connected(last, true)), None])
            .chain((0..100).map(|_| places.connect(connected(7, true))))
            .collect();
        assert!(many.iter().flatten().count() == CONNECTIONS);
        let here = Connected {
            ip: [127, 0, 0, 1].into(),
            ..connected(0, true)
        };
        assert!(places.connect(here).is_some());
    }

    #[test]
    fn a_browser_has_a_few_streams_and_closes_the_page_to_nobody() {
        let places = Places::new();
        let pupil: Vec<_> = (0..200)
            .map(|_| places.watch(watching(Role::Looks, 1, 1)).unwrap())
            .collect();
        assert_eq!(held(&places.0).taken.len(), STREAMS_OF_SESSION);
        let others: Vec<_> = (2..=255)
            .filter_map(|n| places.watch(watching(Role::Looks, n, 1)))
            .collect();
        assert!(others.len() > 200 && held(&places.0).taken.len() == STREAMS_FROM_ONE);
        let all: Vec<_> = (0..200_u8)
            .filter_map(|n| places.watch(watching(Role::Looks, 1000 + u64::from(n), n)))
            .collect();
        assert_eq!(all.len(), STREAMS - STREAMS_FROM_ONE + 1);
        // Whoever has the teacher's code, or sits here, watches all the same.
        for session in [0, 5000] {
            assert!(places.watch(watching(Role::Acts, session, 1)).is_some());
        }
        drop((pupil, others, all));
        assert!(!places.any());
    }

    #[test]
    fn the_oldest_stream_is_told_to_end() {
        let runtime = tokio::runtime::Builder::new_current_thread()
            .build()
            .unwrap();
        let places = Places::new();
        let mut mine: Vec<_> = (0..=STREAMS_OF_SESSION)
            .map(|_| places.watch(watching(Role::Looks, 1, 1)).unwrap())
            .collect();
        runtime.block_on(mine.remove(0).ended());
    }
}
