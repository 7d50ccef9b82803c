//! Probes as people describe them: in an option, or in a file of points.

use std::path::{Path, PathBuf};

use super::board_args::BoardArgs;
use super::exit::{Code, Failure};
use super::text::printable;
use crate::probe::{GENERIC, PointTable, ProbeLaw, ProbeSetup, Quantity};

/// A larger file is no table of points.
const LARGEST_BYTES: u64 = 1 << 20;

/// What an option says of a probe.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum ProbeText {
    /// Its law.
    Law(ProbeLaw),
    /// Where its points stand.
    Points(PathBuf),
}

/// `10k`, `4k7`, `4700`, `1M`.
fn parse_ohm(text: &str) -> Option<f64> {
    let text = text.trim().trim_end_matches(['Ω', 'Ω']).trim();
    let (digits, factor) = match text.char_indices().find(|(_, c)| c.is_ascii_alphabetic()) {
        None => (text.to_owned(), 1.0),
        Some((at, letter)) => {
            let factor = match letter {
                'k' | 'K' => 1e3,
                'M' => 1e6,
                'R' => 1.0,
                _ => return None,
            };
            // The letter may stand for the decimal point (IEC 60062): 4k7 is 4.7 kΩ.
            (
                text.replacen(letter, ".", 1),
                if at == 0 { return None } else { factor },
            )
        }
    };
    let ohm = digits.trim_end_matches('.').parse::<f64>().ok()? * factor;
    (ohm.is_finite() && ohm > 0.0).then_some(ohm)
}

/// The divider's fixed resistor.
pub(super) fn parse_fixed_ohm(text: &str) -> Result<f64, String> {
    parse_ohm(text).ok_or_else(|| format!("'{text}' is no resistance; write it like 10k or 4700"))
}

/// `3.3V`, `3300mV` or `3.3`, of either sign.
fn volt(text: &str) -> Option<f64> {
    let text = text.trim();
    let (digits, factor) = match text.strip_suffix("mV") {
        Some(digits) => (digits, 1e-3),
        None => (text.strip_suffix('V').unwrap_or(text), 1.0),
    };
    let volt = digits.trim().parse::<f64>().ok()? * factor;
    volt.is_finite().then_some(volt)
}

/// A supply's or a reference's voltage.
pub(super) fn parse_volt(text: &str) -> Result<f64, String> {
    volt(text)
        .filter(|v| *v > 0.0 && *v < 1e3)
        .ok_or_else(|| format!("'{text}' is no voltage; write it like 3.3V or 2500mV"))
}

/// `1%`, as a share.
pub(super) fn parse_share(text: &str) -> Result<f64, String> {
    let percent = text.trim().strip_suffix('%').map(str::trim);
    percent
        .and_then(|digits| digits.parse::<f64>().ok())
        .filter(|percent| *percent > 0.0 && *percent < 100.0)
        .map(|percent| percent / 100.0)
        .ok_or_else(|| format!("'{text}' is no tolerance; write it like 1%"))
}

/// `2mW` or `2`, for each degree.
pub(super) fn parse_dissipation(text: &str) -> Result<f64, String> {
    let digits = text.trim().strip_suffix("mW").unwrap_or(text.trim());
    digits
        .trim()
        .parse::<f64>()
        .ok()
        .filter(|mw| *mw > 0.0 && *mw < 1e6)
        .ok_or_else(|| format!("'{text}' is no dissipation constant; write it like 2mW"))
}

/// A probe of any kind.
pub(super) fn parse_probe(text: &str) -> Result<ProbeText, String> {
    let law = match text.split_once(':') {
        Some(("platinum", ohm)) => {
            let r0_ohm = parse_ohm(ohm).ok_or_else(|| {
                format!("'{ohm}' is no resistance at 0 °C; write it like platinum:100")
            })?;
            ProbeLaw::Platinum { r0_ohm }
        }
        Some(("linear", line)) => linear(line)?,
        Some(("points", "")) => return Err("points of which file? write points:FILE.csv".into()),
        Some(("points", file)) => return Ok(ProbeText::Points(PathBuf::from(file))),
        Some((kind, _)) => {
            return Err(format!(
                "there is no kind of probe '{kind}'; there are platinum:, linear: and points:, \
                 and thermistors like 10k,3950"
            ));
        }
        None => thermistor(text)?,
    };
    law.checked()
        .map(ProbeText::Law)
        .map_err(|fault| fault.to_string())
}

/// `0.5V,10mV`.
fn linear(text: &str) -> Result<ProbeLaw, String> {
    let line = text.split_once(',');
    line.and_then(|(at_zero, per_degc)| volt(at_zero).zip(volt(per_degc)))
        .map(|(v0_volt, volt_per_degc)| ProbeLaw::Linear {
            v0_volt,
            volt_per_degc,
        })
        .ok_or_else(|| {
            format!("'{text}' is no voltage at 0 °C and per degree; write it like linear:0.5V,10mV")
        })
}

/// `10k,3950`, or constants.
fn thermistor(text: &str) -> Result<ProbeLaw, String> {
    let parts: Vec<&str> = text.split(',').map(str::trim).collect();
    if let Some(r25_ohm) = parse_ohm(text) {
        return Err(without_beta(text, r25_ohm));
    }
    let number = |part: &&str| part.parse::<f64>().ok();
    let numbers: Option<Vec<f64>> = parts.iter().map(number).collect();
    let law = match (parts.as_slice(), numbers.as_deref()) {
        (&[r25, beta], _) => parse_ohm(r25)
            .zip(number(&beta))
            .map(|(r25_ohm, beta_k)| ProbeLaw::Beta { r25_ohm, beta_k }),
        (_, Some(&[a, b, c])) => Some(ProbeLaw::SteinhartHart { a, b, c2: 0.0, c }),
        (_, Some(&[a, b, c2, c])) => Some(ProbeLaw::SteinhartHart { a, b, c2, c }),
        ([r_ref, rest @ ..], _) if rest.len() == 4 => {
            let constants: Option<Vec<f64>> = rest.iter().map(number).collect();
            let constants: Option<[f64; 4]> = constants.and_then(|c| c.try_into().ok());
            parse_ohm(r_ref)
                .zip(constants)
                .map(|(r_ref_ohm, constants)| ProbeLaw::about(r_ref_ohm, constants))
        }
        _ => None,
    };
    law.ok_or_else(|| {
        format!(
            "'{text}' describes no probe; write R25 and B like 10k,3950, or constants a,b,c, \
             or platinum:100, linear:0.5V,10mV, points:FILE.csv"
        )
    })
}

/// A resistance alone: which B values go with it.
fn without_beta(text: &str, r25_ohm: f64) -> String {
    let same = GENERIC
        .iter()
        .filter(|part| (part.r25_ohm / r25_ohm - 1.0).abs() < 0.01);
    let mut betas: Vec<String> = same.map(|part| part.beta_k.to_string()).collect();
    if betas.is_empty() {
        betas = GENERIC.iter().map(|part| part.beta_k.to_string()).collect();
        betas.sort();
        betas.dedup();
    }
    format!(
        "'{text}' says nothing of the B value: write {text},B. B is mostly {}; the part's data \
         sheet says which",
        betas.join(", ")
    )
}

/// What the user says of board and probes.
///
/// # Errors
/// A [`Failure`] if a file of points cannot be used.
pub(super) fn probe_setup(args: &BoardArgs) -> Result<ProbeSetup, Failure> {
    let laws = args.probes.iter().map(|probe| match probe {
        ProbeText::Law(law) => Ok(law.clone()),
        ProbeText::Points(path) => points(path).map(ProbeLaw::Points),
    });
    Ok(ProbeSetup {
        unit: args.unit.map(Into::into),
        full_scale: args.full_scale,
        fixed_ohm: args.fixed,
        ntc_side: args.ntc.map(Into::into),
        reference_volt: args.reference,
        supply_volt: args.supply,
        fixed_tolerance: args.fixed_tolerance,
        reference_tolerance: args.reference_tolerance,
        dissipation_mw_per_k: args.dissipation,
        laws: laws.collect::<Result<_, _>>()?,
    })
}

/// The table in a file.
fn points(path: &Path) -> Result<PointTable, Failure> {
    let shown = printable(&path.display().to_string());
    let failed = |text: String| {
        Failure::new(Code::Usage, format!("{shown}: {text}")).advise(
            "A table of points has the heading ohm,degc (or volt,degc) and a point in each line, \
             like 10000,25.",
        )
    };
    let about = std::fs::metadata(path).map_err(|error| failed(error.to_string()))?;
    if about.len() > LARGEST_BYTES {
        return Err(failed("it is too large for a table of points".into()));
    }
    let text = std::fs::read_to_string(path).map_err(|error| failed(error.to_string()))?;
    read_points(&text).map_err(failed)
}

/// A table with a heading; `;` or tabs between cells, and then decimal commas, are understood.
fn read_points(text: &str) -> Result<PointTable, String> {
    let text = text.trim_start_matches('\u{feff}');
    let heading = text.lines().next().unwrap_or_default();
    let separator = [b';', b'\t', b',']
        .into_iter()
        .find(|separator| heading.contains(char::from(*separator)))
        .ok_or_else(|| "its first line is no heading with two columns".to_owned())?;
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(separator)
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes());
    let columns = reader.headers().map_err(|error| error.to_string())?.clone();
    let place = |name: &str| columns.iter().position(|c| c.eq_ignore_ascii_case(name));
    let (quantity, signal) = match (place("ohm"), place("volt")) {
        (Some(ohm), None) => (Quantity::Ohm, ohm),
        (None, Some(volt)) => (Quantity::Volt, volt),
        (Some(_), Some(_)) => return Err("it has both a column ohm and a column volt".into()),
        (None, None) => return Err("it has no column ohm or volt".into()),
    };
    let degc = place("degc").ok_or("it has no column degc")?;
    let mut all = Vec::new();
    for record in reader.records() {
        let record = record.map_err(|error| error.to_string())?;
        let line = record.position().map_or(0, csv::Position::line);
        let number = |column: usize| {
            let cell = record.get(column).unwrap_or_default();
            let plain = if separator == b',' {
                cell.to_owned()
            } else {
                cell.replace(',', ".")
            };
            plain
                .parse::<f64>()
                .map_err(|_| format!("line {line}: '{}' is no number", printable(cell)))
        };
        all.push((number(signal)?, number(degc)?));
    }
    PointTable::new(quantity, &all).map_err(|fault| fault.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn resistors_are_read_as_they_are_printed() {
        // IEC 60062 writes the multiplier in the place of the decimal point.
        for (text, ohm) in [
            ("10k", 1e4),
            ("4k7", 4700.0),
            ("4700", 4700.0),
            ("1M", 1e6),
            ("10 kΩ", 1e4),
        ] {
            let read = parse_ohm(&text.replace(' ', "")).unwrap();
            assert!((read - ohm).abs() < 1e-6, "{text}: {read}");
        }
        for text in ["", "k", "-10k", "10x", "0", "1e400"] {
            assert_eq!(parse_ohm(text), None, "{text}");
        }
    }

    #[test]
    fn probes_of_every_kind_are_read() {
        let law = |text: &str| match parse_probe(text) {
            Ok(ProbeText::Law(law)) => law,
            other => panic!("{text}: {other:?}"),
        };
        assert_eq!(
            law("10k,3950"),
            ProbeLaw::Beta {
                r25_ohm: 1e4,
                beta_k: 3950.0
            }
        );
        for text in [
            "1.129241e-3,2.341077e-4,8.775468e-8",
            "1.129241e-3,2.341077e-4,0,8.775468e-8",
            "10k,3.354016e-3,2.56985e-4,2.620131e-6,6.383091e-8",
        ] {
            let ohm = law(text).signal_at(25.0);
            assert!((ohm - 1e4).abs() < 2.0, "{text}: {ohm}");
        }
        assert_eq!(law("platinum:1k"), ProbeLaw::Platinum { r0_ohm: 1e3 });
        let line = ProbeLaw::Linear {
            v0_volt: 0.5,
            volt_per_degc: 0.01,
        };
        assert_eq!(law("linear:0.5V,10mV"), line);
        assert_eq!(law("linear:0.5,0.01"), line);
        let file = ProbeText::Points(PathBuf::from("C:\\a.csv"));
        assert_eq!(parse_probe("points:C:\\a.csv"), Ok(file));
    }

    #[test]
    fn what_describes_no_probe_is_told_in_words() {
        for (text, part) in [
            ("10k", "B is mostly 3380, 3435, 3950, 3977"),
            ("22k", "B is mostly 3380, 3435, 3950, 3977"),
            ("a,b", "describes no probe"),
            ("10k,nan", "must be a finite number"),
            ("10k,-3950", "must be a finite number"),
            ("1,2,3", "10 Ω to 10 MΩ"),
            ("1e-3,2e-4,-9e-6,1e-7", "turns back"),
            ("platinum:cold", "is no resistance at 0 °C"),
            ("platinum:2M", "1 Ω to 100 kΩ"),
            ("linear:0.5", "per degree"),
            ("linear:0.5,0", "makes no law"),
            ("points:", "of which file"),
            ("copper:100", "no kind of probe 'copper'"),
        ] {
            let said = parse_probe(text).unwrap_err();
            assert!(said.contains(part), "{text}: {said}");
        }
        for text in ["", "0V", "5A", "-1", "nan", "1e9"] {
            assert!(parse_volt(text).is_err(), "{text}");
        }
        assert_eq!(parse_volt("2500mV"), Ok(2.5));
        for text in ["", "1", "0%", "100%", "nan%", "-1%"] {
            assert!(parse_share(text).is_err(), "{text}");
        }
        assert_eq!(parse_share("5%"), Ok(0.05));
        assert_eq!(parse_dissipation("2mW"), Ok(2.0));
        assert!(parse_dissipation("0").is_err());
    }

    #[test]
    fn tables_are_read_with_other_separators_and_bad_ones_say_where() {
        for text in [
            "ohm,degc\n27326,0\n10000,25\n1451,85\n",
            "\u{feff}degc;ohm\n0;27326,0\n25;10000\n85;1451\n",
            "note\tDegC\tOhm\nice\t0\t27326\n\t25\t10000\nhot\t85\t1451\n",
        ] {
            let table = read_points(text).unwrap();
            assert_eq!(table.points().first(), Some(&(1451.0, 85.0)), "{text}");
            assert_eq!(table.points().len(), 3);
        }
        for (text, part) in [
            ("", "no heading"),
            ("10000\n", "no heading"),
            ("ohm,kelvin\n1,2\n", "no column degc"),
            ("a,degc\n1,2\n", "no column ohm or volt"),
            ("ohm,volt,degc\n1,2,3\n", "both a column"),
            ("ohm,degc\n10000,25\nx,30\n", "line 3: 'x' is no number"),
            ("ohm,degc\n10000,25\n", "2 to 2048 points, not 1"),
            ("ohm,degc\n1000,25\n2000,25\n", "same temperature"),
            ("ohm,degc\n1000,25\n2000,20\n3000,22\n", "point 3"),
        ] {
            let said = read_points(text).unwrap_err();
            assert!(said.contains(part), "{text:?}: {said}");
        }
    }
}
