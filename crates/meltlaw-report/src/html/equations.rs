//! The laws as formulas (MathML Core), with what each letter means; a form that is not known here stays text.

use maud::{Markup, PreEscaped, html};
use meltlaw::laws::FittedLaw;

use crate::numbers::fixed;
use crate::words;

/// A law's formulas and the meaning of their letters.
pub(crate) fn equations(name: &str, law: &FittedLaw) -> Markup {
    let (formulas, letters): (Vec<Markup>, &[(&str, &str)]) = match (name, law.form.as_str()) {
        ("burn_off", "proportional" | "physical_beta") => (vec![burn_off(false)], &BURN_OFF),
        ("burn_off", "offset") => (vec![burn_off(true)], &BURN_OFF),
        ("arc_voltage", "current") => (vec![voltage(false, false)], &VOLTAGE),
        ("arc_voltage", "current_arc") => (vec![voltage(true, false)], &VOLTAGE),
        ("arc_voltage", "current_arc_extension") => (vec![voltage(true, true)], &VOLTAGE),
        ("detachment", "ordered_logit") => (vec![position(), share(1), share(2)], &DETACHMENT),
        _ => (vec![as_text(&law.equation)], &[]),
    };
    html! {
        div.equations {
            @for formula in &formulas { p.equation { (formula) } }
        }
        @if !letters.is_empty() {
            p.small {
                "With "
                @for (place, (letter, meaning)) in letters.iter().enumerate() {
                    @if place > 0 { ", " }
                    (subscripted(letter)) " " (meaning)
                    @if *letter == "I_0" { @if let Some(current) = law.reference_current_a { ", " (fixed(current, 0)) " A" } }
                }
                ". The coefficients stand below."
            }
        }
    }
}

const BURN_OFF: [(&str, &str); 4] = [
    ("w", "the melting speed of the wire in mm/s (100 mm/s are 6 m/min)"),
    ("Ī", "the mean current in A"),
    ("I_rms", "the RMS current in A"),
    ("L", "the extension in mm"),
];
const VOLTAGE: [(&str, &str); 4] = [
    ("Ū", "the mean voltage between contact tip and work in V"),
    ("Ī", "the mean current in A"),
    ("a", "the arc length in mm"),
    ("L", "the extension in mm"),
];
const DETACHMENT: [(&str, &str); 5] = [
    ("I_p", "the pulse current"),
    ("t_p", "the pulse time at half height in ms"),
    ("I_0", "the law's reference current"),
    ("P_1", "the share of pulses that detach at least one drop"),
    ("P_2", "the share that detach more than one; the true s of a trial scatters about its setting with τ"),
];

/// `I_rms` with its index set low.
fn subscripted(letter: &str) -> Markup {
    match letter.split_once('_') {
        Some((base, index)) => html! { i { (base) } sub { (index) } },
        None => html! { i { (letter) } },
    }
}

/// The record's own words, with the one index that the laws use set low.
fn as_text(equation: &str) -> Markup {
    let text = words::equation(equation);
    html! { @for (place, part) in text.split("I_rms").enumerate() { @if place > 0 { "I" sub { "rms" } } (part) } }
}

fn math(inside: &str) -> Markup {
    html! { (PreEscaped(format!("<math display=\"inline\"><mrow>{inside}</mrow></math>"))) }
}

const MEAN_CURRENT: &str = "<mover accent=\"true\"><mi>I</mi><mo>¯</mo></mover>";

fn burn_off(offset: bool) -> Markup {
    let offset = if offset { "<msub><mi>w</mi><mn>0</mn></msub><mo>+</mo>" } else { "" };
    math(&format!(
        "<mi>w</mi><mo>=</mo>{offset}<mi>α</mi>{MEAN_CURRENT}<mo>+</mo><mi>β</mi><mi>L</mi>\
         <msubsup><mi>I</mi><mtext>rms</mtext><mn>2</mn></msubsup>"
    ))
}

fn voltage(arc: bool, extension: bool) -> Markup {
    let arc = if arc { "<mo>+</mo><mi>E</mi><mi>a</mi>" } else { "" };
    let extension = if extension { format!("<mo>+</mo><mi>r</mi><mi>L</mi>{MEAN_CURRENT}") } else { String::new() };
    math(&format!(
        "<mover accent=\"true\"><mi>U</mi><mo>¯</mo></mover><mo>=</mo><msub><mi>U</mi><mn>0</mn></msub><mo>+</mo>\
         <mi>R</mi>{MEAN_CURRENT}{arc}{extension}"
    ))
}

fn position() -> Markup {
    math(
        "<mi>s</mi><mo>=</mo><mi>n</mi><mi>ln</mi><mfrac><msub><mi>I</mi><mtext>p</mtext></msub>\
         <msub><mi>I</mi><mn>0</mn></msub></mfrac><mo>+</mo><mi>ln</mi><mfrac><msub><mi>t</mi><mtext>p</mtext></msub>\
         <mrow><mn>1</mn><mspace width=\"0.2em\"/><mtext>ms</mtext></mrow></mfrac>",
    )
}

fn share(index: u8) -> Markup {
    math(&format!(
        "<msub><mi>P</mi><mn>{index}</mn></msub><mo>=</mo><mfrac><mn>1</mn><mrow><mn>1</mn><mo>+</mo><mi>exp</mi>\
         <mo>(</mo><mo>−</mo><mi>k</mi><mo>(</mo><mi>s</mi><mo>−</mo><mi>ln</mi><msub><mi>t</mi><mn>{index}</mn></msub>\
         <mo>)</mo><mo>)</mo></mrow></mfrac>"
    ))
}
