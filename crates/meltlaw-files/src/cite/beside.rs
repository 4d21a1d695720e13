//! Methods of comparisons and extensions in words, ready for a paper, with numbered sources and their BibTeX.

use meltlaw::compare::laws::LawsComparison;
use meltlaw::extend::Extension;
use meltlaw::laws::CarriedTo;

use super::bibtex;
use super::methods::Method;
use super::references;

/// A sentence with the keys of its sources.
type Sentence = (String, &'static [&'static str]);

/// What was done to compare laws, and the sources as BibTeX.
pub fn comparison_methods(comparison: &LawsComparison) -> (String, String) {
    let c = comparison;
    let margins = c.margins;
    let wires = c.wires.len();
    let mut said: Vec<Sentence> = vec![
        (
            format!(
                "The laws of {wires} wires were compared by what they predict, each against the first: wire feed at equal mean current and \
                 equal extension times squared RMS current, pulse time at both detachment thresholds at equal pulse current, \
                 voltage at equal mean current, arc length and extension."
            ),
            &[],
        ),
        (
            format!(
                "Differences carry bands that hold at {:.0} % at every place where both wires had been welded, for both thresholds and for all wires at \
                 once. Their width is the quantile of the largest standardised error over these places, drawn 10000 times",
                100.0 * c.confidence
            ) + " with each wire's own degrees of freedom.",
            &["liu2010", "montielolea2019", "krishnamoorthy2007"],
        ),
        (
            format!(
                "Two wires count as alike where the band lies within ±{} % of wire feed, ±{} % of pulse time and ±{} V everywhere, as different \
                 where it lies wholly outside at some place, else as undecided (margins: {}).",
                100.0 * margins.wire_feed_relative,
                100.0 * margins.detachment_relative,
                margins.voltage_v,
                c.margins_from
            ),
            &["schuirmann1987"],
        ),
        (format!("Instruments: {}.", c.instruments.words), &["jcgm100"]),
    ];
    if !c.batch_spread.is_empty() {
        let numbers: Vec<String> = {
            let mut n: Vec<String> =
                c.batch_spread.iter().map(|b| format!("{} ({} batches)", b.wire, b.batches)).collect();
            n.dedup();
            n
        };
        said.push((
            format!(
                "Batches of one specification were pooled as a random effect: {}. The spread between batches was estimated by the method of moments that \
                 equates the weighted scatter with its expectation, its interval by the profile of that scatter; the pooled law has one \
                 degree of freedom fewer than batches. Of two batches only an upper bound of the spread is quoted.",
                numbers.join("; ")
            ),
            &["paule1982", "viechtbauer2007", "knapp2003"],
        ));
    }
    if c.likelihood_ratio.iter().any(|l| l.statistic.is_some()) {
        said.push((
            "Beside the verdicts, never instead of them, stands the likelihood ratio of one law for both wires against one for each; its \
             probability was drawn, since few trials do not follow the distribution for large samples."
                .to_owned(),
            &["wilks1938"],
        ));
    }
    said.push((
        "Trials that would settle what is undecided: so many more of each wire, spread as the first ones, that the band would settle it in four \
         of five cases were the present estimates true."
            .to_owned(),
        &[],
    ));
    text("How these laws were compared", &said)
}

/// What was done to extend laws and to what nobody welded they were carried, and the sources as BibTeX.
pub fn extension_methods(extension: &Extension, carried: Option<&CarriedTo>) -> (String, String) {
    let e = extension;
    let mut said: Vec<Sentence> = vec![
        (
            match carried {
                Some(carried) => format!("Laws were extended {}. Nobody has welded this {}.", e.words, carried.what),
                None => format!("Laws were extended {}.", e.words),
            },
            &[],
        ),
        (
            "Burn-off was carried by the heat balance at the wire tip: α with 1/A and β with 1/A², A the metal section; detachment \
             by a power of the diameter common to both thresholds at one pulse current; voltage unchanged, its extension term with 1/A or \
             unchanged as the studies weigh it. Where the studies differ in carbon dioxide or batch alone nothing is scaled."
                .to_owned(),
            &[],
        ),
        (
            format!(
                "{} studies scatter about that scaling. The scatter was drawn from its confidence distribution, with it the pooled mean and a new study; \
                 intervals are quantiles of these draws, so that few studies make wide intervals.",
                e.rests_on.len()
            ),
            &["nagashima2019", "paule1982", "viechtbauer2007"],
        ),
        (
            "Errors of instruments were taken as common to all studies and carried in full.".to_owned(),
            &["jcgm100"],
        ),
    ];
    if !e.left_out.is_empty() {
        let inside = e.left_out.iter().filter(|l| l.inside).count();
        said.push((
            format!(
                "Each study was left out and predicted from the others: {inside} of {} values found lay inside the predicted interval.",
                e.left_out.len()
            ),
            &[],
        ));
    }
    if !e.stated.is_empty() {
        said.push((format!("Stated and not measured: {}.", e.stated.join("; ")), &[]));
    }
    text("How these laws were extended", &said)
}

/// Sentences with numbered sources, and the sources as BibTeX.
fn text(title: &str, said: &[Sentence]) -> (String, String) {
    let sources: Vec<&'static str> = said.iter().flat_map(|(_, keys)| keys.iter().copied()).collect();
    let method = Method { words: String::new(), used_in: Vec::new(), sources };
    let references = references::of(&[method]);
    let number = |key: &str| references.iter().position(|r| r.key == key).map_or(0, |p| p + 1);
    let mut text = format!("{title}\n\n");
    for (words, keys) in said {
        let mut numbers: Vec<usize> = keys.iter().map(|k| number(k)).collect();
        numbers.sort_unstable();
        let cited = numbers.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ");
        let cited = if cited.is_empty() { String::new() } else { format!(" [{cited}]") };
        text.push_str(&format!("{words}{cited}\n\n"));
    }
    for (place, reference) in references.iter().enumerate() {
        text.push_str(&format!("[{}] {}\n", place + 1, reference.text()));
    }
    let bibtex = references.iter().map(bibtex::source).collect::<Vec<_>>().join("\n");
    (text, bibtex)
}
