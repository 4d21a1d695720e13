//! Small plots in letters: curves and points as braille dots, two across and four up in each letter, marks as
//! letters of their own, axes with ticks, and rows beneath that share the axis across.

mod axis;

pub(crate) use axis::Axis;

/// Dots in a letter, across and up.
const DOTS: [usize; 2] = [2, 4];
/// Bits of a braille letter, by row from above, then column.
const BITS: [[u8; 2]; 4] = [[0x01, 0x08], [0x02, 0x10], [0x04, 0x20], [0x40, 0x80]];
/// A plot with fewer letters across shows nothing.
const LEAST_COLUMNS: usize = 12;

/// How a curve is drawn, so that curves differ without colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Stroke {
    Solid,
    Dashed,
    Dotted,
}

impl Stroke {
    /// Whether it has a dot in this column of dots.
    fn covers(self, column: usize) -> bool {
        match self {
            Self::Solid => true,
            Self::Dashed => column % 6 < 4,
            Self::Dotted => column.is_multiple_of(4),
        }
    }
}

/// A plot under way.
#[derive(Debug, Clone)]
pub(crate) struct Plot {
    x: Axis,
    y: Axis,
    columns: usize,
    rows: usize,
    dots: Vec<u8>,
    letters: Vec<Option<char>>,
    /// Words right of each row, and the letters that they may have.
    margin: Vec<String>,
    margin_letters: usize,
    /// Rows below the axis across.
    beneath: Vec<String>,
}

impl Plot {
    /// An empty plot of so many letters across, `margin` of them for words at the right, and so many rows.
    /// Nothing where that leaves too little room.
    pub(crate) fn new(x: Axis, y: Axis, width: usize, margin: usize, rows: usize) -> Option<Self> {
        let columns = width.checked_sub(y.label_letters() + 2 + margin).filter(|c| *c >= LEAST_COLUMNS)?;
        (rows >= 2).then(|| Self {
            x,
            y,
            columns,
            rows,
            dots: vec![0; columns * rows],
            letters: vec![None; columns * rows],
            margin: vec![String::new(); rows],
            margin_letters: margin,
            beneath: Vec::new(),
        })
    }

    /// A dot; what lies outside or is no number is left out.
    pub(crate) fn dot(&mut self, x: f64, y: f64) {
        if let (Some(across), Some(up)) =
            (self.x.place(x, DOTS[0] * self.columns), self.y.place(y, DOTS[1] * self.rows))
        {
            self.set(across, up);
        }
    }

    fn set(&mut self, across: usize, up: usize) {
        let down = DOTS[1] * self.rows - 1 - up;
        let cell = down / DOTS[1] * self.columns + across / DOTS[0];
        self.dots[cell] |= BITS[down % DOTS[1]][across % DOTS[0]];
    }

    /// A curve through points of ascending `x`, straight between them.
    pub(crate) fn curve(&mut self, points: &[(f64, f64)], stroke: Stroke) {
        let (wide, high) = (DOTS[0] * self.columns, DOTS[1] * self.rows);
        for pair in points.windows(2) {
            let [(x0, y0), (x1, y1)] = [pair[0], pair[1]];
            let mut before: Option<usize> = None;
            for across in 0..wide {
                let x = self.x.at(across, wide);
                if !(x0 <= x && x <= x1 && x0 < x1) {
                    continue;
                }
                let Some(up) = self.y.place(y0 + (y1 - y0) * (x - x0) / (x1 - x0), high) else { continue };
                if stroke.covers(across) {
                    // A steep solid curve has no holes.
                    let from = before.filter(|_| stroke == Stroke::Solid).unwrap_or(up);
                    for up in from.min(up)..=from.max(up) {
                        self.set(across, up);
                    }
                }
                before = Some(up);
            }
        }
    }

    /// A letter over whatever is there.
    pub(crate) fn mark(&mut self, x: f64, y: f64, letter: char) {
        if let Some(cell) = self.cell(x, y) {
            self.letters[cell] = Some(letter);
        }
    }

    /// A word right of a mark, or left of it where the edge is near; left out where something would be covered.
    pub(crate) fn word_beside(&mut self, x: f64, y: f64, word: &str) {
        let Some(cell) = self.cell(x, y) else { return };
        let (row, column, long) = (cell / self.columns, cell % self.columns, word.chars().count());
        let right = (column + 1 + long <= self.columns).then_some(column + 1);
        for from in [right, column.checked_sub(long)].into_iter().flatten() {
            let cells = row * self.columns + from..row * self.columns + from + long;
            if cells.clone().all(|c| self.dots[c] == 0 && self.letters[c].is_none()) {
                cells.zip(word.chars()).for_each(|(c, letter)| self.letters[c] = Some(letter));
                return;
            }
        }
    }

    /// A thin upright line behind the curves.
    pub(crate) fn upright(&mut self, x: f64) {
        let Some(column) = self.x.place(x, self.columns) else { return };
        for row in 0..self.rows {
            let cell = row * self.columns + column;
            if self.dots[cell] == 0 && self.letters[cell].is_none() {
                self.letters[cell] = Some('┊');
            }
        }
    }

    /// A thin level line behind the curves.
    pub(crate) fn level(&mut self, y: f64) {
        let Some(up) = self.y.place(y, self.rows) else { return };
        let row = self.rows - 1 - up;
        for cell in row * self.columns..(row + 1) * self.columns {
            if self.dots[cell] == 0 && self.letters[cell].is_none() {
                self.letters[cell] = Some('╌');
            }
        }
    }

    /// Words in the margin at the height of `y`, or in the nearest row that is free.
    pub(crate) fn beside(&mut self, y: f64, words: &str) {
        let Some(row) = self.y.place(y, self.rows).map(|up| self.rows - 1 - up) else { return };
        let free = (0..self.rows).filter(|r| self.margin[*r].is_empty()).min_by_key(|r| r.abs_diff(row));
        if let Some(free) = free {
            self.margin[free] = words.to_owned();
        }
    }

    /// A row beneath the axis, a letter for each column by the value in its middle, and words at its right.
    pub(crate) fn strip(&mut self, words: &str, letter: impl Fn(f64) -> char) {
        let row: String = (0..self.columns).map(|c| letter(self.x.at(c, self.columns))).collect();
        self.beneath.push(format!("{row}  {words}").trim_end().to_owned());
    }

    /// A row of arrows beneath the axis, each with its word where there is room for it; what lies outside is
    /// pointed at from the edge.
    pub(crate) fn arrows(&mut self, at: &[(f64, String)]) {
        let mut row = vec![' '; self.columns];
        let mut places: Vec<(usize, char, &str)> = at
            .iter()
            .filter(|(x, _)| x.is_finite())
            .map(|(x, word)| match self.x.place(*x, self.columns) {
                Some(column) => (column, '▲', word.as_str()),
                None if *x < self.x.ends()[0] => (0, '◀', word.as_str()),
                None => (self.columns - 1, '▶', word.as_str()),
            })
            .collect();
        places.sort_by_key(|p| p.0);
        for (column, arrow, _) in &places {
            row[*column] = *arrow;
        }
        for (column, _, word) in &places {
            let long = word.chars().count();
            let after = Some(column + 1).filter(|from| from + long <= self.columns);
            for from in [after, column.checked_sub(long)].into_iter().flatten() {
                // A blank on either side keeps two words apart.
                let (left, right) = (from.saturating_sub(1), (from + long + 1).min(self.columns));
                if (left..right).all(|c| row[c] == ' ' || c == *column) {
                    word.chars().enumerate().for_each(|(i, letter)| row[from + i] = letter);
                    break;
                }
            }
        }
        self.beneath.push(row.into_iter().collect::<String>().trim_end().to_owned());
    }

    fn cell(&self, x: f64, y: f64) -> Option<usize> {
        let (column, up) = (self.x.place(x, self.columns)?, self.y.place(y, self.rows)?);
        Some((self.rows - 1 - up) * self.columns + column)
    }

    /// The plot in lines, the axis across named at its end.
    pub(crate) fn lines(&self) -> Vec<String> {
        let labels = self.y.label_letters();
        let ticks = self.y.tick_places(self.rows);
        let mut lines = vec![format!("{:>labels$} {}", "", self.y.name)];
        for row in 0..self.rows {
            let up = self.rows - 1 - row;
            let (label, edge) = match ticks.iter().find(|(place, _)| *place == up) {
                Some((_, label)) => (label.as_str(), '┤'),
                None => ("", '│'),
            };
            let cells = row * self.columns..(row + 1) * self.columns;
            let inside: String = cells
                .map(|c| match (self.letters[c], self.dots[c]) {
                    (Some(letter), _) => letter,
                    (None, 0) => ' ',
                    (None, dots) => char::from_u32(0x2800 + u32::from(dots)).unwrap_or(' '),
                })
                .collect();
            lines.push(format!("{label:>labels$} {edge}{inside}{}", self.margin[row]).trim_end().to_owned());
        }
        let before = " ".repeat(labels + 2);
        let (edge, words) = self.x.drawn_across(self.columns);
        lines.push(format!("{:>labels$} └{edge}", ""));
        let name = &self.x.name;
        if name.is_empty() || words.chars().count() + 2 + name.chars().count() <= self.columns + self.margin_letters {
            lines.push(format!("{before}{words}  {name}").trim_end().to_owned());
        } else {
            lines.push(format!("{before}{words}"));
            lines.push(format!("{before}{name:>0$}", self.columns));
        }
        lines.extend(self.beneath.iter().map(|row| format!("{before}{row}").trim_end().to_owned()));
        lines
    }
}

/// Pictures next to each other, each padded to the width that it was drawn for.
pub(crate) fn next_to_each_other(pictures: &[Vec<String>], width: usize) -> Vec<String> {
    let rows = pictures.iter().map(Vec::len).max().unwrap_or(0);
    (0..rows)
        .map(|row| {
            let line: String = pictures
                .iter()
                .map(|picture| {
                    let text = picture.get(row).map_or("", String::as_str);
                    format!("{text}{}", " ".repeat(width.saturating_sub(text.chars().count())))
                })
                .collect();
            line.trim_end().to_owned()
        })
        .collect()
}

#[cfg(test)]
mod tests;
