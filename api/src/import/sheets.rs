//! History files being written, cell by cell.

use std::fs::{self, File};
use std::io;
use std::path::{Path, PathBuf};

use super::export::Detail;
use super::files::HistoryFile;
use super::rows::{JobRow, OrderRow};
use crate::db::types::{FixedWord, Word};
use crate::domain::clock::UtcStamp;
use crate::domain::decimal::format_hundredths;
use crate::domain::formula::{guarded, plain};
use crate::domain::money::Currency;

/// Rows written, by file.
pub type Counts = Vec<(HistoryFile, u64)>;

/// One file being written.
struct Sheet {
    file: HistoryFile,
    writer: csv::Writer<File>,
    /// Texts are kept from being formulas.
    spreadsheet: bool,
    rows: u64,
}

fn partial(folder: &Path, file: HistoryFile) -> PathBuf {
    folder.join(format!("{}.partial", file.file_name()))
}

impl Sheet {
    fn open(folder: &Path, file: HistoryFile, spreadsheet: bool) -> io::Result<Self> {
        let out = File::create(partial(folder, file))?;
        let mut writer =
            csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(out);
        writer.write_record(columns(file))?;
        Ok(Self { file, writer, spreadsheet, rows: 0 })
    }

    fn row(&mut self, cells: &[Cell]) -> io::Result<()> {
        for cell in cells {
            match cell {
                Cell::Made(text) => self.writer.write_field(text)?,
                Cell::Text(text) if self.spreadsheet => self.writer.write_field(&*guarded(text))?,
                Cell::Text(text) => self.writer.write_field(&*plain(text))?,
            }
        }
        self.writer.write_record(None::<&[u8]>)?;
        self.rows += 1;
        Ok(())
    }
}

/// The columns that are written: all but the older word for a part's role.
fn columns(file: HistoryFile) -> impl Iterator<Item = &'static str> {
    file.columns().iter().map(|column| column.name).filter(|name| *name != "suspect")
}

/// A cell.
enum Cell {
    /// Numbers, times and words of the program's own.
    Made(String),
    /// What people wrote.
    Text(String),
}

fn text(text: &str) -> Cell {
    Cell::Text(text.to_owned())
}

fn maybe(value: Option<&String>) -> Cell {
    Cell::Text(value.cloned().unwrap_or_default())
}

fn number<T: std::fmt::Display>(value: Option<T>) -> Cell {
    Cell::Made(value.map(|value| value.to_string()).unwrap_or_default())
}

fn hours(value: Option<i64>) -> Cell {
    Cell::Made(value.map(format_hundredths).unwrap_or_default())
}

fn word<T: FixedWord>(value: Option<Word<T>>) -> Cell {
    Cell::Made(value.map(|word| word.0.word().to_owned()).unwrap_or_default())
}

fn time(value: Option<UtcStamp>) -> Cell {
    Cell::Made(value.map(UtcStamp::rfc3339).unwrap_or_default())
}

/// The files of one shop being written.
pub struct Out {
    folder: PathBuf,
    money: Currency,
    orders: Sheet,
    jobs: Sheet,
    checks: Sheet,
    parts: Sheet,
    labor: Sheet,
    /// Only where a job has more than one operation.
    operations: Option<Sheet>,
}

impl Out {
    pub fn open(folder: &Path, money: Currency, spreadsheet: bool) -> io::Result<Self> {
        let sheet = |file| Sheet::open(folder, file, spreadsheet);
        Ok(Self {
            folder: folder.to_owned(),
            money,
            orders: sheet(HistoryFile::Orders)?,
            jobs: sheet(HistoryFile::Jobs)?,
            checks: sheet(HistoryFile::Checks)?,
            parts: sheet(HistoryFile::Parts)?,
            labor: sheet(HistoryFile::Labor)?,
            operations: None,
        })
    }

    fn amount(&self, value: Option<i64>) -> Cell {
        Cell::Made(value.map(|minor| self.money.format_amount(minor)).unwrap_or_default())
    }

    pub(super) fn visit(
        &mut self,
        shop: &str,
        order: &OrderRow,
        detail: &Detail,
    ) -> io::Result<()> {
        let vehicle = detail.vehicles.get(&order.vehicle_id);
        self.orders.row(&[
            text(&order.order_no),
            text(shop),
            maybe(vehicle.and_then(|v| v.vin.as_ref())),
            maybe(vehicle.and_then(|v| v.make.as_ref())),
            maybe(vehicle.and_then(|v| v.model.as_ref())),
            number(vehicle.and_then(|v| v.model_year)),
            maybe(vehicle.and_then(|v| v.engine.as_ref())),
            number(order.odometer_in),
            number(order.odometer_out),
            Cell::Made(order.odometer_unit.clone()),
            time(Some(order.opened_at)),
            time(order.closed_at),
        ])?;
        for job in detail.jobs.get(&order.id).into_iter().flatten() {
            self.job(order, job, detail)?;
            self.work(order, job, detail)?;
        }
        Ok(())
    }

    fn job(&mut self, order: &OrderRow, job: &JobRow, detail: &Detail) -> io::Result<()> {
        let operations = detail.operations.get(&job.id).map_or(&[][..], Vec::as_slice);
        let first = operations.iter().find(|row| row.line == 1);
        let link = detail.links.get(&job.id);
        let lead = job.lead_id.as_ref().and_then(|id| detail.people.get(id));
        let cells = [
            text(&order.order_no),
            number(Some(job.job_no)),
            word(Some(job.kind)),
            maybe(job.symptom.as_ref()),
            maybe(job.complaint.as_ref()),
            word(job.outcome),
            maybe(job.cause.as_ref()),
            word(job.cause_state),
            maybe(job.cause_position.as_ref()),
            maybe(job.correction.as_ref()),
            maybe(lead),
            maybe(first.map(|row| &row.code)),
            hours(first.and_then(|row| row.flat_rate_hundredths)),
            hours(first.and_then(|row| row.billed_hundredths)),
            self.amount(first.and_then(|row| row.labor_amount_minor)),
            word(first.and_then(|row| row.payer)),
            maybe(link.map(|(order_no, _, _)| order_no)),
            number(link.map(|(_, job_no, _)| job_no)),
            maybe(link.and_then(|(_, _, reason)| reason.as_ref())),
        ];
        self.jobs.row(&cells)?;
        for row in operations.iter().filter(|row| row.line != 1) {
            let cells = [
                text(&order.order_no),
                number(Some(job.job_no)),
                number(Some(row.line)),
                text(&row.code),
                hours(row.flat_rate_hundredths),
                hours(row.billed_hundredths),
                self.amount(row.labor_amount_minor),
                word(row.payer),
            ];
            let sheet = match &mut self.operations {
                Some(sheet) => sheet,
                none => none.insert(Sheet::open(
                    &self.folder,
                    HistoryFile::Operations,
                    self.jobs.spreadsheet,
                )?),
            };
            sheet.row(&cells)?;
        }
        Ok(())
    }

    fn work(&mut self, order: &OrderRow, job: &JobRow, detail: &Detail) -> io::Result<()> {
        let of_job = || [text(&order.order_no), number(Some(job.job_no))];
        for row in detail.checks.get(&job.id).into_iter().flatten() {
            let cells = [
                number(Some(row.seq)),
                text(&row.code),
                maybe(row.position.as_ref()),
                word(row.finding),
                number(row.minutes),
                number(row.reading),
                maybe(row.unit.as_ref()),
                Cell::Made(row.typed_at_close.to_string()),
            ];
            self.checks.row(&joined(of_job(), cells))?;
        }
        for row in detail.parts.get(&job.id).into_iter().flatten() {
            let cells = [
                number(Some(row.line)),
                maybe(row.part_no.as_ref()),
                text(&row.name),
                maybe(row.position.as_ref()),
                hours(Some(row.quantity_hundredths)),
                word(Some(row.disposition)),
                word(row.role),
                word(row.serviceable),
                maybe(row.supplier.as_ref()),
                maybe(row.lot.as_ref()),
                self.amount(row.unit_cost_minor),
                self.amount(row.unit_price_minor),
                number(row.bench_reading),
                maybe(row.bench_unit.as_ref()),
            ];
            self.parts.row(&joined(of_job(), cells))?;
        }
        for row in detail.labor.get(&job.id).into_iter().flatten() {
            // An entry that runs has no end to write; it is not history yet.
            let (Some(ended_at), Some(name)) = (row.ended_at, detail.people.get(&row.person_id))
            else {
                continue;
            };
            let cells = [
                text(name),
                word(row.activity),
                time(Some(row.started_at)),
                time(Some(ended_at)),
                word(Some(row.worked_as)),
            ];
            self.labor.row(&joined(of_job(), cells))?;
        }
        Ok(())
    }

    pub fn finish(self) -> io::Result<Counts> {
        let mut counts = Vec::new();
        let sheets = [self.orders, self.jobs, self.checks, self.parts, self.labor];
        let mut written = Vec::new();
        for sheet in sheets.into_iter().chain(self.operations) {
            counts.push((sheet.file, sheet.rows));
            let file = sheet.writer.into_inner().map_err(csv::IntoInnerError::into_error)?;
            file.sync_all()?;
            written.push(sheet.file);
        }
        for file in HistoryFile::ALL {
            let to = self.folder.join(file.file_name());
            if written.contains(file) {
                fs::rename(partial(&self.folder, *file), to)?;
            } else if to.exists() {
                // Of an earlier export: its jobs have one operation each by now.
                fs::remove_file(to)?;
            }
        }
        Ok(counts)
    }
}

fn joined<const A: usize, const B: usize>(head: [Cell; A], tail: [Cell; B]) -> Vec<Cell> {
    head.into_iter().chain(tail).collect()
}
