use super::*;
use proptest::prelude::*;

fn lines(pattern: &str) -> LinePattern {
    LinePattern {
        name: "tray-box".into(),
        pattern: pattern.into(),
        unit: None,
        scale: None,
        offset: None,
    }
}

fn sample(own: &Own, line: &str) -> Sample {
    match own.parse(line.as_bytes()) {
        Ok(Frame::Sample(sample)) => sample,
        other => panic!("{line}: {other:?}"),
    }
}

fn number(value: f64, decimals: u8) -> Field {
    Field::Number { value, decimals }
}

#[test]
fn groups_are_channels_and_the_clock_is_the_boards() {
    let own = Own::new(lines(
        r"#?(?<seq>\d+) @(?<ms>\d+) A(?<slate>\S+) B(?<moss>\S+)",
    ))
    .unwrap();
    let found = sample(&own, "17 @4250 A24.95 B23,1");
    assert_eq!((found.seq, found.board_ms), (Some(17), Some(4250)));
    assert_eq!(found.labels, ["slate".into(), "moss".into()]);
    assert_eq!(found.fields[..], [number(24.95, 2), number(23.1, 1)]);
    assert_eq!(found.unit, Some(Unit::Degc));
    assert_eq!(own.name(), "tray-box");
}

#[test]
fn scales_and_offsets_keep_the_resolution_that_was_printed() {
    let mut of = lines(r"(?<a>-?\d+) (?<b>-?\d+)");
    of.scale = Some(PerChannel::All(0.0625));
    of.offset = Some(PerChannel::Each([("b".to_owned(), -40.0)].into()));
    let own = Own::new(of).unwrap();
    assert_eq!(
        sample(&own, "401 -8").fields[..],
        [number(25.0625, 2), number(-40.5, 2)]
    );
    let mut tenths = lines(r"(?<a>\d+)");
    tenths.scale = Some(PerChannel::All(0.1));
    let tenths = Own::new(tenths).unwrap();
    assert_eq!(sample(&tenths, "231").fields[..], [number(231.0 * 0.1, 1)]);
}

#[test]
fn what_is_missing_is_empty_and_what_is_no_number_is_told() {
    let own = Own::new(lines(r"A(?<slate>[^ ]*)(?: B(?<moss>.*))?")).unwrap();
    assert_eq!(
        sample(&own, "A24.5").fields[..],
        [number(24.5, 1), Field::Empty]
    );
    assert_eq!(
        sample(&own, "A B1").fields[..],
        [Field::Empty, number(1.0, 0)]
    );
    assert_eq!(sample(&own, "Anan B---").fields[..], [Field::NotANumber; 2]);
    let fault = own.parse(b"A24.5 Bwarm").unwrap_err();
    assert_eq!(fault, LineFault::Number { field: 2, at: 7 });
    assert_eq!(own.parse(b"boot"), Err(LineFault::Pattern));
    assert_eq!(own.parse(b"# hello"), Ok(Frame::Remark(" hello".into())));
}

#[test]
fn the_whole_line_must_fit() {
    let own = Own::new(lines(r"T(?<a>\d+)|(?<b>\d+)")).unwrap();
    assert_eq!(own.parse(b"T12 and more"), Err(LineFault::Pattern));
    assert_eq!(own.parse(b"so T12"), Err(LineFault::Pattern));
}

#[test]
fn patterns_that_cannot_be_used_say_why() {
    let said = |of: LinePattern| Own::new(of).unwrap_err().to_string();
    assert!(said(lines("T=(?<a>[0-9+")).ends_with("(character 8 of the pattern)"));
    assert_eq!(
        said(lines("T=([0-9]+)")),
        "the pattern names no channel: write (?<slate>…) around its number"
    );
    assert_eq!(
        said(lines(r"(?<ms>\d+)")),
        "the pattern names no channel: write (?<slate>…) around its number"
    );
    let nine = ["a", "b", "c", "d", "e", "f", "g", "h", "i"];
    let nine = nine.map(|name| format!(r"(?<{name}>\d)")).concat();
    assert_eq!(
        said(lines(&nine)),
        "the pattern names 9 channels; 8 are possible"
    );
    assert_eq!(
        said(lines("(?<a>((x{1000}){1000}){1000})")),
        "the pattern is too large: it repeats what is repeated already"
    );
    assert!(said(lines(&"x".repeat(1025))).starts_with("the pattern has 1025 characters"));
    // An engine without going back knows neither.
    for backwards in [r"(?<a>\d+)\1", r"(?<a>\d+)(?=x)"] {
        assert!(
            said(lines(backwards)).contains("not supported"),
            "{backwards}"
        );
    }
    let mut of = lines(r"(?<a>\d+)");
    of.scale = Some(PerChannel::Each([("b".to_owned(), 1.0)].into()));
    assert_eq!(said(of.clone()), "there is no group 'b' in the pattern");
    of.scale = Some(PerChannel::All(0.0));
    assert_eq!(said(of.clone()), "the scale 0 cannot be used");
    of.scale = None;
    of.offset = Some(PerChannel::All(f64::NAN));
    assert_eq!(said(of), "the offset NaN cannot be used");
}

#[test]
fn a_misfit_says_how_far_the_line_goes() {
    let own = Own::new(lines(r"T=(?<slate>[\d.]+);M=(?<moss>[\d.]+)")).unwrap();
    assert_eq!(own.misfit(b"T=24.9;M=23.3"), None);
    let misfit = |line: &str| {
        let Misfit { at, wanted, rest } = own.misfit(line.as_bytes()).unwrap();
        (at, wanted, rest)
    };
    let told = |at, wanted: &str, rest: &str| (at, wanted.to_owned(), rest.to_owned());
    assert_eq!(misfit("T=24.9,M=23.3"), told(6, ";", ",M=23.3"));
    assert_eq!(misfit("T=24.9;M=x"), told(9, r"(?<moss>[\d.]+)", "x"));
    assert_eq!(misfit("boot"), told(0, "T", "boot"));
    assert_eq!(misfit("T=24.9;M=23.3 C"), told(13, "", " C"));
}

/// Time in proportion to the line: a pattern that takes other engines forever.
#[test]
fn nested_repetition_ends_at_once() {
    let own = Own::new(lines("(?<a>(x+x+)+y)")).unwrap();
    let line = vec![b'x'; super::super::MAX_LINE];
    assert_eq!(own.parse(&line), Err(LineFault::Pattern));
}

proptest! {
    #[test]
    fn any_line_and_pattern_do_no_harm(pattern in ".{0,40}", line in proptest::collection::vec(any::<u8>(), 0..80)) {
        if let Ok(own) = Own::new(lines(&pattern)) {
            let _ = own.parse(&line);
            let _ = own.misfit(&line);
        }
    }

    #[test]
    fn printed_numbers_come_back(slate in -500.0..500.0f64, moss in -500.0..500.0f64) {
        let own = Own::new(lines("S(?<slate>.*)/M(?<moss>.*)")).unwrap();
        let (a, b) = (format!("{slate:.2}"), format!("{moss:.1}"));
        let found = sample(&own, &format!("S{a}/M{b}"));
        prop_assert_eq!(&found.fields[..], &[number(a.parse().unwrap(), 2), number(b.parse().unwrap(), 1)][..]);
    }
}
