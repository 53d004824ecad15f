//! The pages of explanation, in lines of another width than that in which they are written.

use crate::finding::Code;

use super::page::Page;
use super::sarif::Rule;

/// Every code with its summary.
#[must_use]
pub fn explained_list(width: usize) -> String {
    let mut out = Page::new(width);
    let longest = Code::ALL.iter().map(|code| code.text().len()).max().unwrap_or(0);
    for code in Code::ALL {
        out.paragraph(&format!("{:longest$}  ", code.text()), code.page().summary());
    }
    out.into_text()
}

/// The page of a code in lines of so many columns: headings, paragraphs and the items of lists, each broken by itself.
#[must_use]
pub fn explained_page(code: Code, width: usize) -> String {
    let mut out = Page::new(width);
    let mut block = Block::default();
    for line in code.page().text().lines() {
        if line.is_empty() {
            block.end(&mut out);
            out.push_str("\n");
        } else if let Some((mark, text)) = marked(line) {
            block.end(&mut out);
            block = Block { mark, words: text.to_owned() };
            if mark.starts_with('#') {
                block.end(&mut out);
            }
        } else {
            block.add(line.trim());
        }
    }
    block.end(&mut out);
    out.into_text()
}

/// What a name means that reports use as they use codes, though it is no finding: `verdict.inconclusive`, `lot.decision`.
#[must_use]
pub fn explained_verdict(name: &str, width: usize) -> Option<String> {
    let rule = Rule::VERDICTS.into_iter().find(|rule| rule.id() == name)?;
    let (title, meaning) = rule.words();
    let what = match rule {
        Rule::Lot => "This is no finding but the decision on a lot, as `--format sarif` of `backshell lot` names it.",
        _ => "This is no finding but the verdict on a unit, as `--format sarif` names it.",
    };
    let mut out = Page::new(width);
    out.paragraph("# ", &format!("{name}: {title}"));
    out.push_str("\n");
    out.paragraph("", &format!("{what} {meaning}"));
    Some(out.into_text())
}

/// What is broken as a whole: a heading, a paragraph, or an item behind its mark.
#[derive(Default)]
struct Block<'t> {
    mark: &'t str,
    words: String,
}

impl Block<'_> {
    fn add(&mut self, line: &str) {
        if !self.words.is_empty() {
            self.words.push(' ');
        }
        self.words.push_str(line);
    }

    fn end(&mut self, out: &mut Page) {
        if !self.words.is_empty() {
            out.paragraph(self.mark, &self.words);
        }
        *self = Block::default();
    }
}

/// A line that begins a heading or an item, after its mark: `# `, `## `, `- `, `1. `.
fn marked(line: &str) -> Option<(&str, &str)> {
    let (word, text) = line.split_once(' ')?;
    let is_number = word.strip_suffix('.').is_some_and(|digits| !digits.is_empty() && digits.bytes().all(|b| b.is_ascii_digit()));
    (is_number || matches!(word, "#" | "##" | "-")).then(|| (&line[..=word.len()], text))
}
