//! Ticks at round numbers.

/// What a time axis counts in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum TimeUnit {
    Second,
    Minute,
    Hour,
    Day,
}

impl TimeUnit {
    /// The unit in which a span in seconds makes small numbers.
    pub(super) fn for_span(span_s: f64) -> Self {
        match span_s {
            s if s <= 120.0 => Self::Second,
            s if s <= 3.0 * 3600.0 => Self::Minute,
            s if s <= 3.0 * 86_400.0 => Self::Hour,
            _ => Self::Day,
        }
    }

    /// Seconds in it.
    pub(super) fn in_s(self) -> f64 {
        match self {
            Self::Second => 1.0,
            Self::Minute => 60.0,
            Self::Hour => 3600.0,
            Self::Day => 86_400.0,
        }
    }

    /// Its symbol (SI Brochure, 9th edition, table 8); the day's is d.
    pub(super) fn symbol(self) -> &'static str {
        match self {
            Self::Second => "s",
            Self::Minute => "min",
            Self::Hour => "h",
            Self::Day => "d",
        }
    }

    /// Steps that people count in, in this unit, before the ladder of 1, 2 and 5 goes on.
    fn steps(self) -> &'static [f64] {
        match self {
            Self::Second | Self::Minute => &[1.0, 2.0, 5.0, 10.0, 15.0, 30.0, 60.0],
            Self::Hour => &[0.5, 1.0, 2.0, 3.0, 6.0, 12.0, 24.0],
            Self::Day => &[0.5, 1.0, 2.0, 5.0, 10.0],
        }
    }

    /// The smallest step of at least `least` whose ticks are at marks that are `marks` apart, in
    /// this unit; as without marks where those do not come in whole numbers.
    pub(super) fn step_at(self, least: f64, marks: Option<f64>) -> f64 {
        let usual = self.step(least);
        let Some(marks) = marks.filter(|m| *m >= 1.0 && is_whole(*m)) else {
            return usual;
        };
        let marks = libm::round(marks);
        let own = self.steps().iter().copied();
        let hit = own.filter(|step| is_whole(step / marks));
        let multiples = [1.0, 2.0, 5.0, 10.0].map(|factor| factor * marks);
        let steps = hit.chain(multiples).filter(|step| *step >= least);
        let best = steps.fold(f64::INFINITY, f64::min);
        if best <= 2.5 * usual { best } else { usual }
    }

    /// The smallest step of at least `least`, in this unit.
    pub(super) fn step(self, least: f64) -> f64 {
        let own = self.steps().iter().copied().find(|step| *step >= least);
        let is_fraction_of_a_second = self == Self::Second && least < 0.5;
        own.filter(|_| !is_fraction_of_a_second)
            .unwrap_or_else(|| round_step(least))
    }
}

/// Whether a number is a whole one, to a thousandth.
fn is_whole(value: f64) -> bool {
    (value - libm::round(value)).abs() < 1e-3
}

/// The distance of marks that are evenly spaced from 0 on, some of which may be missing.
pub(super) fn mark_step(marks: &[f64]) -> Option<f64> {
    let mut marks = marks.to_vec();
    marks.sort_by(f64::total_cmp);
    let apart = marks.windows(2).filter_map(|pair| match pair {
        [a, b] => Some(b - a),
        _ => None,
    });
    let least = apart.fold(f64::INFINITY, f64::min);
    let fits = least > 0.0 && least.is_finite() && marks.iter().all(|m| is_whole(m / least));
    fits.then_some(least)
}

/// The smallest of 1, 2 and 5 times a power of ten that is at least `least` (finite, above 0).
pub(super) fn round_step(least: f64) -> f64 {
    let power = libm::floor(libm::log10(least));
    let whole = |factor: f64, power: f64| {
        if power < 0.0 {
            factor / libm::exp10(-power).round()
        } else {
            factor * libm::exp10(power).round()
        }
    };
    let ladder = [1.0, 2.0, 5.0, 10.0].map(|factor| whole(factor, power));
    // The logarithm of an exact power of ten may fall just short.
    ladder
        .into_iter()
        .find(|step| *step >= least * (1.0 - 1e-9))
        .unwrap_or(whole(10.0, power))
}

/// Multiples of a step from `low` to `high`, ends included, at most 1000.
pub(super) fn ticks(low: f64, high: f64, step: f64) -> Vec<f64> {
    let first = libm::ceil(low / step - 1e-9);
    let last = libm::floor(high / step + 1e-9);
    let count = (last - first + 1.0).clamp(0.0, 1000.0) as usize;
    (0..count).map(|k| (first + k as f64) * step).collect()
}

/// A tick's label: as many decimals as its step has, and a real minus sign.
pub(super) fn label(value: f64, step: f64) -> String {
    let decimals = (-libm::floor(libm::log10(step) + 1e-9)).clamp(0.0, 9.0) as usize;
    let text = format!("{:.decimals$}", value.abs());
    let is_zero = text.bytes().all(|b| matches!(b, b'0' | b'.'));
    if value < 0.0 && !is_zero {
        format!("\u{2212}{text}")
    } else {
        text
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn units_fit_the_lesson_the_night_and_the_fortnight() {
        assert_eq!(TimeUnit::for_span(45.0), TimeUnit::Second);
        assert_eq!(TimeUnit::for_span(1300.0), TimeUnit::Minute);
        assert_eq!(TimeUnit::for_span(12.0 * 3600.0), TimeUnit::Hour);
        assert_eq!(TimeUnit::for_span(14.0 * 86_400.0), TimeUnit::Day);
    }

    #[test]
    fn minutes_step_as_on_a_clock() {
        let steps: Vec<f64> = [0.3, 1.1, 2.5, 6.0, 11.0, 16.0, 31.0, 61.0]
            .into_iter()
            .map(|least| TimeUnit::Minute.step(least))
            .collect();
        assert_eq!(steps, [1.0, 2.0, 5.0, 10.0, 15.0, 30.0, 60.0, 100.0]);
        assert!((TimeUnit::Second.step(0.03) - 0.05).abs() < 1e-12);
    }

    #[test]
    fn ticks_are_at_the_marks_where_marks_are_whole() {
        assert_eq!(mark_step(&[6.0, 0.0, 3.0, 12.0]), Some(3.0));
        assert_eq!(mark_step(&[1.0, 2.0, 3.5]), None);
        assert_eq!(mark_step(&[1.0]), None);
        let step = |least, marks| TimeUnit::Minute.step_at(least, marks);
        let cases = [
            (1.6, 3.0),
            (4.0, 3.0),
            (1.6, 5.0),
            (1.6, 1.0),
            (1.6, 20.0),
            (1.6, 0.5),
        ];
        let steps: Vec<f64> = cases
            .iter()
            .map(|(least, m)| step(*least, Some(*m)))
            .collect();
        assert_eq!(steps, [3.0, 6.0, 5.0, 2.0, 2.0, 2.0]);
        assert!((step(1.6, None) - 2.0).abs() < 1e-12);
    }

    #[test]
    fn labels_have_the_decimals_of_their_step() {
        assert_eq!(label(22.5, 0.5), "22.5");
        assert_eq!(label(22.0, 2.0), "22");
        assert_eq!(label(-5.0, 5.0), "\u{2212}5");
        assert_eq!(label(-0.0, 5.0), "0");
        assert_eq!(label(0.02, 0.01), "0.02");
    }

    proptest! {
        #[test]
        fn every_step_is_one_two_or_five_times_a_power_of_ten(least in 1e-6_f64..1e9) {
            let step = round_step(least);
            prop_assert!(step >= least * (1.0 - 1e-9) && step < least * 2.5 * (1.0 + 1e-9));
            let text = format!("{step:e}");
            prop_assert!(["1", "2", "5"].contains(&text.split('e').next().unwrap()), "{}", text);
        }

        #[test]
        fn ticks_stay_inside_and_one_step_apart(low in -1e4_f64..1e4, span in 1e-2_f64..1e4) {
            let step = round_step(span / 6.0);
            let all = ticks(low, low + span, step);
            prop_assert!((2..=7).contains(&all.len()));
            for tick in &all {
                prop_assert!(*tick >= low - step * 1e-6 && *tick <= low + span + step * 1e-6);
            }
            for pair in all.windows(2) {
                prop_assert!((pair[1] - pair[0] - step).abs() < step * 1e-6);
            }
        }
    }
}
