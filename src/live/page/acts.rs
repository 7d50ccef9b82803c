//! What people do on the page: the teacher's acts in a run that is logged here, groups' predictions,
//! and corrections of a finished run. Each request comes from this page (its `Origin`), from someone
//! who may.

use std::net::SocketAddr;
use std::path::Path as FilePath;
use std::sync::Arc;
use std::time::SystemTime;

use axum::Json;
use axum::extract::{ConnectInfo, Extension, Path, State as From};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse as _, Response};

use super::desk::{Act, Undone};
use super::door::{Caller, Door, Role};
use super::groups::Claim;
use super::hall::{Run, State};
use super::web::{Web, aside, of, refused};
use crate::graph;
use crate::lamp::Kind;
use crate::run::{
    CorrectError, Correction, Derived, MOST_GROUPS, correct, is_virtual_port, rfc3339_ms,
};

type Shared = From<Arc<Web>>;

/// What the teacher does.
#[derive(Debug, serde::Deserialize)]
#[serde(tag = "do", rename_all = "kebab-case", deny_unknown_fields)]
pub(super) enum Asked {
    Note {
        text: String,
    },
    Mark,
    LampOn,
    LampOff,
    GoOn,
    End,
    /// A group's number is to be whose who gives it next.
    FreeGroup {
        group: u8,
    },
}

/// What a group says.
#[derive(Debug, serde::Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Said {
    group: u8,
    /// The sample's channel, from 0.
    sample: usize,
}

/// What is corrected: names, or a note with the minute that it is about.
#[derive(Debug, serde::Deserialize)]
#[serde(deny_unknown_fields, untagged)]
pub(super) enum Corrected {
    Names { names: Vec<String> },
    Note { note: String, minute: Option<f64> },
}

/// Lets through what comes from this page, and from the teacher where it must.
#[expect(clippy::result_large_err, reason = "the error is the answer itself")]
fn check(headers: &HeaderMap, role: Role, teacher: bool) -> Result<(), Response> {
    if Door::check_origin(headers).is_err() {
        return Err(refused(StatusCode::FORBIDDEN, "Not from another page."));
    }
    if teacher && role != Role::Acts {
        let words = "Only with the teacher's code.";
        return Err(refused(StatusCode::FORBIDDEN, words));
    }
    Ok(())
}

async fn hand(web: &Web, id: &str, act: Act) -> Response {
    let outcome = match web.hall.desk() {
        Some(desk) => desk.hand(id, act).await,
        None => Err(Undone::Elsewhere),
    };
    match outcome {
        Ok(words) => refused(StatusCode::OK, words),
        Err(Undone::Refused(words)) => refused(StatusCode::CONFLICT, words),
        Err(Undone::Busy) => refused(StatusCode::SERVICE_UNAVAILABLE, "Busy; try again."),
        Err(Undone::Elsewhere) => refused(
            StatusCode::CONFLICT,
            "This page does not log that run (any more).",
        ),
    }
}

/// The teacher's acts.
pub(super) async fn act(
    From(web): Shared,
    Path(id): Path<String>,
    Extension(role): Extension<Role>,
    headers: HeaderMap,
    Json(asked): Json<Asked>,
) -> Result<Response, Response> {
    check(&headers, role, true)?;
    of(&web, &id)?;
    let act = match asked {
        Asked::Note { text } => Act::Note(text),
        Asked::Mark => Act::Mark,
        Asked::LampOn => Act::Lamp(Kind::On),
        Asked::LampOff => Act::Lamp(Kind::Off),
        Asked::GoOn => Act::GoOn,
        Asked::End => Act::End,
        Asked::FreeGroup { group } => return Ok(free(&web, group)),
    };
    Ok(hand(&web, &id, act).await)
}

/// Takes a group's number from the browser that gave it first.
fn free(web: &Web, group: u8) -> Response {
    if web.groups.free(group) {
        let words =
            "The number is free: it is whose who gives it next. What was said stands until then.";
        refused(StatusCode::OK, words)
    } else {
        refused(StatusCode::CONFLICT, "Nobody has that number.")
    }
}

/// A group's prediction.
pub(super) async fn predict(
    From(web): Shared,
    Path(id): Path<String>,
    Extension(caller): Extension<Caller>,
    ConnectInfo(peer): ConnectInfo<SocketAddr>,
    headers: HeaderMap,
    Json(said): Json<Said>,
) -> Result<Response, Response> {
    check(&headers, caller.role, false)?;
    of(&web, &id)?;
    if !(1..=MOST_GROUPS).contains(&said.group) {
        let words = "Groups have numbers from 1 to 20.";
        return Err(refused(StatusCode::UNPROCESSABLE_ENTITY, words));
    }
    // Each is a record of the journal: nobody fills it by pressing over and over.
    if web.door.count_prediction(peer.ip().to_canonical()).is_err() {
        let words = "Too often. Wait a minute.";
        return Err(refused(StatusCode::TOO_MANY_REQUESTS, words));
    }
    let claim = web.groups.claim(said.group, caller);
    if claim == Claim::Others {
        let words = "Another phone or computer speaks for that group. Is it your number? Then ask your \
                     teacher to free it.";
        return Err(refused(StatusCode::CONFLICT, words));
    }
    let act = Act::Predict {
        group: said.group,
        channel: said.sample,
    };
    let answer = hand(&web, &id, act).await;
    // Who said nothing that was kept has not taken the number.
    if claim == Claim::New && !answer.status().is_success() {
        web.groups.free(said.group);
    }
    Ok(answer)
}

/// A correction of a finished run.
pub(super) async fn afterwards(
    From(web): Shared,
    Path(id): Path<String>,
    Extension(role): Extension<Role>,
    headers: HeaderMap,
    Json(corrected): Json<Corrected>,
) -> Result<Response, Response> {
    check(&headers, role, true)?;
    let run = of(&web, &id)?;
    // One at a time: each derives a whole run.
    let Ok(turn) = web.correcting.try_acquire() else {
        return Err(refused(StatusCode::SERVICE_UNAVAILABLE, "Busy; try again."));
    };
    let outcome = aside(move || put_right(&run, corrected)).await?;
    drop(turn);
    // Words with the run's own minutes in them.
    let outcome =
        outcome.map_err(|words| (StatusCode::UNPROCESSABLE_ENTITY, words).into_response())?;
    Ok(match outcome {
        Ok(()) => refused(
            StatusCode::OK,
            "Kept. Reports that were made before are as they were.",
        ),
        Err(CorrectError::Refused(words)) => refused(StatusCode::UNPROCESSABLE_ENTITY, words),
        Err(CorrectError::Run(error)) => {
            tracing::warn!(%error, "a run cannot be corrected");
            let words = "The run's files cannot be changed now.";
            (StatusCode::CONFLICT, words).into_response()
        }
    })
}

/// The run's minutes, counted as its table counts them; none without rows.
fn minutes(run: &Run) -> Option<(f64, f64)> {
    run.ask(|seen| {
        let last_s = seen.last.as_ref()?.t_s;
        let minute = |s: f64| (s - seen.zero_s()) / 60.0;
        Some((minute(0.0), minute(last_s)))
    })
}

/// Refuses a minute that the run does not have, in words.
fn check_minute(run: &Run, minute: f64) -> Result<(), String> {
    let Some((first, last)) = minutes(run) else {
        return Ok(());
    };
    // The page shows them with one decimal.
    if (first - 0.1..=last + 0.1).contains(&minute) {
        return Ok(());
    }
    let told = |minute: f64| format!("{:.1}", minute + 0.0).replace('-', "−");
    Err(format!(
        "That minute is outside the run, which goes from minute {} to {}.",
        told(first),
        told(last)
    ))
}

fn put_right(run: &Run, corrected: Corrected) -> Result<Result<(), CorrectError>, String> {
    if let Corrected::Note {
        minute: Some(minute),
        ..
    } = &corrected
        && run.state() == State::Finished
    {
        check_minute(run, *minute)?;
    }
    Ok(kept(run, corrected))
}

fn kept(run: &Run, corrected: Corrected) -> Result<(), CorrectError> {
    if run.state() != State::Finished {
        return Err(CorrectError::Refused("Wait until the run is finished."));
    }
    let correction = match corrected {
        Corrected::Names { names } => Correction::Names(names),
        Corrected::Note { note, minute } => {
            let zero_s = run.ask(super::seen::Seen::zero_s);
            Correction::Note(note, minute.map(|minute| zero_s + 60.0 * minute))
        }
    };
    let since = SystemTime::now().duration_since(SystemTime::UNIX_EPOCH);
    let now_ns = since.map_or(0, |d| i64::try_from(d.as_nanos()).unwrap_or(i64::MAX));
    let derived = correct(&run.folder, correction, &rfc3339_ms(now_ns))?;
    draw_anew(&run.folder, &derived);
    Ok(())
}

/// The graph has the samples' names in it. A graph that cannot be written costs nothing that counts.
fn draw_anew(folder: &FilePath, derived: &Derived) {
    let path = folder.join("graph.svg");
    if path.exists() {
        let picture = graph::Picture {
            is_invented: is_virtual_port(&derived.found.port),
            ..graph::of_series(derived.title(), &derived.series, &derived.summary)
        };
        let svg = graph::svg(&picture, &graph::Style::default());
        if let Err(error) = std::fs::write(&path, svg) {
            tracing::warn!(%error, "the graph cannot be drawn anew");
        }
    }
}
