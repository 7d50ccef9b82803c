//! Who is let in, and how fast codes are looked at.

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

fn join(door: &Door, code: &str, peer: IpAddr) -> Result<String, Refusal> {
    let mut runtime = tokio::runtime::Builder::new_current_thread();
    let runtime = runtime.enable_time().build().unwrap();
    runtime.block_on(door.join(code, peer))
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
        let got = door.caller(&headers(&[(header::HOST, host)]), NEAR.into());
        assert_eq!(got.is_ok(), well, "{host}");
    }
    assert_eq!(
        door.caller(&HeaderMap::new(), NEAR.into()),
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
    let mut sessions = Vec::new();
    let host = (header::HOST, "192.0.2.1:8000");
    assert_eq!(
        door.caller(&headers(std::slice::from_ref(&host)), FAR.into()),
        Err(Refusal::Code)
    );
    let peer: IpAddr = FAR.0.into();
    for (code, role) in [("abc def", Role::Looks), ("ABCDEF-GHJKLM", Role::Acts)] {
        let set = join(&door, code, peer).unwrap();
        let text = set.split(';').next().unwrap().to_owned();
        let got = door.caller(
            &headers(&[host.clone(), (header::COOKIE, &text)]),
            FAR.into(),
        );
        let got = got.unwrap();
        assert!(got.role == role && !got.is_here());
        sessions.push(got.session);
    }
    assert!(sessions[0] != sessions[1], "each browser is told apart");
    assert_eq!(join(&door, "ABCDEX", peer), Err(Refusal::WrongCode));
}

#[test]
fn guessing_is_slow_and_keeps_nobody_out() {
    let door = shared();
    let (peer, now) = (IpAddr::from(FAR.0), Instant::now());
    let wait = |code: &str, peer| door.turn(code, peer, now);
    let waits: Vec<_> = (0..20).map(|_| wait("WRONG2", peer)).collect();
    assert!(waits[..8].iter().all(|wait| *wait == Ok(Duration::ZERO)));
    let later = [7500, 15_000, 22_500, 30_000].map(|ms| Ok(Duration::from_millis(ms)));
    assert_eq!(waits[8..12], later);
    assert_eq!(waits[12..], [Err(Refusal::TooMany); 8]);
    // A right code tells no sooner that it is one than a wrong one would; from elsewhere, and with
    // the teacher's, there is no waiting.
    assert_eq!(wait("ABCDEF", peer), Err(Refusal::TooMany));
    assert_eq!(wait("ABCDEF", [192, 0, 2, 8].into()), Ok(Duration::ZERO));
    assert!(join(&door, "ABCDEF-GHJKLM", peer).is_ok());
    assert_eq!(wait("WRONG2", NEAR.0.into()), Ok(Duration::ZERO));
    // When a turn comes, the right code is let in.
    let later = now + Duration::from_secs(8);
    let turn = door.turn("ABCDEF", peer, later).unwrap();
    assert!(turn < LONGEST_WAIT && door.look_at("ABCDEF", peer).is_ok());
}

#[test]
fn a_class_that_shares_an_address_joins_at_once() {
    let door = shared();
    for _ in 0..100 {
        assert!(join(&door, "abcdef", FAR.0.into()).is_ok());
    }
}

#[test]
fn codes_are_of_letters_that_can_be_told_apart() {
    let codes = Codes::draw().unwrap();
    assert_eq!((codes.join.len(), codes.act.len()), (6, 12));
    let others = Codes::draw().unwrap();
    assert!(codes.act != others.act && codes.act.bytes().all(|b| LETTERS.contains(&b)));
}
