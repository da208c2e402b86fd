//! A mapping on one file: rows as history files have them, made from the other
//! program's rows.

use csv::StringRecord;

use super::{Cell, Kind, Lens};
use crate::domain::zone::Zone;
use crate::import::fields::Fault;
use crate::import::source::{Header, Raw};

/// A lens that has found its columns in a file's header.
#[derive(Debug, Clone)]
pub struct Bound {
    lens: Lens,
    /// Places of each cell's headers.
    places: Vec<Vec<usize>>,
    /// Fields in every row of the file.
    width: usize,
}

impl Bound {
    /// Finds the mapping's headers in the first line; answers the header that
    /// the made rows have.
    ///
    /// # Errors
    /// A sentence: headers missing or there twice.
    pub fn new(lens: &Lens, names: &StringRecord) -> Result<(Self, Header), String> {
        let mut faults = Vec::new();
        let mut places = Vec::new();
        for cell in &lens.cells {
            let mut of_cell = Vec::new();
            for header in &cell.from {
                let alike =
                    |(_, name): &(usize, &str)| name.trim().eq_ignore_ascii_case(header.trim());
                let found: Vec<usize> =
                    names.iter().enumerate().filter(alike).map(|(at, _)| at).collect();
                match found.as_slice() {
                    [at] => of_cell.push(*at),
                    [] => faults.push(format!("'{header}' (for {}) is missing", cell.column)),
                    _ => faults.push(format!("'{header}' (for {}) is there twice", cell.column)),
                }
            }
            places.push(of_cell);
        }
        if !faults.is_empty() {
            return Err(format!("the first line is not as the map says: {}", faults.join("; ")));
        }
        let used: Vec<usize> = places.iter().flatten().copied().collect();
        let extra = names.iter().enumerate().filter(|(at, _)| !used.contains(at));
        let extra = extra.map(|(_, name)| name.trim().to_owned()).collect();
        let header = Header::made(lens.cells.iter().map(|cell| cell.column).collect(), extra);
        Ok((Self { lens: lens.clone(), places, width: names.len() }, header))
    }

    /// The zone that the mapping states.
    #[must_use]
    pub fn zone(&self) -> Option<Zone> {
        self.lens.form.zone
    }

    /// Makes a row of ours; its times are still as they were.
    #[must_use]
    pub fn made(&self, raw: Raw) -> Raw {
        let mut faults = Vec::new();
        let found = raw.fields.len();
        if found != self.width {
            faults.push(Fault::new(
                "",
                format!("the row has {found} fields and the header {}; look for a missing or an extra delimiter", self.width),
            ));
        }
        let mut fields = StringRecord::new();
        for (cell, places) in self.lens.cells.iter().zip(&self.places) {
            fields.push_field(&self.value(cell, places, &raw.fields).unwrap_or_else(|why| {
                faults.push(Fault::new(cell.column, why));
                String::new()
            }));
        }
        Raw { line: raw.line, fields, foreign: Some(raw.fields), faults }
    }

    fn value(
        &self,
        cell: &Cell,
        places: &[usize],
        fields: &StringRecord,
    ) -> Result<String, String> {
        if cell.from.is_empty() {
            return Ok(cell.fixed.clone());
        }
        let texts = places.iter().filter_map(|at| fields.get(*at)).map(str::trim);
        let text = texts.filter(|text| !text.is_empty()).collect::<Vec<_>>().join(" ");
        if let Some(ours) = cell.words.get(&text.to_lowercase()) {
            return Ok(ours.clone());
        }
        match cell.kind {
            Kind::Number if !text.is_empty() => self.lens.form.number(&text),
            _ => Ok(text),
        }
    }

    /// Makes its times, in the zone of what has none.
    pub fn timed(&self, raw: &mut Raw, zone: Zone) {
        let mut fields = StringRecord::new();
        for (cell, text) in self.lens.cells.iter().zip(&raw.fields) {
            let time = cell.time.as_ref().filter(|_| !text.is_empty() && !cell.from.is_empty());
            match time.map(|form| form.time(text, zone)) {
                None => fields.push_field(text),
                Some(Ok(time)) => fields.push_field(&time),
                Some(Err(why)) => {
                    raw.faults.push(Fault::new(cell.column, why));
                    fields.push_field("");
                }
            }
        }
        raw.fields = fields;
    }
}
