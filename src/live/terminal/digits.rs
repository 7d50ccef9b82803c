//! Numbers that can be read from the back of a classroom: three rows high.

/// Height of a big number in rows.
pub(super) const ROWS: usize = 3;

/// Each sign's pixels, five rows of three, as bits from the left.
const SIGNS: [(char, [u8; 5]); 13] = [
    ('0', [0b111, 0b101, 0b101, 0b101, 0b111]),
    ('1', [0b010, 0b110, 0b010, 0b010, 0b111]),
    ('2', [0b111, 0b001, 0b111, 0b100, 0b111]),
    ('3', [0b111, 0b001, 0b111, 0b001, 0b111]),
    ('4', [0b101, 0b101, 0b111, 0b001, 0b001]),
    ('5', [0b111, 0b100, 0b111, 0b001, 0b111]),
    ('6', [0b111, 0b100, 0b111, 0b101, 0b111]),
    ('7', [0b111, 0b001, 0b010, 0b010, 0b010]),
    ('8', [0b111, 0b101, 0b111, 0b101, 0b111]),
    ('9', [0b111, 0b101, 0b111, 0b001, 0b111]),
    ('-', [0b000, 0b000, 0b111, 0b000, 0b000]),
    ('.', [0b000, 0b000, 0b000, 0b000, 0b100]),
    (' ', [0b000, 0b000, 0b000, 0b000, 0b000]),
];

/// A number in three rows of half blocks; signs that have no picture are left out.
pub(super) fn big(text: &str) -> [String; ROWS] {
    let mut rows: [String; ROWS] = Default::default();
    for c in text.chars() {
        let Some((_, pixels)) = SIGNS.iter().find(|(sign, _)| *sign == c) else {
            continue;
        };
        let width = if c == '.' { 1 } else { 3 };
        for (row, out) in rows.iter_mut().enumerate() {
            let line = |k: usize| pixels.get(k).copied().unwrap_or(0);
            let (upper, lower) = (line(2 * row), line(2 * row + 1));
            for column in 0..width {
                let bit = 0b100 >> column;
                out.push(match (upper & bit != 0, lower & bit != 0) {
                    (true, true) => '█',
                    (true, false) => '▀',
                    (false, true) => '▄',
                    (false, false) => ' ',
                });
            }
            out.push(' ');
        }
    }
    rows
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_is_three_rows_of_one_width() {
        let rows = big("-31.2");
        let widths: Vec<usize> = rows.iter().map(|row| row.chars().count()).collect();
        assert_eq!(widths, [18, 18, 18]);
        assert_eq!(big("1"), ["▄█  ", " █  ", "▀▀▀ "].map(str::to_owned));
    }
}
