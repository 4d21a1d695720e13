//! The formulas of the look-up: the rule of [`crate::export::lookup`] in the words of a spreadsheet. No text of a user
//! ever becomes part of one.

use meltlaw_line::{Standing, Status, Support};

use super::about_sheet::standing_ranges;
use super::layout::{FEED_COLUMN, FIRST_NUMBER_COLUMN, Layout, STATUS_COLUMN, SUPPORT_COLUMN};
use super::look::status_words;

/// What stands in a cell instead of a number where there is no setting: arithmetic on it fails.
pub(super) const NO_SETTING: &str = "no setting";
/// The word beside code 0.
pub(super) const NONE: &str = "none";
/// What stands where nothing is to be said.
pub(super) const NOTHING: &str = "–";

/// Cells that the formulas name.
pub(super) struct Cells {
    /// The wire feed that was typed.
    pub(super) feed: String,
    pub(super) status: String,
    pub(super) support: String,
    pub(super) standing: String,
    /// Which row is the last not above the feed.
    pub(super) row: String,
    /// Weight of the row after it.
    pub(super) weight: String,
}

/// The formulas over a line.
pub(super) struct Formulas<'a> {
    pub(super) layout: &'a Layout<'a>,
    pub(super) cells: &'a Cells,
}

impl Formulas<'_> {
    /// The entry of a column in the row found, or the one after it.
    fn entry(&self, column: u16, after: u8) -> String {
        let row = &self.cells.row;
        let row = if after == 0 { row.clone() } else { format!("{row}+{after}") };
        format!("INDEX({},{row})", self.layout.range(column))
    }

    pub(super) fn row(&self) -> String {
        let (x, feeds) = (&self.cells.feed, self.layout.range(FEED_COLUMN));
        format!("=IF(ISNUMBER({x}),IF({x}<INDEX({feeds},1),0,MATCH({x},{feeds},1)),0)")
    }

    pub(super) fn weight(&self) -> String {
        let (x, row, last) = (&self.cells.feed, &self.cells.row, self.layout.rows.len());
        let [low, high] = [0, 1].map(|after| self.entry(FEED_COLUMN, after));
        format!("=IF(OR({row}=0,{row}={last}),0,({x}-{low})/({high}-{low}))")
    }

    pub(super) fn status(&self) -> String {
        let Cells { feed: x, row, weight, .. } = self.cells;
        let last = self.layout.rows.len();
        let feeds = self.layout.range(FEED_COLUMN);
        let [low, high] = [0, 1].map(|after| self.entry(STATUS_COLUMN, after));
        let [nan, below, above] = [Status::NotANumber, Status::BelowRange, Status::AboveRange].map(Status::code);
        format!(
            "=IF(NOT(ISNUMBER({x})),{nan},IF({row}=0,{below},IF({x}>INDEX({feeds},{last}),{above},\
             IF({low}<>0,{low},IF({weight}=0,0,{high})))))"
        )
    }

    pub(super) fn answer(&self) -> String {
        let words: Vec<String> = Status::ALL.iter().map(|status| format!("\"{}\"", status_words(*status))).collect();
        format!("=CHOOSE({}+1,{})", self.cells.status, words.join(","))
    }

    /// Why there is no setting, as the line's sheet says.
    pub(super) fn reason(&self) -> String {
        let Cells { status, row, .. } = self.cells;
        let last = self.layout.rows.len();
        let nan = Status::NotANumber.code();
        let [low, high] = [0, 1].map(|after| self.entry(FIRST_NUMBER_COLUMN, after));
        let code = self.entry(STATUS_COLUMN, 0);
        format!(
            "=IF({status}=0,\"{NOTHING}\",IF({status}={nan},\"type a wire feed in m/min\",IF({row}=0,\"below all feeds of the line\",\
             IF({code}<>0,{low},IF({row}={last},\"above all feeds of the line\",{high})))))"
        )
    }

    /// The weaker support of both rows.
    pub(super) fn support(&self) -> String {
        let Cells { status, weight, .. } = self.cells;
        let [low, high] = [0, 1].map(|after| self.entry(SUPPORT_COLUMN, after));
        let weaker = Support::ALL.iter().map(|each| each.word()).fold(String::new(), |stronger, word| {
            if stronger.is_empty() {
                format!("\"{word}\"")
            } else {
                format!("IF(OR({low}=\"{word}\",{high}=\"{word}\"),\"{word}\",{stronger})")
            }
        });
        format!("=IF({status}<>0,\"{NONE}\",IF({weight}=0,{low},{weaker}))")
    }

    pub(super) fn support_code(&self) -> String {
        let support = &self.cells.support;
        let chain = Support::ALL
            .iter()
            .fold("0".to_owned(), |rest, each| format!("IF({support}=\"{}\",{},{rest})", each.word(), each.code()));
        format!("={chain}")
    }

    /// What refuses the feed; where there is a setting the most cautious of the ranges that hold the feed, proposed where
    /// nothing was said.
    pub(super) fn standing(&self, ranges: usize) -> String {
        let Cells { feed: x, status, .. } = self.cells;
        let mut words = format!("\"{}\"", Standing::Proposed.word());
        if ranges > 0 {
            let [state, low, high] = standing_ranges(ranges);
            for standing in [Standing::Confirmed, Standing::Proposed] {
                let word = standing.word();
                words = format!("IF(SUMPRODUCT(({state}=\"{word}\")*({low}<={x})*({high}>={x}))>0,\"{word}\",{words})");
            }
        }
        let mut formula = format!("IF({status}=0,{words},\"{NONE}\")");
        for standing in [Standing::Contradicted, Standing::Withdrawn] {
            if let Some(refused) = standing.refuses() {
                formula = format!("IF({status}={},\"{}\",{formula})", refused.code(), standing.word());
            }
        }
        format!("={formula}")
    }

    pub(super) fn standing_code(&self) -> String {
        let standing = &self.cells.standing;
        let chain = Standing::ALL
            .iter()
            .fold("0".to_owned(), |rest, each| format!("IF({standing}=\"{}\",{},{rest})", each.word(), each.code()));
        format!("={chain}")
    }

    /// A number that is linear between rows.
    pub(super) fn linear(&self, column: u16) -> String {
        let weight = &self.cells.weight;
        let [low, high] = [0, 1].map(|after| self.entry(column, after));
        self.if_setting(&format!("IF({weight}=0,{low},{low}+{weight}*({high}-{low}))"))
    }

    /// The limits of both rows.
    pub(super) fn limits(&self) -> String {
        let Cells { status, weight, .. } = self.cells;
        let [low, high] = [0, 1].map(|after| self.entry(self.layout.limits_column(), after));
        let both = format!("IF({weight}=0,{low}&\"\",IF({low}={high},{low}&\"\",TRIM({low}&\" \"&{high})))");
        format!("=IF({status}<>0,\"{NOTHING}\",IF({both}=\"\",\"{NOTHING}\",{both}))")
    }

    pub(super) fn if_setting(&self, value: &str) -> String {
        format!("=IF({}<>0,\"{NO_SETTING}\",{value})", self.cells.status)
    }
}
