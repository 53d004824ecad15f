//! The long lists of a large TOML file, read row by row.
//!
//! A harness of a million contacts has a million rows that all look alike. The TOML reader makes a tree of the whole file first,
//! which takes thirty times its size. So the rows of a long list, but for the first, are cut out of what it gets, and are read
//! here, one after the other. Only what can't be misread is read here: inline tables of plain keys with plain strings, lists of
//! them, `true` and `false`. At anything else, and at every error, the whole file goes to the TOML reader.

use std::cell::Cell;
use std::ops::Range;

use serde::Deserialize;
use serde::de::value::{Error, StrDeserializer};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::Role;
use super::raw::{OneOrMore, RawLink, RawPin};

/// A list is long from so many bytes on.
const LONG: usize = 64 * 1024;

/// The rows that were cut out of a file.
#[derive(Debug, Default)]
pub(super) struct LongLists<'s> {
    text: &'s str,
    lists: Vec<List>,
    failed: Cell<bool>,
}

#[derive(Debug)]
struct List {
    /// Where its first row starts.
    first: usize,
    /// The text of the other rows.
    rest: Range<usize>,
    taken: Cell<bool>,
}

impl<'s> LongLists<'s> {
    /// None: every row is read by the TOML reader.
    pub fn none() -> Self {
        Self::default()
    }

    /// The long lists of a file; none where there are none that can be cut out.
    pub fn of(text: &'s str) -> Option<Self> {
        let bytes = text.as_bytes();
        // in a text of several lines anything may look like a list
        if bytes.len() < LONG || [&b"\"\"\""[..], b"'''"].iter().any(|quotes| memchr::memmem::find(bytes, quotes).is_some()) {
            return None;
        }
        let mut lists = Vec::new();
        let mut at = 0;
        while let Some(start) = memchr::memmem::find(&bytes[at..], b" = [\n").map(|found| at + found) {
            at = start + 5;
            let line = bytes[..start].iter().rposition(|b| *b == b'\n').map_or(0, |end| end + 1);
            if !matches!(&bytes[line..start], b"conductors" | b"pins") {
                continue;
            }
            let end = end_of_list(bytes, at)?;
            let mut row = Row { text, at, end };
            row.blanks();
            let first = row.at;
            if end - at >= LONG && row.skip().is_some() && row.eat(b',') {
                lists.push(List { first, rest: row.at..end, taken: Cell::new(false) });
            }
            at = end;
        }
        (!lists.is_empty()).then_some(LongLists { text, lists, failed: Cell::new(false) })
    }

    /// The file without what was cut out.
    pub fn short(&self) -> String {
        let mut short = String::new();
        let mut from = 0;
        for list in &self.lists {
            short.push_str(&self.text[from..list.rest.start]);
            from = list.rest.end;
        }
        short.push_str(&self.text[from..]);
        short
    }

    /// What was read of the short file, with every place where it lies in the whole.
    pub fn moved<'t>(&self, root: Spanned<DeTable<'t>>) -> Spanned<DeTable<'t>> {
        Spanned::new(self.place(root.span()), self.table(root.into_inner()))
    }

    fn place(&self, span: Range<usize>) -> Range<usize> {
        let place = |at: usize| {
            let mut moved = at;
            for list in &self.lists {
                if moved > list.rest.start {
                    moved += list.rest.len();
                }
            }
            moved
        };
        place(span.start)..place(span.end)
    }

    fn table<'t>(&self, table: DeTable<'t>) -> DeTable<'t> {
        let entries = table.into_iter().map(|(key, value)| {
            let key = Spanned::new(self.place(key.span()), key.into_inner());
            (key, self.value(value))
        });
        entries.collect()
    }

    fn value<'t>(&self, value: Spanned<DeValue<'t>>) -> Spanned<DeValue<'t>> {
        let place = self.place(value.span());
        let inner = match value.into_inner() {
            DeValue::Table(table) => DeValue::Table(self.table(table)),
            DeValue::Array(array) => DeValue::Array(array.into_iter().map(|entry| self.value(entry)).collect()),
            plain => plain,
        };
        Spanned::new(place, inner)
    }

    /// The rows of a list, which begins with those that the TOML reader has read.
    pub fn all<'a, T: PlainRow>(&'a self, read: Vec<Spanned<T>>) -> impl Iterator<Item = Spanned<T>> + use<'a, 's, T> {
        let list = match read.as_slice() {
            [only] => self.lists.iter().find(|list| list.first == only.span().start),
            _ => None,
        };
        let mut row = list.map(|list| {
            list.taken.set(true);
            Row { text: self.text, at: list.rest.start, end: list.rest.end }
        });
        let more = std::iter::from_fn(move || {
            let row = row.as_mut().filter(|_| !self.failed.get())?;
            row.blanks();
            if row.at == row.end {
                return None;
            }
            let read = row.read();
            let closed = read.is_some() && (row.eat(b',') || row.at == row.end);
            self.failed.set(!closed);
            read.filter(|_| closed)
        });
        read.into_iter().chain(more)
    }

    /// How many rows a list has about, for the memory that they need.
    pub fn about(&self) -> usize {
        self.lists.iter().map(|list| list.rest.len() / 64).max().unwrap_or(0)
    }

    /// Whether every row was read.
    pub fn are_read(&self) -> bool {
        !self.failed.get() && self.lists.iter().all(|list| list.taken.get())
    }
}

/// The end of the last row of a list that begins with a line: before the first line that begins with its closing bracket.
fn end_of_list(bytes: &[u8], from: usize) -> Option<usize> {
    let mut ends = memchr::memchr_iter(b'\n', &bytes[from..]).map(|end| from + end);
    ends.find(|end| bytes.get(end + 1) == Some(&b']'))
}

/// A row that can be read here.
pub(super) trait PlainRow: Sized {
    /// Takes a value by its key; false where it isn't known, or comes twice.
    type Parts: Default;
    fn take(parts: &mut Self::Parts, key: &str, value: Value<'_>) -> bool;
    fn row(parts: Self::Parts) -> Option<Self>;
}

/// A plain value.
pub(super) enum Value<'s> {
    Text(Spanned<&'s str>),
    List(Vec<Spanned<String>>),
    Flag(bool),
}

/// Reads rows.
struct Row<'s> {
    text: &'s str,
    at: usize,
    end: usize,
}

impl<'s> Row<'s> {
    fn peek(&self) -> Option<u8> {
        self.text.as_bytes()[..self.end].get(self.at).copied()
    }

    fn blanks(&mut self) {
        while matches!(self.peek(), Some(b' ' | b'\t' | b'\n')) {
            self.at += 1;
        }
    }

    /// A mark, with the blanks before and after it.
    fn eat(&mut self, mark: u8) -> bool {
        self.blanks();
        let there = self.peek() == Some(mark);
        self.at += usize::from(there);
        self.blanks();
        there
    }

    fn read<T: PlainRow>(&mut self) -> Option<Spanned<T>> {
        let start = self.at;
        let mut parts = T::Parts::default();
        self.entries(|key, value| T::take(&mut parts, key, value))?;
        let end = self.text.as_bytes()[..self.at].iter().rposition(|b| *b == b'}')? + 1;
        Some(Spanned::new(start..end, T::row(parts)?))
    }

    fn skip(&mut self) -> Option<()> {
        self.entries(|_, _| true)
    }

    /// `"{" key "=" value *( "," key "=" value ) "}"`
    fn entries(&mut self, mut take: impl FnMut(&str, Value<'s>) -> bool) -> Option<()> {
        if !self.eat(b'{') {
            return None;
        }
        loop {
            let start = self.at;
            while matches!(self.peek(), Some(b'a'..=b'z' | b'-')) {
                self.at += 1;
            }
            let key = &self.text[start..self.at];
            if key.is_empty() || !self.eat(b'=') {
                return None;
            }
            let value = self.value()?;
            if !take(key, value) {
                return None;
            }
            if self.eat(b',') {
                continue;
            }
            return self.eat(b'}').then_some(());
        }
    }

    fn value(&mut self) -> Option<Value<'s>> {
        let rest = &self.text.as_bytes()[self.at..self.end];
        match rest.first()? {
            b'"' => self.string().map(Value::Text),
            b'[' => {
                self.at += 1;
                self.blanks();
                let mut list = Vec::with_capacity(2);
                while self.peek() != Some(b']') {
                    let text = self.string()?;
                    list.push(Spanned::new(text.span(), text.into_inner().to_owned()));
                    if !self.eat(b',') && self.peek() != Some(b']') {
                        return None;
                    }
                }
                self.at += 1;
                Some(Value::List(list))
            }
            b't' if rest.starts_with(b"true") => {
                self.at += 4;
                Some(Value::Flag(true))
            }
            b'f' if rest.starts_with(b"false") => {
                self.at += 5;
                Some(Value::Flag(false))
            }
            _ => None,
        }
    }

    /// A string in quotation marks without anything that is written otherwise than it reads.
    fn string(&mut self) -> Option<Spanned<&'s str>> {
        let bytes = &self.text.as_bytes()[..self.end];
        if bytes.get(self.at) != Some(&b'"') {
            return None;
        }
        let start = self.at + 1;
        let len = bytes[start..].iter().position(|b| matches!(b, b'"' | b'\\' | 0..=0x1f | 0x7f))?;
        if bytes[start + len] != b'"' {
            return None;
        }
        self.at = start + len + 1;
        Some(Spanned::new(start - 1..self.at, &self.text[start..start + len]))
    }
}

/// Sets what isn't set yet.
fn once<T>(to: &mut Option<T>, value: T) -> bool {
    to.replace(value).is_none()
}

fn owned(text: Spanned<&str>) -> Spanned<String> {
    Spanned::new(text.span(), text.into_inner().to_owned())
}

#[derive(Default)]
pub(super) struct LinkParts {
    signal: Option<String>,
    points: Option<Vec<Spanned<String>>>,
    common: Option<Spanned<String>>,
    optional: Option<bool>,
    when: Option<Spanned<String>>,
    checked: Option<Vec<Spanned<String>>>,
    from_memory: Option<bool>,
}

impl PlainRow for RawLink {
    type Parts = LinkParts;

    fn take(parts: &mut LinkParts, key: &str, value: Value<'_>) -> bool {
        match (key, value) {
            ("signal", Value::Text(text)) => once(&mut parts.signal, text.into_inner().to_owned()),
            ("points", Value::List(list)) => once(&mut parts.points, list),
            ("common", Value::Text(text)) => once(&mut parts.common, owned(text)),
            ("optional", Value::Flag(flag)) => once(&mut parts.optional, flag),
            ("when", Value::Text(text)) => once(&mut parts.when, owned(text)),
            ("checked", Value::List(list)) => once(&mut parts.checked, list),
            ("from-memory", Value::Flag(flag)) => once(&mut parts.from_memory, flag),
            _ => false,
        }
    }

    fn row(parts: LinkParts) -> Option<Self> {
        Some(RawLink {
            signal: parts.signal?,
            points: parts.points?,
            common: parts.common,
            optional: parts.optional.unwrap_or_default(),
            when: parts.when,
            checked: parts.checked.unwrap_or_default(),
            from_memory: parts.from_memory.unwrap_or_default(),
        })
    }
}

#[derive(Default)]
pub(super) struct PinParts {
    pin: Option<Spanned<String>>,
    name: Option<String>,
    role: Option<Role>,
    pair: Option<String>,
    drains: Option<OneOrMore>,
    checked: Option<Vec<Spanned<String>>>,
    from_memory: Option<bool>,
}

impl PlainRow for RawPin {
    type Parts = PinParts;

    fn take(parts: &mut PinParts, key: &str, value: Value<'_>) -> bool {
        match (key, value) {
            ("pin", Value::Text(text)) => once(&mut parts.pin, owned(text)),
            ("name", Value::Text(text)) => once(&mut parts.name, text.into_inner().to_owned()),
            ("role", Value::Text(text)) => {
                let role = Role::deserialize(StrDeserializer::<Error>::new(text.get_ref()));
                role.is_ok_and(|role| once(&mut parts.role, role))
            }
            ("pair", Value::Text(text)) => once(&mut parts.pair, text.into_inner().to_owned()),
            ("drains", Value::Text(text)) => once(&mut parts.drains, OneOrMore::One(text.into_inner().to_owned())),
            ("drains", Value::List(list)) => {
                once(&mut parts.drains, OneOrMore::More(list.into_iter().map(Spanned::into_inner).collect()))
            }
            ("checked", Value::List(list)) => once(&mut parts.checked, list),
            ("from-memory", Value::Flag(flag)) => once(&mut parts.from_memory, flag),
            _ => false,
        }
    }

    fn row(parts: PinParts) -> Option<Self> {
        Some(RawPin {
            pin: parts.pin?,
            name: parts.name?,
            role: parts.role?,
            pair: parts.pair,
            far: None,
            drains: parts.drains,
            checked: parts.checked.unwrap_or_default(),
            from_memory: parts.from_memory.unwrap_or_default(),
        })
    }
}
