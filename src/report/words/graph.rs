//! The words of pictures in the page's language.

use super::{Value, Words};
use crate::graph::{EdgeKind, Spread, Wording};

impl Words {
    /// A sentence with texts that are fit for a picture already.
    fn of_picture(&self, key: &str, texts: &[(&str, &str)]) -> String {
        let values: Vec<(&str, Value<'_>)> = texts
            .iter()
            .map(|(name, text)| (*name, Value::Text(text)))
            .collect();
        self.tell(key, &values)
    }
}

impl Wording for Words {
    fn temperature(&self) -> String {
        self.say("graph-temperature")
    }

    fn time(&self) -> String {
        self.say("graph-time")
    }

    fn edge(&self, kind: EdgeKind) -> String {
        self.say(match kind {
            EdgeKind::On => "graph-lamp-on",
            EdgeKind::Off => "graph-lamp-off",
        })
    }

    fn no_readings(&self) -> String {
        self.say("graph-no-readings")
    }

    fn more(&self, count: usize) -> String {
        self.tell("graph-more", &[("n", Value::Count(count))])
    }

    fn benches(&self, count: usize) -> String {
        self.tell("graph-benches", &[("n", Value::Count(count))])
    }

    fn benches_of(&self, count: usize, material: &str) -> String {
        let benches = self.benches(count);
        let texts = [("benches", benches.as_str()), ("material", material)];
        self.of_picture("graph-benches-of", &texts)
    }

    fn thin(&self, what: &str) -> String {
        self.of_picture("graph-thin", &[("what", what)])
    }

    fn thick(&self) -> String {
        self.say("graph-thick")
    }

    fn thick_of_some(&self) -> String {
        self.say("graph-thick-some")
    }

    fn shaded(&self, what: &str) -> String {
        self.of_picture("graph-shaded", &[("what", what)])
    }

    fn beyond(&self, count: usize) -> String {
        self.tell("graph-beyond", &[("n", Value::Count(count))])
    }

    fn plus_minus(&self) -> String {
        self.say("graph-plus-minus")
    }

    fn invented(&self) -> String {
        self.say("graph-invented")
    }

    fn spread(&self, spread: Spread) -> String {
        self.say(match spread {
            Spread::MiddleHalf => "graph-middle-half",
            Spread::Whole => "graph-whole-range",
        })
    }

    fn overview(&self, degrees: &str, time: &str, (from, to): (&str, &str)) -> String {
        let (from, to) = (self.number(from), self.number(to));
        let texts = [
            ("degrees", degrees),
            ("time", time),
            ("from", &from),
            ("to", &to),
        ];
        self.of_picture("graph-overview", &texts)
    }

    fn course(&self, name: &str, values: [&str; 4]) -> String {
        let [first, lowest, highest, last] = values.map(|digits| self.number(digits));
        let texts = [
            ("name", name),
            ("first", &first),
            ("lowest", &lowest),
            ("highest", &highest),
            ("last", &last),
        ];
        self.of_picture("graph-course", &texts)
    }

    fn decimal_mark(&self) -> char {
        self.language().decimal_mark()
    }
}

#[cfg(test)]
mod tests {
    use super::super::Language;
    use super::*;
    use crate::graph::{
        ClassPicture, Curve, English, LampEdge, Material, Picture, Style, class_svg_in, svg_in,
    };

    /// Text elements and description of a picture.
    fn texts(svg: &str) -> Vec<String> {
        let lines = svg.lines().filter_map(|line| {
            let rest = line
                .strip_suffix("</text>")
                .or_else(|| line.strip_suffix("</desc>"))?;
            Some(rest.split_once('>')?.1.to_owned())
        });
        lines.collect()
    }

    fn curve(name: &'static str, t_s: Vec<f64>, degc: Vec<f64>) -> Curve<'static> {
        Curve {
            name: name.into(),
            t_s: t_s.into(),
            degc: degc.into(),
            ..Curve::default()
        }
    }

    fn edges(span_s: f64) -> Vec<LampEdge> {
        let edge = |kind, share: f64| LampEdge {
            kind,
            at_s: share * span_s,
            low_s: share * span_s - 0.4,
            high_s: share * span_s + 0.4,
        };
        vec![edge(EdgeKind::On, 0.2), edge(EdgeKind::Off, 0.7)]
    }

    /// A picture of one run, and pictures of classes of one and of five benches.
    fn drawn(words: &dyn Wording) -> Vec<String> {
        let mut all = Vec::new();
        for span_s in [60.0, 1200.0, 20_000.0, 900_000.0] {
            let picture = Picture {
                title: "1.5".into(),
                curves: vec![
                    curve("slate", vec![0.0, span_s], vec![21.2, 21.8]),
                    curve("moss", vec![], vec![]),
                ],
                edges: edges(span_s),
                is_invented: true,
                ..Picture::default()
            };
            all.push(svg_in(&picture, &Style::default(), words));
        }
        for spikes in [1, 2] {
            let mut degc = vec![21.5; 100];
            degc.iter_mut()
                .step_by(40)
                .skip(1)
                .take(spikes)
                .for_each(|v| *v = 85.0);
            let picture = Picture {
                curves: vec![curve("slate", (0..100).map(f64::from).collect(), degc)],
                ..Picture::default()
            };
            all.push(svg_in(&picture, &Style::default(), words));
        }
        for (benches, style) in [(1, Style::page()), (5, Style::phone())] {
            let own = |k: usize| curve("", vec![0.0, 600.0], vec![20.5, 21.0 + 0.1 * k as f64]);
            let material = |name: &'static str, count: usize| Material {
                name: name.into(),
                curves: (0..count).map(own).collect(),
                others: (5..=count).map(own).collect(),
            };
            let class = ClassPicture {
                materials: vec![material("slate", benches), material("moss", 1)],
                edges: edges(600.0),
                has_spread: true,
                ..ClassPicture::default()
            };
            all.push(class_svg_in(&class, &style, words));
        }
        all
    }

    #[test]
    fn no_word_of_a_picture_is_left_in_english() {
        let english: Vec<String> = drawn(&English).iter().flat_map(|svg| texts(svg)).collect();
        // Names, and what is written the same everywhere.
        let same = |text: &str| !text.contains(' ') && !text.contains('.') || text == "1.5";
        for language in [Language::German, Language::French] {
            let own = drawn(&Words::of(language));
            let own: Vec<String> = own.iter().flat_map(|svg| texts(svg)).collect();
            for text in own.iter().filter(|text| !same(text)) {
                assert!(!english.contains(text), "{text} in {}", language.tag());
            }
            assert!(
                own.iter().any(|text| text == "1.5"),
                "the heading is a name"
            );
        }
    }

    #[test]
    fn the_english_of_pages_is_the_english_of_pictures() {
        assert_eq!(drawn(&Words::of(Language::English)), drawn(&English));
    }
}
