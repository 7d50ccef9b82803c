//! `match`, `ice`, `boil`: probes in a bath.

use std::collections::BTreeMap;

use serde_json::json;

use super::args::{BoilArgs, CommonArgs, IceArgs, MatchArgs};
use super::guide::Stretch;
use super::hand::identify;
use super::keep::{Outcome, finish, short};
use super::subject::Subject;
use crate::analysis::{expanded, plus_minus};
use crate::calibrate::water::{
    PlaceFault, WEATHER_U_HPA, boiling_degc, boiling_slope, standard_hpa,
};
use crate::calibrate::{
    BOILING_U_DEGC, FARTHEST_DEGC, Found, ICE_U_DEGC, MatchVerdict, Matched, against,
    matched as compare, mean_of,
};
use crate::cli::exit::{Code, Failure};
use crate::cli::results::PLUS_MINUS;
use crate::cli::text::wrapped;
use crate::cli::text::{aligned, printable};

const BATH: &str = "Stand all probes side by side in one pot of water at room temperature, tips \
    close together and not touching the wall, and stir. Press Enter when they are in.";

const ICE: &str = "Fill a vessel with crushed ice, add cold water until it is slush, stand the \
    tip in the middle and stir; ice must be left at the end. Care: keep the board, its cable and \
    mains away from the water; an adult looks on, and your school's rules come first. Press Enter \
    when the tip is in.";

const BOIL: &str = "An adult boils the water: a full rolling boil, the tip under the surface and \
    off the bottom. Care: steam and boiling water scald; lead the cable away from the plate; keep \
    board and mains away from water and steam; not every probe's sheath stands 100 °C; your \
    school's rules come first. Press Enter when the tip is in.";

/// Probes in one bath, against each other.
pub(super) async fn matched(args: &MatchArgs, quiet: bool) -> Result<(), Failure> {
    let common = &args.common;
    if args.identify && common.readings.is_some() {
        let message = "--identify needs the board: a hand warms a probe";
        return Err(Failure::new(Code::Usage, message).advise("Leave out --readings."));
    }
    let mut subject = Subject::open(common, quiet).await?;
    if subject.channels.len() < 2 {
        let message = "a match needs two probes or more";
        return Err(Failure::new(Code::Usage, message)
            .advise("One probe alone is calibrated with ice, boil or fit."));
    }
    let stretch = subject.bath(BATH).await?;
    let columns: Vec<Vec<f64>> = subject
        .channels
        .iter()
        .map(|channel| stretch.channel(*channel).to_vec())
        .collect();
    let found = compare(&columns, args.rise).ok_or_else(|| unread(&subject, &stretch))?;
    if found.widest.difference_degc.abs() > FARTHEST_DEGC {
        return Err(not_in_it(&subject, &found));
    }
    if args.identify {
        identify(&mut subject, &found).await?;
    }
    let bath_degc = found.means.iter().map(|m| m.degc).sum::<f64>() / found.means.len() as f64;
    let outcome = Outcome {
        text: match_text(&subject, &found, bath_degc),
        more: match_object(&found),
        kind: "match",
        method: format!(
            "one stirred bath, {} readings in {:.0} s",
            stretch.t_s.len(),
            stretch.span_s()
        ),
        conditions: conditions(&[("bath_degc", bath_degc)]),
        found: subject
            .channels
            .iter()
            .zip(&found.means)
            .zip(&found.from_all)
            .map(|((channel, mean), (difference, u))| {
                let found = Found::Match {
                    reading_degc: short(mean.degc),
                    difference_degc: short(*difference),
                    u_degc: short(*u),
                };
                (*channel, found)
            })
            .collect(),
    };
    finish(&subject, outcome, (common.json, quiet))
}

fn match_object(found: &Matched) -> serde_json::Map<String, serde_json::Value> {
    let pairs = [
        ("verdict", json!(found.verdict)),
        ("limit_degc", json!(found.limit_degc)),
        (
            "difference_degc",
            json!(short(found.widest.difference_degc)),
        ),
        ("u_degc", json!(short(found.widest.u_degc))),
    ];
    pairs
        .into_iter()
        .map(|(key, value)| (key.to_owned(), value))
        .collect()
}

fn conditions(pairs: &[(&str, f64)]) -> BTreeMap<String, f64> {
    pairs
        .iter()
        .map(|(key, value)| ((*key).to_owned(), short(*value)))
        .collect()
}

fn match_text(subject: &Subject, found: &Matched, bath_degc: f64) -> String {
    let mut rows = Vec::new();
    for ((channel, mean), (difference, u)) in subject
        .channels
        .iter()
        .zip(&found.means)
        .zip(&found.from_all)
    {
        let (value, half) = expanded(*difference, *u);
        let sign = if value.starts_with('-') { "" } else { "+" };
        rows.push(vec![
            subject.title(*channel),
            format!("{:.3} °C", mean.degc),
            format!("{sign}{value} °C"),
            format!("± {half}"),
        ]);
    }
    let widest = &found.widest;
    let title = |place: usize| subject.title(subject.channels.get(place).copied().unwrap_or(place));
    let difference = plus_minus(widest.difference_degc.abs(), widest.u_degc);
    let limit = format!("{:.2} °C", found.limit_degc);
    let verdict = match found.verdict {
        MatchVerdict::Agree => {
            "They agree: no difference can be told from noise and rounding.".to_owned()
        }
        MatchVerdict::Small => format!(
            "They differ by less than matters in the lesson (from {limit} on it would show)."
        ),
        MatchVerdict::Matters => format!(
            "They differ by more than {limit}: that shows on the graph, so let it be corrected."
        ),
    };
    let summary = format!(
        "{} and {} differ by ({difference}) °C. {verdict}",
        title(widest.channels.0),
        title(widest.channels.1)
    );
    let head = format!(
        "Match in a bath at {bath_degc:.1} °C: reading, and its distance from the mean of all"
    );
    format!(
        "{}{}{}{}",
        wrapped(&head),
        aligned(&rows),
        wrapped(&summary),
        wrapped(PLUS_MINUS)
    )
}

/// A channel without readings.
fn unread(subject: &Subject, stretch: &Stretch) -> Failure {
    let dumb = subject
        .channels
        .iter()
        .find(|channel| mean_of(stretch.channel(**channel)).is_none());
    let name = dumb.map_or_else(|| "a probe".into(), |channel| subject.title(*channel));
    Failure::new(Code::Failed, format!("{name} gives too few readings"))
        .advise("Look with 'duskmark boards' what is wrong with it. Nothing was kept.")
}

fn not_in_it(subject: &Subject, found: &Matched) -> Failure {
    let readings: Vec<String> = subject
        .channels
        .iter()
        .zip(&found.means)
        .map(|(channel, mean)| format!("{} {:.1} °C", subject.title(*channel), mean.degc))
        .collect();
    let message = format!("the probes are not in one bath: {}", readings.join(", "));
    Failure::new(Code::Failed, message).advise(
        "Put all of them in, or name those that are in it with --channel. Nothing was kept.",
    )
}

/// The ice point.
pub(super) async fn ice(args: &IceArgs, quiet: bool) -> Result<(), Failure> {
    let u = args.bath_u.unwrap_or(ICE_U_DEGC);
    let point = Fixed {
        kind: "ice",
        title: "Ice point".into(),
        instruction: ICE,
        reference_degc: 0.0,
        u_degc: u,
        method: "crushed ice and water".into(),
        conditions: conditions(&[("reference_degc", 0.0), ("u_reference_degc", u)]),
        found: |reading_degc, correction_degc, u_degc| Found::Ice {
            reading_degc,
            correction_degc,
            u_degc,
        },
    };
    fixed(&args.common, point, quiet).await
}

/// The boiling point at this place.
pub(super) async fn boil(args: &BoilArgs, quiet: bool) -> Result<(), Failure> {
    let refuse = |fault: PlaceFault| {
        let advice = match fault {
            PlaceFault::Pressure { hpa } if (40_000.0..120_000.0).contains(&hpa) => {
                "That looks like Pa: write 101325Pa."
            }
            PlaceFault::Pressure { hpa } if (40.0..120.0).contains(&hpa) => {
                "That looks like kPa: write 101.3kPa."
            }
            PlaceFault::Pressure { hpa } if (0.4..1.2).contains(&hpa) => {
                "That looks like bar: write 1.013bar."
            }
            PlaceFault::Pressure { .. } => {
                "Read a barometer at this place, or give --altitude in m."
            }
            PlaceFault::Altitude { .. } => {
                "Give the altitude of this place in m, like --altitude 340."
            }
        };
        Failure::new(Code::Usage, fault.to_string()).advise(advice)
    };
    let (hpa, usual_u) = match (args.pressure, args.altitude) {
        (Some(hpa), _) => (hpa, 1.0),
        (None, Some(metres)) => (standard_hpa(metres).map_err(refuse)?, WEATHER_U_HPA),
        (None, None) => (f64::NAN, 1.0),
    };
    let reference_degc = boiling_degc(hpa).map_err(refuse)?;
    let pressure_u = args.pressure_u.unwrap_or(usual_u);
    let u = (boiling_slope(hpa) * pressure_u).hypot(BOILING_U_DEGC);
    let mut of = conditions(&[
        ("pressure_hpa", hpa),
        ("u_pressure_hpa", pressure_u),
        ("reference_degc", reference_degc),
        ("u_reference_degc", u),
    ]);
    let place = match args.altitude {
        Some(metres) => {
            of.insert("altitude_m".into(), metres);
            format!("by the altitude {metres} m")
        }
        None => "as given".into(),
    };
    let point = Fixed {
        kind: "boil",
        title: format!("Boiling point at {hpa:.1} hPa ({place})"),
        instruction: BOIL,
        reference_degc,
        u_degc: u,
        method: format!("boiling water at {hpa:.1} hPa {place} (IAPWS-IF97)"),
        conditions: of,
        found: |reading_degc, correction_degc, u_degc| Found::Boil {
            reading_degc,
            correction_degc,
            u_degc,
        },
    };
    fixed(&args.common, point, quiet).await
}

/// A temperature that nature gives.
struct Fixed {
    kind: &'static str,
    title: String,
    instruction: &'static str,
    reference_degc: f64,
    u_degc: f64,
    method: String,
    conditions: BTreeMap<String, f64>,
    found: fn(f64, f64, f64) -> Found,
}

async fn fixed(common: &CommonArgs, point: Fixed, quiet: bool) -> Result<(), Failure> {
    let mut subject = Subject::open(common, quiet).await?;
    let reference = plus_minus(point.reference_degc, point.u_degc);
    subject
        .guide
        .tell(&format!("{}: ({reference}) °C.", point.title));
    let stretch = subject.bath(point.instruction).await?;
    let mut rows = Vec::new();
    let mut found = Vec::new();
    for &channel in &subject.channels {
        let mean = mean_of(stretch.channel(channel)).ok_or_else(|| unread(&subject, &stretch))?;
        let Some(one) = against(&mean, point.reference_degc, point.u_degc) else {
            return Err(elsewhere(&subject, &stretch, (channel, mean.degc), &point));
        };
        let (value, half) = expanded(one.correction_degc, one.u_degc);
        let sign = if value.starts_with('-') { "" } else { "+" };
        rows.push(vec![
            subject.title(channel),
            format!("reads {:.3} °C", mean.degc),
            format!("correction {sign}{value} °C"),
            format!("± {half}"),
        ]);
        let values = [mean.degc, one.correction_degc, one.u_degc].map(short);
        found.push((channel, (point.found)(values[0], values[1], values[2])));
    }
    let mut more = serde_json::Map::new();
    more.insert("reference_degc".into(), json!(short(point.reference_degc)));
    more.insert("u_reference_degc".into(), json!(short(point.u_degc)));
    let readings = format!(
        "{} readings in {:.0} s",
        stretch.t_s.len(),
        stretch.span_s()
    );
    let outcome = Outcome {
        text: format!(
            "{}: ({reference}) °C\n{}{}",
            point.title,
            aligned(&rows),
            wrapped(PLUS_MINUS)
        ),
        more,
        kind: point.kind,
        method: format!("{}, {readings}", point.method),
        conditions: point.conditions,
        found,
    };
    finish(&subject, outcome, (common.json, quiet))
}

/// A probe that is not where it should be; perhaps another one is.
fn elsewhere(
    subject: &Subject,
    stretch: &Stretch,
    (channel, degc): (usize, f64),
    point: &Fixed,
) -> Failure {
    let message = format!(
        "{} reads {degc:.1} °C where it should read {:.1} °C",
        subject.title(channel),
        point.reference_degc
    );
    let near = (0..stretch.degc.len()).find(|other| {
        let mean = mean_of(stretch.channel(*other));
        *other != channel
            && mean.is_some_and(|m| (m.degc - point.reference_degc).abs() <= FARTHEST_DEGC)
    });
    let advice = match near {
        Some(other) => format!(
            "{} is in it instead: change the probes over, or say --channel {}. Nothing was kept.",
            subject
                .names
                .get(other)
                .map_or("another", |name| name.as_str()),
            other + 1
        ),
        None => {
            "Is the tip in it, and is --thermistor that of this probe? Nothing was kept.".into()
        }
    };
    Failure::new(Code::Failed, message).advise(printable(&advice))
}
