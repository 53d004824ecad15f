//! What was read of a file put together: matrices in rows, in scattering parameters, between single ports.

use num_complex::Complex64;

use crate::finding::Problem;
use crate::text::Span;

use super::Touchstone;
use super::header::Layout;
use super::mixed::{fault, single_ended};
use super::option::Options;
use super::reader::{Problems, Reader};
use crate::signal::network::Network;
use crate::signal::network::convert::{Parameter, scattering};

impl Reader<'_> {
    /// The whole file, where nothing is wrong with it.
    pub(super) fn assemble(mut self) -> Result<Touchstone, Problems> {
        let ports = self.rows.ports.unwrap_or_default();
        let options = self.options.take();
        self.check_head(options.is_some());
        let (options, option_line) = options.unwrap_or_default();
        self.check_counts(ports);
        let reference = self.reference(ports, &options, option_line);
        self.check_kind(ports, &options, option_line, &reference);
        self.check_modes(&reference);
        if !self.problems.is_empty() {
            return Err(self.problems);
        }
        let matrices = self.matrices(ports, &options, &reference);
        let network = matrices.and_then(|matrices| Network::new(std::mem::take(&mut self.rows.frequencies), reference, matrices));
        match network {
            Some(network) if self.problems.is_empty() => Ok(Touchstone {
                network,
                version: self.version,
                parameter: options.parameter,
                ports_from: self.rows.ports_from,
                mixed_mode: self.keywords.modes.is_some(),
                noise_rows: self.rows.noise_rows,
                comments: self.comments,
            }),
            _ => {
                if self.problems.is_empty() {
                    self.problems.push(Problem::new(format!("{}: the figures make no network", self.source.name())));
                }
                Err(self.problems)
            }
        }
    }

    fn check_head(&mut self, has_options: bool) {
        let name = self.source.name();
        if !self.rows.is_empty() {
            return; // figures without an option line were reported where they stand
        }
        if !has_options {
            let problem = Problem::new(format!("{name} has no option line"))
                .help("a Touchstone file has a line `# UNIT KIND FORMAT R OHM` above its figures, as in `# MHz S RI R 50`");
            self.problems.push(problem);
        }
        self.problems.push(Problem::new(format!("{name} has no figures")));
    }

    fn check_counts(&mut self, ports: usize) {
        let (source, keywords) = (self.source, &self.keywords);
        if !self.version.has_keywords() {
            return;
        }
        let mut found = Vec::new();
        let begin = keywords.version.unwrap_or_default();
        if keywords.network.is_none() {
            found.push(Problem::new("[Network Data] is missing").at(source, begin, "needed since this version"));
        }
        match keywords.frequencies {
            None => {
                found.push(Problem::new("[Number of Frequencies] is missing").at(source, begin, "needed since this version"));
            }
            // records that have an error of their own were already reported
            Some((said, at)) if self.problems.is_empty() && said != self.rows.frequencies.len() => {
                let label = format!("{said} said, {} there", self.rows.frequencies.len());
                found.push(
                    Problem::new("not as many frequencies as the file says")
                        .at(source, at, label)
                        .help("the file was cut off or changed; save or copy it again"),
                );
            }
            Some(_) => {}
        }
        let noise = keywords.noise.map_or(0, |(said, _)| said);
        if noise != self.rows.noise_rows {
            let at = keywords.noise.map_or(begin, |(_, at)| at);
            let label = format!("{noise} said, {} there", self.rows.noise_rows);
            found.push(Problem::new("not as many noise frequencies as the file says").at(source, at, label));
        }
        match keywords.row_by_row {
            None if ports == 2 && keywords.ports.is_some() => found.push(
                Problem::new("[Two-Port Data Order] is missing")
                    .at(source, begin, "needed for two ports since this version")
                    .help("without it, the two directions can't be told apart: 12_21 or 21_12"),
            ),
            Some((_, at)) if ports != 2 && keywords.ports.is_some() => {
                found.push(Problem::new("[Two-Port Data Order] is for two ports only").at(source, at, format!("{ports} ports")));
            }
            _ => {}
        }
        for problem in found {
            self.problems.push(problem);
        }
    }

    /// The reference of each port.
    fn reference(&mut self, ports: usize, options: &Options, option_line: Span) -> Vec<f64> {
        let (stated, at) = match &self.keywords.reference {
            Some((list, at)) => (list.as_slice(), *at),
            None => (options.reference.as_slice(), option_line),
        };
        match stated {
            [one] if self.keywords.reference.is_none() || ports == 1 => vec![*one; ports],
            list if list.len() == ports => list.to_vec(),
            list => {
                if self.rows.ports.is_some() {
                    let label = format!("{} figures; one is needed for each of {ports}", list.len());
                    self.problems.push(Problem::new("not one reference for each port").at(self.source, at, label));
                }
                vec![50.0; ports]
            }
        }
    }

    /// Whether the kind of matrix can be turned into scattering parameters.
    fn check_kind(&mut self, ports: usize, options: &Options, option_line: Span, reference: &[f64]) {
        let letter = options.parameter.letter();
        let hybrid = matches!(options.parameter, Parameter::G | Parameter::H);
        let problem = if hybrid && ports != 2 && self.rows.ports.is_some() {
            Problem::new(format!("{letter} parameters are for two ports only")).at(
                self.source,
                option_line,
                format!("{ports} ports"),
            )
        } else if hybrid && self.keywords.modes.is_some() {
            Problem::new(format!("{letter} parameters have no mixed modes")).at(self.source, option_line, "of this kind")
        } else if hybrid && self.keywords.layout.is_some_and(|(layout, _)| layout != Layout::Full) {
            Problem::new(format!("{letter} parameters need the full matrix")).at(self.source, option_line, "of this kind")
        } else if options.parameter != Parameter::S
            && !self.version.has_keywords()
            && reference.windows(2).any(|two| two[0] != two[1])
        {
            Problem::new(format!("{letter} parameters of version 1 with a reference for each port"))
                .at(self.source, option_line, "the ports differ")
                .help("such figures are divided by the reference, and by which isn't clear; save S parameters, or version 2")
        } else {
            return;
        };
        self.problems.push(problem);
    }

    fn check_modes(&mut self, reference: &[f64]) {
        let Some((modes, at)) = &self.keywords.modes else { return };
        let why = match modes.len() == reference.len() {
            true => fault(modes, reference),
            false => Some("it names not as many modes as there are ports"),
        };
        if let Some(why) = why {
            self.problems.push(Problem::new("this order of modes can't be used").at(self.source, *at, why));
        }
    }

    /// All matrices, row by row, as scattering parameters between single ports. None after an error.
    fn matrices(&mut self, ports: usize, options: &Options, reference: &[f64]) -> Option<Vec<Complex64>> {
        let entries = std::mem::take(&mut self.rows.entries);
        let each = self.rows.layout.cells(ports);
        let places = self.places_of_entries(ports);
        let as_written = places.iter().copied().eq(0..each) && options.parameter == Parameter::S && self.keywords.modes.is_none();
        if as_written {
            return Some(entries);
        }
        let mut all = Vec::with_capacity(self.rows.frequencies.len() * ports * ports);
        for (written, place) in entries.chunks_exact(each).zip(&self.rows.places) {
            let mut matrix: Vec<Complex64> = places.iter().map(|at| written[*at]).collect();
            if !self.version.has_keywords() {
                denormalise(options.parameter, &mut matrix, reference.first().copied().unwrap_or(1.0));
            }
            if let Some((modes, _)) = &self.keywords.modes {
                matrix = single_ended(&matrix, modes, options.parameter);
            }
            match scattering(options.parameter, &matrix, reference) {
                Some(matrix) => all.extend(matrix),
                None => {
                    let problem = Problem::new("a matrix that has no scattering parameters")
                        .at(self.source, *place, "at this frequency")
                        .help("the network would give back more than it gets, without end; measure S parameters instead");
                    self.problems.push(problem);
                    return None;
                }
            }
        }
        Some(all)
    }

    /// For each entry of a full matrix row by row, which of those that the file writes it is.
    fn places_of_entries(&self, ports: usize) -> Vec<usize> {
        let row_by_row = self.keywords.row_by_row.map_or(ports != 2, |(row_by_row, _)| row_by_row);
        let at = |row: usize, column: usize| {
            let (low, high) = (row.min(column), row.max(column));
            match self.rows.layout {
                Layout::Full if row_by_row => row * ports + column,
                Layout::Full => column * ports + row,
                Layout::Lower => high * (high + 1) / 2 + low,
                // the rows above have `ports`, `ports - 1` … entries
                Layout::Upper => low * (2 * ports - low + 1) / 2 + high - low,
            }
        };
        (0..ports * ports).map(|cell| at(cell / ports, cell % ports)).collect()
    }
}

/// Version 1 writes figures as if the reference were 1 ohm.
fn denormalise(parameter: Parameter, matrix: &mut [Complex64], reference: f64) {
    match (parameter, matrix) {
        (Parameter::Z, all) => all.iter_mut().for_each(|value| *value *= reference),
        (Parameter::Y, all) => all.iter_mut().for_each(|value| *value /= reference),
        (Parameter::H, [h11, .., h22]) => {
            *h11 *= reference;
            *h22 /= reference;
        }
        (Parameter::G, [g11, .., g22]) => {
            *g11 /= reference;
            *g22 *= reference;
        }
        _ => {}
    }
}
