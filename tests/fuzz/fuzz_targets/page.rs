//! What a browser, or something that is none, may send to the page: it answers or hangs up, and
//! then still serves.
#![no_main]

use std::io::{Read as _, Write as _};
use std::net::TcpStream;
use std::sync::OnceLock;
use std::time::Duration;

use duskmark::live::page::{Page, PageSetup};
use libfuzzer_sys::fuzz_target;

static PAGE: OnceLock<(Page, String)> = OnceLock::new();

/// What is answered; none where this computer has no port left to ask from, which hundreds of
/// connections a second use up. Who `hangs_up` says that nothing more is to come, which the page may take
/// for a viewer who has gone.
fn said(address: &str, request: &[u8], hangs_up: bool) -> Option<Vec<u8>> {
    let mut answer = vec![0; 4096];
    let mut stream = match TcpStream::connect(address) {
        Err(error) if error.kind() == std::io::ErrorKind::AddrNotAvailable => return None,
        stream => stream.expect("the page still listens"),
    };
    let _ = stream.set_read_timeout(Some(Duration::from_secs(5)));
    let _ = stream.write_all(request);
    if hangs_up {
        let _ = stream.shutdown(std::net::Shutdown::Write);
    }
    // The fuzzer's own alarm interrupts the wait now and then.
    let read = loop {
        match stream.read(&mut answer) {
            Err(error) if error.kind() == std::io::ErrorKind::Interrupted => {}
            read => break read,
        }
    };
    match read {
        Ok(n) => answer.truncate(n),
        // Who hung up may be hung up on; else this shows why there is no answer.
        Err(_) if hangs_up => answer.clear(),
        Err(error) => answer = error.to_string().into_bytes(),
    }
    Some(answer)
}

fuzz_target!(|data: &[u8]| {
    let (_, address) = PAGE.get_or_init(|| {
        let dir = concat!(env!("CARGO_MANIFEST_DIR"), "/../../demo-data").into();
        let setup = PageSetup {
            dir,
            port: 0,
            share: false,
            desk: None,
        };
        let page = Page::start(&setup).expect("a page");
        let address = page
            .here
            .trim_start_matches("http://")
            .trim_end_matches('/')
            .to_owned();
        (page, address)
    });
    if let Some(answer) = said(address, data, true) {
        assert!(answer.is_empty() || answer.starts_with(b"HTTP/1."));
    }
    let host = format!("GET /page.css HTTP/1.1\r\nHost: {address}\r\nConnection: close\r\n\r\n");
    if let Some(answer) = said(address, host.as_bytes(), false) {
        let words = String::from_utf8_lossy(&answer);
        assert!(words.starts_with("HTTP/1.1 200"), "{words:?}");
    }
});
