//! The line as a C header: `static const` tables in single precision, a reader of settings, one of check bands and one
//! of standing. C99 and C++98, no heap, no recursion, one file; each answer is a status, and on any but 0 no
//! setting is written; support and standing are told on every status.
//!
//! ```c
//! synergic_line_setting setting;
//! if (synergic_line_evaluate(6.5f, &setting) == SYNERGIC_LINE_STATUS_OK) {
//!     /* setting.pulse_current_a and the rest hold */
//! }
//! ```
//!
//! Two lines in one program need two prefixes: with one, the compiler refuses the second, since the include guard holds
//! the checksum.

mod evaluator;
mod text;

use meltlaw_line::{Standing, Status, Support};

use super::ExportError;
use super::facts::{facts, standing_words};
use super::prefix::Prefix;
use super::single::{Column, SingleLine, number_text};
use super::wrapped::comment_lines;
use crate::document::LineDocument;

/// The header's text.
pub(super) fn c_header(document: &LineDocument, prefix: &Prefix) -> Result<String, ExportError> {
    let line = SingleLine::of(&document.body().line)?;
    let mut header = Header { out: String::from("/*\n"), prefix };
    for fact in comment_lines(&facts(document), text::in_comment) {
        header.out.push_str(&format!(" * {fact}\n"));
    }
    // With the checksum in the guard a second line of the same prefix is an error of the compiler, not left out.
    let digits = document.checksum().chars().filter(char::is_ascii_alphanumeric).take(12).collect::<String>();
    let guard = format!("PREFIX_{}_H", digits.to_ascii_uppercase());
    header.put(
        &USE.replace("{nodes}", &line.wire_feed_m_min.len().to_string()).replace("{bytes}", &line.bytes().to_string()),
    );
    header.put(&format!("#ifndef {guard}\n#define {guard}\n{HEAD}"));
    header.constants(document, &line);
    header.codes();
    header.put(evaluator::TYPES);
    header.tables(&line);
    header.functions(&line);
    header.put(&format!("\n#endif /* {guard} */\n"));
    Ok(header.out)
}

/// What the comment ends with.
const USE: &str = " *
 * Numbers are single precision, units stand at the end of names. prefix_evaluate gives the setting at a wire feed,
 * prefix_check_band where the readings of a weld should lie, prefix_standing what confirmation welds said.
 * Each answer is a status; on any but PREFIX_STATUS_OK no number is written, support and standing are told all the same.
 * Include it outside of extern \"C\" blocks: in C++ it includes a header of the standard library itself.
 * Size: {nodes} nodes, {bytes} bytes of tables in read-only memory.
 */
";

const HEAD: &str = "
#ifdef __cplusplus
#include <cmath>
#else
#include <math.h>
#endif

#if defined(__FAST_MATH__) || (defined(__FINITE_MATH_ONLY__) && __FINITE_MATH_ONLY__)
#error \"compile without fast or finite-only mathematics, which cannot tell a number from what is none\"
#endif

";

struct Header<'a> {
    out: String,
    prefix: &'a Prefix,
}

impl Header<'_> {
    /// Text of ours, with the line's own name in it. Capitals go first: they hold nothing that is replaced after them.
    fn put(&mut self, text: &str) {
        let named = text.replace("PREFIX_", &format!("{}_", self.prefix.capitals()));
        self.out.push_str(&named.replace("prefix_", &format!("{}_", self.prefix)));
    }

    /// A constant; `literal` may hold a user's text.
    fn define(&mut self, name: &str, literal: &str) {
        self.put(&format!("#define PREFIX_{name} "));
        self.out.push_str(literal);
        self.out.push('\n');
    }

    fn constants(&mut self, document: &LineDocument, line: &SingleLine) {
        let record = document.body();
        let gas = record.gas.as_ref().map_or_else(|| "not stated".to_owned(), |gas| gas.text_and_group());
        self.define("NAME", &text::string(&record.name));
        self.define("WIRE", &text::string(&record.wire.designation));
        self.define("WIRE_MATERIAL", &text::string(record.wire.material.word()));
        self.define("WIRE_DIAMETER_MM", &format!("{}f", number_text(record.wire.diameter_mm as f32)));
        self.define("GAS", &text::string(&gas));
        self.define("MADE_BY", &text::string(&document.provenance().tool));
        self.define("FORMAT_VERSION", &document.format_version().to_string());
        self.define("CHECKSUM", &text::string(document.checksum()));
        self.define("STANDING", &text::string(&standing_words(&record.line)));
        self.define("CAUTIONS", &document.cautions().len().to_string());
        for (count, caution) in document.cautions().iter().enumerate() {
            self.define(&format!("CAUTION_{}", count + 1), &text::string(caution));
        }
        self.define("NODES", &format!("{}u", line.wire_feed_m_min.len()));
        for (name, count) in [("GAPS", line.gaps_m_min.len()), ("STANDING_RANGES", line.standing.len())] {
            self.define(name, &format!("{count}u"));
        }
    }

    fn codes(&mut self) {
        let mut codes = |about: &str, words: &[(&str, u8)]| {
            self.put(&format!("\n/* {about} */\nenum {{\n"));
            let entry =
                |(word, code): &(&str, u8)| format!("    PREFIX_{}_{} = {code}", kind(about), word.to_uppercase());
            self.put(&words.iter().map(entry).collect::<Vec<_>>().join(",\n"));
            self.put("\n};\n");
        };
        codes(
            "Status of an answer; on any but ok there is no setting.",
            &Status::ALL.iter().map(|s| (s.word(), s.code())).collect::<Vec<_>>(),
        );
        let none = ("none", 0);
        codes(
            "Support of a feed by trials; carried: to a wire or distance that nobody has welded.",
            &[none].into_iter().chain(Support::ALL.iter().map(|s| (s.word(), s.code()))).collect::<Vec<_>>(),
        );
        codes(
            "Standing: what confirmation welds said.",
            &[none].into_iter().chain(Standing::ALL.iter().map(|s| (s.word(), s.code()))).collect::<Vec<_>>(),
        );
    }

    fn tables(&mut self, line: &SingleLine) {
        self.put("\n/* The nodes, ascending in wire feed. */\n");
        self.floats("wire_feed_m_min", "NODES", &line.wire_feed_m_min);
        for Column { name, values } in &line.settings {
            self.floats(name, "NODES", values);
        }
        self.bytes("support", "NODES", &line.support);
        self.put("\n/* Where the readings of a single weld should lie, by node. */\n");
        for Column { name, values } in &line.band {
            self.floats(&format!("next_weld_{name}"), "NODES", values);
        }
        if !line.gaps_m_min.is_empty() {
            self.put("\n/* Ranges of wire feed without a setting. */\n");
            self.ends("gap", "GAPS", line.gaps_m_min.iter().copied());
        }
        if !line.standing.is_empty() {
            self.put(
                "\n/* Ranges of wire feed and their standing, the most cautious last; ends belong to a range. */\n",
            );
            self.ends("standing", "STANDING_RANGES", line.standing.iter().map(|r| r.wire_feed_m_min));
            let codes: Vec<u8> = line.standing.iter().map(|r| r.standing.code()).collect();
            self.bytes("standing_code", "STANDING_RANGES", &codes);
        }
    }

    fn ends(&mut self, name: &str, count: &str, ranges: impl Iterator<Item = [f32; 2]>) {
        let (low, high): (Vec<f32>, Vec<f32>) = ranges.map(|[low, high]| (low, high)).unzip();
        self.floats(&format!("{name}_low_m_min"), count, &low);
        self.floats(&format!("{name}_high_m_min"), count, &high);
    }

    fn floats(&mut self, name: &str, count: &str, values: &[f32]) {
        let numbers: Vec<String> = values.iter().map(|v| format!("{}f", number_text(*v))).collect();
        self.array("float", name, count, &numbers);
    }

    fn bytes(&mut self, name: &str, count: &str, values: &[u8]) {
        let numbers: Vec<String> = values.iter().map(u8::to_string).collect();
        self.array("unsigned char", name, count, &numbers);
    }

    fn array(&mut self, kind: &str, name: &str, count: &str, numbers: &[String]) {
        self.put(&format!("static const {kind} prefix_{name}[PREFIX_{count}] = {{\n"));
        let rows: Vec<String> = numbers.chunks(8).map(|row| format!("    {}", row.join(", "))).collect();
        self.put(&format!("{}\n}};\n", rows.join(",\n")));
    }

    /// The evaluator, without loops over what the line has none of: C knows no array without an element.
    fn functions(&mut self, line: &SingleLine) {
        let (several, gaps) = (line.wire_feed_m_min.len() > 1, !line.gaps_m_min.is_empty());
        self.put(if line.standing.is_empty() { evaluator::NO_STANDING } else { evaluator::STANDING });
        let [between, beyond] = evaluator::FIND_BETWEEN;
        for (wanted, piece) in [
            (several, evaluator::FIND_SEVERAL),
            (several && gaps, evaluator::FIND_INDEX),
            (!several, evaluator::FIND_ONE),
            (true, evaluator::FIND_ENDS),
            (several, evaluator::FIND_LOWER),
            (true, evaluator::FIND_AT_NODE),
            (several, between),
            (several && gaps, evaluator::FIND_GAPS),
            (several, beyond),
            (true, evaluator::ANSWERS),
        ] {
            if wanted {
                self.put(piece);
            }
        }
    }
}

/// The first word of a sentence, in capitals.
fn kind(about: &str) -> String {
    about.chars().take_while(char::is_ascii_alphabetic).collect::<String>().to_uppercase()
}
