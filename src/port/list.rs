//! Which ports are there, and which of them is the one we had.

use serialport::SerialPortType;

/// What a USB adapter or board says of itself.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub struct UsbIdentity {
    /// Vendor number.
    pub vendor: u16,
    /// Product number.
    pub product: u16,
    /// Serial number; many adapters have none, and some share one.
    pub serial: Option<String>,
    /// Product name as the device states it.
    pub name: Option<String>,
    /// The socket chain that it hangs on (Linux: `1-1.3:1.0`), where the system tells it.
    pub socket: Option<String>,
}

/// A port that the system lists.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Listed {
    /// The name to open.
    pub path: String,
    /// USB identity; `None` for built-in ports.
    pub usb: Option<UsbIdentity>,
}

/// The ports that the system lists, USB ones first.
///
/// # Errors
/// The system's, where it cannot list.
pub fn list() -> Result<Vec<Listed>, serialport::Error> {
    let mut found: Vec<Listed> = serialport::available_ports()?
        .into_iter()
        // macOS lists each port twice; opening tty.* can hang until the carrier rises.
        .filter(|port| !port.port_name.contains("/tty.") || !cfg!(target_os = "macos"))
        .map(|port| Listed {
            usb: match port.port_type {
                SerialPortType::UsbPort(usb) => Some(UsbIdentity {
                    vendor: usb.vid,
                    product: usb.pid,
                    serial: usb.serial_number.filter(|s| !s.trim().is_empty()),
                    name: usb.product,
                    socket: socket_of(&port.port_name),
                }),
                _ => None,
            },
            path: port.port_name,
        })
        .collect();
    found.sort_by(|a, b| (a.usb.is_none(), &a.path).cmp(&(b.usb.is_none(), &b.path)));
    Ok(found)
}

/// The USB socket of a port, from `/sys/class/tty/NAME/device` (Linux only).
fn socket_of(path: &str) -> Option<String> {
    let name = std::path::Path::new(path).file_name()?;
    let device = std::path::Path::new("/sys/class/tty")
        .join(name)
        .join("device");
    let device = std::fs::canonicalize(device).ok()?;
    // usb-serial ports have one folder more (.../1-1.3:1.0/ttyUSB0) than CDC ones.
    device
        .ancestors()
        .filter_map(|folder| folder.file_name()?.to_str())
        .find(|name| name.contains('-') && name.contains(':'))
        .map(str::to_owned)
}

/// The name under which a port can be opened at once. On macOS each port has two, and opening
/// `/dev/tty.NAME` waits until the carrier rises: `/dev/cu.NAME` is meant.
#[must_use]
pub(super) fn call_out_name(path: &str, macos: bool) -> String {
    match path.strip_prefix("/dev/tty.") {
        Some(name) if macos => format!("/dev/cu.{name}"),
        _ => path.to_owned(),
    }
}

/// The answer to: which of these is the port we had?
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Again<'a> {
    /// This one.
    One(&'a Listed),
    /// None of them.
    None,
    /// Several fit; the first is at the USB socket where it was.
    AtSocket(Vec<&'a Listed>),
    /// Several fit equally: never guessed.
    Several(Vec<&'a Listed>),
}

/// Finds a port again after a replug: by serial number if it has one. Where that is not enough, the
/// USB socket is told, and the board may be asked. A port that was not USB is known by its path alone.
#[must_use]
pub fn find_again<'a>(had: &Listed, listed: &'a [Listed]) -> Again<'a> {
    let Some(usb) = &had.usb else {
        return listed
            .iter()
            .find(|port| port.path == had.path)
            .map_or(Again::None, Again::One);
    };
    let mut same_kind: Vec<&Listed> = listed
        .iter()
        .filter(|port| {
            port.usb.as_ref().is_some_and(|other| {
                (other.vendor, other.product) == (usb.vendor, usb.product)
                    && other.serial.as_ref().map(|s| s.to_ascii_lowercase())
                        == usb.serial.as_ref().map(|s| s.to_ascii_lowercase())
            })
        })
        .collect();
    match same_kind.as_slice() {
        [] => Again::None,
        [one] => Again::One(one),
        several => {
            let socket = |port: &&&Listed| {
                usb.socket.is_some() && port.usb.as_ref().is_some_and(|u| u.socket == usb.socket)
            };
            match several.iter().position(|port| socket(&port)) {
                Some(place) => {
                    same_kind.swap(0, place);
                    Again::AtSocket(same_kind)
                }
                None => Again::Several(same_kind),
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn port(path: &str, serial: Option<&str>, socket: Option<&str>) -> Listed {
        Listed {
            path: path.into(),
            usb: Some(UsbIdentity {
                vendor: 0x1234,
                product: 0x0001,
                serial: serial.map(Into::into),
                name: None,
                socket: socket.map(Into::into),
            }),
        }
    }

    #[test]
    fn the_port_that_waits_for_a_carrier_is_not_opened() {
        let name = call_out_name("/dev/tty.usbserial-1410", true);
        assert_eq!(name, "/dev/cu.usbserial-1410");
        for path in ["/dev/ttyUSB0", "/dev/cu.usbmodem1", "COM3"] {
            assert_eq!(call_out_name(path, true), path);
        }
        assert_eq!(call_out_name("/dev/tty.x", false), "/dev/tty.x");
    }

    #[test]
    fn a_serial_number_finds_a_board_under_another_path() {
        let had = port("/dev/ttyACM0", Some("AB12"), Some("1-1:1.0"));
        let listed = [
            port("/dev/ttyACM1", Some("ab12"), Some("1-2:1.0")),
            port("/dev/ttyACM2", Some("CD34"), Some("1-1:1.0")),
        ];
        assert_eq!(find_again(&had, &listed), Again::One(&listed[0]));
    }

    #[test]
    fn twins_without_a_serial_number_are_told_apart_by_socket_or_not_at_all() {
        let had = port("/dev/ttyUSB0", None, Some("1-1:1.0"));
        let listed = [
            port("/dev/ttyUSB0", None, Some("1-2:1.0")),
            port("/dev/ttyUSB1", None, Some("1-1:1.0")),
        ];
        let at_socket = Again::AtSocket(vec![&listed[1], &listed[0]]);
        assert_eq!(find_again(&had, &listed), at_socket);
        let moved = port("/dev/ttyUSB0", None, Some("1-7:1.0"));
        assert!(matches!(find_again(&moved, &listed), Again::Several(two) if two.len() == 2));
        let unknown = port("/dev/ttyUSB0", None, None);
        let blind = [
            port("/dev/ttyUSB0", None, None),
            port("/dev/ttyUSB1", None, None),
        ];
        assert!(matches!(find_again(&unknown, &blind), Again::Several(_)));
    }

    #[test]
    fn a_board_that_is_away_is_not_replaced_by_another() {
        let had = port("/dev/ttyUSB0", Some("AB12"), None);
        let listed = [port("/dev/ttyUSB0", Some("ZZ99"), None)];
        assert_eq!(find_again(&had, &listed), Again::None);
    }
}
