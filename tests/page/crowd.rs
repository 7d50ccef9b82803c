//! One who takes all that can be had closes the page to nobody.

use std::io::{BufRead as _, BufReader, Write as _};

use super::*;
use support::http::send;

/// The page for the room of a finished run: its addresses here and there, and the code to look; none
/// where this computer is in no network.
fn shared(folder: &Path) -> Option<(Running, String, String, String)> {
    run(folder, &["demo", "--quiet", "--run-only"]).done();
    let (mut page, here) = page(folder, &["--share"]);
    let there = there(&mut page);
    let code = page.wait_for("the code to look:");
    let code = code.split_whitespace().last().unwrap().to_owned();
    (!there.starts_with("127.")).then_some((page, here, there, code))
}

fn join(there: &str, code: &str) -> support::http::Answer {
    let origin = format!("http://{there}");
    let body = format!("code={code}");
    post(there, "/join", &[("Origin", &origin)], &body)
}

fn cookie(there: &str, code: &str) -> String {
    let joined = join(there, code);
    assert_eq!(joined.code, 303, "{joined:?}");
    let cookie = joined.headers["set-cookie"].split(';').next().unwrap();
    cookie.to_owned()
}

/// Opens the wall's stream; the code of the answer, and the connection.
fn watch(address: &str, cookie: &str) -> (String, BufReader<TcpStream>) {
    let mut reader = BufReader::new(send(address, "GET", "/live", &[("Cookie", cookie)], ""));
    let mut line = String::new();
    reader.read_line(&mut line).unwrap();
    (line.split(' ').nth(1).unwrap().to_owned(), reader)
}

#[test]
fn one_browser_s_streams_close_the_page_to_nobody() {
    let folder = tempfile::tempdir().unwrap();
    let Some((_page, here, there, code)) = shared(folder.path()) else {
        return;
    };
    let pupil = cookie(&there, &code);
    let greedy: Vec<_> = (0..90).map(|_| watch(&there, &pupil)).collect();
    let ok = greedy.iter().filter(|(code, _)| code == "200").count();
    assert_eq!(ok, 90);
    for (address, who) in [(&there, cookie(&there, &code)), (&here, String::new())] {
        assert_eq!(watch(address, &who).0, "200");
    }
    // The oldest of its streams are ended for the newest.
    let (_, first) = greedy.into_iter().next().unwrap();
    assert!(first.lines().all(|line| line.is_ok()), "the stream ends");
}

#[test]
fn connections_that_are_held_half_open_keep_nobody_waiting() {
    let folder = tempfile::tempdir().unwrap();
    let Some((_page, here, there, _)) = shared(folder.path()) else {
        return;
    };
    let half: Vec<TcpStream> = (0..400)
        .filter_map(|_| TcpStream::connect(&there).ok())
        .filter_map(|mut stream| {
            let written = stream.write_all(b"GET / HTTP/1.1\r\nHost: ");
            written.is_ok().then_some(stream)
        })
        .collect();
    assert!(half.len() > 300, "{}", half.len());
    for address in [&there, &here] {
        let begun = Instant::now();
        assert_eq!(get(address, "/join", &[]).code, 200);
        let waited = begun.elapsed();
        assert!(waited < Duration::from_secs(4), "{address}: {waited:?}");
    }
}

#[test]
fn wrong_codes_make_it_slow_and_keep_no_right_one_out() {
    let folder = tempfile::tempdir().unwrap();
    let Some((mut page, _, there, code)) = shared(folder.path()) else {
        return;
    };
    let teacher = page.wait_for("the teacher's, likewise:");
    let teacher = teacher.split_whitespace().last().unwrap().to_owned();
    for _ in 0..8 {
        assert_eq!(join(&there, "WRONG2").code, 403);
    }
    let begun = Instant::now();
    cookie(&there, &teacher);
    assert!(
        begun.elapsed() < Duration::from_secs(4),
        "the teacher waits"
    );
    cookie(&there, &code);
    let waited = begun.elapsed();
    assert!(waited > Duration::from_secs(2), "{waited:?}");
}
