//! What a request gets.

use std::sync::Arc;
use std::time::Duration;

use http_body_util::channel::{Channel, Sender};
use http_body_util::{Either, Full};
use hyper::body::{Bytes, Incoming};
use hyper::header::{self, HeaderMap, HeaderValue};
use hyper::{Method, Request, Response, StatusCode};
use tokio::sync::watch;

use super::{Shared, history};

pub(super) type Body = Either<Full<Bytes>, Channel<Bytes>>;

/// How often a browser hears that the bench is there.
const BEAT: Duration = Duration::from_secs(4);

/// So many pieces wait for a browser that is slow.
const WAITING: usize = 2;

/// Only what the program itself serves, and no other page may show it in a frame.
const PAGE_POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; \
    base-uri 'none'; form-action 'none'; frame-ancestors 'none'";

/// A picture has its colours within, and nothing else that acts.
const PICTURE_POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'; sandbox";

const TEXT: &str = "text/plain; charset=utf-8";
const SVG: &str = "image/svg+xml";
const JSON: &str = "application/json";

/// Answers a request.
pub(super) async fn answer(request: &Request<Incoming>, shared: &Arc<Shared>, news: &watch::Receiver<u64>) -> Response<Body> {
    let mut response = answered(request, shared, news).await;
    let headers = response.headers_mut();
    if !headers.contains_key(header::CONTENT_SECURITY_POLICY) {
        set(headers, "content-security-policy", PAGE_POLICY);
    }
    set(headers, "cache-control", "no-store");
    set(headers, "cross-origin-opener-policy", "same-origin");
    set(headers, "cross-origin-resource-policy", "same-origin");
    set(headers, "referrer-policy", "no-referrer");
    set(headers, "x-content-type-options", "nosniff");
    response
}

async fn answered(request: &Request<Incoming>, shared: &Arc<Shared>, news: &watch::Receiver<u64>) -> Response<Body> {
    let (headers, uri) = (request.headers(), request.uri());
    // a request to a proxy names the host in its first line
    if uri.authority().is_some() || !shared.guard.is_for_us(headers) {
        return plain(
            StatusCode::MISDIRECTED_REQUEST,
            "This isn't the page of that host. Use the address that the bench printed.\n",
        );
    }
    if request.method() != Method::GET {
        let mut response = plain(StatusCode::METHOD_NOT_ALLOWED, "Only GET: nothing can be changed here.\n");
        set(response.headers_mut(), "allow", "GET");
        return response;
    }
    if uri.path() == "/"
        && let Some(given) = uri.query().and_then(|query| query.strip_prefix("token="))
    {
        return with_token(given, shared);
    }
    if !shared.guard.admits(headers) {
        return refused();
    }
    // another site may lead here, and nothing more
    if uri.path() != "/" && headers.get("sec-fetch-site").is_some_and(|site| site == "cross-site" || site == "same-site") {
        return plain(StatusCode::FORBIDDEN, "Not for other sites.\n");
    }
    match uri.path() {
        "/" => sent("text/html; charset=utf-8", include_str!("page.html")),
        "/page.css" => sent("text/css; charset=utf-8", include_str!("page.css")),
        "/page.js" => sent("text/javascript; charset=utf-8", include_str!("page.js")),
        "/icon.svg" => sent(SVG, include_str!("icon.svg")),
        "/unit" => match uri.query().and_then(|query| query.strip_prefix("name=")).and_then(history::name) {
            Some(name) => sent(JSON, shared.history.answer(name).await),
            None => plain(StatusCode::NOT_FOUND, "Ask for /unit?name=NAME.\n"),
        },
        "/events" => events(headers, Arc::clone(shared), news.clone()),
        path => match path.strip_prefix("/picture/") {
            Some(number) => picture(number, shared),
            None => plain(StatusCode::NOT_FOUND, "There is no such page.\n"),
        },
    }
}

/// Takes the token out of the address line into a cookie.
fn with_token(given: &str, shared: &Shared) -> Response<Body> {
    if !shared.guard.is_token(given) {
        return refused();
    }
    let mut response = plain(StatusCode::SEE_OTHER, "");
    set(response.headers_mut(), "location", "/");
    if let Some(cookie) = shared.guard.cookie() {
        set(response.headers_mut(), "set-cookie", &cookie);
    }
    response
}

fn refused() -> Response<Body> {
    plain(StatusCode::UNAUTHORIZED, "This page needs its token: open it once as /?token=SECRET\n")
}

fn picture(number: &str, shared: &Shared) -> Response<Body> {
    let digits = !number.is_empty() && number.bytes().all(|b| b.is_ascii_digit());
    let found =
        Some(number).filter(|_| digits).and_then(|number| number.parse().ok()).and_then(|number| shared.board().picture(number));
    let Some(found) = found else {
        return plain(StatusCode::NOT_FOUND, "This picture isn't kept any more.\n");
    };
    let mut response = sent(SVG, found.to_string());
    set(response.headers_mut(), "content-security-policy", PICTURE_POLICY);
    response
}

/// The stream of events. A browser that comes back says what it heard last, and hears what was since.
fn events(headers: &HeaderMap, shared: Arc<Shared>, news: watch::Receiver<u64>) -> Response<Body> {
    let run = std::process::id().to_string();
    let last = headers.get("last-event-id").and_then(|value| value.to_str().ok()).and_then(|id| id.split_once('-'));
    let known = last.filter(|(of, _)| *of == run).and_then(|(_, number)| number.parse().ok());
    let (sender, channel) = Channel::new(WAITING);
    tokio::spawn(tell(sender, shared, news, known, run));
    let mut response = Response::new(Either::Right(channel));
    set(response.headers_mut(), "content-type", "text/event-stream");
    response
}

/// Tells a browser what happens, until it goes or the bench ends.
async fn tell(mut to: Sender<Bytes>, shared: Arc<Shared>, mut news: watch::Receiver<u64>, mut known: Option<u64>, run: String) {
    let mut text = "retry: 1000\n\n".to_owned();
    loop {
        news.mark_unchanged();
        let (message, number) = {
            let board = shared.board();
            let since = known.filter(|known| *known <= board.number());
            (board.message(since), board.number())
        };
        text.push_str(&format!("event: state\nid: {run}-{number}\ndata: {message}\n\n"));
        known = Some(number);
        loop {
            if to.send_data(Bytes::from(std::mem::take(&mut text))).await.is_err() {
                return;
            }
            match tokio::time::timeout(BEAT, news.changed()).await {
                Ok(Ok(())) => break,
                Ok(Err(_)) => {
                    let _ = to.send_data(Bytes::from_static(b"event: end\ndata: 0\n\n")).await;
                    return;
                }
                Err(_) => text.push_str("event: beat\ndata: 0\n\n"),
            }
        }
    }
}

fn sent(kind: &'static str, text: impl Into<Bytes>) -> Response<Body> {
    let mut response = Response::new(Either::Left(Full::new(text.into())));
    set(response.headers_mut(), "content-type", kind);
    response
}

fn plain(status: StatusCode, text: &'static str) -> Response<Body> {
    let mut response = sent(TEXT, text);
    *response.status_mut() = status;
    response
}

fn set(headers: &mut HeaderMap, name: &'static str, value: &str) {
    if let Ok(value) = HeaderValue::from_str(value) {
        headers.insert(name, value);
    }
}
