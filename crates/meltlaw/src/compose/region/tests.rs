//! The regions against the fences of the optimum, which know nothing of how regions are found.

use super::*;
use crate::compose::composed::Composed;
use crate::compose::with_composer;
use crate::fit::{FittedStudy, fit_laws};
use crate::materials::Material;
use crate::statistics::{DrawStream, Purpose};
use crate::study::Study;
use crate::virtual_bench::{self, Size, Truth};
use meltlaw_line::{Waveform, drop_diameter_mm};

fn lab(material: Material, diameter_mm: f64, change: impl Fn(&mut Study)) -> (Study, FittedStudy) {
    let mut study = virtual_bench::study(virtual_bench::wire(material, diameter_mm, None));
    study.numerics.draws = 50;
    let truth = Truth::of_wire(&study.wire);
    study.line.wire_feed_m_min = truth.wire_feed_m_min;
    let size = Size { burn_off: 36, detachment: 30, pulses: 150 };
    let fitted = fit_laws(&study, &virtual_bench::trials(&study, &truth, size, 11, 0));
    change(&mut study);
    (study, fitted)
}

fn labs() -> Vec<(Study, FittedStudy)> {
    vec![
        lab(Material::CarbonSteel, 1.2, |_| {}),
        lab(Material::CarbonSteel, 1.2, |s| {
            s.source.background_current_a = Some([25.0, 140.0]);
            s.source.pulse_time_ms = Some([0.8, 2.9]);
            s.source.current_a = Some([20.0, 480.0]);
            s.source.pulse_duty = Some([0.02, 0.3]);
        }),
        lab(Material::CarbonSteel, 1.2, |s| {
            s.source.rise_a_per_ms = 120.0;
            s.source.fall_a_per_ms = 150.0;
            s.source.pulse_frequency_hz = Some([60.0, 95.0]);
        }),
        lab(Material::Aluminium, 1.2, |s| s.source.background_current_a = Some([20.0, 300.0])),
        lab(Material::StainlessSteel, 1.0, |s| s.line.extended_by = 0.6),
    ]
}

/// Asks at every region of every laboratory.
fn each_region(ask: impl Fn(&Composer<'_>, &Region<'_>, &Node, &Admissible)) {
    for (study, fitted) in labs() {
        let asked = with_composer(&study, &fitted.laws, &fitted.calibration, |composer| {
            let line = composer.line(&fitted.laws);
            let windows = Windows::new(&composer.ground);
            assert!(!line.admissible.is_empty());
            for admissible in &line.admissible {
                let node = line.nodes.iter().find(|n| n.wire_feed_m_min == admissible.wire_feed_m_min);
                let node = node.expect("regions are at nodes");
                let region = composer.region(&windows, node).expect("where there is a node wire melts");
                ask(composer, &region, node, admissible);
            }
        });
        asked.expect("the laws are usable");
    }
}

/// The least fence of a setting as the optimum knows them, by pulse current, frequency and background.
fn least_fence(composer: &Composer<'_>, feed: f64, pulse_a: f64, hz: f64, background_a: f64) -> f64 {
    let reference = composer.ground.reference_a();
    let free = [(pulse_a / reference).ln(), hz.ln(), background_a / reference];
    composer.ground.least_fence(feed / 0.06, free)
}

fn inner_places(span: &Span) -> [f64; 3] {
    [0.03, 0.5, 0.97].map(|t| span.low + t * (span.high - span.low))
}

/// Just outside a span, where no other span of the same `at` is.
fn outer_places(span: &Span, all: &[Span]) -> Vec<f64> {
    let [low, high] = [span.low * 0.997 - 0.003, span.high * 1.003 + 0.003];
    [low, high]
        .into_iter()
        .filter(|v| *v > 0.0 && !all.iter().any(|s| s.at == span.at && (s.low..=s.high).contains(v)))
        .collect()
}

/// The largest least fence over backgrounds at a pulse.
fn best_background(composer: &Composer<'_>, region: &Region<'_>, feed: f64, pulse_a: f64, time_ms: f64) -> f64 {
    (0..3000)
        .map(|i| pulse_a * 0.95 * f64::from(i) / 2999.0)
        .map(|background_a| {
            let hz = 1000.0 * region.fences.with_background(pulse_a, time_ms, background_a).per_ms;
            least_fence(composer, feed, pulse_a, hz, background_a)
        })
        .fold(f64::NEG_INFINITY, f64::max)
}

/// The largest least fence over pulse currents at a frequency and background.
fn best_pulse(composer: &Composer<'_>, feed: f64, hz: f64, background_a: f64) -> f64 {
    let reference = composer.ground.reference_a();
    let [low, high] = composer.ground.currents.map(|c| c.0);
    (0..3000)
        .map(|i| reference * (low + (high - low) * f64::from(i) / 2999.0).exp())
        .map(|pulse_a| least_fence(composer, feed, pulse_a, hz, background_a))
        .fold(f64::NEG_INFINITY, f64::max)
}

/// A dense scan misses the best place by its step: fences are logarithms, changing by less than this a step.
const SCANNED: f64 = 2e-3;

#[test]
fn inside_a_span_some_setting_keeps_all_fences_and_just_outside_none_does() {
    each_region(|composer, region, node, admissible| {
        let feed = node.wire_feed_m_min;
        let spans = &admissible.pulse_time_ms_by_pulse_current_a;
        assert!(spans.len() >= 3, "{feed}");
        for span in spans {
            assert!(span.low <= span.high && !span.low_limits.is_empty() && !span.high_limits.is_empty());
        }
        for span in spans.iter().step_by(4) {
            for time in inner_places(span) {
                let window = region.windows.times((span.at / region.reference_a).ln())[0];
                let room = region.room((span.at / region.reference_a).ln(), time, &window);
                assert!(room.width >= 0.0, "{feed} m/min, {} A, {time} ms: {room:?}", span.at);
                let background_a = f64::midpoint(room.low, room.high);
                let setting = region.fences.with_background(span.at, time, background_a);
                let least = least_fence(composer, feed, span.at, 1e3 * setting.per_ms, background_a);
                assert!(least >= -1e-5, "{feed} m/min, {} A, {time} ms: {least}", span.at);
                // And the rule that releases a setting agrees; at the very end of the data rounding decides.
                let x = (span.at / region.reference_a).ln();
                if (x - region.currents[0].0).min(region.currents[1].0 - x) < 1e-9 {
                    continue;
                }
                let wave = Waveform {
                    pulse_current_a: span.at,
                    pulse_time_ms: time,
                    background_current_a: background_a,
                    pulse_frequency_hz: 1e3 * setting.per_ms,
                    rise_a_per_ms: composer.study.source.rise_a_per_ms,
                    fall_a_per_ms: composer.study.source.fall_a_per_ms,
                };
                let drop_diameter_mm =
                    drop_diameter_mm(composer.study.wire.section_mm2(), feed / 0.06, wave.pulse_frequency_hz);
                let composed = Composed { wave, drop_diameter_mm, limits: vec![], prices: vec![], off_preferred: 0.0 };
                let judged = composer.judge(feed, composed, None, 1e-5);
                assert!(judged.is_ok(), "{feed} m/min, {} A, {time} ms: {judged:?}", span.at);
            }
            for time in outer_places(span, spans) {
                let best = best_background(composer, region, feed, span.at, time);
                assert!(best < 0.0, "{feed} m/min, {} A, {time} ms does with {best}: {span:?}", span.at);
            }
        }
        let spans = &admissible.background_current_a_by_pulse_frequency_hz;
        assert!(spans.len() >= 3, "{feed}");
        for span in spans.iter().step_by(4) {
            for background in inner_places(span) {
                let best = best_pulse(composer, feed, span.at, background);
                assert!(best >= -SCANNED, "{feed} m/min, {} Hz, {background} A: {best}", span.at);
            }
            for background in outer_places(span, spans) {
                let best = best_pulse(composer, feed, span.at, background);
                assert!(best < 0.0, "{feed} m/min, {} Hz, {background} A does with {best}: {span:?}", span.at);
            }
        }
    });
}

#[test]
fn settings_found_at_random_lie_in_both_projections() {
    each_region(|composer, region, node, _| {
        let feed = node.wire_feed_m_min;
        let [low, high] = composer.ground.currents.map(|c| c.0);
        let [slow, fast] = region.fences.per_ms.map(|f| f.0);
        let mut stream = DrawStream::new(5, Purpose::Composing, (feed * 1e3) as u64);
        let mut uniform = move || stream.uniform();
        let mut inside = 0;
        let (_, stretches) = region.times_by_current();
        for _ in 0..20_000 {
            let x = low + (high - low) * uniform();
            let pulse_a = region.reference_a * x.exp();
            let (hz, background_a) = (1e3 * (slow + (fast - slow) * uniform()), pulse_a * 0.95 * uniform());
            if !(least_fence(composer, feed, pulse_a, hz, background_a) > 1e-3) {
                continue;
            }
            inside += 1;
            if inside > 40 {
                break;
            }
            let time = region.fences.with_frequency(pulse_a, 1e-3 * hz, background_a).time_ms;
            assert!(region.times(x).iter().any(|p| (p.low..=p.high).contains(&time)), "{feed}: {pulse_a} A {time} ms");
            let at = region.backgrounds_at(1e-3 * hz, &stretches);
            assert!(
                at.iter().any(|p| (p.low..=p.high).contains(&background_a)),
                "{feed}: {hz} Hz {background_a} A {at:?}"
            );
        }
    });
}

#[test]
fn the_chosen_setting_lies_in_both_projections() {
    each_region(|_, _, node, admissible| {
        let near = |spans: &[Span], at: f64, value: f64| {
            spans.iter().any(|s| (s.at / at - 1.0).abs() < 1e-5 && value >= s.low * 0.999 && value <= s.high * 1.001)
        };
        let (times, backgrounds) =
            (&admissible.pulse_time_ms_by_pulse_current_a, &admissible.background_current_a_by_pulse_frequency_hz);
        assert!(near(times, node.pulse_current_a, node.pulse_time_ms), "{}", node.wire_feed_m_min);
        assert!(near(backgrounds, node.pulse_frequency_hz, node.background_current_a), "{}", node.wire_feed_m_min);
    });
}
