//! A reader that stops before a broken file eats the memory: it follows the
//! quoting of RFC 4180 byte by byte, and counts.

use std::cell::RefCell;
use std::collections::VecDeque;
use std::io::{self, Read};

use super::source::not_utf8;

/// Bytes in one row, line breaks in its quotes included.
pub const LONGEST_ROW: u64 = 1 << 20;
/// Columns in one row.
pub const MOST_COLUMNS: u64 = 500;

/// Where in a row the reader stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Place {
    FieldStart,
    Field,
    Quoted,
    /// After a quotation mark inside quotes: the end, or half of a doubled one.
    QuoteInQuoted,
}

/// Reads through to `inner`, and fails where a row is too long or too wide, or
/// the bytes are not UTF-8.
pub struct Guard<R> {
    inner: R,
    delimiter: u8,
    place: Place,
    row_bytes: u64,
    row_columns: u64,
    line: u64,
    row_line: u64,
    /// Bytes of a character that the next read goes on with.
    tail: Vec<u8>,
    /// Lines that rows begin on, for whoever takes the rows; absent where
    /// nobody does.
    begun: Option<RefCell<VecDeque<u64>>>,
}

impl<R: Read> Guard<R> {
    /// A guard at the start of a file.
    pub const fn new(inner: R) -> Self {
        Self {
            inner,
            delimiter: b',',
            place: Place::FieldStart,
            row_bytes: 0,
            row_columns: 1,
            line: 1,
            row_line: 1,
            tail: Vec::new(),
            begun: None,
        }
    }

    /// A guard that remembers where rows begin.
    pub fn numbering(inner: R) -> Self {
        Self { begun: Some(RefCell::default()), ..Self::new(inner) }
    }

    /// Another sign between the fields.
    pub fn split_by(self, delimiter: u8) -> Self {
        Self { delimiter, ..self }
    }

    /// The line that the next row begins on; to be asked once a row.
    pub fn next_row_line(&self) -> u64 {
        self.begun.as_ref().and_then(|begun| begun.borrow_mut().pop_front()).unwrap_or(0)
    }

    /// Whether the end is a good one.
    ///
    /// # Errors
    /// A sentence: the file stops within a character or within quotes.
    pub fn finish(&self) -> Result<(), String> {
        if !self.tail.is_empty() {
            return Err(not_utf8(self.line));
        }
        if self.place == Place::Quoted {
            return Err(format!(
                "the row that begins on line {} has a quotation mark that is never closed; close it, or look whether the file was cut short",
                self.row_line
            ));
        }
        Ok(())
    }

    fn step(&mut self, byte: u8) -> Result<(), String> {
        use Place::{Field, FieldStart, QuoteInQuoted, Quoted};
        let begins = self.row_bytes == 0 && !matches!(byte, b'\n' | b'\r');
        if let (true, Some(begun)) = (begins, &self.begun) {
            begun.borrow_mut().push_back(self.row_line);
        }
        self.row_bytes += 1;
        if byte == b'\n' {
            self.line += 1;
        }
        self.place = match (self.place, byte) {
            (Quoted, b'"') => QuoteInQuoted,
            (Quoted, _) | (FieldStart | QuoteInQuoted, b'"') => Quoted,
            (_, byte) if byte == self.delimiter => {
                self.row_columns += 1;
                FieldStart
            }
            (_, b'\n' | b'\r') => {
                self.row_bytes = 0;
                self.row_columns = 1;
                self.row_line = self.line;
                FieldStart
            }
            _ => Field,
        };
        if self.row_bytes > LONGEST_ROW {
            return Err(format!(
                "the row that begins on line {} is longer than 1 MiB; look for a quotation mark that is never closed",
                self.row_line
            ));
        }
        if self.row_columns > MOST_COLUMNS {
            return Err(format!(
                "the row on line {} has more than {MOST_COLUMNS} columns; remove those that are not needed",
                self.row_line
            ));
        }
        Ok(())
    }

    /// True while all bytes so far are, or may become, UTF-8.
    fn is_text(&mut self, bytes: &[u8]) -> bool {
        self.tail.extend_from_slice(bytes);
        let whole = match std::str::from_utf8(&self.tail) {
            Ok(text) => text.len(),
            Err(error) if error.error_len().is_none() => error.valid_up_to(),
            Err(_) => return false,
        };
        self.tail.drain(..whole);
        true
    }
}

impl<R: Read> Read for Guard<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let count = self.inner.read(buffer)?;
        let fresh = buffer.get(..count).unwrap_or_default();
        let bad = |why: String| io::Error::new(io::ErrorKind::InvalidData, why);
        let first_line = self.line;
        for byte in fresh {
            self.step(*byte).map_err(bad)?;
        }
        if !self.is_text(fresh) {
            let before = std::str::from_utf8(&self.tail).map_or_else(|e| e.valid_up_to(), str::len);
            let lines = self.tail.iter().take(before).filter(|b| **b == b'\n').count();
            return Err(bad(not_utf8(first_line + lines as u64)));
        }
        Ok(count)
    }
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::*;

    fn read(bytes: &[u8]) -> Result<String, String> {
        // Two bytes at a time, so that characters and quotes are split.
        struct Slow<'a>(&'a [u8]);
        impl Read for Slow<'_> {
            fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
                let two = buffer.len().min(2);
                self.0.read(buffer.get_mut(..two).unwrap())
            }
        }
        let mut guard = Guard::new(Slow(bytes));
        let mut text = Vec::new();
        guard.read_to_end(&mut text).map_err(|e| e.to_string())?;
        guard.finish()?;
        Ok(String::from_utf8(text).unwrap())
    }

    #[test]
    fn good_text_comes_through_unchanged() {
        let text = "a,b\r\n\"x \"\"y\"\"\n, z\",Grüße 車 🚗\r\n";
        assert_eq!(read(text.as_bytes()).unwrap(), text);
    }

    #[test]
    fn other_encodings_are_named_with_their_line() {
        // "Grüße" in ISO 8859-1.
        let why = read(b"a\nb\nGr\xFC\xDFe\n").unwrap_err();
        assert!(why.contains("line 3 has bytes that are not UTF-8"), "{why}");
        // A character cut off at the end of the file.
        assert!(read(b"a\n\xE8\xBB").unwrap_err().contains("line 2"));
    }

    #[test]
    fn an_open_quotation_mark_is_found() {
        let why = read(b"a,b\n1,\"x\n2,y\n").unwrap_err();
        assert!(why.contains("begins on line 2 has a quotation mark"), "{why}");
        // A mark within a field that began without one means itself.
        assert!(read(b"a,b\n1,5\" pipe\n").is_ok());
    }

    #[test]
    fn rows_are_numbered_by_the_line_they_begin_on() {
        let text = "a,b\r\n\r\n1,\"x\r\ny\"\r\n2,z\n3,w";
        let mut guard = Guard::numbering(text.as_bytes());
        io::copy(&mut guard, &mut io::sink()).unwrap();
        let lines: Vec<u64> = (0..5).map(|_| guard.next_row_line()).collect();
        // 0: there is no fifth row.
        assert_eq!(lines, [1, 3, 5, 6, 0]);
    }

    #[test]
    fn long_rows_end_the_reading_at_once() {
        struct Endless(u64);
        impl Read for Endless {
            fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
                self.0 += buffer.len() as u64;
                buffer.fill(b'x');
                Ok(buffer.len())
            }
        }
        let mut guard = Guard::new(Endless(0));
        let why = io::copy(&mut guard, &mut io::sink()).unwrap_err().to_string();
        assert!(why.contains("longer than 1 MiB"), "{why}");
        assert!(guard.inner.0 < 2 * LONGEST_ROW);
    }

    #[test]
    fn wide_rows_are_refused() {
        let wide = "c,".repeat(100_000);
        assert!(read(wide.as_bytes()).unwrap_err().contains("more than 500 columns"));
        let just = format!("c{}", ",c".repeat(499));
        assert!(read(just.as_bytes()).is_ok());
    }
}
