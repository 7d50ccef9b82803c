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
