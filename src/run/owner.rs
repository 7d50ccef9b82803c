//! Whose words these are: what a port said after it came back and before its board was known.
//!
//! In a session of several boards it is recorded at once, as `held`, in the journal of the run to
//! which the port belonged last. A `claim` makes it this run's; `moved` tells that it is another's.
//! Where neither comes (the program was killed, or a claim is lost with a damaged part), only the
//! board's own word counts: what was held is this run's if a hello in it names this run's board.

use crate::journal::{Kind, Record};
use crate::sampler::{Sampler, SamplerSetup};

/// What is held for one port.
#[derive(Debug, Default)]
pub(super) struct Pending(Vec<Record>);

impl Pending {
    /// Takes in a record of kind `held`; one that holds nothing known is passed over.
    pub(super) fn hold(&mut self, record: &Record) {
        self.0.extend(record.let_go());
    }

    /// Records are missing here.
    pub(super) fn cut(&mut self, t_ns: i64) {
        if let Some(port) = self.0.last().map(|record| record.port) {
            self.0.push(Record {
                t_ns,
                port,
                kind: Kind::Missing,
                payload: Vec::new(),
            });
        }
    }

    /// All that is held, which is this run's.
    pub(super) fn claim(&mut self) -> Vec<Record> {
        std::mem::take(&mut self.0)
    }

    /// All that is held is another run's: in words, for `events.csv`.
    pub(super) fn moved(&mut self, to: &Record) -> Option<String> {
        let bytes = bytes(&self.claim());
        let who = match to.text() {
            id if id.is_empty() => "another board of this session".to_owned(),
            id => format!("board {id}"),
        };
        (bytes > 0)
            .then(|| format!("{who} said {bytes} bytes at this port; they are in its own run"))
    }

    /// Nobody said whose it is: what is held if a hello in it names `board`, else how much it is.
    pub(super) fn settle(&mut self, board: Option<&str>) -> Result<Vec<Record>, usize> {
        let held = self.claim();
        if held.is_empty() {
            return Ok(held);
        }
        let mut sampler = Sampler::new(SamplerSetup::default());
        let mut products = Vec::new();
        for record in &held {
            match record.kind {
                Kind::Open => sampler.opened(record.t_ns, "", &mut products),
                Kind::Bytes => sampler.bytes(record.t_ns, &record.payload, &mut products),
                Kind::Lost | Kind::Missing => sampler.lost(record.t_ns, "", &mut products),
                _ => {}
            }
            products.clear();
        }
        let said = sampler.hello().map(|hello| hello.board_id.as_str());
        if said.is_some() && said == board {
            Ok(held)
        } else {
            Err(bytes(&held))
        }
    }
}

fn bytes(held: &[Record]) -> usize {
    let speech = held.iter().filter(|record| record.kind == Kind::Bytes);
    speech.map(|record| record.payload.len()).sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::run::RunSetup;
    use crate::run::feed::{Feed, Output};
    use crate::wire::crc16;

    fn record(kind: Kind, payload: &str) -> Record {
        Record {
            t_ns: 0,
            port: 0,
            kind,
            payload: payload.into(),
        }
    }

    fn native(text: &str) -> String {
        format!("{text}*{:04X}\n", crc16(text.as_bytes()))
    }

    fn hello(id: &str) -> Record {
        let text = format!("!duskmark 1 id={id} channels=1 unit=degc period_ms=1000");
        record(Kind::Bytes, &native(&text))
    }

    fn line(seq: u32) -> String {
        native(&format!(">{seq},{},2{seq}.5", seq * 1000))
    }

    fn speech(text: &str) -> Record {
        record(Kind::Bytes, text)
    }

    /// Rows' values and events' kinds of a run of the board `north` that had one row before.
    fn told(more: Vec<Record>) -> (Vec<f64>, Vec<String>) {
        let mut records = vec![hello("north"), speech(&line(1)), record(Kind::Lost, "")];
        records.extend(more);
        records.push(record(Kind::End, ""));
        let mut feed = Feed::new(&RunSetup::default(), 0);
        let mut out = Vec::new();
        for (mut record, n) in records.into_iter().zip(1..) {
            record.t_ns = n * 1_000_000_000;
            feed.take(&record, &mut out);
        }
        let mut told = (Vec::new(), Vec::new());
        for output in out {
            match output {
                Output::Row(row) => told.0.push(row.degc(0)),
                Output::Event(event) => told.1.push(event.kind),
                Output::Earlier { .. } => {}
            }
        }
        told
    }

    fn held(records: Vec<Record>) -> Vec<Record> {
        records.into_iter().map(Record::held).collect()
    }

    fn count(events: &[String], kind: &str) -> usize {
        events.iter().filter(|event| *event == kind).count()
    }

    #[test]
    fn what_is_claimed_makes_rows_and_what_is_moved_makes_none() {
        let open = || record(Kind::Open, "p");
        let came = || held(vec![open(), speech(&line(3)), hello("north")]);
        let with = |last: Record| told([came(), vec![last]].concat());
        let (rows, events) = with(record(Kind::Claim, ""));
        assert_eq!(rows, [21.5, 23.5]);
        assert_eq!(count(&events, "unclaimed") + count(&events, "moved"), 0);
        let (rows, events) = with(record(Kind::Moved, "south"));
        assert_eq!((rows, count(&events, "moved")), (vec![21.5], 1));
        // Nobody said: the name in it does, here the run's own.
        for last in [record(Kind::Note, "lamp"), speech(&line(4)), open()] {
            let (rows, events) = with(last);
            assert_eq!(rows[..2], [21.5, 23.5]);
            assert_eq!(count(&events, "unclaimed"), 0, "{events:?}");
        }
    }

    #[test]
    fn a_strangers_or_a_nameless_word_makes_no_row_unless_it_is_claimed() {
        let open = record(Kind::Open, "p");
        for words in [
            vec![hello("south"), speech(&line(3))],
            vec![speech(&line(3))],
        ] {
            let came = held([vec![open.clone()], words].concat());
            let (rows, events) = told(came);
            assert_eq!((rows, count(&events, "unclaimed")), (vec![21.5], 1));
        }
    }

    #[test]
    fn half_lines_on_both_sides_of_a_loss_make_no_line() {
        let whole = line(3);
        let (half, rest) = whole.split_at(5);
        let came = |between: Option<Record>| {
            let before = held(vec![record(Kind::Open, "p"), hello("north"), speech(half)]);
            let after = held(vec![speech(rest), speech(&line(4))]);
            let between = between.into_iter().collect();
            told([before, between, after, vec![record(Kind::Claim, "")]].concat())
        };
        assert_eq!(came(None).0, [21.5, 23.5, 24.5]);
        let missing = r#"{"records":1,"bytes":1,"from_ns":0,"to_ns":0}"#;
        assert_eq!(came(Some(record(Kind::Missing, missing))).0, [21.5, 24.5]);
    }
}
