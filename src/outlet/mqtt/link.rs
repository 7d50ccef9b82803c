//! One connection to the broker, for as long as it holds.

use std::time::Duration;

use rumqttc::NetworkOptions;
use rumqttc::Outgoing;
use rumqttc::v5::mqttbytes::QoS;
use rumqttc::v5::mqttbytes::v5::{LastWill, PubAckReason, PublishProperties};
use rumqttc::v5::{AsyncClient, ConnectionError, Event, Incoming, MqttOptions};
use tokio::sync::mpsc::{UnboundedReceiver, unbounded_channel};
use tokio::task::JoinHandle;

use super::MqttSetup;
use super::feed::{Feed, Message};
use super::window::WINDOW;

/// A broker that says nothing is asked after so long, and given up after twice that.
const KEEP_ALIVE: Duration = Duration::from_secs(15);

/// A connection must be made within so many seconds.
const CONNECT_S: u64 = 10;

/// What a message carries beside topic and payload, in bytes, with some to spare.
const OVERHEAD: usize = 48;

/// What happened on the connection.
#[derive(Debug)]
pub(super) enum Told {
    /// It is made; the broker takes messages of so many bytes at most.
    Connected(Option<u32>),
    /// The next message was sent under this number.
    Sent(u16),
    /// The broker has the message of this number, or says why not.
    Acknowledged(u16, Result<(), PubAckReason>),
    /// The broker was told that this is the end.
    Parted,
    /// It is over.
    Lost(ConnectionError),
}

/// A connection that is made, or being made.
#[derive(Debug)]
pub(super) struct Link {
    client: AsyncClient,
    told: UnboundedReceiver<Told>,
    task: JoinHandle<()>,
}

impl Drop for Link {
    fn drop(&mut self) {
        self.task.abort();
    }
}

impl Link {
    /// Begins to connect.
    pub(super) fn open(setup: &MqttSetup, name: &str) -> Self {
        let mut options = MqttOptions::new(name, &setup.host, setup.port);
        let mut network = NetworkOptions::new();
        // Else a row waits for the acknowledgement of the one before it (40 ms).
        network.set_tcp_nodelay(true);
        network.set_connection_timeout(CONNECT_S);
        options.set_network_options(network);
        options.set_connection_timeout(CONNECT_S);
        options.set_keep_alive(KEEP_ALIVE);
        // What is open is kept here, not by the broker.
        options.set_clean_start(true);
        if let Some((user, password)) = &setup.login {
            options.set_credentials(user, password);
        }
        let lost = Feed::link(&setup.root(), name, "lost");
        let will = LastWill::new(lost.topic, lost.payload, QoS::AtLeastOnce, true, None);
        options.set_last_will(will);
        let (client, mut connection) = AsyncClient::new(options, WINDOW + 8);
        let (sender, told) = unbounded_channel();
        let task = tokio::spawn(async move {
            loop {
                let told = match connection.poll().await {
                    Ok(event) => heard(event),
                    Err(error) => Some(Told::Lost(error)),
                };
                let over = matches!(told, Some(Told::Lost(_)));
                if told.is_some_and(|told| sender.send(told).is_err()) || over {
                    return;
                }
            }
        });
        Self { client, told, task }
    }

    /// What happens next.
    pub(super) async fn next(&mut self) -> Told {
        match self.told.recv().await {
            Some(told) => told,
            // The task ends only after it has said why.
            None => std::future::pending().await,
        }
    }

    /// Hands over a message without waiting; false if there is no room.
    pub(super) fn publish(&self, message: &Message) -> bool {
        let properties = PublishProperties {
            payload_format_indicator: Some(1),
            content_type: Some("application/json".to_owned()),
            ..PublishProperties::default()
        };
        let payload = message.payload.clone();
        let (topic, retain) = (message.topic.clone(), message.retain);
        let sent = self.client.try_publish_with_properties(
            topic,
            QoS::AtLeastOnce,
            retain,
            payload,
            properties,
        );
        sent.is_ok()
    }

    /// Tells the broker that this is the end, so that it sends no last will.
    pub(super) fn part(&self) -> bool {
        self.client.try_disconnect().is_ok()
    }
}

/// A message's size on the wire in bytes, or a little more.
pub(super) fn size(message: &Message) -> usize {
    message.topic.len() + message.payload.len() + OVERHEAD
}

fn heard(event: Event) -> Option<Told> {
    match event {
        Event::Incoming(Incoming::ConnAck(ack)) => {
            let limit = ack.properties.and_then(|p| p.max_packet_size);
            Some(Told::Connected(limit))
        }
        Event::Incoming(Incoming::PubAck(ack)) => {
            let reason = match ack.reason {
                PubAckReason::Success | PubAckReason::NoMatchingSubscribers => Ok(()),
                reason => Err(reason),
            };
            Some(Told::Acknowledged(ack.pkid, reason))
        }
        Event::Outgoing(Outgoing::Publish(packet)) => Some(Told::Sent(packet)),
        Event::Outgoing(Outgoing::Disconnect) => Some(Told::Parted),
        _ => None,
    }
}
