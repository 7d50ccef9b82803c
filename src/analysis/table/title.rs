//! What each column is called: its heading, with what the line above says of it.

use csv::{ByteRecord, ReaderBuilder};

use super::head::{Head, head};
use super::side::blocks;
use super::start::{Above, Start, decoded};
use super::units::{is_unit, without_in};

/// Longest heading that is read, in bytes.
const LONGEST: usize = 200;

/// Names that say nothing of a sample.
pub(super) const NOTHING: [&str; 8] = [
    "temperature",
    "temperatur",
    "température",
    "temp",
    "temp.",
    "t",
    "value",
    "sample",
];

/// The headings of a table, and whether they are in another encoding than UTF-8.
pub(super) fn titles(text: &[u8], start: &Start, record: &ByteRecord) -> (Vec<String>, bool) {
    let mut foreign = false;
    let mut own = texts(record, &mut foreign);
    let Some((at, above)) = start.above else {
        return (own, foreign);
    };
    let line = text.get(at..start.skip).unwrap_or_default();
    let mut reader = ReaderBuilder::new()
        .delimiter(start.separator)
        .has_headers(false)
        .flexible(true)
        .from_reader(line);
    let mut upper = ByteRecord::new();
    if !reader.read_byte_record(&mut upper).unwrap_or(false) {
        return (own, foreign);
    }
    let upper = texts(&upper, &mut foreign);
    match above {
        Above::Names => {
            own.resize(own.len().max(upper.len()), String::new());
            for (unit, name) in own.iter_mut().zip(&upper) {
                *unit = match (name.as_str(), unit.as_str()) {
                    (name, "") => name.to_owned(),
                    ("", unit) => unit.to_owned(),
                    (name, unit) => with_unit(name, unit),
                };
            }
        }
        Above::Groups => grouped(&mut own, &upper),
        Above::Over => {
            under(&mut own, &upper);
            grouped(&mut own, &upper);
        }
    }
    (own, foreign)
}

fn texts(record: &ByteRecord, foreign: &mut bool) -> Vec<String> {
    let read = |h: &[u8]| {
        let (text, other) = decoded(h.get(..LONGEST.min(h.len())).unwrap_or_default());
        // A character of two bytes that is cut at the limit makes no other encoding.
        *foreign |= other && h.len() <= LONGEST;
        text.trim().to_owned()
    };
    record.iter().map(read).collect()
}

/// A heading of a name and the unit that stands below it.
fn with_unit(name: &str, unit: &str) -> String {
    let unit = unit.trim().trim_matches(|c| "()[]".contains(c));
    format!("{name} ({})", without_in(unit.trim()))
}

/// Takes the heading above where a column has no name of its own; a unit over several columns is that of
/// each.
fn under(own: &mut Vec<String>, upper: &[String]) {
    own.resize(own.len().max(upper.len()), String::new());
    let mut over = "";
    for (place, name) in own.iter_mut().enumerate() {
        let above = upper.get(place).map_or("", String::as_str);
        if !above.is_empty() {
            over = above;
        }
        if name.is_empty() {
            above.clone_into(name);
            continue;
        }
        if is_unit(name) && !above.is_empty() {
            *name = with_unit(above, name);
            continue;
        }
        let (
            Head::Degrees {
                scale,
                stated: true,
                ..
            },
            Head::Degrees { stated: false, .. },
        ) = (head(over), head(name))
        else {
            continue;
        };
        *name = format!("{name} ({})", scale.sign());
    }
}

/// Puts before each sample's heading what stands above it and the columns up to the next such word,
/// where the headings alone do not tell the samples apart.
fn grouped(own: &mut [String], upper: &[String]) {
    let heads: Vec<Head> = own.iter().map(|t| head(t)).collect();
    let name = |place: usize| match heads.get(place) {
        Some(Head::Degrees { name, .. }) if own.get(place).is_some_and(|t| !t.is_empty()) => {
            Some(name.to_lowercase())
        }
        _ => None,
    };
    let mut places = Vec::new();
    for block in blocks(&heads) {
        let names: Vec<String> = block.clone().filter_map(name).collect();
        let mut different = names.clone();
        different.sort();
        different.dedup();
        let nothing = names.iter().any(|n| NOTHING.contains(&n.as_str()));
        if different.len() < names.len() || nothing {
            places.extend(block.filter(|place| name(*place).is_some()));
        }
    }
    for place in places {
        let above = upper.get(..=place).unwrap_or(upper);
        let group = above.iter().rfind(|text| !text.is_empty());
        if let (Some(group), Some(text)) = (group, own.get_mut(place)) {
            *text = format!("{group} {text}");
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::read_table;

    #[track_caller]
    fn names(text: &str) -> Vec<String> {
        let table = read_table(text.as_bytes()).unwrap_or_else(|e| panic!("{e}\n{text}"));
        table.series.channels.into_iter().map(|c| c.name).collect()
    }

    #[test]
    fn a_line_of_units_below_leaves_the_names_as_they_are() {
        for text in [
            "time,slate,moss\nmin,°C,°C\n0,21,20\n1,22,20\n",
            "time;slate;moss\n;°C;°C\n0;21;20\n1;22;20\n",
            "Bench 3\n\ntime\tslate\tmoss\n[min]\t[°C]\t[°C]\n0\t21\t20\n1\t22\t20\n",
        ] {
            assert_eq!(names(text), ["slate", "moss"], "{text}");
        }
        let table = read_table(&b"time,slate\nmin,K\n0,294.15\n1,295.15\n"[..]).unwrap();
        assert_eq!(table.series.t_s, [0.0, 60.0]);
        assert!((table.series.channels[0].degc[0] - 21.0).abs() < 1e-9);
        assert_eq!(table.warnings.len(), 1, "few rows: {:?}", table.warnings);
    }

    #[test]
    fn a_heading_over_several_columns_has_their_names_below() {
        for text in [
            "Uhrzeit;Temperatur;;Bemerkung\n;Schiefer / °C;Moos / °C;\n10:00;21,5;20,7;\n10:01;22,5;21,0;Lampe an\n10:02;23;21,4;\n",
            "Bench 3\nTime;Temperature in °C;\n;Schiefer;Moos\n0:00;21.5;20.7\n1:00;22.5;21\n2:00;23;21.4\n",
            "min;;\n;Schiefer;Moos\n0;21.5;20.7\n1;22.5;21\n2;23;21.4\n",
            "Gruppe 4\n\nZeit;Temperatur;;Mittel;Bemerkung\nin min;Schiefer;Moos;°C;\n0;21,5;20,7;21,1;\n1;22,5;21;21,75;\n2;23;21,4;22,2;Lampe an\n",
            "Temps;Température (°C);;Remarque\nmin;Schiefer;Moos;\n0;21,5;20,7;\n1;22,5;21;\n2;23;21,4;lampe\n",
        ] {
            assert_eq!(names(text), ["Schiefer", "Moos"], "{text}");
        }
        let text = "min,Temperature / K,\n,slate,moss\n0,294.65,293.15\n1,295.65,293.65\n2,296.65,294.15\n";
        let table = read_table(text.as_bytes()).unwrap();
        assert!((table.series.channels[1].degc[0] - 20.0).abs() < 1e-9);
        // A remark between headings and rows is none of them.
        let remark = "min;slate;moss\n;lamp on;now\n0;21.5;20.7\n1;22.5;21\n2;23;21.4\n";
        assert_eq!(names(remark), ["slate", "moss"]);
    }

    #[test]
    fn columns_of_one_name_take_what_stands_above_them() {
        let probes = ",slate,,moss,\nmin,T1,T2,T1,T2\n0,21,21,20,20\n1,22,22,20,20\n";
        assert_eq!(
            names(probes),
            ["slate T1", "slate T2", "moss T1", "moss T2"]
        );
        // What tells nothing apart that is not told apart already stays a title.
        let title = "our,lesson\nmin,slate,moss\n0,21,20\n1,22,20\n";
        assert_eq!(names(title), ["slate", "moss"]);
    }
}
