//! The objects of a SARIF log that the report has use for, in the terms of the standard (OASIS SARIF 2.1.0, section 3).

use serde::Serialize;

use crate::finding::{Code, Severity, Verdict};

/// A text for people.
#[derive(Debug, Serialize)]
pub(super) struct Message {
    pub(super) text: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) markdown: Option<String>,
}

impl Message {
    /// A text that is no markup, whatever it holds: braces are doubled (3.11.5), and brackets that would make a link have a
    /// backslash before them (3.11.6).
    pub(super) fn plain(text: &str) -> Self {
        let mut safe = text.replace('{', "{{").replace('}', "}}");
        if safe.contains("](") {
            safe = safe.replace('[', "\\[").replace(']', "\\]");
        }
        Message { text: safe, markdown: None }
    }
}

/// How much a result weighs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub(crate) enum Level {
    None,
    Note,
    Warning,
    Error,
}

impl Level {
    pub(super) fn of(severity: Severity) -> Self {
        match severity {
            Severity::Fail => Level::Error,
            Severity::Caution => Level::Warning,
            Severity::Note => Level::Note,
        }
    }
}

/// What a result says of its rule. All but `Fail` have the level none (3.27.10).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub(crate) enum Kind {
    /// A fault.
    Fail,
    /// There isn't enough to decide.
    Open,
    /// It holds.
    Pass,
}

/// Where a file is.
#[derive(Clone, Debug, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "camelCase")]
pub(super) struct ArtifactLocation {
    pub(super) uri: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) uri_base_id: Option<&'static str>,
}

/// A file that was read.
#[derive(Debug, Serialize)]
pub(super) struct Artifact {
    pub(super) location: ArtifactLocation,
    pub(super) roles: [&'static str; 1],
}

/// A stretch of a file: lines and columns from 1, the end column after the last character, bytes from 0.
#[derive(Debug, Serialize)]
#[serde(rename_all = "camelCase")]
pub(super) struct Region {
    pub(super) start_line: u64,
    pub(super) start_column: u64,
    pub(super) end_line: u64,
    pub(super) end_column: u64,
    pub(super) byte_offset: u64,
    pub(super) byte_length: u32,
}

#[derive(Debug, Serialize)]
#[serde(rename_all = "camelCase")]
pub(super) struct PhysicalLocation {
    pub(super) artifact_location: ArtifactLocation,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) region: Option<Region>,
}

#[derive(Debug, Serialize)]
#[serde(rename_all = "camelCase")]
pub(super) struct Location {
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) id: Option<usize>,
    pub(super) physical_location: PhysicalLocation,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) message: Option<Message>,
}

/// What there is to say of a unit beyond the standard's own fields.
#[derive(Debug, Serialize)]
pub(super) struct Properties {
    pub(super) unit: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) attempt: Option<u8>,
    pub(super) cable: String,
    pub(super) verdict: Verdict,
    #[serde(flatten)]
    pub(super) finding: Option<FindingProperties>,
}

/// What there is to say of one finding.
#[derive(Debug, Serialize)]
pub(super) struct FindingProperties {
    pub(super) points: Vec<String>,
    pub(super) signals: Vec<String>,
    pub(super) hazard: bool,
    pub(super) undecided: bool,
    pub(super) why: String,
    pub(super) remedy: String,
    pub(super) source: String,
}

#[derive(Debug, Serialize)]
pub(super) struct Fingerprints {
    /// Of the code, the cable, the unit, its attempt and the points; lines, figures and file names have no part in it.
    #[serde(rename = "backshellFinding/v1")]
    pub(super) finding: String,
}

#[derive(Debug, Serialize)]
#[serde(rename_all = "camelCase")]
pub(super) struct SarifResult<P: Serialize> {
    pub(super) rule_id: &'static str,
    pub(super) rule_index: usize,
    pub(super) kind: Kind,
    pub(super) level: Level,
    pub(super) message: Message,
    pub(super) locations: Vec<Location>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub(super) related_locations: Vec<Location>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) partial_fingerprints: Option<Fingerprints>,
    pub(super) properties: P,
}

/// An input that can't be used.
#[derive(Debug, Serialize)]
pub(super) struct Notification {
    pub(super) level: Level,
    pub(super) message: Message,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub(super) locations: Vec<Location>,
}

#[derive(Debug, Serialize)]
#[serde(rename_all = "camelCase")]
pub(super) struct Invocation {
    pub(super) execution_successful: bool,
    pub(super) exit_code: u8,
    pub(super) tool_execution_notifications: Vec<Notification>,
}

#[derive(Debug, Serialize)]
pub(super) struct Tool {
    pub(super) driver: Driver,
}

#[derive(Debug, Serialize)]
#[serde(rename_all = "camelCase")]
pub(super) struct Driver {
    pub(super) name: &'static str,
    pub(super) semantic_version: &'static str,
    pub(super) rules: Vec<ReportingDescriptor>,
}

#[derive(Debug, Serialize)]
#[serde(rename_all = "camelCase")]
pub(super) struct ReportingDescriptor {
    pub(super) id: &'static str,
    pub(super) short_description: Message,
    pub(super) full_description: Message,
    pub(super) help: Message,
    pub(super) default_configuration: Configuration,
}

#[derive(Debug, Serialize)]
pub(super) struct Configuration {
    pub(super) level: Level,
}

/// What a result is about: the code of a finding, a unit that can't be decided, or the decision on a lot.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Rule {
    Code(Code),
    Inconclusive,
    Lot,
}

impl Rule {
    /// What is no finding, but has a name as findings do.
    pub(crate) const VERDICTS: [Rule; 2] = [Rule::Inconclusive, Rule::Lot];

    pub(crate) fn id(self) -> &'static str {
        match self {
            Rule::Code(code) => code.text(),
            Rule::Inconclusive => "verdict.inconclusive",
            Rule::Lot => "lot.decision",
        }
    }

    /// A title, and what it means.
    pub(crate) fn words(self) -> (&'static str, &'static str) {
        match self {
            Rule::Code(code) => (code.page().title(), code.page().summary()),
            Rule::Inconclusive => (
                "The unit can't be decided",
                "Something that the verdict needs was not measured, or lies too near its limit. The unit is not accepted: \
                 measure what its cautions name, and check again.",
            ),
            Rule::Lot => (
                "The decision on the lot",
                "What the sampling plan says of the units together. A lot that is rejected is an error; one that is held, or of \
                 which not enough units were tested, is open.",
            ),
        }
    }

    pub(super) fn descriptor(self) -> ReportingDescriptor {
        let message = |text: &str| Message { text: text.to_owned(), markdown: None };
        let (short, full) = self.words();
        let (help, level) = match self {
            Rule::Code(code) => {
                let page = code.page().text();
                (Message { markdown: Some(page.to_owned()), ..message(page) }, Level::of(code.usual_severity()))
            }
            Rule::Inconclusive => (message(full), Level::None),
            Rule::Lot => (message(full), Level::Error),
        };
        ReportingDescriptor {
            id: self.id(),
            short_description: message(short),
            full_description: message(full),
            help,
            default_configuration: Configuration { level },
        }
    }
}
