//! Keys that people press while a bench is logged.

use super::super::keys::Press;
use super::super::view::View;
use super::{Bench, Stage};
use crate::lamp::Kind;
use crate::run::Hand;

impl Bench {
    /// People pressed a key.
    pub(in crate::cli) fn press(&mut self, index: usize, press: &Press, view: &mut View) {
        let now_ns = self.now_ns();
        let Stage::Logging(recorder) = &mut self.stage else {
            return;
        };
        let mut news = Vec::new();
        let conductor = recorder.conductor();
        let hand = match press {
            Press::Note(text) => {
                recorder.note(now_ns, text, &mut news);
                view.news(index, recorder, news);
                return;
            }
            Press::Mark => Some(Hand::Mark),
            Press::Lamp if conductor.next_switch() == Kind::On => Some(Hand::LampOn),
            Press::Lamp => Some(Hand::LampOff),
            Press::GoOn => Some(Hand::GoOn).filter(|_| conductor.can_go_on()),
            Press::End => return,
        };
        view.pressed(index, hand);
        if let Some(hand) = hand {
            recorder.hand(now_ns, hand, &mut news);
        }
        if !self.is_virtual {
            recorder.tick(now_ns, &mut news);
        }
        view.news(index, recorder, news);
    }
}
