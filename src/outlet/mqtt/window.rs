//! Messages that are on their way, in order, until the broker has acknowledged them.

use std::collections::VecDeque;

use super::feed::Message;

/// Messages on their way at most. Brokers that want fewer say so when they are connected to.
pub(super) const WINDOW: usize = 100;

#[derive(Debug)]
struct Flight {
    message: Message,
    /// The number that it travels under, once it has one.
    packet: Option<u16>,
    acknowledged: bool,
}

/// Messages that are on their way.
#[derive(Debug, Default)]
pub(super) struct Window {
    flights: VecDeque<Flight>,
}

impl Window {
    pub(super) fn has_room(&self) -> bool {
        self.flights.len() < WINDOW
    }

    pub(super) fn is_empty(&self) -> bool {
        self.flights.is_empty()
    }

    /// A message was handed to the connection.
    pub(super) fn push(&mut self, message: Message) {
        self.flights.push_back(Flight {
            message,
            packet: None,
            acknowledged: false,
        });
    }

    /// The connection sent the next one, under this number.
    pub(super) fn sent(&mut self, packet: u16) {
        if let Some(flight) = self.flights.iter_mut().find(|f| f.packet.is_none()) {
            flight.packet = Some(packet);
        }
    }

    /// The message that travels under a number.
    pub(super) fn message(&self, packet: u16) -> Option<&Message> {
        let mut flights = self.flights.iter();
        let flight = flights.find(|f| f.packet == Some(packet) && !f.acknowledged)?;
        Some(&flight.message)
    }

    /// The broker has the message of this number. Gives those that are thereby done with: one that
    /// is acknowledged before its turn waits for those before it, so that a place is never ahead of
    /// what the broker has.
    pub(super) fn acknowledged(&mut self, packet: u16) -> Vec<Message> {
        let mut flights = self.flights.iter_mut();
        if let Some(flight) = flights.find(|f| f.packet == Some(packet) && !f.acknowledged) {
            flight.acknowledged = true;
        }
        let done = self.flights.iter().take_while(|f| f.acknowledged).count();
        self.flights.drain(..done).map(|f| f.message).collect()
    }

    /// The largest that is not acknowledged.
    pub(super) fn largest_mut(&mut self) -> Option<&mut Message> {
        let open = self.flights.iter_mut().filter(|f| !f.acknowledged);
        open.map(|f| &mut f.message)
            .max_by_key(|message| message.payload.len())
    }

    /// The connection is gone: all that were not acknowledged, in order, to be sent again; and how
    /// many of them had been sent.
    pub(super) fn take(&mut self) -> (Vec<Message>, u64) {
        let left = self.flights.drain(..).filter(|f| !f.acknowledged);
        let mut sent = 0;
        let messages = left.map(|flight| {
            sent += u64::from(flight.packet.is_some());
            flight.message
        });
        (messages.collect(), sent)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn message(topic: &str) -> Message {
        Message {
            topic: topic.to_owned(),
            payload: String::new(),
            retain: false,
            step: None,
            brief: None,
        }
    }

    fn topics(messages: &[Message]) -> Vec<&str> {
        messages.iter().map(|m| m.topic.as_str()).collect()
    }

    #[test]
    fn acknowledgements_count_in_the_order_of_sending() {
        let mut window = Window::default();
        for topic in ["a", "b", "c", "d"] {
            window.push(message(topic));
        }
        for packet in [1, 2, 3] {
            window.sent(packet);
        }
        assert!(window.acknowledged(2).is_empty());
        assert_eq!(window.message(2).map(|m| m.topic.as_str()), None);
        assert_eq!(topics(&window.acknowledged(1)), ["a", "b"]);
        // A number that is not known changes nothing.
        assert!(window.acknowledged(77).is_empty());
        let (left, sent) = window.take();
        assert_eq!((topics(&left), sent), (vec!["c", "d"], 1));
        assert!(window.is_empty());
    }
}
