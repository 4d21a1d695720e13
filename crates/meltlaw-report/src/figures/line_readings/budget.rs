//! What leads an uncertainty budget, by how much, and where the lead changes hands.

use std::collections::BTreeMap;

use meltlaw::laws::Reading;
use meltlaw::line::Node;

use super::at;
use crate::bench_work::at_the_bench;
use crate::figures::feed_view::FeedView;
use crate::numbers::{feed, percent};
use crate::words;

/// A stretch of the line on which one contributor leads.
struct Lead<'a> {
    contributor: &'a str,
    from_m_min: f64,
    to_m_min: f64,
    /// Its largest share there, and where.
    largest: f64,
    largest_at: f64,
    smallest: f64,
}

/// Reading of the budget of a quantity, named as in `at_the_bench`.
pub(crate) fn shares(view: &FeedView<'_>, quantity: &str, shares: impl Fn(&Node) -> &BTreeMap<String, f64>) -> Reading {
    let leads = leads(view.nodes, &shares);
    let told: Vec<String> = match leads.as_slice() {
        [] => vec!["no contributor is known at any of 0 nodes".to_owned()],
        [only] => vec![format!("{} leads at every feed with {}", words::contributor(only.contributor), size(only))],
        several => several
            .iter()
            .map(|lead| {
                let (from, to) = (feed(lead.from_m_min), feed(lead.to_m_min));
                let stretch = if from == to { at(lead.from_m_min) } else { format!("from {from} to {to} m/min") };
                format!("{} leads {stretch} with {}", words::contributor(lead.contributor), size(lead))
            })
            .collect(),
    };
    let mut sums: BTreeMap<&str, f64> = BTreeMap::new();
    for (name, share) in view.nodes.iter().flat_map(&shares).filter(|(_, share)| share.is_finite()) {
        *sums.entry(name).or_default() += share;
    }
    let first = sums.into_iter().max_by(|a, b| a.1.total_cmp(&b.1).then(b.0.cmp(a.0)));
    let action = first.map_or("nothing".to_owned(), |(name, _)| {
        format!("nothing, if it is known well enough; to know it better: {}", at_the_bench(name, quantity))
    });
    Reading::new(
        "one tall layer shows where work pays; where several are alike, no single cure gains much",
        told.join("; "),
        action,
    )
}

fn size(lead: &Lead<'_>) -> String {
    let (low, high) = (percent(lead.smallest), percent(lead.largest));
    if low == high {
        return format!("{high} of the variance");
    }
    format!("{low} to {high} of the variance, most {}", at(lead.largest_at))
}

/// The largest contributor from node to node; neighbours with the same one are one stretch.
fn leads<'a>(nodes: &'a [Node], shares: &impl Fn(&Node) -> &BTreeMap<String, f64>) -> Vec<Lead<'a>> {
    let mut leads: Vec<Lead<'a>> = Vec::new();
    for node in nodes {
        let known = shares(node).iter().filter(|(_, share)| share.is_finite());
        let Some((name, &share)) = known.max_by(|a, b| a.1.total_cmp(b.1).then(b.0.cmp(a.0))) else { continue };
        let here = node.wire_feed_m_min;
        match leads.last_mut() {
            Some(lead) if lead.contributor == name => {
                lead.to_m_min = here;
                lead.smallest = lead.smallest.min(share);
                if share > lead.largest {
                    (lead.largest, lead.largest_at) = (share, here);
                }
            }
            _ => leads.push(Lead {
                contributor: name,
                from_m_min: here,
                to_m_min: here,
                largest: share,
                largest_at: here,
                smallest: share,
            }),
        }
    }
    leads
}

#[cfg(test)]
mod tests {
    use super::super::tests::record;
    use super::*;

    fn reading(of: impl Fn(f64) -> f64) -> Reading {
        let record = record(&[4.0, 5.0, 6.0], |n| {
            let trials = of(n.wire_feed_m_min);
            n.budget.melting_rate =
                BTreeMap::from([("trials".to_owned(), trials), ("ctwd_offset_mm".to_owned(), 1.0 - trials)]);
        });
        shares(&FeedView::of(&record).unwrap(), "melting rate", |n| &n.budget.melting_rate)
    }

    #[test]
    fn the_leader_is_told_with_the_feeds_between_which_it_leads() {
        let told = reading(|feed| if feed < 5.5 { 0.1 + 0.02 * feed } else { 0.7 });
        assert_eq!(
            told.seen,
            "offset of the contact-tip-to-work distance leads from 4.0 to 5.0 m/min with 80\u{a0}% to 82\u{a0}% of the variance, \
             most at 4.0 m/min; scatter of the trials leads at 6.0 m/min with 70\u{a0}% of the variance"
        );
        // Over the line the offset has 0.82 + 0.80 + 0.30, the trials 1.08.
        assert!(told.action.contains("with a gauge instead of a rule"), "{told:?}");
        assert!(told.action.starts_with("nothing"), "a budget alone asks for nothing");
    }

    #[test]
    fn one_leader_everywhere_is_told_once() {
        assert_eq!(reading(|_| 0.6).seen, "scatter of the trials leads at every feed with 60\u{a0}% of the variance");
    }
}
