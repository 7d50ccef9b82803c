//! Is it text? A wrong baud rate is recognised by lines that are not.
//!
//! Text is printable ASCII and tab; well-formed UTF-8 without control characters; and the lone
//! byte 0xB0, the degree sign of ISO/IEC 8859-1 that many a sketch prints.

/// The degree sign in ISO/IEC 8859-1.
const LATIN1_DEGREE: u8 = 0xB0;

/// Is every byte printable ASCII, tab or part of a line end? Written so that it vectorises.
pub(super) fn is_plain(bytes: &[u8]) -> bool {
    let strange = bytes.iter().fold(0_u8, |strange, &byte| {
        // Printable ASCII is 0x20..=0x7E, 95 values.
        let control = u8::from(byte.wrapping_sub(0x20) >= 95);
        let allowed = u8::from(byte == b'\t') | u8::from(byte == b'\n') | u8::from(byte == b'\r');
        strange | (control & (1 ^ allowed))
    });
    strange == 0
}

/// Is the line text?
pub(super) fn is_text(line: &[u8]) -> bool {
    line.utf8_chunks().all(|chunk| {
        matches!(chunk.invalid(), [] | [LATIN1_DEGREE])
            && chunk.valid().chars().all(|c| c == '\t' || !c.is_control())
    })
}

/// How many bytes of the line are outside printable ASCII and tab, and outside well-formed UTF-8.
pub(super) fn strange_bytes(line: &[u8]) -> usize {
    line.utf8_chunks()
        .map(|chunk| {
            let controls = chunk
                .valid()
                .chars()
                .filter(|&c| c != '\t' && c.is_control());
            let invalid = if chunk.invalid() == [LATIN1_DEGREE] {
                0
            } else {
                chunk.invalid().len()
            };
            controls.map(char::len_utf8).sum::<usize>() + invalid
        })
        .sum()
}

/// The line as text for people: the lone degree byte becomes `°`, other strange bytes become the
/// replacement character.
pub(super) fn to_text(line: &[u8]) -> String {
    let mut text = String::with_capacity(line.len());
    for chunk in line.utf8_chunks() {
        text.push_str(chunk.valid());
        match chunk.invalid() {
            [] => {}
            [LATIN1_DEGREE] => text.push('°'),
            _ => text.push(char::REPLACEMENT_CHARACTER),
        }
    }
    text
}

#[cfg(test)]
mod tests {
    use super::{is_plain, is_text, strange_bytes, to_text};

    #[test]
    fn tells_text_from_noise() {
        let table: [(&[u8], bool); 10] = [
            (b"23.4,25.1", true),
            (b"23.4\t25.1", true),
            ("slate: 24.9 °C".as_bytes(), true),
            (b"slate: 24.9 \xB0C", true),
            (b"\xB0", true),
            (b"23.4\x00", false),
            (b"\x1b[2J", false),
            (b"\x7f", false),
            (b"\xff\xfe\xb0", false),
            ("C1 control \u{85}".as_bytes(), false),
        ];
        for (line, expected) in table {
            assert_eq!(is_text(line), expected, "{}", line.escape_ascii());
            assert_eq!(
                strange_bytes(line) == 0,
                expected,
                "{}",
                line.escape_ascii()
            );
        }
    }

    #[test]
    fn every_single_byte_is_judged_alike_by_the_fast_and_the_slow_look() {
        for byte in 0..=u8::MAX {
            let slow = byte.is_ascii() && is_text(&[byte]) || byte == b'\n' || byte == b'\r';
            assert_eq!(is_plain(&[byte]), slow, "byte {byte:#04x}");
        }
    }

    #[test]
    fn the_degree_sign_survives_both_encodings() {
        assert_eq!(to_text(b"24.9 \xB0C"), "24.9 °C");
        assert_eq!(to_text("24.9 °C".as_bytes()), "24.9 °C");
        assert_eq!(to_text(b"a\xffb"), "a\u{fffd}b");
    }
}
