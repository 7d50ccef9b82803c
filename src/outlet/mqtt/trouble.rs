//! What a broker's refusals mean: which pass, and which somebody has to do something about.

use rumqttc::v5::mqttbytes::Error as CodecError;
use rumqttc::v5::mqttbytes::v5::{ConnectReturnCode, DisconnectReasonCode, PubAckReason};
use rumqttc::v5::{ConnectionError, StateError};

use super::MqttError;

/// MQTT 5.0, 2.4: the reason code "Packet too large".
const PACKET_TOO_LARGE: u8 = 0x95;

/// Why a connection was lost, or not made.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Trouble {
    /// It is worth another try.
    Passing(String),
    /// The oldest message on its way was larger than the broker takes.
    TooLarge,
    /// User or password are wrong.
    Login(String),
    /// The broker will not have it.
    Refused(String),
    /// Another client of the same name connected.
    TakenOver,
}

impl Trouble {
    pub(super) fn of(error: ConnectionError) -> Self {
        match error {
            ConnectionError::ConnectionRefused(code)
            | ConnectionError::MqttState(StateError::ConnFail { reason: code }) => refused(code),
            ConnectionError::MqttState(StateError::ServerDisconnect { reason_code, .. }) => {
                match reason_code {
                    DisconnectReasonCode::SessionTakenOver => Self::TakenOver,
                    DisconnectReasonCode::PacketTooLarge => Self::TooLarge,
                    DisconnectReasonCode::NotAuthorized => {
                        Self::Refused(format!("{reason_code:?}"))
                    }
                    code => Self::Passing(format!("the broker ended the connection: {code:?}")),
                }
            }
            // Some brokers say it with an acknowledgement, which MQTT 5.0 (3.4.2.1) does not know.
            ConnectionError::MqttState(StateError::Deserialization(
                CodecError::InvalidReason(PACKET_TOO_LARGE)
                | CodecError::InvalidConnectReturnCode(PACKET_TOO_LARGE),
            )) => Self::TooLarge,
            ConnectionError::Io(error) => Self::Passing(error.to_string()),
            ConnectionError::Timeout(_) => Self::Passing("no answer".to_owned()),
            error => Self::Passing(error.to_string()),
        }
    }
}

fn refused(code: ConnectReturnCode) -> Trouble {
    use ConnectReturnCode as C;
    match code {
        C::BadUserNamePassword | C::NotAuthorized | C::BadAuthenticationMethod => {
            Trouble::Login(format!("{code:?}"))
        }
        C::ServiceUnavailable
        | C::ServerUnavailable
        | C::ServerBusy
        | C::ConnectionRateExceeded => Trouble::Passing(format!("the broker is busy ({code:?})")),
        code => Trouble::Refused(format!("{code:?}")),
    }
}

/// Why the broker did not take a message.
pub(super) fn not_taken(broker: String, topic: String, reason: PubAckReason) -> MqttError {
    match reason {
        PubAckReason::NotAuthorized => MqttError::Denied { broker, topic },
        reason => MqttError::NotTaken {
            broker,
            topic,
            code: format!("{reason:?}"),
        },
    }
}
