//! The two kinds of document: what each is called, who writes it, and what must hold beyond its types.

use meltlaw::laws::{FittedLaw, Laws};
use meltlaw::line_check::{self, Broken};
use meltlaw::ranges::OutOfRange;
use meltlaw::record::{LawsRecord, LineRecord};
use meltlaw::record_check::{laws_out_of_range, line_out_of_range};
use meltlaw_line::Support;
use schemars::JsonSchema;
use serde::Serialize;
use serde::de::DeserializeOwned;

use crate::read::limits::MOST_RANGES;

/// A body that a [`super::Document`] can carry.
pub trait Body: Clone + Serialize + DeserializeOwned + JsonSchema + PartialEq {
    /// The member `format`.
    const FORMAT: &'static str;
    /// The command that writes such a file, for messages.
    const MADE_BY: &'static str;

    /// What must hold between members, so that later code need not look again.
    ///
    /// # Errors
    /// What was found and what was needed, in words.
    fn consistent(&self) -> Result<(), String>;

    /// Identities between numbers that do not hold: a right checksum shows that nothing was damaged, these that
    /// nothing was changed.
    fn broken(&self) -> Vec<Broken> {
        Vec::new()
    }
}

impl Body for LawsRecord {
    const FORMAT: &'static str = "meltlaw-laws";
    const MADE_BY: &'static str = "meltlaw fit";

    fn consistent(&self) -> Result<(), String> {
        within(laws_out_of_range(self))?;
        consistent_laws(&self.laws)
    }
}

impl Body for LineRecord {
    const FORMAT: &'static str = "meltlaw-line";
    const MADE_BY: &'static str = "meltlaw compose";

    fn consistent(&self) -> Result<(), String> {
        within(line_out_of_range(self))?;
        consistent_laws(&self.laws)?;
        for (list, found) in [("standing", self.line.standing.len()), ("unsupported", self.line.unsupported.len())] {
            if found > MOST_RANGES {
                return Err(format!("{list} holds {found} ranges, at most {MOST_RANGES} were expected"));
            }
        }
        for pair in self.line.nodes.windows(2) {
            let (low, high) = (pair[0].wire_feed_m_min, pair[1].wire_feed_m_min);
            if low >= high {
                return Err(format!(
                    "the node at {high} m/min follows the one at {low} m/min, nodes must ascend in wire feed"
                ));
            }
        }
        for node in &self.line.nodes {
            if Support::from_word(&node.support).is_none() {
                let feed = node.wire_feed_m_min;
                return Err(format!(
                    "support of the node at {feed} m/min is {:?}, \"covered\", \"extended\" or \"carried\" was needed",
                    node.support
                ));
            }
        }
        for range in &self.line.standing {
            if !["proposed", "confirmed", "contradicted", "withdrawn"].contains(&range.state.as_str()) {
                return Err(format!(
                    "standing is {:?}, \"proposed\", \"confirmed\", \"contradicted\" or \"withdrawn\" was needed",
                    range.state
                ));
            }
        }
        Ok(())
    }

    fn broken(&self) -> Vec<Broken> {
        line_check::broken(self)
    }
}

/// Every number within its range, or the first few that are not, in words.
fn within(outside: Vec<OutOfRange>) -> Result<(), String> {
    const SPELLED_OUT: usize = 6;
    if outside.is_empty() {
        return Ok(());
    }
    let mut words: Vec<String> = outside.iter().take(SPELLED_OUT).map(ToString::to_string).collect();
    if outside.len() > SPELLED_OUT {
        words.push(format!("and {} more", outside.len() - SPELLED_OUT));
    }
    Err(words.join("; "))
}

fn consistent_laws(laws: &Laws) -> Result<(), String> {
    laws.by_name().into_iter().try_for_each(|(name, law)| consistent_law(name, law))
}

fn consistent_law(name: &str, law: &FittedLaw) -> Result<(), String> {
    let order = law.coefficient_order.len();
    if let Some(missing) = law.coefficient_order.iter().find(|c| !law.coefficients.contains_key(*c)) {
        return Err(format!("laws.{name}: coefficient_order names {missing:?}, which is not among the coefficients"));
    }
    let matrices = [("covariance", Some(&law.covariance)), ("counting_covariance", law.counting_covariance.as_ref())];
    for (which, matrix) in matrices.into_iter().filter_map(|(which, m)| m.map(|m| (which, m))) {
        // A law without covariance leaves it empty; anything else is order by order.
        if !matrix.is_empty() && (matrix.len() != order || matrix.iter().any(|row| row.len() != order)) {
            return Err(format!("laws.{name}: {which} is not {order} by {order}, as its coefficient_order asks"));
        }
    }
    Ok(())
}
