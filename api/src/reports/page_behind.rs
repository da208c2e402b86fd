//! The jobs behind the cells of a line on a page.

use super::table::{Cell, Row};

/// Which cell of a line opens the line's own jobs: its first count, else the first
/// figure of just these jobs, else its first number.
pub(super) fn leading(cells: &[&Cell], row: &Row) -> Option<usize> {
    let of_the_line = |cell: &&Cell| own(cell).is_some_and(|own| row.jobs.as_ref() == Some(own));
    cells
        .iter()
        .position(|cell| matches!(cell, Cell::Count(_)))
        .or_else(|| cells.iter().position(of_the_line))
        .or_else(|| cells.iter().position(|cell| cell.is_plain_number()))
}

/// The jobs that a cell opens to. A line's own jobs are opened once, by its first
/// count: a link in every cell leads nowhere new and hides those that do.
pub(super) fn selector<'a>(
    cell: &'a Cell,
    row: &'a Row,
    (leading, at): (Option<usize>, usize),
) -> Option<&'a String> {
    let line = row.jobs.as_ref();
    match own(cell) {
        Some(own) => Some(own).filter(|own| leading == Some(at) || line != Some(*own)),
        None => line.filter(|_| leading == Some(at)),
    }
}

/// The jobs of a figure that brings its own.
const fn own(cell: &Cell) -> Option<&String> {
    match cell {
        Cell::Share(share) | Cell::NoneOf(share, _) => Some(&share.jobs),
        Cell::CountOf(_, jobs) => Some(jobs),
        Cell::Ratio(ratio) => Some(&ratio.jobs),
        _ => None,
    }
}

/// Selects the jobs behind a share that came back, where there are any.
pub(super) fn came_back(cell: &Cell) -> Option<String> {
    match cell {
        Cell::Share(share) if share.definition == "comeback" && share.returns > 0 => {
            Some(format!("{}&returned=true", share.jobs))
        }
        _ => None,
    }
}
