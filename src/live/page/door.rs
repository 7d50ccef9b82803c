//! Who may look, and who may act.
//!
//! On loopback, whoever sits at the computer is the teacher. In the room (`--share`), viewers give
//! a code once and get a cookie; there is one code for those who look and one for those who act.
//! A page elsewhere in the same browser can neither read (the `Host` must be this computer by
//! number or its own name, which stops names that are bound anew to it) nor act (a request that
//! changes something must come from this page, by its `Origin`).

use std::collections::HashMap;
use std::net::{IpAddr, SocketAddr};
use std::sync::Mutex;
use std::time::{Duration, Instant};

use axum::http::{HeaderMap, header};

use super::hall::held;

/// Letters and digits that are not taken for each other when read aloud or off a wall.
const LETTERS: &[u8; 32] = b"ABCDEFGHJKLMNPQRSTUVWXYZ23456789";

/// Letters of the code for those who look: 32⁶, some 10⁹.
const JOIN_LETTERS: usize = 6;

/// Letters of the code for those who act: 32¹².
const ACT_LETTERS: usize = 12;

/// Tries at a code: so many from one address in a minute, and ten times as many from all.
const TRIES: u32 = 8;
/// Predictions, likewise.
const PREDICTIONS: u32 = 30;
const MINUTE: Duration = Duration::from_secs(60);

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
    /// Too many tries.
    TooMany,
}

/// What is counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
enum Try {
    Code,
    Prediction,
}

/// Whose tries: those from one address, or all.
type Who = (Try, Option<IpAddr>);

/// Lets people in.
#[derive(Debug)]
pub(super) struct Door {
    /// The codes; none where the page is for this computer alone.
    codes: Option<Codes>,
    /// This computer's names.
    names: Vec<String>,
    cookies: Mutex<Cookies>,
    tries: Mutex<HashMap<Who, (Instant, u32)>>,
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
    roles: HashMap<String, (u64, Role)>,
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
            tries: Mutex::default(),
        }
    }

    /// The codes, if there are any.
    pub(super) fn codes(&self) -> Option<&Codes> {
        self.codes.as_ref()
    }

    /// What the sender of a request may do.
    pub(super) fn role(&self, headers: &HeaderMap, peer: SocketAddr) -> Result<Role, Refusal> {
        self.check_host(headers)?;
        if peer.ip().to_canonical().is_loopback() {
            return Ok(Role::Acts);
        }
        let cookies = held(&self.cookies);
        let role = cookie(headers).and_then(|text| cookies.roles.get(text));
        role.map(|(_, role)| *role).ok_or(Refusal::Code)
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

    /// Takes a code; gives the cookie's text.
    pub(super) fn join(&self, code: &str, peer: IpAddr) -> Result<String, Refusal> {
        self.count_try((Try::Code, Some(peer)), TRIES)?;
        self.count_try((Try::Code, None), 10 * TRIES)?;
        let codes = self.codes.as_ref().ok_or(Refusal::WrongCode)?;
        let given: String = code.chars().filter(char::is_ascii_alphanumeric).collect();
        let given = given.to_ascii_uppercase();
        let role = if same(&given, &codes.act) {
            Role::Acts
        } else if same(&given, &codes.join) {
            Role::Looks
        } else {
            return Err(Refusal::WrongCode);
        };
        let text = letters(26).map_err(|_| Refusal::WrongCode)?;
        let mut cookies = held(&self.cookies);
        cookies.given += 1;
        let number = cookies.given;
        if cookies.roles.len() >= MOST {
            let oldest = cookies.roles.iter().min_by_key(|(_, (n, _))| *n);
            if let Some(oldest) = oldest.map(|(text, _)| text.clone()) {
                cookies.roles.remove(&oldest);
            }
        }
        cookies.roles.insert(text.clone(), (number, role));
        Ok(format!(
            "{COOKIE}={text}; HttpOnly; SameSite=Strict; Path=/; Max-Age=43200"
        ))
    }

    /// Whether a prediction may come from there now: a class has twenty groups, and one computer may
    /// speak for all of them.
    pub(super) fn count_prediction(&self, peer: IpAddr) -> Result<(), Refusal> {
        self.count_try((Try::Prediction, Some(peer)), PREDICTIONS)?;
        self.count_try((Try::Prediction, None), 10 * PREDICTIONS)
    }

    fn count_try(&self, who: Who, most: u32) -> Result<(), Refusal> {
        let mut tries = held(&self.tries);
        tries.retain(|_, (since, _)| since.elapsed() < MINUTE);
        let (_, n) = tries.entry(who).or_insert_with(|| (Instant::now(), 0));
        *n += 1;
        if *n > most {
            Err(Refusal::TooMany)
        } else {
            Ok(())
        }
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

#[cfg(test)]
mod tests {
    use super::*;

    fn headers(pairs: &[(header::HeaderName, &str)]) -> HeaderMap {
        pairs
            .iter()
            .map(|(n, v)| (n.clone(), v.parse().unwrap()))
            .collect()
    }

    fn shared() -> Door {
        let codes = Codes {
            join: "ABCDEF".into(),
            act: "ABCDEFGHJKLM".into(),
        };
        Door::new(Some(codes), vec!["lab-3".into()])
    }

    const NEAR: ([u8; 4], u16) = ([127, 0, 0, 1], 5000);
    const FAR: ([u8; 4], u16) = ([192, 0, 2, 7], 5000);

    #[test]
    fn only_this_computer_s_own_names_are_answered() {
        let door = shared();
        for (host, well) in [
            ("127.0.0.1:8000", true),
            ("localhost", true),
            ("[::1]:8000", true),
            ("LAB-3:8000", true),
            ("192.0.2.1:8000", true),
            ("example.org", false),
            ("127.0.0.1.example.org", false),
            ("", false),
        ] {
            let got = door.role(&headers(&[(header::HOST, host)]), NEAR.into());
            assert_eq!(got.is_ok(), well, "{host}");
        }
        assert_eq!(
            door.role(&HeaderMap::new(), NEAR.into()),
            Err(Refusal::Host)
        );
    }

    #[test]
    fn another_page_cannot_act() {
        let host = (header::HOST, "127.0.0.1:8000");
        let from = |origin: &'static str| {
            Door::check_origin(&headers(&[host.clone(), (header::ORIGIN, origin)]))
        };
        assert_eq!(from("http://127.0.0.1:8000"), Ok(()));
        for other in ["http://example.org", "http://127.0.0.1:9000", "null", ""] {
            assert_eq!(from(other), Err(Refusal::Origin), "{other}");
        }
        assert_eq!(
            Door::check_origin(&headers(std::slice::from_ref(&host))),
            Err(Refusal::Origin)
        );
    }

    #[test]
    fn codes_let_in_and_say_what_one_may_do() {
        let door = shared();
        let host = (header::HOST, "192.0.2.1:8000");
        assert_eq!(
            door.role(&headers(std::slice::from_ref(&host)), FAR.into()),
            Err(Refusal::Code)
        );
        let peer: IpAddr = FAR.0.into();
        for (code, role) in [("abc def", Role::Looks), ("ABCDEF-GHJKLM", Role::Acts)] {
            let set = door.join(code, peer).unwrap();
            let text = set.split(';').next().unwrap().to_owned();
            let got = door.role(
                &headers(&[host.clone(), (header::COOKIE, &text)]),
                FAR.into(),
            );
            assert_eq!(got, Ok(role));
        }
        assert_eq!(door.join("ABCDEX", peer), Err(Refusal::WrongCode));
    }

    #[test]
    fn guessing_is_slow() {
        let door = shared();
        let peer: IpAddr = FAR.0.into();
        let tries: Vec<_> = (0..20).map(|_| door.join("WRONG", peer)).collect();
        assert!(tries.contains(&Err(Refusal::TooMany)));
        // The right code from there does not help now, from elsewhere it does.
        assert_eq!(door.join("ABCDEF", peer), Err(Refusal::TooMany));
        assert!(door.join("ABCDEF", [192, 0, 2, 8].into()).is_ok());
    }

    #[test]
    fn codes_are_of_letters_that_can_be_told_apart() {
        let codes = Codes::draw().unwrap();
        assert_eq!((codes.join.len(), codes.act.len()), (6, 12));
        let others = Codes::draw().unwrap();
        assert!(codes.act != others.act && codes.act.bytes().all(|b| LETTERS.contains(&b)));
    }
}
