//! The page: one section is one file, in the order in which a reader decides.

mod admissible;
mod basis;
mod composing;
mod confirmation;
mod diagnostics;
mod ends;
mod equations;
mod heat;
mod improve;
mod law_diagnosis;
mod laws;
mod line;
mod line_influence;
mod live;
mod live_data;
mod next;
mod origin;
pub(crate) mod parts;
mod sureness;
mod surprise;
mod verdict;
mod window;

use maud::{DOCTYPE, Markup, PreEscaped, html};

use crate::ReportInput;
use crate::colours::Colour;
use crate::embedded;
use crate::extension::extended_from;
use crate::figures::Figures;

pub(crate) use confirmation::to_confirm;
pub(crate) use improve::in_short as first_to_improve;

/// The whole page as text.
pub(crate) fn page(input: &ReportInput<'_>, figures: &Figures) -> String {
    let name = if input.line.name.is_empty() { "Synergic line" } else { &input.line.name };
    let mut sections: Vec<(&str, &str, Markup)> = vec![
        ("verdict", "Verdict", verdict::section(input, figures)),
        ("line", "The line", line::section(input, figures)),
        ("sureness", "How well it is known", sureness::section(input, figures)),
        ("laws", "The laws and their trials", laws::section(input, figures)),
        ("window", "One drop per pulse", window::section(input, figures)),
        ("diagnostics", "Tests and findings", diagnostics::section(input, figures)),
        ("left-out", "Left out, assumed, not covered", basis::section(input)),
        ("next", "What to weld next", next::section(input)),
        ("cautions", "Cautions", origin::cautions(input)),
        ("origin", "Where it comes from", origin::section(input)),
    ];
    if let Some(extension) = &input.laws.extension {
        sections.insert(3, ("extension", "The studies behind the laws", extended_from(extension)));
    }
    let script = live::is_shown(input.line).then_some(live::SCRIPT);
    whole_page("Synergic line, report", name, &parts::subject(input), &sections, script)
}

/// A page of its own: what kind it is, its name, what it is about, then its sections.
pub(crate) fn whole_page(
    kind: &str,
    name: &str,
    subject: &Markup,
    sections: &[(&str, &str, Markup)],
    script: Option<&str>,
) -> String {
    let style = style();
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta http-equiv="Content-Security-Policy" content=(policy(&style));
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                title { (name) " – report" }
                style { (PreEscaped(&style)) }
            }
            body {
                header {
                    p.kind { (kind) }
                    h1 { (name) }
                    p { (subject) }
                }
                nav aria-label="Sections" {
                    ul { @for (id, title, _) in sections { li { a href={ "#" (id) } { (title) } } } }
                }
                main {
                    @for (id, title, body) in sections {
                        section id=(id) aria-labelledby={ (id) "-heading" } {
                            h2 id={ (id) "-heading" } { (title) }
                            (body)
                        }
                    }
                }
                @if let Some(script) = script { script { (PreEscaped(script)) } }
            }
        }
    }
    .into_string()
}

/// Nothing may be loaded from anywhere, and nothing may run or style but what the page itself brings.
fn policy(style: &str) -> String {
    format!(
        "default-src 'none'; style-src '{}'; script-src '{}'; img-src data:; base-uri 'none'; form-action 'none'",
        embedded::hash_source(style),
        embedded::hash_source(live::SCRIPT)
    )
}

fn style() -> String {
    let (light, dark) = (Colour::variables(false), Colour::variables(true));
    format!(
        ":root{{{light}}}\n@media screen and (prefers-color-scheme:dark){{:root{{{dark}}}}}\n{}",
        include_str!("style.css")
    )
}
