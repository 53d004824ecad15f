//! Who may ask.
//!
//! Whoever can reach the address may read the page, so it is this machine unless a token is set. A page of another site that
//! is open in the same browser must not read it either: such a site can give its own name the address of this machine (DNS
//! rebinding), but then the browser says that name in `Host`, and here only addresses and `localhost` are answered.

use std::net::{IpAddr, SocketAddr};

use hyper::header::{AUTHORIZATION, COOKIE, HOST, HeaderMap};
use subtle::ConstantTimeEq;

use crate::finding::Problem;
use crate::text::Digest;

/// A token has at least so many characters.
pub const TOKEN_LEAST: usize = 16;

/// And at most so many.
pub const TOKEN_MOST: usize = 128;

/// What is asked of a request before anything else.
pub(super) struct Guard {
    address: SocketAddr,
    /// The token, and its digest in words.
    token: Option<(String, String)>,
}

impl Guard {
    /// The rules for an address, which needs a token unless it is of this machine alone.
    pub fn new(address: SocketAddr, token: Option<&str>) -> Result<Self, Problem> {
        match token {
            None if !is_loopback(address.ip()) => Err(Problem::new(format!(
                "{address} can be reached by other machines: whoever reaches it could read every verdict"
            ))
            .help("give a secret with `--token`, or serve on 127.0.0.1")),
            Some(token) if !is_token(token) => Err(Problem::new(format!(
                "the token must have {TOKEN_LEAST} to {TOKEN_MOST} letters, digits, `-` or `_`: a shorter one can be guessed"
            ))
            .help("`openssl rand -hex 16` makes one")),
            token => Ok(Guard { address, token: token.map(|token| (token.to_owned(), digest(token))) }),
        }
    }

    /// The same rules once the port is known.
    pub fn at(self, address: SocketAddr) -> Self {
        Guard { address, ..self }
    }

    /// Whether the request was meant for this page.
    pub fn is_for_us(&self, headers: &HeaderMap) -> bool {
        let mut hosts = headers.get_all(HOST).iter();
        let (Some(host), None) = (hosts.next(), hosts.next()) else { return false };
        host.to_str().is_ok_and(|host| self.names_us(host))
    }

    fn names_us(&self, host: &str) -> bool {
        let (name, port) = match host.rsplit_once(':') {
            Some((name, port)) if !port.ends_with(']') => (name, port.parse().ok()),
            _ => (host, Some(80)),
        };
        if port != Some(self.address.port()) {
            return false;
        }
        let own = self.address.ip();
        if name.eq_ignore_ascii_case("localhost") {
            return is_loopback(own) || own.is_unspecified();
        }
        let ip = match name.strip_prefix('[').and_then(|name| name.strip_suffix(']')) {
            Some(inner) => inner.parse().map(IpAddr::V6).ok(),
            None => name.parse().map(IpAddr::V4).ok(),
        };
        ip.is_some_and(|ip| own.is_unspecified() || ip == own || (is_loopback(own) && is_loopback(ip)))
    }

    /// Whether a token is the right one. Digests are compared, in a time that doesn't tell where they differ.
    pub fn is_token(&self, given: &str) -> bool {
        let Some((_, wanted)) = &self.token else { return true };
        digest(given).as_bytes().ct_eq(wanted.as_bytes()).into()
    }

    /// Whether the request may be answered: no token is asked for, or it brings the right one.
    pub fn admits(&self, headers: &HeaderMap) -> bool {
        if self.token.is_none() {
            return true;
        }
        let bearer =
            headers.get(AUTHORIZATION).and_then(|value| value.to_str().ok()).and_then(|value| value.strip_prefix("Bearer "));
        if bearer.is_some_and(|given| self.is_token(given.trim())) {
            return true;
        }
        let name = self.cookie_name();
        let cookies = headers.get_all(COOKIE).iter().filter_map(|value| value.to_str().ok()).flat_map(|value| value.split(';'));
        let mut ours = cookies.filter_map(|cookie| cookie.trim().split_once('=')).filter(|(own, _)| *own == name);
        ours.any(|(_, given)| self.is_token(given))
    }

    /// The cookie that keeps the token out of the address line; none where no token is asked for.
    pub fn cookie(&self) -> Option<String> {
        let (token, _) = self.token.as_ref()?;
        Some(format!("{}={token}; HttpOnly; SameSite=Strict; Path=/", self.cookie_name()))
    }

    /// Cookies don't know ports, so that two pages of one machine need two names.
    fn cookie_name(&self) -> String {
        format!("backshell-{}", self.address.port())
    }
}

fn is_loopback(ip: IpAddr) -> bool {
    ip.to_canonical().is_loopback()
}

fn is_token(text: &str) -> bool {
    (TOKEN_LEAST..=TOKEN_MOST).contains(&text.len()) && text.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'-' || b == b'_')
}

fn digest(text: &str) -> String {
    Digest::of(text.as_bytes()).to_string()
}
