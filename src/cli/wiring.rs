//! Which port's bytes belong to which bench, also after boards were swapped between ports.
//!
//! A board that states an id is known by it. When a port comes back, what it says is recorded as of
//! an unknown owner, in the run to which the port belonged last, until the board has said who it is
//! (or for [`HOLD`]); then that run claims it. If it is a board of another bench of this session, and
//! that one's own port is away, the two ports change places, and the samples stay with their boards:
//! what was held is recorded again where it belongs. An id that is there twice is said aloud and
//! never guessed at: then each port stays where it was, and the run flags what another board says.

use std::time::Duration;

use tokio::time::Instant;

use super::bench::Bench;
use super::view::View;
use crate::port::{PortEvent, What};
use crate::run::{Greeting, News, Recorder};

/// Longest wait for a board to say who it is after its port came back.
const HOLD: Duration = Duration::from_secs(5);

/// A port's place: the bench, and the board of that bench.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Place {
    pub(super) bench: usize,
    pub(super) port: u16,
}

/// One port.
struct Wire {
    place: Place,
    /// It is lost, or came back and nobody knows yet who speaks.
    away: bool,
    held: Option<Held>,
}

/// What is held for a port; all of it is recorded in the run that the port belongs to.
struct Held {
    greeting: Greeting,
    until: Instant,
    /// Time of the latest of it.
    last_ns: i64,
}

/// What a bench is told of one of its ports.
pub(super) enum Word {
    /// Its board said this, or its port came or went.
    Said(What),
    /// Nobody knows yet whose this is.
    Held(What),
    /// All that was held is this bench's.
    Claimed,
    /// All that was held is another's: that of the board of this id, where it is known.
    Moved(String),
}

impl Word {
    /// Whether a board said something, whichever.
    pub(super) fn is_speech(&self) -> bool {
        matches!(
            self,
            Self::Said(What::Bytes(_)) | Self::Held(What::Bytes(_))
        )
    }

    /// Puts it into the run.
    pub(super) fn record(
        &self,
        recorder: &mut Recorder,
        t_ns: i64,
        port: u16,
        news: &mut Vec<News>,
    ) {
        match self {
            Self::Said(what) => recorder.port(t_ns, port, what, news),
            Self::Held(what) => recorder.hold(t_ns, port, what, news),
            Self::Claimed => recorder.claim(t_ns, port, news),
            Self::Moved(id) => recorder.moved(t_ns, port, id, news),
        }
    }
}

/// What a bench is told, when, and which one.
pub(super) type Sorted = (Place, i64, Word);

/// The ports in the order in which they were started.
#[derive(Default)]
pub(super) struct Wiring {
    wires: Vec<Wire>,
    /// Ids that several boards state, which people were told of.
    twins: Vec<String>,
}

impl Wiring {
    /// Number of benches that have a port.
    pub(super) fn benches(&self) -> usize {
        let benches = self.wires.iter().map(|wire| wire.place.bench + 1);
        benches.max().unwrap_or(0)
    }

    pub(super) fn add(&mut self, place: Place) -> usize {
        self.wires.push(Wire {
            place,
            away: false,
            held: None,
        });
        self.wires.len() - 1
    }

    /// Sorts an event; `view` is told when a board moved.
    pub(super) fn sort(
        &mut self,
        event: PortEvent,
        benches: &mut [Bench],
        view: &mut View,
    ) -> Vec<Sorted> {
        let several = self.wires.len() > 1;
        let index = event.bench;
        let Some(wire) = self.wires.get_mut(index) else {
            return Vec::new();
        };
        let place = wire.place;
        match &event.what {
            What::Lost(_) => wire.away = true,
            What::Opened(_) => {
                wire.away = false;
                if several && wire.held.is_none() {
                    wire.held = hold(benches.get(place.bench), place);
                }
            }
            _ => {}
        }
        let (Some(held), Some(copy)) = (&mut wire.held, event.what.copy()) else {
            return vec![(place, event.t_ns, Word::Said(event.what))];
        };
        held.last_ns = event.t_ns;
        // It listens for a name alone; whether a run could begin on this board is no question here.
        let _ = held.greeting.port(event.t_ns, event.what);
        let known = held.greeting.sampler().hello().is_some();
        let mut sorted = vec![(place, event.t_ns, Word::Held(copy))];
        if known {
            sorted.extend(self.decide(index, benches, view, false));
        }
        sorted
    }

    /// Lets go of what was held for too long, and asks those for their name that have not said it.
    pub(super) fn tick(&mut self, benches: &mut [Bench], view: &mut View) -> Vec<Sorted> {
        self.look_for_twins(benches, view);
        let now = Instant::now();
        let mut sorted = Vec::new();
        for index in 0..self.wires.len() {
            let Some(Wire { place, held, .. }) = self.wires.get(index) else {
                continue;
            };
            let Some(held) = held else { continue };
            if now >= held.until {
                sorted.extend(self.decide(index, benches, view, true));
            } else if held.greeting.sampler().hello().is_none()
                && let Some(bench) = benches.get(place.bench)
                && let Some(source) = bench.sources.get(usize::from(place.port))
            {
                source.send(crate::wire::request_hello());
            }
        }
        sorted
    }

    /// A bench's run ends: what is held for it is in its journal, and nobody will say whose it is.
    pub(super) fn let_go(&mut self, bench: usize) {
        let wires = self.wires.iter_mut();
        for wire in wires.filter(|wire| wire.place.bench == bench) {
            wire.held = None;
        }
    }

    /// Tells once of each id that several boards state.
    fn look_for_twins(&mut self, benches: &[Bench], view: &mut View) {
        let ids: Vec<&str> = benches
            .iter()
            .filter(|bench| !bench.is_virtual)
            .flat_map(|bench| bench.ids.iter().flatten())
            .map(String::as_str)
            .collect();
        for (n, &id) in ids.iter().enumerate() {
            let before = ids.iter().take(n);
            if before.copied().any(|other| other == id) && !self.twins.iter().any(|t| t == id) {
                view.ambiguous(id);
                self.twins.push(id.to_owned());
            }
        }
    }

    fn decide(
        &mut self,
        index: usize,
        benches: &mut [Bench],
        view: &mut View,
        last: bool,
    ) -> Vec<Sorted> {
        let id_at = |place: Place| {
            let ids = benches.get(place.bench).map(|bench| &bench.ids);
            ids.and_then(|ids| ids.get(usize::from(place.port))?.as_deref())
        };
        let Some(wire) = self.wires.get(index) else {
            return Vec::new();
        };
        let hello = wire
            .held
            .as_ref()
            .and_then(|h| h.greeting.sampler().hello());
        let Some(id) = hello.map(|h| h.board_id.clone()) else {
            return self.release(index);
        };
        if id_at(wire.place) == Some(id.as_str()) {
            return self.release(index);
        }
        let homes: Vec<usize> = (0..self.wires.len())
            .filter(|&other| {
                let place = self.wires.get(other).map(|wire| wire.place);
                other != index && place.and_then(id_at) == Some(id.as_str())
            })
            .collect();
        let is_free = |home: usize| {
            let wire = self.wires.get(home);
            wire.is_some_and(|wire| wire.away || wire.held.is_some())
        };
        match *homes.as_slice() {
            [home] if is_free(home) => {
                view.moved(&id);
                self.move_to(index, home, id, benches)
            }
            // Its own port may be about to be lost.
            [_] if !last => Vec::new(),
            [] => self.release(index),
            _ => {
                view.ambiguous(&id);
                self.release(index)
            }
        }
    }

    /// A board answers at the port `index` that belongs where the port `home` was: the two change
    /// places, and what was held goes along.
    fn move_to(
        &mut self,
        index: usize,
        home: usize,
        id: String,
        benches: &mut [Bench],
    ) -> Vec<Sorted> {
        self.swap(index, home, benches);
        let Ok([here, there]) = self.wires.get_disjoint_mut([index, home]) else {
            return Vec::new();
        };
        let mut sorted = Vec::new();
        // First the end of what was held in each run, then what comes in its stead.
        if let Some(held) = &there.held {
            sorted.push((here.place, held.last_ns, Word::Moved(String::new())));
        }
        let held = here.held.take();
        if let Some(held) = &held {
            sorted.push((there.place, held.last_ns, Word::Moved(id)));
        }
        if let Some(held) = &there.held {
            let again = held.greeting.held().iter();
            let again = again.filter_map(|(t_ns, what)| Some((*t_ns, what.copy()?)));
            sorted.extend(again.map(|(t_ns, what)| (there.place, t_ns, Word::Held(what))));
        }
        let known = held.map(|held| held.greeting.into_held());
        let known = known.into_iter().flatten();
        sorted.extend(known.map(|(t_ns, what)| (here.place, t_ns, Word::Said(what))));
        sorted
    }

    /// Two ports change places.
    fn swap(&mut self, a: usize, b: usize, benches: &mut [Bench]) {
        let place = |index: usize| self.wires.get(index).map(|wire| wire.place);
        let (Some(place_a), Some(place_b)) = (place(a), place(b)) else {
            return;
        };
        if place_a.bench == place_b.bench {
            if let Some(bench) = benches.get_mut(place_a.bench) {
                let (a, b) = (usize::from(place_a.port), usize::from(place_b.port));
                bench.sources.swap(a, b);
            }
        } else if let Ok([x, y]) = benches.get_disjoint_mut([place_a.bench, place_b.bench])
            && let Some(x) = x.sources.get_mut(usize::from(place_a.port))
            && let Some(y) = y.sources.get_mut(usize::from(place_b.port))
        {
            std::mem::swap(x, y);
        }
        if let Ok([x, y]) = self.wires.get_disjoint_mut([a, b]) {
            std::mem::swap(&mut x.place, &mut y.place);
        }
    }

    /// What is held belongs where its port is.
    fn release(&mut self, index: usize) -> Vec<Sorted> {
        let wire = self.wires.get_mut(index);
        let claimed = wire.and_then(|wire| {
            let held = wire.held.take()?;
            Some((wire.place, held.last_ns, Word::Claimed))
        });
        claimed.into_iter().collect()
    }
}

/// A hold on a port that came back, where its board is known by its id and logged.
fn hold(bench: Option<&Bench>, place: Place) -> Option<Held> {
    let bench = bench?;
    let known = bench.ids.get(usize::from(place.port))?.is_some();
    (known && bench.is_logging() && !bench.is_virtual).then(|| {
        let mut setup = bench.setup.sampler.clone();
        setup.samples.clear();
        Held {
            greeting: Greeting::new(&setup),
            until: Instant::now() + HOLD,
            last_ns: 0,
        }
    })
}
