//! Names that may stand in a topic or a path.

/// Longest word in characters.
const LONGEST: usize = 60;

/// A name as one level of a topic or path: letters and digits of any script stay, all else becomes
/// `-`. Never empty; it holds nothing that separates levels or stands for several (`/ + # =`).
///
/// ```
/// assert_eq!(duskmark::outlet::word("Bench 3: slate/moss"), "Bench-3-slate-moss");
/// assert_eq!(duskmark::outlet::word("../#"), "unnamed");
/// ```
#[must_use]
pub fn word(name: &str) -> String {
    let mut out = String::new();
    for c in name.chars().take(LONGEST) {
        if c.is_alphanumeric() {
            out.push(c);
        } else if !out.is_empty() && !out.ends_with('-') {
            out.push('-');
        }
    }
    let out = out.trim_end_matches('-');
    if out.is_empty() {
        "unnamed".to_owned()
    } else {
        out.to_owned()
    }
}
