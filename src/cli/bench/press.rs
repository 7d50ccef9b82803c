//! What people do by hand while a bench is logged: by keys, or on the page.

use super::super::keys::Press;
use super::super::view::View;
use super::{Bench, Stage};
use crate::lamp::Kind;
use crate::live::page::Outcome;
use crate::run::{Hand, Predicted};

impl Bench {
    /// The name of its run's folder, while it is logged.
    pub(in crate::cli) fn run_name(&self) -> Option<String> {
        let Stage::Logging(recorder) = &self.stage else {
            return None;
        };
        let name = recorder.folder().file_name()?;
        Some(name.to_string_lossy().into_owned())
    }

    /// People pressed a key; gives words for them.
    pub(in crate::cli) fn press(
        &mut self,
        index: usize,
        press: &Press,
        view: &mut View,
    ) -> Outcome {
        let now_ns = self.now_ns();
        let Stage::Logging(recorder) = &mut self.stage else {
            return Err("Nothing is logged.");
        };
        let mut news = Vec::new();
        let conductor = recorder.conductor();
        let hand = match press {
            Press::Note(text) => {
                recorder.note(now_ns, text, &mut news);
                let kept = !news.is_empty();
                view.news(index, recorder, news);
                return kept.then_some("Kept.").ok_or("There is nothing to note.");
            }
            Press::Predict { group, channel } => {
                let name = recorder.names().get(*channel).cloned().unwrap_or_default();
                let predicted = recorder.predict(now_ns, *group, &name, &mut news);
                view.news(index, recorder, news);
                return kept(predicted);
            }
            Press::Mark => Some(Hand::Mark),
            Press::Lamp => Some(lamp(conductor.key_means(recorder.elapsed_s(now_ns)))),
            Press::LampWas(kind) => Some(lamp(*kind)),
            Press::GoOn => Some(Hand::GoOn).filter(|_| conductor.can_go_on()),
            Press::End => return Err("The session ends."),
        };
        view.pressed(index, hand);
        if let Some(hand) = hand {
            recorder.hand(now_ns, hand, &mut news);
        }
        if !self.is_virtual {
            recorder.tick(now_ns, &mut news);
        }
        view.news(index, recorder, news);
        match hand {
            Some(Hand::LampOn) => Ok("Kept: the lamp was switched on."),
            Some(Hand::LampOff) => Ok("Kept: the lamp was switched off."),
            Some(_) => Ok("Kept."),
            None => Err("Nothing to go on to: this step has its time."),
        }
    }
}

/// What a group that predicted is told; never what was said before, or others could copy.
fn kept(predicted: Predicted) -> Outcome {
    match predicted {
        Predicted::First => Ok("Kept. You can change it until the lamp goes on."),
        Predicted::Again => Ok(
            "Kept: it takes the place of what was said for this group before. If your group had said \
             nothing yet, another one has your number: tell your teacher.",
        ),
        Predicted::Unknown => Err("There is no such sample here."),
        Predicted::Closed => Err("Predictions are closed."),
    }
}

/// Somebody says that the lamp was switched so.
fn lamp(kind: Kind) -> Hand {
    match kind {
        Kind::On => Hand::LampOn,
        Kind::Off => Hand::LampOff,
    }
}
