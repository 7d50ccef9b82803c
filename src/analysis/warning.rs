//! Doubts about the data: numbers for programs, one plain sentence for people.

mod loss;
mod rows;
mod said;

use serde::{Serialize, Serializer};

pub use self::rows::RowsWarning;
pub use self::said::{WHY_LAGGING, WHY_OPEN, WorkedOut};
use self::said::{absurd, anew, looked, meant, point, times, worked_out};

/// Something that the reader of a result should know.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum Warning {
    /// Cells that hold no number.
    #[error("{column}: {} (first in line {line}).", said::cells(*count))]
    NotNumbers {
        /// Heading of the column.
        column: String,
        /// How many cells.
        count: usize,
        /// Line of the first one, from 1.
        line: u64,
    },
    /// Rows without a usable time.
    #[error("{} (first in line {line}).", said::timeless(*count))]
    NoTime {
        /// How many rows.
        count: usize,
        /// Line of the first one, from 1.
        line: u64,
    },
    /// Rows that were not in order of time.
    #[error(
        "The rows are not in order of time and were sorted (first out of order in line {line})."
    )]
    Sorted {
        /// Line of the first row that is earlier than the one before it.
        line: u64,
    },
    /// Rows with the time of another row.
    #[error("{} (line {line} is the first dropped).", said::same_time(*count))]
    SameTime {
        /// How many rows were dropped.
        count: usize,
        /// Line of the first one dropped.
        line: u64,
    },
    /// Lines above the headings.
    #[error("{} skipped above the headings; the headings are in line {line}.", said::lines(*count))]
    Titles {
        /// How many lines with text.
        count: usize,
        /// Line of the headings, from 1.
        line: u64,
    },
    /// A table with its times in a line, and a line for each sample.
    #[error(
        "The table lies on its side, its times in a line; it was turned. A line named here is a column of the file."
    )]
    Turned,
    /// One sheet of several was read.
    #[error("The workbook has {sheets} sheets; {sheet:?} was read.")]
    SheetRead {
        /// Name of the sheet.
        sheet: String,
        /// How many there are.
        sheets: usize,
    },
    /// Text in another encoding than UTF-8.
    #[error("The text is not UTF-8; it was read as {encoding} (Latin-1 and what is added to it).")]
    OtherEncoding {
        /// Name of the encoding.
        encoding: &'static str,
    },
    /// The unit of time is not stated.
    #[error(
        "The time column {column:?} states no unit; {unit} were assumed. If they are others, write the unit into the heading, as in \"time (min)\"."
    )]
    TimeUnitAssumed {
        /// Heading of the column.
        column: String,
        /// Unit assumed, in words.
        unit: &'static str,
    },
    /// Times whose point may stand between minutes and seconds.
    #[error("The times in {column:?} {}", point(*taken))]
    PointInTimes {
        /// Heading of the column.
        column: String,
        /// Whether they were read so.
        taken: bool,
    },
    /// Rows that are hours apart.
    #[error(
        "By the times in {column:?} the table takes {hours:.0} hours. If 1:00:00 means one minute, write 1:00 or 0:01:00."
    )]
    HoursLong {
        /// Heading of the column.
        column: String,
        /// Time of the last row in hours.
        hours: f64,
    },
    /// Another table beside the first that cannot be put together with it.
    #[error(
        "Beside the first table, from column {place} on, another has samples of the same names at the same times: it was left out. If it came later, let its times go on from those of the first; else give it as a file of its own."
    )]
    TableBeside {
        /// Column of its times, from 1.
        place: usize,
    },
    /// A column that somebody worked out from others.
    #[error("Column {column:?} is {of} less {from}, no sample of its own, and was left out.")]
    Difference {
        /// Heading of the column.
        column: String,
        /// The sample it is taken from.
        of: String,
        /// The sample that is taken off.
        from: String,
    },
    /// A column that somebody worked out from others in another way than taking one off another.
    #[error("Column {column:?} is {}, no sample of its own, and was left out.", worked_out(*how, from))]
    WorkedOut {
        /// Heading of the column.
        column: String,
        /// In which way.
        how: WorkedOut,
        /// The samples it comes from.
        from: Vec<String>,
    },
    /// A table with a line for each reading.
    #[error(
        "Each line of the table is one reading, its sample named below {column:?}; those of one time were put side by side. A line named here is that of the first of them."
    )]
    LineForEach {
        /// Heading of the column with the names.
        column: String,
    },
    /// Times that begin again at zero in the middle of the table.
    #[error("From line {line} on the times begin again. {}", anew(*at_once))]
    WatchAnew {
        /// Line of the first row that begins again.
        line: u64,
        /// Whether its zero is the instant of the row before it, else one step later.
        at_once: bool,
    },
    /// A time that does not fit those around it.
    #[error(
        "Line {line}: the time {written} does not fit the rows around it, which leave room for {room}. The row is left out until the table says so."
    )]
    TimeSlip {
        /// Line of the row, from 1.
        line: u64,
        /// The time as it was written.
        written: String,
        /// The time between those around it.
        room: String,
    },
    /// A whole column that no lesson can have.
    #[error("{column}: no lesson has such temperatures in °C. {}", absurd(*tenths))]
    Absurd {
        /// Heading of the column.
        column: String,
        /// Whether they are likely to be tenths of a degree.
        tenths: bool,
    },
    /// Temperatures that are likely to be in another unit than they were read in.
    #[error(
        "{column}: these numbers were read as °C and look like {unit}. If they are, write {unit} into the heading, as in \"slate ({unit})\"."
    )]
    OtherUnit {
        /// Heading of the column.
        column: String,
        /// The likely unit.
        unit: &'static str,
    },
    /// A number far from all others of its column.
    #[error("{column}, line {line}: {written} is far from all others{}", meant(*perhaps))]
    Slip {
        /// Heading of the column.
        column: String,
        /// Line of the row, from 1.
        line: u64,
        /// The number as it was written.
        written: f64,
        /// What may have been meant.
        perhaps: Option<f64>,
    },
    /// A number that does not fit those before and after it.
    #[error(
        "{column}, line {line}: {written} does not fit the values before and after it{}",
        looked(*perhaps, *left_out)
    )]
    OffCurve {
        /// Heading of the column.
        column: String,
        /// Line of the row, from 1.
        line: u64,
        /// The number as it was written.
        written: f64,
        /// What may have been meant.
        perhaps: Option<f64>,
        /// Whether it is left out.
        left_out: bool,
    },
    /// Two numbers of one row that fit each other's column.
    #[error(
        "Line {line}: the values of {one} and {other} fit only if they are swapped. Both are left out until the table says so."
    )]
    Swapped {
        /// Line of the row, from 1.
        line: u64,
        /// Heading of a column.
        one: String,
        /// Heading of the other.
        other: String,
    },
    /// A row with the values of the one before it, where all values were changing.
    #[error(
        "Line {line} repeats the values of the row before it, which do not fit the rows around it. It is left out; the table stays as it is."
    )]
    RowRepeated {
        /// Line of the row, from 1.
        line: u64,
    },
    /// A column that holds no temperatures.
    #[error("Column {column:?} holds no temperatures and was left out.")]
    ColumnLeftOut {
        /// Heading of the column.
        column: String,
    },
    /// A table without rows.
    #[error("The table has only {}: too few to say when the lamp went on or off.", said::rows(*rows))]
    FewRows {
        /// How many rows there are.
        rows: usize,
    },
    /// A channel without a single value.
    #[error("{sample}: there is no value at all.")]
    NoValues {
        /// The sample's name.
        sample: String,
    },
    /// A channel with part of its values missing.
    #[error("{sample}: {missing} of {rows} values {} missing.", said::are(*missing))]
    Missing {
        /// The sample's name.
        sample: String,
        /// Missing values.
        missing: usize,
        /// All rows.
        rows: usize,
    },
    /// Rows of which nobody knows well when they were measured.
    #[error("{}: nothing follows from {}.", said::late(*rows), said::them(*rows))]
    Late {
        /// How many.
        rows: usize,
    },
    /// A column beside two samples that did not warm with them.
    #[error("{sample} hardly warmed, as the air of a room does: it is not compared.")]
    NotCompared {
        /// Its name.
        sample: String,
    },
    /// A ratio whose smaller part is known too loosely.
    #[error("The ratio of the {of} is left out: that of {sample} is known too loosely.")]
    RatioOpen {
        /// Of what.
        of: &'static str,
        /// The sample with the smaller part.
        sample: String,
    },
    /// No edge found.
    #[error("No instant at which the lamp went on or off stands out from the data.")]
    NoEdge,
    /// Wide edge intervals that are mostly lag.
    #[error(
        "Most of the interval for the lamp's instants comes from the unknown lag of probe and lamp; a measured lag would narrow it."
    )]
    LagUnknown,
    /// No off-edge, so no peak and no fall.
    #[error("The lamp was not seen to go off: peak, fall and cooling are left empty.")]
    NeverOff,
    /// No on-edge seen: the record starts with the lamp on, or hides when it went on.
    #[error(
        "The lamp was on before the first row, or was not seen to go on: the start is the first value, a rise before it is not known, and how the samples compare holds for what was seen."
    )]
    OnFromStart,
    /// More than one heating in the record.
    #[error(
        "The lamp went on {count} times; the values are those of the first heating and the cooling after it."
    )]
    ManyHeatings {
        /// How many on-edges there are.
        count: usize,
    },
    /// A value that the data cannot support.
    #[error("{sample}: no {what}, because {why}.")]
    NoValue {
        /// The sample's name.
        sample: String,
        /// Which value.
        what: &'static str,
        /// Why not.
        why: &'static str,
    },
    /// Marks without a value.
    #[error(
        "{sample}: no value at {}, because too few readings are near.",
        said::marks(marks_s, *more)
    )]
    NoMark {
        /// The sample's name.
        sample: String,
        /// The first of these marks, in seconds since the mark that the table calls zero.
        marks_s: Vec<f64>,
        /// How many more there are.
        more: usize,
    },
    /// The plan's last mark lies beyond the record.
    #[error(
        "The record ends at {last_s} s, before the plan's last mark at {at_s} s: that one is left empty."
    )]
    EndsBeforeMark {
        /// Instant of the mark in seconds of the input's time base.
        at_s: f64,
        /// Time of the last row in seconds of the same.
        last_s: f64,
    },
    /// Too many marks asked for.
    #[error("An interval of {interval_s} s would give more than {limit} marks; none are given.")]
    TooManyMarks {
        /// Interval asked for in seconds.
        interval_s: f64,
        /// Most marks allowed.
        limit: usize,
    },
    /// The mark interval is not usable.
    #[error("An interval of {interval_s} s between marks is not usable; no marks are given.")]
    BadMarks {
        /// Interval asked for in seconds.
        interval_s: f64,
    },
    /// The planned and the seen length of heating differ by more than the interval allows.
    #[error("The lamp was planned to be on for {planned_s} s, and the data say {seen_s} s.")]
    NotAsPlanned {
        /// Planned heating in seconds.
        planned_s: f64,
        /// Heating seen in seconds.
        seen_s: f64,
    },
    /// The prediction names a sample that is not there.
    #[error("The prediction names {name:?}, which is not one of the samples.")]
    UnknownPrediction {
        /// Name given.
        name: String,
    },
    /// A prediction without two rises to hold it against.
    #[error(
        "Whether the prediction {name:?} was right is open: fewer than two samples have a rise."
    )]
    NothingToPredict {
        /// Name given.
        name: String,
    },
    /// A probe gave numbers that a sound one would not.
    #[error("{sample}: {detail} (from {at_s:.0} s{}). Look at: {hint}.", times(*episodes))]
    Probe {
        /// The sample's name.
        sample: String,
        /// What was seen first, in words.
        detail: String,
        /// When it began, in seconds of the input's time base.
        at_s: f64,
        /// How often there was such an episode.
        episodes: u32,
        /// What to look at.
        hint: &'static str,
    },
    /// What is odd about how rows follow each other.
    #[error(transparent)]
    Rows(RowsWarning),
    /// The comparison cannot tell the samples apart.
    #[error("The rises differ by less than their uncertainty: which sample warmed more is open.")]
    OrderOpen,
}

impl Serialize for Warning {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}
