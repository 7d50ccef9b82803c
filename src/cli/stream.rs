//! `stream`: runs as lines of JSON, or to an MQTT broker.

use std::io::{self, BufWriter};
use std::net::{IpAddr, ToSocketAddrs as _};
use std::path::{Path, PathBuf};

use super::exit::{Code, Failure, chain};
use super::log::runtime;
use super::signals::Signals;
use super::stream_beside::SITE;
use super::text::printable;
use super::{out, say};
use crate::follow::Source;
use crate::outlet::mqtt::{MqttError, MqttSetup, Notice, Tally, send};
use crate::outlet::{SCHEMA, Stopped, Stream, StreamError};

/// The port of a broker without TLS (IANA service name `mqtt`).
const MQTT_PORT: u16 = 1883;

#[derive(Debug, clap::Args)]
pub(super) struct StreamArgs {
    /// A run's folder, a folder of runs, or 'last': the newest run of --out
    #[arg(value_name = "RUN|DIR|last", default_value = "last")]
    pub(super) source: PathBuf,
    /// Folder that 'last' looks into
    #[arg(long, value_name = "DIR", default_value = "runs", env = "DUSKMARK_OUT")]
    pub(super) out: PathBuf,
    /// Where the benches stand: on each line, and a level of each topic
    #[arg(long, value_name = "NAME", default_value = SITE, env = "DUSKMARK_SITE")]
    pub(super) site: String,
    /// End when all that is there now is written
    #[arg(long)]
    pub(super) once: bool,
    /// Print the JSON Schema of the lines
    #[arg(long)]
    pub(super) schema: bool,
    /// Send to this MQTT 5 broker instead; what waits for it waits in the runs' files
    #[arg(long, value_name = "HOST[:PORT]", help_heading = "Broker")]
    pub(super) mqtt: Option<String>,
    /// User name for the broker
    #[arg(long, value_name = "NAME", requires = "mqtt", help_heading = "Broker")]
    pub(super) user: Option<String>,
    /// File whose first line is the password
    #[arg(long, value_name = "FILE", requires = "user", help_heading = "Broker")]
    pub(super) password_file: Option<PathBuf>,
    /// What all topics begin with
    #[arg(long, value_name = "TOPIC", default_value = "duskmark", value_parser = parse_topic, help_heading = "Broker")]
    pub(super) topic: String,
    /// Send in the clear to another computer: whoever is on the network can read along
    #[arg(long, requires = "mqtt", help_heading = "Broker")]
    pub(super) plain: bool,
    /// Print what was sent as one JSON object at the end
    #[arg(long, requires = "mqtt", help_heading = "Broker")]
    pub(super) json: bool,
}

pub(super) fn run(args: &StreamArgs, quiet: bool) -> Result<(), Failure> {
    if args.schema {
        out(SCHEMA);
        return Ok(());
    }
    let source = source(args)?;
    match &args.mqtt {
        Some(broker) => to_broker(args, broker, source, quiet),
        None => to_stdout(args, source),
    }
}

/// What is to be followed.
fn source(args: &StreamArgs) -> Result<Source, Failure> {
    let path = if args.source.as_os_str() == "last" {
        newest(&args.out)?
    } else {
        args.source.clone()
    };
    if path.is_dir() {
        return Ok(Source::of(&path));
    }
    let path = path.display().to_string();
    let message = format!("{} is no folder", printable(&path));
    Err(Failure::new(Code::Failed, message)
        .advise("Give a run's folder, or the folder that holds the runs."))
}

/// The newest run of a folder: names begin with the time.
fn newest(dir: &Path) -> Result<PathBuf, Failure> {
    let paths = std::fs::read_dir(dir).into_iter().flatten().flatten();
    let runs = paths
        .map(|entry| entry.path())
        .filter(|path| matches!(Source::of(path), Source::Run(_)));
    runs.max().ok_or_else(|| {
        let dir = dir.display().to_string();
        let message = format!("there is no run in {}", printable(&dir));
        Failure::new(Code::Failed, message)
            .advise("Name the run's folder, or where to look with --out.")
    })
}

fn to_stdout(args: &StreamArgs, source: Source) -> Result<(), Failure> {
    let mut stream = Stream::new(source, &args.site);
    let mut out = BufWriter::new(io::stdout());
    match stream.run(&mut out, args.once, || false) {
        Ok(Stopped::ReaderGone | Stopped::Done { cut_off: false }) => Ok(()),
        Ok(Stopped::Done { cut_off: true }) => Err(Failure::new(
            Code::Incomplete,
            "the logging of this run had died",
        )
        .advise("'duskmark rebuild' it for what its journal holds.")),
        Err(error @ StreamError::Read { .. }) => Err(Failure::new(Code::Failed, chain(&error))
            .advise("Check that it is there and may be read.")),
        Err(error) => Err(Failure::new(Code::Failed, chain(&error))),
    }
}

fn to_broker(args: &StreamArgs, broker: &str, source: Source, quiet: bool) -> Result<(), Failure> {
    let (host, port) = parse_broker(broker)?;
    if !args.plain && !is_here(&host) {
        let message = format!(
            "{} is another computer, and this connection is not encrypted",
            printable(&host)
        );
        return Err(Failure::new(Code::Usage, message).advise(
            "Send to a broker on this computer that passes on with TLS \
             (firmware-notes/broker), or say --plain.",
        ));
    }
    let setup = MqttSetup {
        source,
        host,
        port,
        login: login(args)?,
        topic: args.topic.clone(),
        site: args.site.clone(),
        once: args.once,
    };
    let sent = runtime()?.block_on(async {
        let mut signals = Signals::new();
        let stop = async {
            signals.next().await;
        };
        let broker = setup.broker();
        send(&setup, stop, |notice| {
            if !quiet {
                say(&words(&broker, notice));
            }
        })
        .await
    });
    let tally = sent.map_err(|error| advised(&error))?;
    if args.json {
        out(&format!(
            "{}\n",
            serde_json::to_string(&tally).unwrap_or_default()
        ));
    } else if !quiet {
        say(&tally_text(&tally));
    }
    Ok(())
}

fn tally_text(tally: &Tally) -> String {
    let Tally {
        rows,
        events,
        ends,
        again,
        connections,
        ..
    } = tally;
    format!(
        "Sent and acknowledged: {rows} rows, {events} events, {ends} ends of runs; \
         {again} messages were sent twice; {connections} connection(s)."
    )
}

/// Whether a broker is on this computer, so that nobody reads along.
fn is_here(host: &str) -> bool {
    let addresses = match host.parse::<IpAddr>() {
        Ok(address) => return address.is_loopback(),
        Err(_) => (host, 0).to_socket_addrs(),
    };
    // A name that nobody knows leads nowhere; that is told when it is connected to.
    addresses.map_or(true, |all| all.into_iter().all(|a| a.ip().is_loopback()))
}

/// User and password, the latter from a file: what is typed is seen by others.
fn login(args: &StreamArgs) -> Result<Option<(String, String)>, Failure> {
    let Some(user) = &args.user else {
        return Ok(None);
    };
    let Some(path) = &args.password_file else {
        return Ok(Some((user.clone(), String::new())));
    };
    let shown = printable(&path.display().to_string());
    let text = std::fs::read_to_string(path).map_err(|error| {
        Failure::new(Code::Failed, format!("{shown} cannot be read: {error}"))
            .advise("The file's first line is the password.")
    })?;
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt as _;
        let mode = std::fs::metadata(path).map_or(0, |meta| meta.permissions().mode());
        if mode & 0o077 != 0 {
            say(&format!("Others can read {shown}: chmod 600 {shown}"));
        }
    }
    let password = text.lines().next().unwrap_or_default().to_owned();
    Ok(Some((user.clone(), password)))
}

/// `host`, `host:1883`, `[::1]:1883`.
fn parse_broker(text: &str) -> Result<(String, u16), Failure> {
    let wrong = || {
        let message = format!("'{}' is no broker", printable(text));
        Failure::new(Code::Usage, message)
            .advise("Write it like localhost, 127.0.0.1:1883 or [::1]:1883.")
    };
    let (host, port) = match text.rsplit_once(':') {
        // An address of IPv6 without brackets has several.
        Some((host, _)) if host.contains(':') && !host.ends_with(']') => (text, None),
        Some((host, port)) => (host, Some(port)),
        None => (text, None),
    };
    let port = port.map_or(Ok(MQTT_PORT), |port| port.parse().map_err(|_| wrong()))?;
    let bare = host.trim_start_matches('[').trim_end_matches(']');
    let sound = bare
        .chars()
        .all(|c| c.is_alphanumeric() || matches!(c, '.' | '-' | '_' | ':' | '%'));
    if bare.is_empty() || !sound || port == 0 {
        return Err(wrong());
    }
    // Whoever connects puts `host:port` together: an address of IPv6 needs its brackets there.
    let host = if bare.contains(':') {
        format!("[{bare}]")
    } else {
        bare.to_owned()
    };
    Ok((host, port))
}

/// The first levels of a topic: nothing that stands for several (MQTT 5.0, 4.7), none empty.
fn parse_topic(text: &str) -> Result<String, String> {
    let bad = |c: char| matches!(c, '+' | '#') || c.is_control();
    if text.split('/').any(str::is_empty) || text.contains(bad) || text.starts_with('$') {
        return Err("no + # $ or empty level in a topic; write it like school/duskmark".into());
    }
    Ok(text.to_owned())
}

fn words(broker: &str, notice: Notice) -> String {
    match notice {
        Notice::Connected => format!("Connected to {broker}."),
        Notice::Away { why, again_in } => format!(
            "{broker}: {why}; tried again in {:.1} s. What waits, waits in the runs' files.",
            again_in.as_secs_f64()
        ),
        Notice::TooLarge { run, bytes } => format!(
            "The results of {} ({bytes} bytes) are larger than {broker} takes; the run's end is \
             sent without them.",
            run.display()
        ),
        Notice::NotKept { path, why } => format!(
            "{} cannot be written ({why}): after a restart rows will be sent twice.",
            path.display()
        ),
        Notice::NotRead { path, why } => {
            format!("{} cannot be read now: {why}", path.display())
        }
    }
}

fn advised(error: &MqttError) -> Failure {
    let failure = Failure::new(Code::Failed, chain(error));
    match error {
        MqttError::Away { .. } => failure.advise(
            "Is the broker running, and is it the right port? Nothing is lost: \
             give the command again when it is there.",
        ),
        MqttError::Login { .. } => {
            failure.advise("Check --user and the first line of --password-file.")
        }
        MqttError::Refused { .. } => failure.advise("The broker's own log says more."),
        MqttError::Denied { topic, .. } => {
            let root = topic.split('/').next().unwrap_or_default();
            failure.advise(format!(
                "Ask who looks after the broker to let this user write to {root}/#, \
                 or choose another beginning with --topic. Nothing is lost."
            ))
        }
        MqttError::NotTaken { .. } => failure.advise("The broker's own log says more."),
        MqttError::TooLarge { .. } => {
            failure.advise("Raise the broker's limit for messages; a row takes some 400 bytes.")
        }
        MqttError::TakenOver { .. } => failure.advise("End one of the two."),
        MqttError::Read { .. } => failure.advise("Check that it is there and may be read."),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn brokers_and_topics_are_read_or_refused() {
        for (text, host, port) in [
            ("localhost", "localhost", 1883),
            ("127.0.0.1:1884", "127.0.0.1", 1884),
            ("[::1]:1885", "[::1]", 1885),
            ("::1", "[::1]", 1883),
            ("[::1]", "[::1]", 1883),
        ] {
            assert_eq!(parse_broker(text).unwrap(), (host.to_owned(), port));
        }
        for text in [
            "",
            ":1883",
            "host:",
            "host:0",
            "host:99999",
            "mqtt://host",
            "a b",
        ] {
            assert!(parse_broker(text).is_err(), "{text}");
        }
        assert!(parse_topic("school/duskmark").is_ok());
        for text in ["", "/a", "a//b", "a/#", "+", "$SYS/a"] {
            assert!(parse_topic(text).is_err(), "{text}");
        }
        assert!(is_here("127.0.0.1") && is_here("::1") && !is_here("192.0.2.1"));
    }
}
