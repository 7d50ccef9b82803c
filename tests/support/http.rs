//! Just enough of HTTP/1.1 (RFC 9112) to ask the program's page, one request a connection.

use std::collections::BTreeMap;
use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::net::TcpStream;

use super::program::PATIENCE;

/// What was answered.
#[derive(Debug)]
pub struct Answer {
    pub code: u16,
    /// Names in lower case.
    pub headers: BTreeMap<String, String>,
    pub body: String,
}

/// Asks for `path` at `address` (`127.0.0.1:8470`).
pub fn get(address: &str, path: &str, headers: &[(&str, &str)]) -> Answer {
    ask(address, "GET", path, headers, "")
}

/// Sends a form.
pub fn post(address: &str, path: &str, headers: &[(&str, &str)], body: &str) -> Answer {
    ask(address, "POST", path, headers, body)
}

fn ask(address: &str, method: &str, path: &str, headers: &[(&str, &str)], body: &str) -> Answer {
    let mut reader = BufReader::new(send(address, method, path, headers, body));
    let (code, headers) = head(&mut reader);
    let mut rest = Vec::new();
    reader.read_to_end(&mut rest).unwrap();
    let body = if headers
        .get("transfer-encoding")
        .is_some_and(|t| t == "chunked")
    {
        unchunked(&rest)
    } else {
        rest
    };
    Answer {
        code,
        headers,
        body: String::from_utf8(body).unwrap(),
    }
}

/// Sends a request and gives the connection, from which the answer is still to be read.
pub fn send(
    address: &str,
    method: &str,
    path: &str,
    headers: &[(&str, &str)],
    body: &str,
) -> TcpStream {
    let mut stream = TcpStream::connect(address).unwrap();
    stream.set_read_timeout(Some(PATIENCE)).unwrap();
    let mut text = format!(
        "{method} {path} HTTP/1.1\r\nConnection: close\r\nContent-Length: {}\r\n",
        body.len()
    );
    if !headers.iter().any(|(name, _)| *name == "Host") {
        text += &format!("Host: {address}\r\n");
    }
    for (name, value) in headers {
        text += &format!("{name}: {value}\r\n");
    }
    stream
        .write_all(format!("{text}\r\n{body}").as_bytes())
        .unwrap();
    stream
}

fn head(reader: &mut BufReader<TcpStream>) -> (u16, BTreeMap<String, String>) {
    let mut line = String::new();
    reader.read_line(&mut line).unwrap();
    let code = line.split(' ').nth(1).unwrap().parse().unwrap();
    let mut headers = BTreeMap::new();
    loop {
        let mut line = String::new();
        reader.read_line(&mut line).unwrap();
        let Some((name, value)) = line.trim_end().split_once(": ") else {
            return (code, headers);
        };
        headers.insert(name.to_lowercase(), value.to_owned());
    }
}

fn unchunked(mut bytes: &[u8]) -> Vec<u8> {
    let mut whole = Vec::new();
    loop {
        let end = bytes.windows(2).position(|w| w == b"\r\n").unwrap();
        let len = usize::from_str_radix(std::str::from_utf8(&bytes[..end]).unwrap(), 16).unwrap();
        bytes = &bytes[end + 2..];
        if len == 0 {
            return whole;
        }
        whole.extend_from_slice(&bytes[..len]);
        bytes = &bytes[len + 2..];
    }
}

/// A stream of server-sent events (WHATWG HTML, section 9.2).
pub struct Events {
    reader: BufReader<TcpStream>,
}

impl Events {
    /// Connects; the answer must be a stream.
    pub fn open(address: &str, path: &str) -> Self {
        let mut reader = BufReader::new(send(address, "GET", path, &[], ""));
        let (code, headers) = head(&mut reader);
        assert_eq!(code, 200);
        assert_eq!(headers["content-type"], "text/event-stream");
        Self { reader }
    }

    /// The data of the next event of a kind. Chunks begin and end with whole lines here.
    pub fn next(&mut self, kind: &str) -> serde_json::Value {
        let (mut line, mut named) = (String::new(), false);
        loop {
            line.clear();
            assert!(
                self.reader.read_line(&mut line).unwrap() > 0,
                "the stream ended"
            );
            let text = line.trim_end();
            if let Some(name) = text.strip_prefix("event: ") {
                named = name == kind;
            } else if let Some(data) = text.strip_prefix("data: ")
                && named
            {
                return serde_json::from_str(data).unwrap();
            }
        }
    }
}
