//! The one style of all pages, for screens of 320 pixels and up and for paper.

/// The style sheet. Text has at least 4.5:1 against what it stands on (WCAG 2.2, 1.4.3); boxes are
/// told apart by their border, not by colour alone.
pub(super) const CSS: &str = include_str!("style.css");
