//! Experiment.
use meltlaw::compose::compose;
use meltlaw::fit::fit_laws;
use meltlaw::materials::Material;
use meltlaw::study::ComposingRule;
use meltlaw::virtual_bench::{self, Size, Truth};
fn main() {
    let limits = std::env::args().nth(1).is_some();
    let verbose = std::env::args().nth(2).is_some();
    for (m, d, section) in [
        (Material::CarbonSteel, 1.2, None),
        (Material::CarbonSteel, 0.8, None),
        (Material::StainlessSteel, 1.0, None),
        (Material::Aluminium, 1.2, None),
        (Material::Aluminium, 1.6, None),
        (Material::CarbonSteel, 1.2, Some(0.9)),
    ] {
        let mut study = virtual_bench::study(virtual_bench::wire(m, d, section));
        let truth = Truth::of_wire(&study.wire);
        for (b, n, p) in [(36, 30, 150), (10, 10, 60)] {
            let size = Size { burn_off: b, detachment: n, pulses: p };
            let fitted = fit_laws(&study, &virtual_bench::trials(&study, &truth, size, 11, 0));
            study.line.wire_feed_m_min = [0.8 * truth.wire_feed_m_min[0], 1.3 * truth.wire_feed_m_min[1]];
            let i0 = study.reference_current_a();
            if limits && !(m == Material::Aluminium && d > 1.5) {
                study.source.background_current_a = Some([0.08 * i0, 0.38 * i0]);
                study.source.pulse_time_ms = Some([0.8, 2.9]);
                study.source.current_a = Some([20.0, 1.25 * i0]);
                study.source.duty = Some([0.02, 0.3]);
                study.source.pulse_frequency_hz = Some([30.0, 250.0]);
            }
            let mut lines = Vec::new();
            for rule in [ComposingRule::Midpoint, ComposingRule::Optimised] {
                study.line.composing = rule;
                let t = std::time::Instant::now();
                let line = compose(&study, &fitted.laws, &fitted.calibration);
                let took = t.elapsed();
                let c = line.composing.as_ref();
                println!(
                    "{m:?} {d} {rule:?} {took:?} nodes {} usable {:.2} smallest {:?} best {:?}",
                    line.nodes.len(),
                    c.map_or(0.0, |c| c.usable_m_min),
                    c.and_then(|c| c.smallest_one_drop_bound),
                    c.map(|c| c.best_pulse)
                );
                for u in &line.unsupported {
                    println!(
                        "    gap {:?} {:?} {}",
                        u.wire_feed_m_min,
                        u.limits,
                        if u.reason.contains("combination") { "TOGETHER" } else { "" }
                    );
                }
                if verbose {
                    for n in &line.nodes {
                        println!(
                            "   {:.2} Ip {:.1} tp {:.3} f {:.2} Ib {:.2} D {:.3} {:.4} {} {:?} {:?}",
                            n.wire_feed_m_min,
                            n.pulse_current_a,
                            n.pulse_time_ms,
                            n.pulse_frequency_hz,
                            n.background_current_a,
                            n.drop_diameter_mm / d,
                            n.one_drop_probability.interval[0],
                            n.support,
                            n.limits,
                            n.cost
                        );
                    }
                }
                lines.push(line);
            }
        }
    }
}
