//! A comparison for people: what differs at its lines in both files, then the tables.

use std::io::{self, Write};

use miette::{GraphicalReportHandler, Severity};

use crate::finding::Verdict;
use crate::text::count;
use crate::text::visible;
use crate::verify::{Agreement, Beside, Comparison, Difference, Standing, ThreeWay, UnitPair, Weight};

use super::super::maps::table;
use super::super::terminal::{Drawn, WIDTH, draw, handler, problem_text_within};
use super::CompareWriter;

/// Writes a comparison for people.
pub struct CompareTerminal<W: Write> {
    out: W,
    handler: GraphicalReportHandler,
    colour: bool,
    all: bool,
    width: usize,
    quiet: bool,
}

impl<W: Write> CompareTerminal<W> {
    /// A report that goes to `out`, with or without colour; `all` lists the figures that are the same, too.
    pub fn new(out: W, colour: bool, all: bool) -> Self {
        CompareTerminal { out, handler: handler(colour), colour, all, width: WIDTH, quiet: false }
    }

    /// Texts in lines of so many columns; tables keep theirs, and so do lines of the input.
    #[must_use]
    pub fn width(mut self, columns: usize) -> Self {
        self.width = columns;
        self.handler = self.handler.with_width(columns);
        self
    }

    /// Nothing but the summary, what must not be connected, and problems of the input.
    #[must_use]
    pub fn quiet(mut self, quiet: bool) -> Self {
        self.quiet = quiet;
        self
    }

    fn paragraph(&mut self, text: &str) -> io::Result<()> {
        let options =
            textwrap::Options::new(self.width).subsequent_indent("  ").word_splitter(textwrap::WordSplitter::NoHyphenation);
        writeln!(self.out, "{}", textwrap::fill(&visible(text), options))
    }

    /// Figures and header lines side by side.
    fn beside(&mut self, pair: &UnitPair) -> io::Result<()> {
        let shown = |row: &&Beside| {
            self.all || row.weight.is_some_and(|weight| weight < Weight::Note || (row.first.is_some() && row.second.is_some()))
        };
        let rows: Vec<&Beside> = pair.beside.iter().filter(shown).collect();
        let text = |value: &Option<String>| value.as_deref().map_or_else(|| "-".to_owned(), |value| visible(value).into_owned());
        let cells = rows.iter().map(|row| {
            let percent = row.percent.map(|percent| format!("{percent:+.1} %")).unwrap_or_default();
            let what = visible(&format!("{} {}", row.what, row.points.join(" "))).trim_end().to_owned();
            [what, text(&row.first), text(&row.second), row.difference.clone().unwrap_or_default(), percent]
        });
        let mut out = String::new();
        if !rows.is_empty() {
            let [first, second] = heads(pair);
            table(&mut out, ["figure or header line", &first, &second, "difference", "percent"], cells.collect());
        }
        let same = pair.beside.iter().filter(|row| row.weight.is_none()).count();
        if same > 0 && !self.all {
            out.push_str(&format!("{} the same, or no further apart than their uncertainty\n", count(same, "figure", "figures")));
        }
        if !out.is_empty() {
            writeln!(self.out, "{out}")?;
        }
        Ok(())
    }

    fn requirement(&mut self, pair: &UnitPair, three: &ThreeWay) -> io::Result<()> {
        if three.rows.is_empty() && three.verdicts == [Verdict::Conforms; 2] {
            return Ok(());
        }
        if !three.rows.is_empty() {
            let [first, second] = heads(pair);
            let rows = three.rows.iter().map(|row| {
                let cells = [&row.contact, &row.signal, &row.requirement, &row.first, &row.second];
                let [contact, signal, requirement, one, two] = cells.map(|cell| visible(cell).into_owned());
                [contact, signal, requirement, one, two, agreement(row.agreement, [&first, &second])]
            });
            let mut out = String::new();
            table(&mut out, ["contact", "signal", "requirement", &first, &second, "which agree"], rows.collect());
            let agree = three.counts.get(&Agreement::AllAgree).copied().unwrap_or(0);
            if agree > 0 && !self.all {
                out.push_str(&format!("{} where all three agree\n", count(agree, "more contact", "more contacts")));
            }
            writeln!(self.out, "{out}")?;
        }
        self.paragraph(&format!("Against {}: {}.", three.cable, three.message))?;
        let checked = [0, 1].map(|side| {
            let mut codes = three.findings[side].clone();
            codes.dedup();
            let codes = if codes.is_empty() { String::new() } else { format!(" ({})", codes.join(", ")) };
            let is = if three.verdicts[side] == Verdict::Inconclusive { "is " } else { "" };
            format!("{} {is}{}{codes}", pair.names[side], three.verdicts[side].word())
        });
        let drawn = if pair.any_drawing { " What a drawing leaves unsaid is a question for `backshell check`." } else { "" };
        self.paragraph(&format!("The wiring, checked one by one: {}.{drawn}", checked.join("; ")))?;
        writeln!(self.out)
    }
}

/// What stands over the columns of the two.
fn heads(pair: &UnitPair) -> [String; 2] {
    pair.names.each_ref().map(|name| visible(name.strip_prefix("the ").unwrap_or(name)).into_owned())
}

/// Who agrees with whom, as an entry of the table.
fn agreement(of: Agreement, [first, second]: [&str; 2]) -> String {
    match of {
        Agreement::AllAgree => "all three".to_owned(),
        Agreement::BothAllowed => "both allowed".to_owned(),
        Agreement::FirstDiffers => format!("requirement, {second}"),
        Agreement::SecondDiffers => format!("requirement, {first}"),
        Agreement::RequirementDiffers => format!("{first}, {second}"),
        Agreement::AllDiffer => "no two".to_owned(),
        Agreement::Untested => "can't be said".to_owned(),
    }
}

/// Differences in one sentence.
fn messages<'d>(of: impl Iterator<Item = &'d Difference>) -> String {
    of.map(|difference| difference.message.as_str()).collect::<Vec<_>>().join("; ")
}

fn name(unit: Option<&String>) -> String {
    unit.map_or_else(|| "(one unit)".to_owned(), |name| visible(name).into_owned())
}

impl<W: Write> CompareWriter for CompareTerminal<W> {
    fn pair(&mut self, pair: &UnitPair) -> io::Result<()> {
        let of = |weight| pair.differences.iter().filter(|difference| difference.weight == weight).count();
        let standing = match pair.standing {
            Standing::Same => "the same".to_owned(),
            Standing::Differs if of(Weight::Differs) > 0 => count(of(Weight::Differs), "difference", "differences"),
            Standing::Differs => "no difference, but not what the map requires".to_owned(),
            Standing::Inconclusive => "inconclusive".to_owned(),
        };
        let [one, two] = [0, 1].map(|side| {
            let unit = pair.units[side].as_ref().map(|unit| format!("{} in ", visible(unit))).unwrap_or_default();
            format!("{unit}{}", visible(&pair.names[side]))
        });
        let nets = count(pair.same_nets, "net is", "nets are");
        if self.quiet {
            for (side, _) in pair.hazards().into_iter().enumerate().filter(|(_, hazard)| *hazard) {
                writeln!(self.out, "DO NOT CONNECT {}", if side == 0 { &one } else { &two })?;
            }
            return Ok(());
        }
        self.paragraph(&format!("{one} against {two}: {standing}; {nets} the same"))?;
        for (name, _) in pair.names.iter().zip(pair.hazards()).filter(|(_, hazard)| *hazard) {
            writeln!(self.out, "  DO NOT CONNECT {}", visible(name))?;
        }
        for [first, second] in &pair.ends {
            let text = format!("  end {first} is called {second} in {}", pair.names[1]);
            writeln!(self.out, "{}", visible(&text))?;
        }
        let (notes, differences): (Vec<&Difference>, Vec<&Difference>) =
            pair.differences.iter().partition(|difference| difference.weight == Weight::Note);
        for difference in differences {
            let severity = if difference.weight == Weight::Differs { Severity::Error } else { Severity::Warning };
            for drawn in Drawn::by_source(Some(difference.kind.word()), &difference.message, severity, &difference.labels) {
                self.out.write_all(draw(&self.handler, &drawn).as_bytes())?;
            }
            writeln!(self.out)?;
        }
        if !notes.is_empty() {
            self.paragraph(&format!("Noted: {}.", messages(notes.into_iter())))?;
            writeln!(self.out)?;
        }
        if pair.standing != Standing::Same || self.all {
            self.beside(pair)?;
        }
        if let Some(three) = &pair.requirement {
            self.requirement(pair, three)?;
        }
        if pair.drawings && !pair.differences.is_empty() {
            self.paragraph(&format!("What changed: {}.", messages(pair.differences.iter())))?;
            writeln!(self.out)?;
        }
        Ok(())
    }

    fn finish(&mut self, comparison: &Comparison) -> io::Result<()> {
        for problem in &comparison.problems {
            writeln!(self.out, "{}", problem_text_within(problem, self.colour, self.width))?;
        }
        for (side, file) in comparison.files.iter().enumerate() {
            let only = comparison.unpaired.iter().filter(|(of, ..)| *of == side);
            let units: Vec<String> = only
                .map(|(_, unit, label)| {
                    format!("{} (line {})", name(unit.as_ref()), label.source.position(label.span.start).line)
                })
                .collect();
            if !units.is_empty() {
                self.paragraph(&format!("Only in {file}: {}", units.join(", ")))?;
            }
        }
        let of = |standing| comparison.count(standing);
        let [same, differ, open] = [of(Standing::Same), of(Standing::Differs), of(Standing::Inconclusive)];
        let compared = count(same + differ + open, "pair of units", "pairs of units");
        writeln!(self.out, "{compared}: {same} the same, {}, {open} inconclusive", count(differ, "differs", "differ"))?;
        let problems = comparison.problems.len();
        if comparison.unjudged > 0 || problems > 0 {
            let problems = count(problems, "problem in the input", "problems in the input");
            writeln!(self.out, "{problems}; {} not compared", count(comparison.unjudged, "pair", "pairs"))?;
        }
        self.out.flush()
    }
}
