//! The files of what follows from a journal.

use std::path::Path;

use super::Derived;
use crate::analysis;
use crate::run::day_table::days_csv;
use crate::run::error::RunError;
use crate::run::files::{self, name};
use crate::run::folder::{replace, replace_with};
use crate::run::found::settings_toml;
use crate::run::kept::kept_section;
use crate::run::set_up::{set_up_in, set_up_section};

impl Derived {
    /// Writes all derived files into `folder`, each whole or not at all, and gives their names.
    ///
    /// # Errors
    /// [`RunError::Write`]; files written before it are whole.
    pub fn write(&self, folder: &Path) -> Result<Vec<&'static str>, RunError> {
        let lamp = &self.summary.lamp;
        let phase = |t_s: f64| analysis::phase_at(t_s, lamp).map_or("", analysis::Phase::word);
        let time = &self.feed.time;
        replace_with(folder, name::READINGS, |out| {
            files::readings(out, &self.series, &self.table, &self.slugs, time, phase)
        })?;
        let mut summary = serde_json::to_string_pretty(&self.summary).unwrap_or_default();
        summary.push('\n');
        let written = [
            (
                name::METADATA,
                files::metadata(&self.setup, &self.names, &self.slugs, &self.found.began_utc),
            ),
            (name::EVENTS, self.events_csv()),
            (
                name::MARKS,
                analysis::marks_csv_as(&self.summary, &self.slugs),
            ),
        ];
        let place = self.setup.plan.place;
        let (series, edges) = (&self.series, &self.summary.lamp);
        let days =
            days_csv((series, edges), time, &self.slugs, place).map(|text| (name::DAYS, text));
        let mut names = vec![name::READINGS];
        // Results late: whoever sees them finds the other files final.
        let results = [(name::SUMMARY, summary)];
        for (name, text) in written.into_iter().chain(days).chain(results) {
            replace(folder, name, text.as_bytes())?;
            names.push(name);
        }
        replace(folder, name::SETTINGS, self.settings(folder).as_bytes())?;
        names.push(name::SETTINGS);
        Ok(names)
    }

    /// `run.toml`, whose last words are about the other files: written when these are.
    fn settings(&self, folder: &Path) -> String {
        let text = settings_toml(&self.setup, &self.found, &self.feed.names())
            + &self.afterwards.section();
        let kept = kept_section(folder, &text);
        text + &kept + &set_up_section(&set_up_in(folder))
    }

    fn events_csv(&self) -> String {
        let mut out = String::from(files::EVENTS_HEAD);
        for event in &self.events {
            let channel = event.channel.and_then(|c| self.names.get(c));
            files::events_line(
                &mut out,
                self.feed.time.elapsed_s(event.t_ns),
                &self.feed.time.wall.rfc3339(event.t_ns),
                &event.kind,
                channel.map_or("", String::as_str),
                &event.detail,
            );
        }
        out
    }
}
