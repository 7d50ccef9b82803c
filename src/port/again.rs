//! Opens the port again that was lost: by USB serial number, then by what its board says, then by its
//! socket or path.

use super::ask::{Opened, by_id, first_or_by_id};
use super::link::Link;
use super::list::{Again, Listed, find_again};
use super::open::OpenError;

/// Finds the port `had` among those that are `listed` now, and opens it. `id` is what its board
/// called itself, where it did.
///
/// # Errors
/// [`OpenError::NotFound`] while it is away, [`OpenError::Ambiguous`] where nothing tells which of
/// several it is, or why it cannot be opened.
pub(super) fn reopen(
    had: &Listed,
    listed: &[Listed],
    id: Option<&str>,
    mut open: impl FnMut(&str) -> Result<Box<dyn Link>, OpenError>,
) -> Result<Opened, OpenError> {
    let paths = |ports: Vec<&Listed>| -> Vec<String> {
        ports.into_iter().map(|port| port.path.clone()).collect()
    };
    match (find_again(had, listed), id) {
        (Again::One(port), _) => Ok((open(&port.path)?, port.path.clone())),
        (Again::None, _) => Err(OpenError::NotFound {
            port: had.path.clone(),
        }),
        (Again::AtSocket(ports), Some(id)) => first_or_by_id(&paths(ports), id, open),
        (Again::AtSocket(ports), None) => {
            let path = ports.first().map_or(had.path.as_str(), |port| &port.path);
            Ok((open(path)?, path.to_owned()))
        }
        (Again::Several(ports), Some(id)) => by_id(&paths(ports), id, open),
        (Again::Several(ports), None) => Err(OpenError::Ambiguous {
            paths: paths(ports),
        }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::port::UsbIdentity;
    use crate::wire::{crc16, request_hello};
    use std::io;

    /// A board that says its hello when it is asked, if it has a name.
    struct Board {
        id: Option<&'static str>,
        asked: bool,
    }

    impl Link for Board {
        fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
            let asked = std::mem::take(&mut self.asked);
            // A board without a name is not waited for: its line ends.
            let Some(id) = self.id else { return Ok(0) };
            if !asked {
                return Err(io::ErrorKind::TimedOut.into());
            }
            let text = format!("!duskmark 1 id={id} channels=1 unit=degc");
            let line = format!("{text}*{:04X}\n", crc16(text.as_bytes()));
            buffer[..line.len()].copy_from_slice(line.as_bytes());
            Ok(line.len())
        }

        fn write(&mut self, bytes: &[u8]) -> io::Result<()> {
            self.asked = bytes == request_hello();
            Ok(())
        }

        fn probe(&mut self) -> io::Result<()> {
            Ok(())
        }
    }

    /// A port in a list, and the board on it.
    #[derive(Clone, Copy)]
    struct Plug {
        path: &'static str,
        serial: Option<&'static str>,
        socket: &'static str,
        id: Option<&'static str>,
    }

    fn listed(plug: &Plug) -> Listed {
        Listed {
            path: plug.path.into(),
            usb: Some(UsbIdentity {
                vendor: 0x1234,
                product: 1,
                serial: plug.serial.map(Into::into),
                name: None,
                socket: Some(plug.socket.into()),
            }),
        }
    }

    /// Which port is opened for the one that was `had`, and which were opened on the way.
    fn found(had: Plug, now: &[Plug]) -> (Result<String, OpenError>, Vec<String>) {
        let list: Vec<Listed> = now.iter().map(listed).collect();
        let mut opened = Vec::new();
        let result = reopen(&listed(&had), &list, had.id, |path| {
            opened.push(path.to_owned());
            let plug = now.iter().find(|plug| plug.path == path).unwrap();
            Ok(Box::new(Board {
                id: plug.id,
                asked: false,
            }))
        });
        (result.map(|(_, path)| path), opened)
    }

    const NORTH: Plug = Plug {
        path: "/dev/ttyUSB0",
        serial: None,
        socket: "1-1:1.0",
        id: Some("north"),
    };
    const SOUTH: Plug = Plug {
        path: "/dev/ttyUSB1",
        serial: None,
        socket: "1-2:1.0",
        id: Some("south"),
    };

    #[test]
    fn the_serial_number_comes_before_id_socket_and_path() {
        let had = Plug {
            serial: Some("A1"),
            ..NORTH
        };
        // Another board of the same make stands at path and socket, and says the same name.
        let now = [
            Plug {
                serial: Some("B2"),
                ..NORTH
            },
            Plug {
                serial: Some("A1"),
                id: None,
                ..SOUTH
            },
        ];
        let (port, opened) = found(had, &now);
        assert_eq!(port.unwrap(), "/dev/ttyUSB1");
        assert_eq!(opened, ["/dev/ttyUSB1"], "no other board was disturbed");
    }

    #[test]
    fn the_id_comes_before_socket_and_path() {
        // Twins without serial numbers changed sockets, and their paths with them.
        let now = [
            Plug {
                id: Some("south"),
                ..NORTH
            },
            Plug {
                id: Some("north"),
                ..SOUTH
            },
        ];
        assert_eq!(found(NORTH, &now).0.unwrap(), "/dev/ttyUSB1");
        assert_eq!(found(SOUTH, &now).0.unwrap(), "/dev/ttyUSB0");
        // Unchanged, the other one is not even opened.
        let (port, opened) = found(SOUTH, &[NORTH, SOUTH]);
        assert_eq!(
            (port.unwrap(), opened),
            ("/dev/ttyUSB1".into(), vec!["/dev/ttyUSB1".into()])
        );
    }

    #[test]
    fn socket_and_path_tell_where_no_board_has_a_name() {
        let nameless = |plug: Plug| Plug { id: None, ..plug };
        let (north, south) = (nameless(NORTH), nameless(SOUTH));
        // The paths changed, the sockets did not.
        let now = [
            Plug {
                socket: south.socket,
                ..north
            },
            Plug {
                socket: north.socket,
                ..south
            },
        ];
        assert_eq!(found(north, &now).0.unwrap(), "/dev/ttyUSB1");
        // Both moved to sockets where neither was: nothing tells which is which.
        let moved = ["1-3:1.0", "1-4:1.0"];
        let now = [
            Plug {
                socket: moved[0],
                ..north
            },
            Plug {
                socket: moved[1],
                ..south
            },
        ];
        let (port, opened) = found(north, &now);
        assert!(matches!(port, Err(OpenError::Ambiguous { .. })), "{port:?}");
        assert!(opened.is_empty());
        // A board that has a name is asked for it there too.
        let now = [
            Plug {
                socket: moved[0],
                ..SOUTH
            },
            Plug {
                socket: moved[1],
                path: "/dev/ttyUSB2",
                ..NORTH
            },
        ];
        assert_eq!(found(NORTH, &now).0.unwrap(), "/dev/ttyUSB2");
    }

    #[test]
    fn a_stranger_at_the_socket_does_not_keep_the_port_from_being_opened() {
        // Our board is away; two others of its make are there, one at its socket. It is opened, and
        // the run tells by its name that it is another one.
        let now = [
            Plug {
                id: Some("east"),
                ..NORTH
            },
            SOUTH,
        ];
        assert_eq!(found(NORTH, &now).0.unwrap(), "/dev/ttyUSB0");
        assert!(matches!(
            found(NORTH, &[]).0,
            Err(OpenError::NotFound { .. })
        ));
    }
}
