//! Who may look, and who may act.
//!
//! On loopback, whoever sits at the computer is the teacher. In the room (`--share`), viewers give
//! a code once and get a cookie; there is one code for those who look and one for those who act.
//! A page elsewhere in the same browser can neither read (the `Host` must be this computer by
//! number or its own name, which stops names that are bound anew to it) nor act (a request that
//! changes something must come from this page, by its `Origin`).
//!
//! Codes are not to be guessed, and whoever has the right one is not to be kept out by those who guess.
//! So wrong codes do not close the door, they make it slow: after eight at once from an address, each
//! one from there, right or wrong, waits for its turn, one in 7.5 s, before anybody looks at it. What
//! comes while four wait is sent away unread. A right code thus tells a guesser nothing sooner than a
//! wrong one would; and as it gives its turn back, a class that shares an address joins at once. All
//! addresses together have ten times as many turns: 4800 in an hour, of some 10⁹ codes. Only ten
//! addresses that guess at once can thus make others wait, and then for half a minute. The teacher's
//! code needs no turn: of 10¹⁸ nobody hits one, however fast this program answers, and no wrong code
//! keeps the teacher out. Nor does this computer's own address, which needs no code at all.

#[cfg(test)]
mod tests;

use std::collections::HashMap;
use std::net::{IpAddr, SocketAddr};
use std::sync::Mutex;
use std::time::{Duration, Instant};

use axum::http::{HeaderMap, header};

use super::hall::held;
use super::pace::Pace;

/// Letters and digits that are not taken for each other when read aloud or off a wall.
const LETTERS: &[u8; 32] = b"ABCDEFGHJKLMNPQRSTUVWXYZ23456789";

/// Letters of the code for those who look: 32⁶, some 10⁹.
const JOIN_LETTERS: usize = 6;

/// Letters of the code for those who act: 32¹².
const ACT_LETTERS: usize = 12;

/// Wrong codes: so many from one address at once, and in each minute after.
const TRIES: u32 = 8;
/// A code waits for its turn for so long at most.
const LONGEST_WAIT: Duration = Duration::from_secs(30);
/// Predictions, likewise, and none waits.
const PREDICTIONS: u32 = 30;

/// Viewers that are remembered at most; the oldest are forgotten and join again.
const MOST: usize = 1000;

/// The cookie's name.
const COOKIE: &str = "duskmark";

/// What someone may do.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Role {
    /// Look, and download.
    Looks,
    /// Also act.
    Acts,
}

/// Who asks for something.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Caller {
    pub(super) role: Role,
    /// The browser, by its cookie; 0 at this computer.
    pub(super) session: u64,
}

impl Caller {
    /// Whoever sits at this computer.
    const HERE: Self = Self {
        role: Role::Acts,
        session: 0,
    };

    /// Whether it is this computer.
    pub(super) fn is_here(self) -> bool {
        self.session == Self::HERE.session
    }
}

/// Why someone is not let in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Refusal {
    /// The `Host` is not this computer.
    Host,
    /// The request comes from another page.
    Origin,
    /// The code has to be given first.
    Code,
    /// That is not the code.
    WrongCode,
    /// Too many wait for their turn.
    TooMany,
}

/// Lets people in.
#[derive(Debug)]
pub(super) struct Door {
    /// The codes; none where the page is for this computer alone.
    codes: Option<Codes>,
    /// This computer's names.
    names: Vec<String>,
    cookies: Mutex<Cookies>,
    tries: Pace,
    predictions: Pace,
}

/// What lets people in.
#[derive(Debug, Clone)]
pub(super) struct Codes {
    /// Those who look.
    pub(super) join: String,
    /// Those who act.
    pub(super) act: String,
}

#[derive(Debug, Default)]
struct Cookies {
    callers: HashMap<String, Caller>,
    given: u64,
}

impl Codes {
    /// New ones, by the system's random numbers.
    ///
    /// # Errors
    /// If the system has none.
    pub(super) fn draw() -> Result<Self, getrandom::Error> {
        Ok(Self {
            join: letters(JOIN_LETTERS)?,
            act: letters(ACT_LETTERS)?,
        })
    }
}

fn letters(n: usize) -> Result<String, getrandom::Error> {
    let mut bytes = vec![0_u8; n];
    getrandom::fill(&mut bytes)?;
    // 32 divides 256: every letter is as likely.
    let letter = |b: &u8| LETTERS.get(usize::from(b % 32)).copied().unwrap_or(b'A');
    Ok(bytes.iter().map(|b| char::from(letter(b))).collect())
}

impl Door {
    /// For this computer alone, or with codes. `names` are the computer's own.
    pub(super) fn new(codes: Option<Codes>, names: Vec<String>) -> Self {
        Self {
            codes,
            names,
            cookies: Mutex::default(),
            tries: Pace::new(TRIES),
            predictions: Pace::new(PREDICTIONS),
        }
    }

    /// The codes, if there are any.
    pub(super) fn codes(&self) -> Option<&Codes> {
        self.codes.as_ref()
    }

    /// Who sends a request, and what that one may do.
    pub(super) fn caller(&self, headers: &HeaderMap, peer: SocketAddr) -> Result<Caller, Refusal> {
        self.check_host(headers)?;
        if peer.ip().to_canonical().is_loopback() {
            return Ok(Caller::HERE);
        }
        let cookies = held(&self.cookies);
        let known = cookie(headers).and_then(|text| cookies.callers.get(text));
        known.copied().ok_or(Refusal::Code)
    }

    /// Whether a request that changes something comes from this page.
    pub(super) fn check_origin(headers: &HeaderMap) -> Result<(), Refusal> {
        let text = |name| {
            headers
                .get(name)
                .and_then(|v: &header::HeaderValue| v.to_str().ok())
        };
        let host = text(header::HOST).ok_or(Refusal::Host)?;
        let origin = text(header::ORIGIN).ok_or(Refusal::Origin)?;
        let same = origin
            .split_once("://")
            .is_some_and(|(_, o)| o.eq_ignore_ascii_case(host));
        same.then_some(()).ok_or(Refusal::Origin)
    }

    /// Whether the request was meant for this computer.
    pub(super) fn check_host(&self, headers: &HeaderMap) -> Result<(), Refusal> {
        let host = headers.get(header::HOST).and_then(|v| v.to_str().ok());
        let host = host.ok_or(Refusal::Host)?;
        let name = match host.strip_prefix('[') {
            Some(six) => six.split(']').next().unwrap_or_default(),
            None => host.split(':').next().unwrap_or_default(),
        };
        let own = name.parse::<IpAddr>().is_ok()
            || name.eq_ignore_ascii_case("localhost")
            || self.names.iter().any(|own| own.eq_ignore_ascii_case(name));
        own.then_some(()).ok_or(Refusal::Host)
    }

    /// Takes a code, when its turn comes; gives the cookie's text.
    pub(super) async fn join(&self, code: &str, peer: IpAddr) -> Result<String, Refusal> {
        let given: String = code.chars().filter(char::is_ascii_alphanumeric).collect();
        let given = given.to_ascii_uppercase();
        let wait = self.turn(&given, peer, Instant::now())?;
        tokio::time::sleep(wait).await;
        self.look_at(&given, peer)
    }

    /// How long a code waits for its turn; an error where too many wait already.
    fn turn(&self, given: &str, peer: IpAddr, now: Instant) -> Result<Duration, Refusal> {
        if self.needs_no_turn(given, peer) {
            return Ok(Duration::ZERO);
        }
        let turn = self.tries.turn(peer, now, LONGEST_WAIT);
        turn.ok_or(Refusal::TooMany)
    }

    fn needs_no_turn(&self, given: &str, peer: IpAddr) -> bool {
        let act = |codes: &Codes| same(given, &codes.act);
        peer.is_loopback() || self.codes.as_ref().is_some_and(act)
    }

    /// Looks at a code whose turn it is.
    fn look_at(&self, given: &str, peer: IpAddr) -> Result<String, Refusal> {
        let codes = self.codes.as_ref().ok_or(Refusal::WrongCode)?;
        let role = if same(given, &codes.act) {
            Role::Acts
        } else if same(given, &codes.join) {
            Role::Looks
        } else {
            return Err(Refusal::WrongCode);
        };
        if !self.needs_no_turn(given, peer) {
            self.tries.give_back(peer);
        }
        let text = letters(26).map_err(|_| Refusal::WrongCode)?;
        let mut cookies = held(&self.cookies);
        cookies.given += 1;
        let session = cookies.given;
        if cookies.callers.len() >= MOST {
            let oldest = cookies.callers.iter().min_by_key(|(_, c)| c.session);
            if let Some(oldest) = oldest.map(|(text, _)| text.clone()) {
                cookies.callers.remove(&oldest);
            }
        }
        let caller = Caller { role, session };
        cookies.callers.insert(text.clone(), caller);
        Ok(format!(
            "{COOKIE}={text}; HttpOnly; SameSite=Strict; Path=/; Max-Age=43200"
        ))
    }

    /// Whether a prediction may come from there now: a class has twenty groups, and one computer may
    /// speak for all of them.
    pub(super) fn count_prediction(&self, peer: IpAddr) -> Result<(), Refusal> {
        let turn = self.predictions.turn(peer, Instant::now(), Duration::ZERO);
        turn.map(|_| ()).ok_or(Refusal::TooMany)
    }
}

/// Whether two codes are the same, in a time that does not tell how far they agree.
fn same(a: &str, b: &str) -> bool {
    let differ = a
        .bytes()
        .zip(b.bytes())
        .fold(0, |all, (x, y)| all | (x ^ y));
    a.len() == b.len() && differ == 0
}

fn cookie(headers: &HeaderMap) -> Option<&str> {
    let all = headers.get(header::COOKIE)?.to_str().ok()?;
    let mut pairs = all
        .split(';')
        .filter_map(|pair| pair.trim().split_once('='));
    pairs
        .find(|(name, _)| *name == COOKIE)
        .map(|(_, text)| text)
}
