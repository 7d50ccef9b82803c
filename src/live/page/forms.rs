//! What people can do on a run's page: predict, act, put right. Each part is hidden where it cannot
//! be done now; `page.js` shows it when it can.

use maud::{Markup, html};

use super::hall::State;
use super::now::Now;

/// The poll: for everyone who looks.
pub(super) fn poll(now: &Now) -> Markup {
    html! {
        section #poll .people aria-label="Predictions" hidden[now.poll.text.is_empty()] {
            form data-to="predict" hidden[!now.poll.open] {
                fieldset {
                    legend { "Which sample will warm most?" }
                    @for (channel, sample) in now.samples.iter().enumerate() {
                        label { input type="radio" name="sample" value=(channel) required; " " bdi { (sample.name) } }
                    }
                }
                label { "Group " (group("group", now.poll.groups)) }
                button type="submit" { "Predict" }
            }
            p #told .told { (now.poll.text) }
        }
    }
}

/// A group's number to choose.
fn group(name: &str, most: u8) -> Markup {
    html! { select name=(name) required { option value="" { "–" } @for n in 1..=most { option { (n) } } } }
}

/// What the teacher does while the run goes on.
pub(super) fn acts(now: &Now) -> Markup {
    html! {
        section #acts .people aria-labelledby="acts-head" hidden[!now.here] {
            h2 #acts-head { "For the teacher" }
            form data-to="act" {
                label for="note" { "Note" }
                input #note type="text" name="text" maxlength="200" autocomplete="off" required;
                button type="submit" { "Save the note" }
            }
            div.tools {
                button type="button" data-do="mark" { "Mark this moment" }
                button #lamp type="button" data-do=(lamp_act(now.lamp)) hidden[now.lamp.is_empty()] {
                    "The lamp was switched " span { (now.lamp) } " just now"
                }
                button #go-on type="button" data-do="go-on" hidden[now.next_step.is_empty()] {
                    "Go on: " span { (now.next_step) }
                }
                button #end type="button" data-do="end" { "End the run" }
            }
            form #free data-to="act" hidden[!now.poll.open] {
                label { "Number of a group that another phone took " (group("free", now.poll.groups)) }
                button type="submit" { "Free it" }
            }
        }
    }
}

/// What the lamp's button says, by the word on it.
fn lamp_act(word: &str) -> &'static str {
    if word == "ON" { "lamp-on" } else { "lamp-off" }
}

/// What the teacher puts right after the run.
pub(super) fn afterwards(now: &Now) -> Markup {
    html! {
        section #afterwards .people aria-labelledby="afterwards-head" hidden[now.state != State::Finished] {
            h2 #afterwards-head { "To put right" }
            form data-to="afterwards" data-names {
                @for (index, sample) in now.samples.iter().enumerate() {
                    label { "Sample " (index + 1) " " input type="text" name="names[]" value=(sample.name) maxlength="60" autocomplete="off" required; }
                }
                button type="submit" { "Correct the names" }
            }
            form data-to="afterwards" {
                label { "Note " input type="text" name="note" maxlength="200" autocomplete="off" required; }
                label { "at minute (empty: of the whole run) " input name="minute" type="number" step="any"; }
                button type="submit" { "Add the note" }
            }
        }
    }
}
