//! The line's own numbers at its five feeds, held against the truth at the very settings composed.

use super::examine::Claim;
use super::kinds::{Lab, NEW_WELDS};
use super::new_weld::{ErrorsOfOneWeld, new_weld};
use super::oracle::Oracle;
use crate::compose::{melting_mm_s, voltage_v};
use crate::fit::detachment::QUADRATURE_POINTS;
use crate::laws::{FittedLaw, Laws};
use crate::line::{Line, Node};
use crate::statistics::{DrawStream, GaussHermite, Purpose, student_t_quantile};
use crate::study::{CovarianceFrom, Study};

/// Names of the line's numbers, in the order of [`Oracle::node_widths`].
const NAMES: [&str; 6] = [
    "line.melting_rate",
    "line.one_drop_probability",
    "line.voltage_mean",
    "line.next_weld_current",
    "line.next_weld_voltage",
    "line.next_weld_power",
];

/// Six statements for each of the five feeds that has a node.
pub(super) fn node_claims(study: &Study, lab: &Lab, laws: &Laws, line: &Line, oracle: Option<&Oracle>) -> Vec<Claim> {
    let [low, _] = study.line.wire_feed_m_min;
    let mut claims = Vec::new();
    for place in 0..5 {
        let feed = low + place as f64 * study.line.step_m_min;
        // Nodes are as few as keep the tolerance: the nearest one stands for the feed.
        let away = |n: &&Node| (n.wire_feed_m_min - feed).abs();
        let near = line.nodes.iter().min_by(|a, b| away(a).total_cmp(&away(b)));
        let Some(node) = near.filter(|n| away(n) <= 0.5 * study.line.step_m_min + 1e-9) else { continue };
        let widths = oracle.map_or([f64::NAN; 6], |o| o.node_widths(lab, node));
        let stated = [melting_rate(study, lab, laws, node), one_drop(lab, node), voltage(lab, node)];
        let read = one_new_weld(lab, node, place);
        let next = &node.next_weld;
        let predicted = [next.current_mean_a, next.voltage_mean_v, next.power_mean_w]
            .into_iter()
            .zip(read)
            .map(|(interval, read)| (read, f64::midpoint(interval[0], interval[1]), None, interval));
        claims.extend(stated.into_iter().chain(predicted).zip(NAMES).zip(widths).map(
            |(((truth, estimate, standard_error, interval), name), oracle_width)| Claim {
                name: name.to_owned(),
                place,
                truth,
                estimate: Some(estimate),
                standard_error,
                interval,
                oracle_width,
            },
        ));
    }
    claims
}

/// Truth, estimate, standard error if stated, interval.
pub(super) type Stated = (f64, f64, Option<f64>, [f64; 2]);

/// What the true laws melt at the setting, mm/s, against the feed that it was composed for.
pub(super) fn melting_rate(study: &Study, lab: &Lab, laws: &Laws, node: &Node) -> Stated {
    let w = node.wire_feed_m_min / 0.06;
    let extension = study.bench.ctwd_mm - study.bench.arc_length_mm;
    let truth = melting_mm_s(&lab.truth.burn_off(), extension, node.current_mean_a, node.current_rms_a.powi(2));
    let se = node.melting_rate_relative_se * w;
    let t = student_t_quantile(0.5 + study.numerics.confidence / 2.0, degrees(&laws.burn_off));
    (truth, w, Some(se), [w - t * se, w + t * se])
}

/// Degrees of freedom of a least-squares law's covariance: with scatter between blocks those of the blocks,
/// none lost where the stated errors are taken as known.
fn degrees(law: &FittedLaw) -> f64 {
    match (&law.between_blocks, law.covariance_from) {
        (Some(between), _) => between.degrees_of_freedom,
        (None, CovarianceFrom::StatedErrors) => f64::INFINITY,
        (None, _) => law.degrees_of_freedom as f64,
    }
}

pub(super) fn one_drop(lab: &Lab, node: &Node) -> Stated {
    let law = lab.truth.detachment();
    let x = (node.pulse_current_a / lab.study.reference_current_a()).ln();
    let s = law.s(x, node.pulse_time_ms.ln());
    let truth = law.one_drop_probability(s, &GaussHermite::new(QUADRATURE_POINTS));
    let stated = &node.one_drop_probability;
    (truth, stated.value, None, stated.interval)
}

pub(super) fn voltage(lab: &Lab, node: &Node) -> Stated {
    let bench = &lab.true_bench;
    let extension = bench.ctwd_mm - bench.arc_length_mm;
    let truth = voltage_v(&lab.truth.arc_voltage(), bench.arc_length_mm, extension, node.current_mean_a);
    (truth, node.voltage_mean_v, None, node.voltage_mean_v_interval)
}

/// One true weld at the node, read with the true errors; the same at every confidence.
fn one_new_weld(lab: &Lab, node: &Node, place: usize) -> [f64; 3] {
    let index = lab.number | NEW_WELDS | ((place as u64) << 32);
    let mut stream = DrawStream::new(lab.seed, Purpose::Simulation, index);
    let z = ErrorsOfOneWeld {
        wire_feed: stream.normal(),
        arc_length: stream.normal(),
        gain: stream.normal(),
        voltage: stream.normal(),
    };
    new_weld(&lab.truth.burn_off(), &lab.truth.arc_voltage(), &lab.true_bench, node, &z)
}
