//! How far a broker has acknowledged a run: a small file in the run's folder, one per broker.
//!
//! Losing it costs duplicates, never data: so it is renamed into place whole, but not synced.

use std::io;
use std::path::{Path, PathBuf};

use super::super::word;
use crate::follow::Place;

const FORMAT: &str = "duskmark-sent-1";

/// The file's text.
#[derive(serde::Serialize, serde::Deserialize)]
struct Kept {
    format: String,
    /// What the topics began with: under another root all is to be sent anew.
    root: String,
    #[serde(flatten)]
    place: Place,
}

/// Where cursors of one broker are kept.
#[derive(Debug, Clone)]
pub(super) struct Cursors {
    name: String,
    root: String,
}

impl Cursors {
    pub(super) fn new(broker: &str, root: &str) -> Self {
        Self {
            name: format!("sent-{}.json", word(broker)),
            root: root.to_owned(),
        }
    }

    pub(super) fn path(&self, run: &Path) -> PathBuf {
        run.join(&self.name)
    }

    /// What was kept for a run; its start if there is nothing, or nothing that can be read.
    pub(super) fn read(&self, run: &Path) -> Place {
        let text = std::fs::read_to_string(self.path(run)).unwrap_or_default();
        let kept = serde_json::from_str::<Kept>(&text).ok();
        let kept = kept.filter(|kept| kept.format == FORMAT && kept.root == self.root);
        kept.map_or_else(Place::default, |kept| kept.place)
    }

    /// Keeps a place, in one step.
    ///
    /// # Errors
    /// The system's.
    pub(super) fn write(&self, run: &Path, place: &Place) -> io::Result<()> {
        let kept = Kept {
            format: FORMAT.to_owned(),
            root: self.root.clone(),
            place: place.clone(),
        };
        let aside = run.join(format!(".{}.new", self.name));
        let mut text = serde_json::to_string(&kept)?;
        text.push('\n');
        std::fs::write(&aside, text)
            .and_then(|()| std::fs::rename(&aside, self.path(run)))
            .inspect_err(|_| {
                let _ = std::fs::remove_file(&aside);
            })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::follow::{EventId, Step};

    #[test]
    fn a_place_is_kept_for_one_broker_and_one_root() {
        let run = tempfile::tempdir().unwrap();
        let cursors = Cursors::new("127.0.0.1:1883", "duskmark/school");
        assert_eq!(cursors.read(run.path()), Place::default());
        let mut place = Place::default();
        for step in [
            Step::Begin,
            Step::Row(12_034),
            Step::Event(EventId::of("a")),
        ] {
            place.pass(step);
        }
        cursors.write(run.path(), &place).unwrap();
        assert_eq!(cursors.read(run.path()), place);
        assert!(
            cursors
                .path(run.path())
                .ends_with("sent-127-0-0-1-1883.json")
        );
        for (broker, root) in [
            ("127.0.0.1:1884", "duskmark/school"),
            ("127.0.0.1:1883", "duskmark/other"),
        ] {
            let other = Cursors::new(broker, root);
            assert_eq!(other.read(run.path()), Place::default());
        }
        // Half a file is none.
        std::fs::write(cursors.path(run.path()), "{\"format\":").unwrap();
        assert_eq!(cursors.read(run.path()), Place::default());
    }
}
