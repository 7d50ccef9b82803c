//! Which port's bytes belong to which bench, also after boards were swapped between ports.
//!
//! A board that states an id is known by it. When a port comes back, what it says is held until
//! the board has said who it is (or for [`HOLD`]); if it is a board of another bench of this
//! session, and that one's own port is away, the two ports change places, and the samples stay
//! with their boards. An id that is there twice is said aloud and never guessed at: then each port
//! stays where it was, and the run flags what another board says.

use std::time::Duration;

use tokio::time::Instant;

use super::bench::Bench;
use super::view::View;
use crate::port::{PortEvent, What};
use crate::run::Greeting;

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

struct Held {
    greeting: Greeting,
    until: Instant,
}

/// What is known now to belong to a place.
pub(super) type Sorted = (Place, i64, What);

/// The ports in the order in which they were started.
#[derive(Default)]
pub(super) struct Wiring {
    wires: Vec<Wire>,
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
        let Some(held) = &mut wire.held else {
            return vec![(place, event.t_ns, event.what)];
        };
        // Only what ends a greeting could fail here, and that a port in use does not say.
        let _ = held.greeting.port(event.t_ns, event.what);
        if held.greeting.sampler().hello().is_some() {
            return self.decide(index, benches, view, false);
        }
        Vec::new()
    }

    /// Lets go of what was held for too long, and asks those for their name that have not said it.
    pub(super) fn tick(&mut self, benches: &mut [Bench], view: &mut View) -> Vec<Sorted> {
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

    /// A bench's run ends: what is held goes where its port was.
    pub(super) fn let_go(&mut self, bench: usize) -> Vec<Sorted> {
        let mut sorted = Vec::new();
        for index in 0..self.wires.len() {
            let place = self.wires.get(index).map(|wire| wire.place);
            if place.is_some_and(|place| place.bench == bench) {
                sorted.extend(self.release(index));
            }
        }
        sorted
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
                self.swap(index, home, benches);
                view.moved(&id);
                self.release(index)
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

    fn release(&mut self, index: usize) -> Vec<Sorted> {
        let Some(wire) = self.wires.get_mut(index) else {
            return Vec::new();
        };
        let place = wire.place;
        let held = wire.held.take().map(|held| held.greeting.into_held());
        held.into_iter()
            .flatten()
            .map(|(t_ns, what)| (place, t_ns, what))
            .collect()
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
        }
    })
}
