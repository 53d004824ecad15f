//! Accepting connections, so many at once and none for ever.

use std::net::{SocketAddr, TcpListener};
use std::sync::Arc;
use std::time::Duration;

use hyper::server::conn::http1;
use hyper::service::service_fn;
use hyper_util::rt::{TokioIo, TokioTimer};
use tokio::net::TcpStream;
use tokio::runtime::Runtime;
use tokio::sync::{Semaphore, watch};

use super::Shared;
use super::answer::answer;

/// So many connections are served at once; more are closed as they come.
pub const CONNECTIONS: u16 = 64;

/// A head must be there within this time.
const HEAD: Duration = Duration::from_secs(10);

/// A head has at most so many bytes.
const HEAD_BYTES: usize = 16 << 10;

/// No connection lasts longer.
const LIFETIME: Duration = Duration::from_secs(600);

/// How long the last answers may take at the end.
const END: Duration = Duration::from_secs(1);

/// A listener, and what runs it.
pub(super) fn listen(address: SocketAddr) -> std::io::Result<(TcpListener, Runtime)> {
    let listener = TcpListener::bind(address)?;
    listener.set_nonblocking(true)?;
    let runtime = tokio::runtime::Builder::new_current_thread().enable_io().enable_time().build()?;
    Ok((listener, runtime))
}

/// Serves until nothing can happen any more.
pub(super) async fn serve(listener: TcpListener, shared: Arc<Shared>, mut news: watch::Receiver<u64>) {
    let Ok(listener) = tokio::net::TcpListener::from_std(listener) else { return };
    let free = Arc::new(Semaphore::new(usize::from(CONNECTIONS)));
    let accepting = tokio::spawn(accept(listener, Arc::clone(&free), shared, news.clone()));
    while news.changed().await.is_ok() {}
    accepting.abort();
    // all are free once every answer is out
    let _ = tokio::time::timeout(END, free.acquire_many(u32::from(CONNECTIONS))).await;
}

async fn accept(listener: tokio::net::TcpListener, free: Arc<Semaphore>, shared: Arc<Shared>, news: watch::Receiver<u64>) {
    loop {
        match listener.accept().await {
            Ok((stream, _)) => {
                if let Ok(permit) = Arc::clone(&free).try_acquire_owned() {
                    let one = connection(stream, Arc::clone(&shared), news.clone());
                    tokio::spawn(async move {
                        let _ = tokio::time::timeout(LIFETIME, one).await;
                        drop(permit);
                    });
                }
            }
            // one that went away, or no more files: the next may be well
            Err(_) => tokio::time::sleep(Duration::from_millis(100)).await,
        }
    }
}

async fn connection(stream: TcpStream, shared: Arc<Shared>, news: watch::Receiver<u64>) {
    let service = service_fn(move |request| {
        let (shared, news) = (Arc::clone(&shared), news.clone());
        async move { Ok::<_, std::convert::Infallible>(answer(&request, &shared, &news).await) }
    });
    let mut server = http1::Builder::new();
    server.timer(TokioTimer::new()).header_read_timeout(HEAD).max_buf_size(HEAD_BYTES).keep_alive(false);
    // a browser that went away, or bytes that are no request: there is nobody to tell
    let _ = server.serve_connection(TokioIo::new(stream), service).await;
}
