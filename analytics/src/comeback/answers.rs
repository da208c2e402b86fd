//! Who answers for a comeback: whoever answers for the first job of its chain,
//! never who mended it.

use crate::history::{History, NONE};
use crate::words::LinkState;

/// By job row, the code of who answers for the first job of its chain: the
/// job's own technician where it mended no confirmed comeback; [`NONE`] where
/// nobody is recorded.
pub(crate) fn answering(history: &History) -> &[u32] {
    history.derived().answering.get_or_init(|| {
        let technician = history.jobs().technician;
        let first = chain_starts(earlier_rows(history));
        first.iter().map(|&row| technician.get(row as usize).copied().unwrap_or(NONE)).collect()
    })
}

/// By job row, the row of the job that it came back for; [`NONE`] for first
/// repairs. A link whose later job is still open is in no period yet, and one
/// whose later order was opened before the hand-over is rework, not a return.
pub(super) fn earlier_rows(history: &History) -> &[u32] {
    history.derived().earlier_rows.get_or_init(|| earlier_rows_of(history))
}

fn earlier_rows_of(history: &History) -> Vec<u32> {
    let closed = history.jobs().closed_day;
    let mut rows = vec![NONE; closed.len()];
    let returns = history.returns();
    let links = returns.earlier.iter().zip(returns.later);
    for ((&earlier, &later), (&opened, &state)) in
        links.zip(returns.later_opened_day.iter().zip(returns.state))
    {
        let confirmed = state == LinkState::Confirmed.code();
        let handed_over = closed.get(earlier as usize).is_some_and(|closed| *closed <= opened);
        if let Some(slot) = rows.get_mut(later as usize).filter(|_| confirmed && handed_over) {
            *slot = earlier;
        }
    }
    rows
}

/// By row, where the way over earlier rows begins. A ring has no first job; the
/// row stands for it at which the ring is closed.
fn chain_starts(earlier: &[u32]) -> Vec<u32> {
    // Every row is walked once: what a way has reached is known to the next.
    let mut known = vec![NONE; earlier.len()];
    let mut way = Vec::new();
    for row in (0_u32..).take(earlier.len()) {
        let mut at = row;
        let start = loop {
            match (known.get(at as usize), earlier.get(at as usize)) {
                (Some(&NONE), Some(&NONE)) => break at,
                (Some(&NONE), Some(&before)) => {
                    // Until it is known where the way begins, it leads to itself.
                    known.get_mut(at as usize).into_iter().for_each(|slot| *slot = at);
                    way.push(at);
                    at = before;
                }
                (Some(&start), _) => break start,
                (None, _) => break row,
            }
        };
        way.push(row);
        for passed in way.drain(..) {
            known.get_mut(passed as usize).into_iter().for_each(|slot| *slot = start);
        }
    }
    known
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_chain_leads_to_its_first_job() {
        // 0 <- 2 <- 3 and 0 <- 4; 1 stands alone; 6 leads to a row that is not there.
        let earlier = [NONE, NONE, 0, 2, 0, NONE, 99];
        assert_eq!(chain_starts(&earlier), [0, 1, 0, 0, 0, 5, 6]);
    }

    #[test]
    fn a_ring_ends() {
        // 1 -> 2 -> 3 -> 1, and 0 and 4 lead into it.
        let starts = chain_starts(&[1, 2, 3, 1, 2]);
        assert!(starts.iter().all(|start| *start == 1), "{starts:?}");
        assert_eq!(chain_starts(&[0]), [0]);
    }

    proptest::proptest! {
        /// Held against walking from each row alone.
        #[test]
        fn every_way_is_walked_to_its_end(
            links in proptest::collection::vec(proptest::option::of(0_usize..30), 0..30),
        ) {
            // Only to rows before, so that there is no ring.
            let earlier: Vec<u32> = (0_usize..)
                .zip(&links)
                .map(|(row, link)| match link {
                    Some(link) if row > 0 => u32::try_from(link % row).unwrap(),
                    _ => NONE,
                })
                .collect();
            for (row, start) in (0_u32..).zip(chain_starts(&earlier)) {
                let mut at = row;
                while earlier[at as usize] != NONE {
                    at = earlier[at as usize];
                }
                proptest::prop_assert_eq!(start, at);
            }
        }
    }
}
