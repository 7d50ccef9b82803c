//! What people measured of the set-up, kept in `run.toml`: nothing in the journal tells it, so a
//! rebuild leaves it as it is there.

use std::path::Path;

use super::error::RunError;
use super::files::name;
use super::folder::replace;

/// The section's name.
pub(super) const SECTION: &str = "set_up";

/// Masses, volumes and distance, each with its unit as given (`250 g`).
#[derive(Debug, Clone, PartialEq, Eq, Default, serde::Serialize, serde::Deserialize)]
#[serde(default)]
pub struct SetUpNotes {
    /// Mass of each sample, in their order.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub sample_mass: Vec<String>,
    /// Volume of each sample, in their order.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub sample_volume: Vec<String>,
    /// From the lamp to the samples.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lamp_distance: Option<String>,
}

/// What `run.toml` in a folder has; nothing where it has none or cannot be read.
#[must_use]
pub fn set_up_in(folder: &Path) -> SetUpNotes {
    #[derive(serde::Deserialize)]
    struct Settings {
        #[serde(default)]
        set_up: SetUpNotes,
    }
    let text = std::fs::read_to_string(folder.join(name::SETTINGS)).ok();
    let settings = text.and_then(|text| toml::from_str::<Settings>(&text).ok());
    settings.map_or_else(SetUpNotes::default, |settings| settings.set_up)
}

/// The section as it stands in `run.toml`, where it is the last; empty where there is nothing.
pub(super) fn set_up_section(notes: &SetUpNotes) -> String {
    if *notes == SetUpNotes::default() {
        return String::new();
    }
    format!(
        "\n[{SECTION}]\n{}",
        toml::to_string(notes).unwrap_or_default()
    )
}

/// Puts the section into a folder's `run.toml`, in place of the one that is there.
///
/// # Errors
/// [`RunError::Read`] if there is no such file, [`RunError::Write`] if it cannot be replaced.
pub fn keep_set_up(folder: &Path, notes: &SetUpNotes) -> Result<(), RunError> {
    let path = folder.join(name::SETTINGS);
    let text = std::fs::read_to_string(&path).map_err(|source| RunError::Read { path, source })?;
    let whole = format!("{}{}", without_set_up(&text), set_up_section(notes));
    replace(folder, name::SETTINGS, whole.as_bytes())
}

/// The text of a `run.toml` before the section: it stays to the letter.
pub(super) fn without_set_up(text: &str) -> &str {
    let head = format!("\n[{SECTION}]\n");
    text.split(head.as_str()).next().unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_section_is_kept_and_replaced_and_nothing_else_changes() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join(name::SETTINGS);
        std::fs::write(
            &path,
            "# Settings\nname = \"a\"\n\n[plan]\nheat_s = 600.0\n",
        )
        .unwrap();
        let before = std::fs::read_to_string(&path).unwrap();
        let mut notes = SetUpNotes {
            sample_mass: vec!["250 g".into(), "180 g".into()],
            ..SetUpNotes::default()
        };
        keep_set_up(folder.path(), &notes).unwrap();
        assert_eq!(set_up_in(folder.path()), notes);
        notes.lamp_distance = Some("30 cm".into());
        keep_set_up(folder.path(), &notes).unwrap();
        assert_eq!(set_up_in(folder.path()), notes);
        let text = std::fs::read_to_string(&path).unwrap();
        assert!(text.starts_with(&before) && text.matches("[set_up]").count() == 1);
        keep_set_up(folder.path(), &SetUpNotes::default()).unwrap();
        assert_eq!(std::fs::read_to_string(&path).unwrap(), before);
    }
}
