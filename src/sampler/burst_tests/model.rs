//! A regular board without a clock, and a host that does not look for a while.

use rand::RngExt as _;
use rand::SeedableRng as _;

use crate::sampler::{Product, Row, Sampler, SamplerSetup};

pub(super) const MS: i64 = 1_000_000;

/// How a board without a clock words a sample.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Form {
    Plain,
    Labelled,
    /// Each label on a line of its own, both at once.
    Apart,
}

/// A regular board, and a host that does not look for a while.
#[derive(Debug, Clone)]
pub(super) struct Stall {
    pub(super) form: Form,
    pub(super) period_ms: i64,
    /// The stall begins so long after the first line.
    pub(super) from_ms: i64,
    pub(super) for_ms: i64,
    /// The longest delay of a line.
    pub(super) delay_ms: i64,
    /// Bytes that a read brings at most, and the time from one read of the burst to the next.
    pub(super) read_bytes: usize,
    pub(super) read_ms: i64,
    /// Bytes that wait at most, whole lines; what is beyond is lost.
    pub(super) room: usize,
    /// The oldest are lost, not the newest.
    pub(super) oldest_lost: bool,
    pub(super) baud: Option<u32>,
    pub(super) seed: u64,
}

pub(super) const LONG: Stall = Stall {
    form: Form::Plain,
    period_ms: 500,
    from_ms: 113_200,
    for_ms: 27_000,
    delay_ms: 10,
    read_bytes: 4096,
    read_ms: 1,
    room: usize::MAX,
    oldest_lost: false,
    baud: Some(115_200),
    seed: 1,
};

/// Lines behind the stall.
const AFTER: i64 = 40;

impl Stall {
    pub(super) fn lines(&self) -> i64 {
        (self.from_ms + self.for_ms) / self.period_ms + AFTER
    }

    pub(super) fn true_ns(&self, k: i64) -> i64 {
        k * self.period_ms * MS
    }

    fn text(&self, k: i64) -> Vec<u8> {
        let (slate, moss) = (k as f64 / 100.0, k as f64 / 100.0 + 20.0);
        match self.form {
            Form::Plain => format!("{slate:.2},{moss:.2}\n"),
            Form::Labelled => format!("slate={slate:.2} moss={moss:.2}\n"),
            Form::Apart => format!("T1: {slate:.2}\nT2: {moss:.2}\n"),
        }
        .into_bytes()
    }

    /// The reads, and the numbers of the samples that come.
    pub(super) fn reads(&self) -> (Vec<(i64, Vec<u8>)>, Vec<i64>) {
        let mut random = rand_pcg::Pcg64::seed_from_u64(self.seed);
        let end_ns = (self.from_ms + self.for_ms) * MS;
        let (mut reads, mut came, mut waiting) = (Vec::new(), Vec::new(), Vec::new());
        let mut flushed_ns = None;
        for k in 0..self.lines() {
            let text = self.text(k);
            let wire_ns = self.baud.map_or(0, |baud| {
                (text.len() as f64 * 1e10 / f64::from(baud)) as i64
            });
            let at_ns = self.true_ns(k) + wire_ns + random.random_range(0..=self.delay_ms * MS);
            if (self.from_ms * MS..end_ns).contains(&at_ns) {
                waiting.push((k, text));
                continue;
            }
            if at_ns >= end_ns {
                let last = flushed_ns.get_or_insert_with(|| {
                    self.flush(end_ns, std::mem::take(&mut waiting), &mut reads, &mut came)
                });
                // Bytes come in their order.
                reads.push((at_ns.max(*last), text));
            } else {
                reads.push((at_ns, text));
            }
            came.push(k);
        }
        (reads, came)
    }

    /// What waited comes; gives when the last of it was there.
    fn flush(
        &self,
        end_ns: i64,
        mut waiting: Vec<(i64, Vec<u8>)>,
        reads: &mut Vec<(i64, Vec<u8>)>,
        came: &mut Vec<i64>,
    ) -> i64 {
        let bytes = |waiting: &[(i64, Vec<u8>)]| waiting.iter().map(|w| w.1.len()).sum::<usize>();
        while bytes(&waiting) > self.room {
            waiting.remove(if self.oldest_lost {
                0
            } else {
                waiting.len() - 1
            });
        }
        came.extend(waiting.iter().map(|w| w.0));
        let bytes: Vec<u8> = waiting.into_iter().flat_map(|w| w.1).collect();
        let mut at_ns = end_ns;
        for read in bytes.chunks(self.read_bytes) {
            reads.push((at_ns, read.to_vec()));
            at_ns += self.read_ms * MS;
        }
        at_ns
    }

    pub(super) fn rows(&self) -> Vec<Row> {
        let mut sampler = Sampler::new(SamplerSetup {
            baud: self.baud,
            ..SamplerSetup::default()
        });
        let mut out = Vec::new();
        sampler.opened(-2 * MS, "p", &mut out);
        sampler.bytes(-MS, b"half of a line\n", &mut out);
        let (reads, _) = self.reads();
        for (at_ns, bytes) in &reads {
            sampler.bytes(*at_ns, bytes, &mut out);
        }
        sampler.finish(reads.last().unwrap().0, &mut out);
        let row = |product: Product| match product {
            Product::Row(row) => Some(row),
            Product::Event(_) => None,
        };
        out.into_iter().filter_map(row).collect()
    }
}

/// The number of the sample that a row is of.
pub(super) fn number(row: &Row) -> i64 {
    (row.degc(0) * 100.0).round() as i64
}
