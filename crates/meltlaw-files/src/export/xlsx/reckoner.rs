//! A reckoner for tests: works out the formulas of a workbook from their text, as a spreadsheet would, so that a formula
//! that points at the wrong column or row is found. It knows what our formulas use and nothing else.

use std::collections::BTreeMap;

/// What a cell or a part of a formula is worth.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Worth {
    Number(f64),
    Words(String),
    Truth(bool),
    Blank,
    Column(Vec<Worth>),
    /// `#VALUE!` and its like.
    Fault,
}

/// Cells by sheet, row and column from 0; formulas without their `=`.
#[derive(Debug, Default)]
pub(super) struct Book {
    pub(super) values: BTreeMap<(String, u32, u32), Worth>,
    pub(super) formulas: BTreeMap<(String, u32, u32), String>,
}

impl Book {
    pub(super) fn cell(&self, sheet: &str, row: u32, column: u32) -> Worth {
        let key = (sheet.to_owned(), row, column);
        match self.formulas.get(&key) {
            Some(formula) => {
                let mut reading = Reading { book: self, sheet, rest: formula.as_str(), idle: false };
                let worth = reading.comparison();
                assert!(reading.rest.is_empty(), "left over of {formula}: {}", reading.rest);
                worth
            }
            None => self.values.get(&key).cloned().unwrap_or(Worth::Blank),
        }
    }
}

/// Reads and reckons in one go; `idle` passes over the branch of an IF that is not taken.
struct Reading<'a> {
    book: &'a Book,
    sheet: &'a str,
    rest: &'a str,
    idle: bool,
}

impl<'a> Reading<'a> {
    fn eat(&mut self, token: &str) -> bool {
        let found = self.rest.strip_prefix(token);
        self.rest = found.unwrap_or(self.rest);
        found.is_some()
    }

    fn need(&mut self, token: &str) {
        assert!(self.eat(token), "{token} needed before {}", self.rest);
    }

    fn take(&mut self, belongs: impl Fn(char) -> bool) -> &'a str {
        let end = self.rest.find(|c| !belongs(c)).unwrap_or(self.rest.len());
        let (token, rest) = self.rest.split_at(end);
        self.rest = rest;
        token
    }

    fn chain(&mut self, signs: &[&'static str], part: fn(&mut Self) -> Worth) -> Worth {
        let mut worth = part(self);
        while let Some(sign) = signs.iter().copied().find(|sign| self.eat(sign)) {
            let right = part(self);
            worth = if self.idle { Worth::Blank } else { each(&worth, &right, sign) };
        }
        worth
    }

    fn comparison(&mut self) -> Worth {
        self.chain(&["<>", "<=", ">=", "<", ">", "="], |r| {
            r.chain(&["&"], |r| r.chain(&["+", "-"], |r| r.chain(&["*", "/"], |r| r.chain(&["^"], Self::single))))
        })
    }

    fn single(&mut self) -> Worth {
        if self.eat("(") {
            let worth = self.comparison();
            self.need(")");
            return worth;
        }
        if self.eat("\"") {
            let words = self.take(|c| c != '"').to_owned();
            self.need("\"");
            return Worth::Words(words);
        }
        if self.rest.starts_with(|c: char| c.is_ascii_digit()) {
            let number = self.take(|c| c.is_ascii_digit() || c == '.');
            let power =
                if self.rest.starts_with('e') { self.take(|c| c == 'e' || c == '-' || c.is_ascii_digit()) } else { "" };
            return Worth::Number(format!("{number}{power}").parse().expect("a number"));
        }
        let name = self.take(|c| c.is_ascii_alphanumeric() || c == '$');
        if self.eat("(") { self.function(name) } else { self.reference(name) }
    }

    fn reference(&mut self, name: &'a str) -> Worth {
        let (sheet, first) = if self.eat("!") {
            (name, self.take(|c| c.is_ascii_alphanumeric() || c == '$'))
        } else {
            (self.sheet, name)
        };
        let (row, column) = place(first);
        if !self.eat(":") {
            return if self.idle { Worth::Blank } else { self.book.cell(sheet, row, column) };
        }
        let (last, same) = place(self.take(|c| c.is_ascii_alphanumeric() || c == '$'));
        assert_eq!(column, same, "a range of one column");
        if self.idle {
            return Worth::Blank;
        }
        Worth::Column((row..=last).map(|row| self.book.cell(sheet, row, column)).collect())
    }

    fn function(&mut self, name: &str) -> Worth {
        if name == "IF" || name == "CHOOSE" {
            return self.branches(name);
        }
        let mut given = Vec::new();
        while !self.eat(")") {
            given.push(self.comparison());
            self.eat(",");
        }
        if self.idle { Worth::Blank } else { called(name, &given) }
    }

    /// Only the branch that is chosen is reckoned.
    fn branches(&mut self, name: &str) -> Worth {
        let asked = self.comparison();
        let wanted = match &asked {
            Worth::Number(number) if name == "CHOOSE" => *number as usize,
            Worth::Truth(false) => 2,
            Worth::Number(number) if *number == 0.0 => 2,
            _ => 1,
        };
        let (idle, mut chosen) = (self.idle, Worth::Fault);
        let mut index = 0;
        while self.eat(",") {
            index += 1;
            self.idle = idle || index != wanted || asked == Worth::Fault;
            let worth = self.comparison();
            if !self.idle {
                chosen = worth;
            }
        }
        self.idle = idle;
        self.need(")");
        chosen
    }
}

/// Row and column of `$B$7`, from 0.
fn place(name: &str) -> (u32, u32) {
    let name = name.replace('$', "");
    let letters = name.bytes().take_while(u8::is_ascii_uppercase).count();
    let column = name[..letters].bytes().fold(0, |sum, letter| sum * 26 + u32::from(letter - b'A') + 1);
    (name[letters..].parse::<u32>().expect("a row") - 1, column - 1)
}

fn called(name: &str, given: &[Worth]) -> Worth {
    use Worth::{Column, Fault, Number, Truth, Words};
    match (name, given) {
        ("ISNUMBER", [worth]) => Truth(matches!(worth, Number(_))),
        ("NOT", [Truth(truth)]) => Truth(!truth),
        ("OR", all) => Truth(all.contains(&Truth(true))),
        ("PI", []) => Number(std::f64::consts::PI),
        ("SQRT", [Number(number)]) => Number(number.sqrt()),
        ("TRIM", [Words(words)]) => Words(words.trim().to_owned()),
        // A blank entry stays blank: joined to a text it is empty, in arithmetic it is zero.
        ("INDEX", [Column(column), Number(row)]) => {
            column.get((*row as usize).wrapping_sub(1)).cloned().unwrap_or(Fault)
        }
        ("MATCH", [Number(number), Column(column), Number(_)]) => {
            let not_above = |worth: &&Worth| matches!(worth, Number(entry) if entry <= number);
            Number(column.iter().take_while(not_above).count() as f64)
        }
        ("SUMPRODUCT", [Column(column)]) => {
            Number(column.iter().map(|worth| if let Number(number) = worth { *number } else { f64::NAN }).sum())
        }
        // A range of one cell is a cell.
        ("INDEX" | "MATCH", [first, second, ..]) => {
            let wrap = |worth: &Worth| Column(vec![worth.clone()]);
            match name {
                "INDEX" if !matches!(first, Column(_)) => called(name, &[wrap(first), second.clone()]),
                "MATCH" if !matches!(second, Column(_)) => called(name, &[first.clone(), wrap(second), Number(1.0)]),
                _ => Fault,
            }
        }
        ("SUMPRODUCT", [one]) => one.clone(),
        _ => Fault,
    }
}

/// Works on columns entry by entry.
fn each(left: &Worth, right: &Worth, sign: &str) -> Worth {
    match (left, right) {
        (Worth::Column(left), Worth::Column(right)) => {
            Worth::Column(left.iter().zip(right).map(|(l, r)| each(l, r, sign)).collect())
        }
        (Worth::Column(left), right) => Worth::Column(left.iter().map(|l| each(l, right, sign)).collect()),
        (left, Worth::Column(_)) => panic!("a column to the right of {left:?}"),
        _ => two(left, right, sign),
    }
}

fn two(left: &Worth, right: &Worth, sign: &str) -> Worth {
    use Worth::{Fault, Number, Truth, Words};
    if sign == "&" {
        let words = |worth: &Worth| match worth {
            Words(words) => words.clone(),
            Number(number) => number.to_string(),
            _ => String::new(),
        };
        return Words(words(left) + &words(right));
    }
    let number = |worth: &Worth| match worth {
        Number(number) => Some(*number),
        Truth(truth) => Some(f64::from(u8::from(*truth))),
        Worth::Blank => Some(0.0),
        _ => None,
    };
    let order = match (left, right) {
        (Words(left), Words(right)) => Some(left.cmp(right)),
        (Words(words), Worth::Blank) => Some(words.as_str().cmp("")),
        (Worth::Blank, Words(words)) => Some("".cmp(words.as_str())),
        // Text is above every number.
        (Words(_), _) => Some(std::cmp::Ordering::Greater),
        (_, Words(_)) => Some(std::cmp::Ordering::Less),
        _ => number(left).zip(number(right)).and_then(|(left, right)| left.partial_cmp(&right)),
    };
    let arithmetic = number(left).zip(number(right));
    match (sign, order, arithmetic) {
        ("=", Some(order), _) => Truth(order.is_eq()),
        ("<>", Some(order), _) => Truth(order.is_ne()),
        ("<", Some(order), _) => Truth(order.is_lt()),
        (">", Some(order), _) => Truth(order.is_gt()),
        ("<=", Some(order), _) => Truth(order.is_le()),
        (">=", Some(order), _) => Truth(order.is_ge()),
        ("+", _, Some((left, right))) => Number(left + right),
        ("-", _, Some((left, right))) => Number(left - right),
        ("*", _, Some((left, right))) => Number(left * right),
        ("/", _, Some((left, right))) if right != 0.0 => Number(left / right),
        ("^", _, Some((left, right))) => Number(left.powf(right)),
        _ => Fault,
    }
}
