//! Sends what the runs hold, connection after connection.

use std::collections::VecDeque;
use std::pin::pin;
use std::time::Duration;

use rumqttc::v5::ConnectionError;
use tokio::time::{Instant, interval, sleep, timeout};

use super::feed::{Feed, Message};
use super::hold::{client_name, lock};
use super::link::{Link, Told, size};
use super::trouble::{Trouble, not_taken};
use super::window::Window;
use super::{MqttError, MqttSetup, Notice, Tally};
use crate::follow::Step;

/// How often files are looked at.
const GLANCE: Duration = Duration::from_millis(25);

/// How often it is kept what was acknowledged: so much comes twice after a kill at most.
const KEEP_EVERY: Duration = Duration::from_secs(1);

/// The first wait for a broker that is away; each further one is twice as long, up to the longest.
const FIRST_WAIT: Duration = Duration::from_millis(250);
const LONGEST_WAIT: Duration = Duration::from_secs(10);

/// Tries to reach a broker, where there is no time to wait for it.
const TRIES_ONCE: u32 = 4;

/// After so many connections without an acknowledgement a long message is to blame.
const BARREN: u32 = 3;

/// Acknowledgements are waited for so long at the end.
const PATIENCE: Duration = Duration::from_secs(10);

/// Sends what the runs hold until they are over (of a folder: until `stop`), and gives what was
/// acknowledged.
///
/// # Errors
/// [`MqttError`]; what was acknowledged until then is kept, and the rest waits in the files.
pub async fn send(
    setup: &MqttSetup,
    stop: impl Future<Output = ()>,
    mut tell: impl FnMut(Notice),
) -> Result<Tally, MqttError> {
    let mut sender = Sender::new(setup);
    let result = sender.run(stop, &mut tell).await;
    sender.feed.keep(&mut tell);
    result.map(|()| sender.tally)
}

/// How a connection ended that nobody is to blame for.
enum Over {
    /// All is acknowledged, or it is time to go.
    Done,
    /// It broke, or could not be made.
    Away(String),
}

struct Sender<'a> {
    setup: &'a MqttSetup,
    client: String,
    feed: Feed,
    window: Window,
    /// To be sent before what the feed has.
    first: VecDeque<Message>,
    /// The broker takes no longer message.
    limit: Option<usize>,
    connected: bool,
    tally: Tally,
    kept: Instant,
    unread: bool,
    /// Connections in a row that broke without an acknowledgement.
    barren: u32,
}

impl<'a> Sender<'a> {
    fn new(setup: &'a MqttSetup) -> Self {
        let client = client_name(setup);
        Self {
            feed: Feed::new(setup, &client),
            setup,
            client,
            window: Window::default(),
            first: VecDeque::new(),
            limit: None,
            connected: false,
            tally: Tally::default(),
            kept: Instant::now(),
            unread: false,
            barren: 0,
        }
    }

    async fn run(
        &mut self,
        stop: impl Future<Output = ()>,
        tell: &mut impl FnMut(Notice),
    ) -> Result<(), MqttError> {
        // A folder that is not there is told of at once.
        self.look(tell)?;
        let _lock = lock(self.setup, &self.client)?;
        let mut stop = pin!(stop);
        let mut tries = 0;
        loop {
            let was = self.tally.connections;
            let why = match self.connection(stop.as_mut(), tell).await? {
                Over::Done => return Ok(()),
                Over::Away(why) => why,
            };
            tries = if self.tally.connections == was {
                tries + 1
            } else {
                1
            };
            if self.setup.once && tries >= TRIES_ONCE {
                let broker = self.setup.broker();
                return Err(MqttError::Away { broker, why });
            }
            let doubled = FIRST_WAIT.saturating_mul(1 << (tries - 1).min(16));
            let again_in = doubled.min(LONGEST_WAIT);
            tell(Notice::Away { why, again_in });
            tokio::select! {
                () = stop.as_mut() => return Ok(()),
                () = sleep(again_in) => {}
            }
        }
    }

    /// From connecting until it breaks or all is done.
    async fn connection(
        &mut self,
        mut stop: std::pin::Pin<&mut impl Future<Output = ()>>,
        tell: &mut impl FnMut(Notice),
    ) -> Result<Over, MqttError> {
        let mut link = Link::open(self.setup, &self.client);
        let mut tick = interval(GLANCE);
        let mut until: Option<Instant> = None;
        self.connected = false;
        loop {
            tokio::select! {
                biased;
                () = stop.as_mut(), if until.is_none() => until = Some(Instant::now() + PATIENCE),
                told = link.next() => {
                    if let Some(why) = self.told(told, tell)? {
                        self.broken();
                        self.suspect(tell)?;
                        // Whoever wants to go does not wait for the next connection.
                        return Ok(if until.is_some() { Over::Done } else { Over::Away(why) });
                    }
                }
                _ = tick.tick() => self.look(tell)?,
            }
            if self.connected {
                // What waits in the files for hours is not waited for once more.
                let backlog = self.feed.has_more();
                // With the end in sight nothing more is begun.
                self.fill(&link, until.is_some(), tell)?;
                if backlog && !self.feed.has_more() {
                    self.look(tell)?;
                }
            }
            let through = self.setup.once && self.feed.is_dry() || self.feed.is_over();
            let through = through && self.connected && self.first.is_empty();
            if (through || until.is_some()) && self.window.is_empty()
                || until.is_some_and(|until| until <= Instant::now())
            {
                self.part(&mut link, tell).await;
                return Ok(Over::Done);
            }
        }
    }

    /// Reads on in the files, and keeps what was acknowledged from time to time.
    fn look(&mut self, tell: &mut impl FnMut(Notice)) -> Result<(), MqttError> {
        if let Err((path, source)) = self.feed.look() {
            if self.tally.connections == 0 {
                return Err(MqttError::Read { path, source });
            }
            // A share that is away for a moment, say.
            if !std::mem::replace(&mut self.unread, true) {
                let why = source.to_string();
                tell(Notice::NotRead { path, why });
            }
        } else {
            self.unread = false;
        }
        if self.kept.elapsed() >= KEEP_EVERY {
            self.kept = Instant::now();
            self.feed.keep(tell);
        }
        Ok(())
    }

    /// Takes up what happened on the connection; why it broke, if it did.
    fn told(
        &mut self,
        told: Told,
        tell: &mut impl FnMut(Notice),
    ) -> Result<Option<String>, MqttError> {
        match told {
            Told::Connected(limit) => {
                self.connected = true;
                self.limit = limit.map(|bytes| bytes as usize);
                self.tally.connections += 1;
                tell(Notice::Connected);
                let here = Feed::link(&self.setup.root(), &self.client, "connected");
                self.first.push_front(here);
            }
            Told::Sent(packet) => self.window.sent(packet),
            Told::Acknowledged(packet, Ok(())) => {
                self.barren = 0;
                for message in self.window.acknowledged(packet) {
                    self.count(&message);
                }
            }
            Told::Acknowledged(packet, Err(reason)) => {
                let message = self.window.message(packet);
                let topic = message.map_or_else(String::new, |m| m.topic.clone());
                return Err(not_taken(self.setup.broker(), topic, reason));
            }
            Told::Parted => {}
            Told::Lost(error) => return self.lost(error, tell).map(Some),
        }
        Ok(None)
    }

    fn count(&mut self, message: &Message) {
        let Some((run, step)) = &message.step else {
            return;
        };
        match step {
            Step::Begin => {}
            Step::Row(_) => self.tally.rows += 1,
            Step::Event(_) => self.tally.events += 1,
            Step::End(_) => self.tally.ends += 1,
        }
        self.feed.acknowledge(run, *step);
    }

    /// Why a connection was lost that is to be made again.
    fn lost(
        &mut self,
        error: ConnectionError,
        tell: &mut impl FnMut(Notice),
    ) -> Result<String, MqttError> {
        let broker = self.setup.broker();
        match Trouble::of(error) {
            Trouble::Passing(why) => Ok(why),
            Trouble::TooLarge => self.too_large(tell),
            Trouble::Login(code) => Err(MqttError::Login { broker, code }),
            Trouble::Refused(code) => Err(MqttError::Refused { broker, code }),
            Trouble::TakenOver => Err(MqttError::TakenOver {
                broker,
                client: self.client.clone(),
            }),
        }
    }

    /// The broker did not take a message for its size: the largest on its way.
    fn too_large(&mut self, tell: &mut impl FnMut(Notice)) -> Result<String, MqttError> {
        let broker = self.setup.broker();
        if let Some(message) = self.window.largest_mut() {
            shorten(message, &broker, &mut self.tally, tell)?;
        }
        Ok("a message was larger than the broker takes".to_owned())
    }

    /// Some brokers hang up on a message that is too large and do not say why: then the same happens
    /// again and again, and nothing is acknowledged in between.
    fn suspect(&mut self, tell: &mut impl FnMut(Notice)) -> Result<(), MqttError> {
        self.barren += u32::from(self.connected);
        let largest = self.first.iter_mut().max_by_key(|message| size(message));
        let long = largest.filter(|message| message.brief.is_some());
        if self.barren >= BARREN
            && let Some(message) = long
        {
            self.barren = 0;
            shorten(message, &self.setup.broker(), &mut self.tally, tell)?;
        }
        Ok(())
    }

    /// What was on its way goes first on the next connection.
    fn broken(&mut self) {
        let (left, sent) = self.window.take();
        self.tally.again += sent;
        // Whether a sender is there is told by each connection anew.
        let left = left.into_iter().chain(self.first.drain(..));
        let link = format!("/_link/{}", self.client);
        self.first = left.filter(|m| !m.topic.ends_with(&link)).collect();
    }

    /// Hands messages to the connection, as many as may be on their way.
    fn fill(
        &mut self,
        link: &Link,
        ending: bool,
        tell: &mut impl FnMut(Notice),
    ) -> Result<(), MqttError> {
        while self.window.has_room() {
            let more = || if ending { None } else { self.feed.next() };
            let Some(mut message) = self.first.pop_front().or_else(more) else {
                return Ok(());
            };
            if self.limit.is_some_and(|limit| size(&message) > limit) {
                shorten(&mut message, &self.setup.broker(), &mut self.tally, tell)?;
            }
            if !link.publish(&message) {
                self.first.push_front(message);
                return Ok(());
            }
            self.window.push(message);
        }
        Ok(())
    }

    /// Says goodbye, so that the last will is not sent.
    async fn part(&mut self, link: &mut Link, tell: &mut impl FnMut(Notice)) {
        if !self.connected {
            return;
        }
        let gone = Feed::link(&self.setup.root(), &self.client, "ended");
        if link.publish(&gone) {
            self.window.push(gone);
        }
        let farewell = async {
            let mut parting = false;
            loop {
                if self.window.is_empty() && !std::mem::replace(&mut parting, true) {
                    link.part();
                }
                match link.next().await {
                    Told::Parted | Told::Lost(_) => return,
                    told => {
                        let _ = self.told(told, tell);
                    }
                }
            }
        };
        // A broker that does not answer any more keeps nobody.
        let _ = timeout(PATIENCE, farewell).await;
    }
}

/// Leaves out what is long of a message.
fn shorten(
    message: &mut Message,
    broker: &str,
    tally: &mut Tally,
    tell: &mut impl FnMut(Notice),
) -> Result<(), MqttError> {
    let bytes = size(message);
    let (Some(brief), Some((run, _))) = (message.brief.take(), &message.step) else {
        return Err(MqttError::TooLarge {
            broker: broker.to_owned(),
            topic: message.topic.clone(),
            bytes,
        });
    };
    tally.too_large += 1;
    tell(Notice::TooLarge {
        run: run.clone(),
        bytes,
    });
    message.payload = brief;
    Ok(())
}
