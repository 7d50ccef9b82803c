//! `stream --mqtt`: the broker's options, and what is said of it.

use std::net::{IpAddr, ToSocketAddrs as _};
use std::path::PathBuf;

use super::exit::{Code, Failure, chain};
use super::log::runtime;
use super::signals::Signals;
use super::text::printable;
use super::{out, say};
use crate::follow::Source;
use crate::outlet::mqtt::{MqttError, MqttSetup, Notice, Tally, send};

/// The port of a broker without TLS (IANA service name `mqtt`).
const MQTT_PORT: u16 = 1883;

#[derive(Debug, clap::Args)]
#[command(next_help_heading = "Broker")]
pub(super) struct BrokerArgs {
    /// Send to this MQTT 5 broker instead; what waits for it waits in the runs' files
    #[arg(long, value_name = "HOST[:PORT]")]
    pub(super) mqtt: Option<String>,
    /// User name for the broker
    #[arg(long, value_name = "NAME", requires = "mqtt")]
    pub(super) user: Option<String>,
    /// File whose first line is the password
    #[arg(long, value_name = "FILE", requires = "user")]
    pub(super) password_file: Option<PathBuf>,
    /// What all topics begin with
    #[arg(long, value_name = "TOPIC", default_value = "duskmark", value_parser = parse_topic)]
    pub(super) topic: String,
    /// Send in the clear to another computer: whoever is on the network can read along
    #[arg(long, requires = "mqtt")]
    pub(super) plain: bool,
    /// Print what was sent as one JSON object at the end
    #[arg(long, requires = "mqtt")]
    pub(super) json: bool,
}

/// Sends `source` to the broker that was named: all of it until it ends, or what is there `once`.
pub(super) fn send_to(
    args: &BrokerArgs,
    broker: &str,
    (source, site, once): (Source, &str, bool),
    quiet: bool,
) -> Result<(), Failure> {
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
        site: site.to_owned(),
        once,
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
fn login(args: &BrokerArgs) -> Result<Option<(String, String)>, Failure> {
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
        MqttError::Denied { topic, .. } => {
            let root = topic.split('/').next().unwrap_or_default();
            failure.advise(format!(
                "Ask who looks after the broker to let this user write to {root}/#, \
                 or choose another beginning with --topic. Nothing is lost."
            ))
        }
        MqttError::Refused { .. } | MqttError::NotTaken { .. } => {
            failure.advise("The broker's own log says more.")
        }
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
