//! Reading the header lines.

use crate::finding::Problem;
use crate::text::Span;
use crate::units::{Bound, Dimension, Quantity};

use super::grammar;
use super::parse::{Done, Reader};
use super::settings::{Action, EndSetting, Origin, Price, Scope, Setting, Settings, View};

impl<'s> Reader<'s> {
    pub(super) fn header(&mut self, keyword: &'s [u8], rest: &'s [u8]) -> Done {
        let mut settings = match self.netlist.units.last_mut() {
            Some(unit) => unit.settings.take().map_or_else(Settings::default, |boxed| *boxed),
            None => std::mem::take(&mut self.netlist.head),
        };
        let done = self.setting(&mut settings, keyword, rest);
        match self.netlist.units.last_mut() {
            Some(unit) if settings != Settings::default() => unit.settings = Some(Box::new(settings)),
            Some(_) => {}
            None => self.netlist.head = settings,
        }
        done
    }

    fn setting(&mut self, to: &mut Settings, keyword: &'s [u8], rest: &'s [u8]) -> Done {
        match keyword {
            b"cable" => self.word_setting(&mut to.cable, rest),
            b"rated" => self.word_setting(&mut to.rated, rest),
            b"lot" => self.word_setting(&mut to.lot, rest),
            b"supplier" => self.word_setting(&mut to.supplier, rest),
            b"type" => self.word_setting(&mut to.kind, rest),
            b"tested" => self.word_setting(&mut to.tested, rest),
            b"operator" => self.word_setting(&mut to.operator, rest),
            b"source" => self.choice(&mut to.origin, rest, &[("measured", Origin::Measured), ("drawing", Origin::Drawing)]),
            b"scope" => {
                let scopes = [Scope::All, Scope::Listed, Scope::Stated].map(|scope| (scope.word(), scope));
                self.choice(&mut to.scope, rest, &scopes)
            }
            b"action" => {
                let actions = Action::ALL.map(|action| (action.word(), action));
                self.choice(&mut to.action, rest, &actions)
            }
            b"length" => self.quantity_setting(&mut to.length, rest, &[Dimension::Length]),
            b"gauge" => self.quantity_setting(&mut to.gauge, rest, &[Dimension::Gauge]),
            b"temperature" => self.quantity_setting(&mut to.temperature, rest, &[Dimension::Temperature]),
            b"uncertainty" => self.quantity_setting(&mut to.uncertainty, rest, &[Dimension::Resistance, Dimension::Share]),
            b"price" => {
                let (rest, (amount, currency)) = grammar::amount(rest).map_err(|e| self.expected(e))?;
                if currency.len() != 3 || !currency.iter().all(u8::is_ascii_uppercase) {
                    return Err(self
                        .problem("a price needs its currency", currency, "three capital letters, as in `price 12.50 EUR`")
                        .into());
                }
                let currency = self.span(currency);
                self.end(rest, "nothing more")?;
                let line = self.so_far(rest);
                self.once(&mut to.price, Setting { value: Price { amount, currency }, line })
            }
            b"datum" => self.word_setting(&mut to.datum, rest),
            b"view" => {
                let views = [View::MatingFace, View::WiringSide].map(|view| (view.word(), view));
                self.choice(&mut to.view, rest, &views)
            }
            b"end" => self.of_end(&mut to.ends, rest),
            b"connector" => self.of_end(&mut to.connectors, rest),
            _ => Err(self.unknown(keyword).into()),
        }
    }

    /// `( "end" | "connector" ) text text`: something of one end, once for each.
    fn of_end(&mut self, to: &mut Vec<EndSetting>, rest: &'s [u8]) -> Done {
        let (rest, end) = self.text(rest)?;
        let (rest, side) = self.text(rest)?;
        self.end(rest, "nothing more")?;
        let line = self.so_far(rest);
        let name = self.source.slice(end);
        if let Some(first) = to.iter().find(|other| self.source.slice(other.end) == name) {
            return Err(self.twice(first.line, line).into());
        }
        to.push(EndSetting { end, side, line });
        Ok(())
    }

    fn word_setting(&mut self, to: &mut Option<Setting<Span>>, rest: &'s [u8]) -> Done {
        let (rest, value) = self.text(rest)?;
        self.end(rest, "nothing more (put a text of several words in quotation marks)")?;
        let line = self.so_far(rest);
        self.once(to, Setting { value, line })
    }

    fn choice<T: Copy>(&mut self, to: &mut Option<Setting<T>>, rest: &'s [u8], choices: &[(&str, T)]) -> Done {
        let (after, word) = grammar::word(rest).map_err(|e| self.expected(e))?;
        let Some((_, value)) = choices.iter().find(|(name, _)| name.as_bytes() == word) else {
            let names = choices.iter().map(|(name, _)| format!("`{name}`")).collect::<Vec<_>>().join(" or ");
            return Err(self.problem("this word isn't one of those allowed here", word, format!("expected {names}")).into());
        };
        self.end(after, "nothing more")?;
        let line = self.so_far(after);
        self.once(to, Setting { value: *value, line })
    }

    fn quantity_setting(&mut self, to: &mut Option<Setting<Quantity>>, rest: &'s [u8], of: &[Dimension]) -> Done {
        let (after, value) = grammar::quantity(rest).map_err(|e| self.expected(e))?;
        let written = &rest[..rest.len() - after.len()];
        let dimension = value.unit.dimension();
        if !of.contains(&dimension) {
            let words = of.iter().map(|d| d.words()).collect::<Vec<_>>().join(", or ");
            return Err(self.problem("the wrong kind of figure", written, format!("expected {words}")).into());
        }
        self.in_range(&value, written)?;
        if value.bound != Bound::Exact {
            return Err(self.problem("a header line needs the figure itself", written, "not a limit").into());
        }
        if value.spread().is_some_and(|spread| spread > 0.0 && spread >= value.value.abs()) {
            return Err(self.problem("a tolerance as large as the figure", written, "the figure could be anything").into());
        }
        if dimension == Dimension::Length && value.value <= 0.0 {
            return Err(self.problem("a length must be above zero", written, "not a length").into());
        }
        self.end(after, "nothing more")?;
        let line = self.so_far(after);
        self.once(to, Setting { value, line })
    }

    /// A header line may stand once in its place.
    fn once<T>(&mut self, to: &mut Option<Setting<T>>, setting: Setting<T>) -> Done {
        if let Some(first) = to {
            return Err(self.twice(first.line, setting.line).into());
        }
        *to = Some(setting);
        Ok(())
    }

    fn twice(&self, first: Span, second: Span) -> Problem {
        Problem::new("the same header line twice")
            .at(self.source, second, "said again here")
            .at(self.source, first, "first said here")
            .help("keep the one that holds")
    }
}
