//! What each address answers.

use std::convert::Infallible;
use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Duration;

use axum::Router;
use axum::body::Body;
use axum::extract::{ConnectInfo, DefaultBodyLimit, Path, Query, Request, State as From};
use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use axum::middleware::{self, Next};
use axum::response::sse::{Event, Sse};
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use futures_util::Stream;
use maud::Markup;
use tokio::sync::{Semaphore, watch};

use super::door::{Caller, Door, Refusal, Role};
use super::groups::Groups;
use super::hall::{Hall, Run};
use super::places::Watching;
use super::{acts, feed, markup, nearest, picture};

/// Bytes of a request's body at most.
const LONGEST_BODY: usize = 4096;

/// An answer is begun within so long, or whoever asks does not send what was announced.
const PATIENCE: Duration = Duration::from_secs(60);

/// What may be loaded and from where: everything from here, nothing else.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; \
     connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'";

const STYLE: &str = include_str!("assets/page.css");
const ICON: &str = include_str!("assets/page.svg");
const SCRIPT: &str = include_str!("assets/page.js");

/// What the answers are made from.
#[derive(Debug)]
pub(super) struct Web {
    pub(super) hall: Arc<Hall>,
    pub(super) door: Door,
    pub(super) groups: Groups,
    /// Where others in the room find the page; empty where they cannot.
    pub(super) address: String,
    pub(super) stop: watch::Receiver<bool>,
    /// One correction of a finished run at a time.
    pub(super) correcting: Semaphore,
}

type Shared = From<Arc<Web>>;

/// All addresses.
pub(super) fn router(web: Arc<Web>) -> Router {
    let inside = Router::new()
        .route("/", get(wall))
        .route("/live", get(live_wall))
        .route("/run/{id}", get(run_page))
        .route("/run/{id}/live", get(live_run))
        .route("/run/{id}/picture.svg", get(picture_svg))
        .route("/run/{id}/readings.csv", get(readings))
        .route("/run/{id}/row", get(row))
        .route("/run/{id}/act", post(acts::act))
        .route("/run/{id}/predict", post(acts::predict))
        .route("/run/{id}/afterwards", post(acts::afterwards))
        .route_layer(middleware::from_fn_with_state(Arc::clone(&web), let_in));
    Router::new()
        .merge(inside)
        .route("/join", get(join_page))
        .route("/join", post(join))
        .route(
            "/page.css",
            get(|| async { asset("text/css; charset=utf-8", STYLE) }),
        )
        .route(
            "/page.js",
            get(|| async { asset("text/javascript; charset=utf-8", SCRIPT) }),
        )
        .route("/page.svg", get(|| async { asset("image/svg+xml", ICON) }))
        .fallback(|| async { refused(StatusCode::NOT_FOUND, "There is no such page.") })
        .layer(DefaultBodyLimit::max(LONGEST_BODY))
        .layer(middleware::from_fn_with_state(Arc::clone(&web), guard))
        .with_state(web)
}

/// Checks the host of every request, and puts the policy on every answer.
async fn guard(From(web): Shared, request: Request, next: Next) -> Response {
    let by_person = is_page(request.headers());
    let mut answer = match web.door.check_host(request.headers()) {
        Ok(()) => {
            let answer = tokio::time::timeout(PATIENCE, next.run(request));
            let late = |_| refused(StatusCode::REQUEST_TIMEOUT, "That took too long.");
            answer.await.unwrap_or_else(late)
        }
        Err(_) => refused(
            StatusCode::MISDIRECTED_REQUEST,
            "This page is reached by this computer's number or name only.",
        ),
    };
    if let Some(Words(words)) = answer.extensions().get().filter(|_| by_person) {
        answer = (answer.status(), html(&markup::refusal(words))).into_response();
    }
    let headers = answer.headers_mut();
    for (name, value) in [
        (header::CONTENT_SECURITY_POLICY, POLICY),
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
        // Not "no-referrer": by that a browser sends a form with an origin of "null" (Fetch, "serialize
        // a request origin"), and nobody could join.
        (header::REFERRER_POLICY, "same-origin"),
        (header::X_FRAME_OPTIONS, "DENY"),
    ] {
        headers.insert(name, HeaderValue::from_static(value));
    }
    headers
        .entry(header::CACHE_CONTROL)
        .or_insert(HeaderValue::from_static("no-store"));
    answer
}

/// Lets in who may look.
async fn let_in(
    From(web): Shared,
    ConnectInfo(peer): ConnectInfo<SocketAddr>,
    mut request: Request,
    next: Next,
) -> Response {
    match web.door.caller(request.headers(), peer) {
        Ok(caller) => {
            request.extensions_mut().insert(caller);
            request.extensions_mut().insert(caller.role);
            next.run(request).await
        }
        Err(_) if is_page(request.headers()) => Redirect::to("/join").into_response(),
        Err(_) => refused(
            StatusCode::UNAUTHORIZED,
            "Type the code of the class first.",
        ),
    }
}

/// Whether a person asks for a page, rather than a page for its parts.
fn is_page(headers: &HeaderMap) -> bool {
    let accept = headers.get(header::ACCEPT).and_then(|v| v.to_str().ok());
    accept.is_some_and(|a| a.contains("text/html"))
}

fn asset(kind: &'static str, text: &'static str) -> Response {
    let headers = [
        (header::CONTENT_TYPE, kind),
        (header::CACHE_CONTROL, "max-age=60"),
    ];
    (headers, text).into_response()
}

/// What a refusal says, for those who get a page with it.
#[derive(Debug, Clone, Copy)]
struct Words(&'static str);

/// A short answer in words; [`guard`] makes a page of it for a person.
pub(super) fn refused(code: StatusCode, words: &'static str) -> Response {
    let kind = [(header::CONTENT_TYPE, "text/plain; charset=utf-8")];
    (code, kind, axum::Extension(Words(words)), words).into_response()
}

fn html(markup: &Markup) -> Response {
    let kind = [(header::CONTENT_TYPE, "text/html; charset=utf-8")];
    (kind, markup.0.clone()).into_response()
}

/// Does what reads files, on a thread that may wait.
pub(super) async fn aside<T: Send + 'static>(
    work: impl FnOnce() -> T + Send + 'static,
) -> Result<T, Response> {
    let failed = |_| {
        refused(
            StatusCode::INTERNAL_SERVER_ERROR,
            "That did not work; try again.",
        )
    };
    tokio::task::spawn_blocking(work).await.map_err(failed)
}

#[expect(clippy::result_large_err, reason = "the error is the answer itself")]
pub(super) fn of(web: &Web, id: &str) -> Result<Arc<Run>, Response> {
    let none = || refused(StatusCode::NOT_FOUND, "There is no such run.");
    web.hall.run(id).ok_or_else(none)
}

async fn wall(From(web): Shared, role: axum::Extension<Role>) -> Result<Response, Response> {
    let hall = Arc::clone(&web.hall);
    let cards = aside(move || feed::cards(&hall)).await?;
    let join = (role.0 == Role::Acts).then(|| web.door.codes()).flatten();
    let invite = join.map(|codes| markup::invite(codes, &web.address));
    Ok(html(&markup::wall(&cards, invite.as_ref())))
}

async fn run_page(
    From(web): Shared,
    role: axum::Extension<Role>,
    Path(id): Path<String>,
) -> Result<Response, Response> {
    let run = of(&web, &id)?;
    let page = aside(move || {
        markup::run(
            &run.ask(super::seen::Seen::began),
            role.0 == Role::Acts,
            &feed::now(&run),
            &feed::table(&run),
            &feed::log(&run),
            &feed::warnings(&run),
        )
    });
    Ok(html(&page.await?))
}

async fn picture_svg(
    From(web): Shared,
    Path(id): Path<String>,
    Query(wish): Query<picture::Wish>,
) -> Result<Response, Response> {
    let run = of(&web, &id)?;
    let failed = |_| {
        refused(
            StatusCode::INTERNAL_SERVER_ERROR,
            "The rows cannot be read.",
        )
    };
    let (svg, area) = aside(move || picture::draw(&run, &wish))
        .await?
        .map_err(failed)?;
    let headers = [
        (header::CONTENT_TYPE, "image/svg+xml".to_owned()),
        // Where in it the plot is, for reading values under the pointer.
        (header::HeaderName::from_static("x-plot"), area),
    ];
    Ok((headers, svg).into_response())
}

async fn readings(From(web): Shared, Path(id): Path<String>) -> Result<Response, Response> {
    let run = of(&web, &id)?;
    let none = |_| refused(StatusCode::NOT_FOUND, "There are no rows yet.");
    let (path, name) = (
        run.folder.join(crate::run::name::READINGS),
        file_name(&run.id),
    );
    let file = tokio::fs::File::open(path).await.map_err(none)?;
    let headers = [
        (header::CONTENT_TYPE, "text/csv; charset=utf-8".to_owned()),
        (
            header::CONTENT_DISPOSITION,
            format!("attachment; filename=\"{name}.csv\""),
        ),
    ];
    let body = Body::from_stream(feed::whole_lines(file));
    Ok((headers, body).into_response())
}

/// A name for a download: of the folder's, what no system minds.
fn file_name(id: &str) -> String {
    let safe = |c: char| {
        if c.is_ascii_alphanumeric() || c == '-' {
            c
        } else {
            '_'
        }
    };
    id.chars().map(safe).collect()
}

#[derive(serde::Deserialize)]
struct At {
    at: f64,
}

async fn row(
    From(web): Shared,
    Path(id): Path<String>,
    Query(At { at }): Query<At>,
) -> Result<Response, Response> {
    let run = of(&web, &id)?;
    let found = aside(move || nearest::row(&run, at)).await?;
    let none = refused(StatusCode::NOT_FOUND, "There is no row there.");
    let row = found.ok().flatten().ok_or(none)?;
    Ok(axum::Json(row).into_response())
}

type Events = std::pin::Pin<Box<dyn Stream<Item = Result<Event, Infallible>> + Send>>;

/// A stream of events until the viewer leaves or the page ends.
#[expect(clippy::result_large_err, reason = "the error is the answer itself")]
fn stream(
    web: &Arc<Web>,
    who: Watching,
    events: impl FnOnce(feed::Ticket) -> Events,
) -> Result<Response, Response> {
    let full = || {
        refused(
            StatusCode::SERVICE_UNAVAILABLE,
            "Too many are watching; try again later.",
        )
    };
    let place = web.hall.viewers().watch(who).ok_or_else(full)?;
    let ticket = feed::Ticket {
        place,
        stop: web.stop.clone(),
    };
    Ok(Sse::new(events(ticket)).into_response())
}

/// Who watches.
fn watching(
    axum::Extension(caller): axum::Extension<Caller>,
    ConnectInfo(peer): ConnectInfo<SocketAddr>,
) -> Watching {
    let ip = peer.ip().to_canonical();
    Watching { caller, ip }
}

async fn live_run(
    From(web): Shared,
    Path(id): Path<String>,
    caller: axum::Extension<Caller>,
    peer: ConnectInfo<SocketAddr>,
) -> Result<Response, Response> {
    let run = of(&web, &id)?;
    stream(&web, watching(caller, peer), |ticket| {
        Box::pin(feed::run_events(run, ticket))
    })
}

async fn live_wall(
    From(web): Shared,
    caller: axum::Extension<Caller>,
    peer: ConnectInfo<SocketAddr>,
) -> Result<Response, Response> {
    let hall = Arc::clone(&web.hall);
    stream(&web, watching(caller, peer), |ticket| {
        Box::pin(feed::wall_events(hall, ticket))
    })
}

async fn join_page() -> Response {
    html(&markup::join(""))
}

/// Takes a code from the form.
async fn join(
    From(web): Shared,
    ConnectInfo(peer): ConnectInfo<SocketAddr>,
    headers: HeaderMap,
    body: String,
) -> Response {
    if Door::check_origin(&headers).is_err() {
        return refused(StatusCode::FORBIDDEN, "Not from another page.");
    }
    let code = body.strip_prefix("code=").unwrap_or_default();
    match web.door.join(code, peer.ip().to_canonical()).await {
        Ok(cookie) => {
            let to = [
                (header::SET_COOKIE, cookie),
                (header::LOCATION, "/".to_owned()),
            ];
            (StatusCode::SEE_OTHER, to).into_response()
        }
        Err(refusal) => {
            // A wrong guess waits a moment; other viewers do not.
            tokio::time::sleep(Duration::from_millis(300)).await;
            let (code, words) = match refusal {
                Refusal::TooMany => (
                    StatusCode::TOO_MANY_REQUESTS,
                    "Too many wrong codes came from here. Wait half a minute, then give it again.",
                ),
                _ => (
                    StatusCode::FORBIDDEN,
                    "That is not the code. Look at the wall again.",
                ),
            };
            (code, html(&markup::join(words))).into_response()
        }
    }
}
