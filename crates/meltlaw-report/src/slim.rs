//! SVG as plotters writes it, made shorter without changing what is seen.
//!
//! plotters writes every attribute on every element, those that say the usual among them. Here the usual goes
//! to the root ([`ROOT`]), a filled shape and its edge become one element, lines of one kind become one path
//! with steps from point to point, and neighbours of one kind share a group. Dashes, which plotters does not
//! know, are added as `stroke-dasharray`.

use std::fmt::Write;

/// What the root element says for all elements below it.
pub(crate) const ROOT: &str = "fill=\"none\" font-family=\"sans-serif\"";
/// A point goes where the line without it stays this near, in tenths of a pixel: less than rounding to them moves it.
const SEEN: f64 = 0.5;

type Point = (i32, i32);

enum Shape {
    /// Lines one after another, or the outline of an area.
    Path(Vec<Vec<Point>>),
    Circle(Point, i32),
    /// Attributes of its own, and the text.
    Text(String, String),
    /// The ground: attributes of its own.
    Rect(String),
}

struct Element {
    fill: String,
    edge: String,
    letters: String,
    shape: Shape,
}

/// The elements of `body` in fewer bytes; `dashes` holds the lengths of dash and gap of each polyline in turn.
pub(crate) fn slim(body: &str, dashes: &[Option<(i32, i32)>]) -> String {
    let mut elements: Vec<Element> = Vec::new();
    let mut dashes = dashes.iter();
    for part in body.split('<').skip(1) {
        let (tag, inner) = part.split_once('>').unwrap_or((part, ""));
        let Some(mut element) = element(tag, inner.trim()) else { continue };
        if tag.starts_with("polyline")
            && let Some(Some((dash, gap))) = dashes.next()
        {
            write!(element.edge, " stroke-dasharray=\"{dash} {gap}\"").expect("writing to a string does not fail");
        }
        if let Some(alone) = join(elements.last_mut(), element) {
            elements.push(alone);
        }
    }
    let mut text = String::new();
    for alike in elements.chunk_by(|a, b| a.paint() == b.paint()) {
        let paint = alike[0].paint();
        let grouped = alike.len() > 1 && !paint.is_empty();
        if grouped {
            text.push_str(&format!("<g{paint}>"));
        }
        alike.iter().for_each(|element| element.write(if grouped { "" } else { &paint }, &mut text));
        text.push_str(if grouped { "</g>\n" } else { "\n" });
    }
    text
}

fn element(tag: &str, inner: &str) -> Option<Element> {
    let (name, rest) = tag.split_once(' ')?;
    // name, value, name, value …: no value of plotters holds a quotation mark.
    let pieces: Vec<&str> = rest.split('"').collect();
    let mut pairs = pieces.chunks_exact(2).map(|pair| (pair[0].trim().trim_end_matches('='), pair[1]));
    let pairs: [(&str, &str); 12] = std::array::from_fn(|_| pairs.next().unwrap_or_default());
    let of = |wanted: &str| pairs.iter().find(|(name, _)| *name == wanted).map(|(_, value)| *value);
    let number = |wanted: &str| of(wanted).and_then(|v| v.parse::<i32>().ok()).unwrap_or(0);
    let written = |wanted: &str, usual: &str| {
        of(wanted).filter(|v| *v != usual).map_or(String::new(), |v| format!(" {wanted}=\"{v}\""))
    };
    let see_through = of("opacity").filter(|v| *v != "1");
    let (mut fill, mut edge, mut letters) = (written("fill", "none"), written("stroke", "none"), String::new());
    if let Some(opacity) = see_through {
        let (what, of) = if fill.is_empty() { ("stroke", &mut edge) } else { ("fill", &mut fill) };
        of.push_str(&format!(" {what}-opacity=\"{opacity}\""));
    }
    if !edge.is_empty() {
        edge.push_str(&written("stroke-width", "1"));
    }
    let shape = match name {
        "polyline" | "polygon" => Shape::Path(vec![points(of("points")?)]),
        "circle" => Shape::Circle((number("cx"), number("cy")), number("r")),
        "rect" => Shape::Rect(["x", "y", "width", "height"].map(|a| written(a, "0")).concat()),
        "text" => {
            let size = of("font-size").and_then(|v| v.parse::<f64>().ok()).unwrap_or(120.0).round();
            letters =
                [&written("text-anchor", "start"), &format!(" font-size=\"{size}\""), &written("font-weight", "")]
                    .map(String::as_str)
                    .concat();
            Shape::Text(["x", "y", "dy"].map(|a| written(a, "")).concat(), inner.to_owned())
        }
        _ => return None,
    };
    Some(Element { fill, edge, letters, shape })
}

fn points(text: &str) -> Vec<Point> {
    let pair = |pair: &str| pair.split_once(',').and_then(|(x, y)| Some((x.parse().ok()?, y.parse().ok()?)));
    text.split_whitespace().filter_map(pair).collect()
}

/// Takes an element into the one before where both are seen as one; gives it back where they are not.
fn join(before: Option<&mut Element>, new: Element) -> Option<Element> {
    let Some(before) = before else { return Some(new) };
    let edge_of_it = before.edge.is_empty() && new.fill.is_empty();
    match (&mut before.shape, new.shape) {
        (Shape::Circle(at, radius), Shape::Circle(new_at, new_radius))
            if edge_of_it && (*at, *radius) == (new_at, new_radius) =>
        {
            before.edge = new.edge;
        }
        (Shape::Path(outline), Shape::Path(lines)) if edge_of_it && *outline == lines => before.edge = new.edge,
        // Only opaque lines: where see-through ones cross, two strokes are darker than one.
        (Shape::Path(all), Shape::Path(lines))
            if before.fill.is_empty()
                && new.fill.is_empty()
                && before.edge == new.edge
                && !new.edge.contains("opacity") =>
        {
            all.extend(lines);
        }
        (_, shape) => return Some(Element { shape, ..new }),
    }
    None
}

impl Element {
    fn paint(&self) -> String {
        [self.fill.as_str(), &self.edge, &self.letters].concat()
    }

    fn write(&self, paint: &str, text: &mut String) {
        let written = match &self.shape {
            Shape::Path(lines) => write!(text, "<path{paint} d=\"{}\"/>", path(lines, !self.fill.is_empty())),
            Shape::Circle((x, y), r) => write!(text, "<circle{paint} cx=\"{x}\" cy=\"{y}\" r=\"{r}\"/>"),
            Shape::Text(own, inner) => write!(text, "<text{paint}{own}>{inner}</text>"),
            Shape::Rect(own) => write!(text, "<rect{paint}{own}/>"),
        };
        written.expect("writing to a string does not fail");
    }
}

/// `M500 2200l3400-1900`: starts in full, then steps, level and upright ones by one number.
fn path(lines: &[Vec<Point>], closed: bool) -> String {
    let mut text = String::new();
    let mut last = '\0';
    let mut step = |letter: char, numbers: &[i32]| {
        if letter != last || letter == 'M' {
            text.push(letter);
        }
        for (place, number) in numbers.iter().enumerate() {
            if *number >= 0 && (place > 0 || letter == last && letter != 'M') {
                text.push(' ');
            }
            text.push_str(&number.to_string());
        }
        last = letter;
    };
    for line in lines {
        let kept = thinned(line);
        let Some(start) = kept.first() else { continue };
        step('M', &[start.0, start.1]);
        for pair in kept.windows(2) {
            match (pair[1].0 - pair[0].0, pair[1].1 - pair[0].1) {
                (0, 0) => {}
                (dx, 0) => step('h', &[dx]),
                (0, dy) => step('v', &[dy]),
                (dx, dy) => step('l', &[dx, dy]),
            }
        }
        if closed {
            step('z', &[]);
        }
    }
    text
}

/// Without the points that nobody would miss (Ramer, Douglas and Peucker's choice).
fn thinned(line: &[Point]) -> Vec<Point> {
    let Some(last) = line.len().checked_sub(1) else { return Vec::new() };
    let mut kept = vec![false; line.len()];
    (kept[0], kept[last]) = (true, true);
    let mut spans = vec![(0, last)];
    while let Some((from, to)) = spans.pop() {
        let farthest =
            (from + 1..to).map(|n| (n, off(line[n], line[from], line[to]))).max_by(|a, b| a.1.total_cmp(&b.1));
        if let Some((n, distance)) = farthest
            && distance > SEEN
        {
            kept[n] = true;
            spans.extend([(from, n), (n, to)]);
        }
    }
    line.iter().zip(kept).filter_map(|(point, kept)| kept.then_some(*point)).collect()
}

/// How far a point lies from the way between two others.
fn off(point: Point, from: Point, to: Point) -> f64 {
    let less = |a: Point, b: Point| (f64::from(a.0) - f64::from(b.0), f64::from(a.1) - f64::from(b.1));
    let (way, there) = (less(to, from), less(point, from));
    let length = way.0 * way.0 + way.1 * way.1;
    let share = if length > 0.0 { ((there.0 * way.0 + there.1 * way.1) / length).clamp(0.0, 1.0) } else { 0.0 };
    (there.0 - share * way.0).hypot(there.1 - share * way.1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_of_one_kind_become_one_path_and_keep_their_dashes_apart_from_solid_ones() {
        let body = "\n<polyline fill=\"none\" opacity=\"1\" stroke=\"#DDE2E6\" stroke-width=\"10\" points=\"5,6 5,42 \"/>\n\
             <polyline fill=\"none\" opacity=\"1\" stroke=\"#DDE2E6\" stroke-width=\"10\" points=\"9,6 9,42 12,40 \"/>\n\
             <polyline fill=\"none\" opacity=\"1\" stroke=\"#DDE2E6\" stroke-width=\"10\" points=\"1,1 2,1 \"/>\n</svg>";
        let slim = slim(body, &[None, None, Some((60, 30))]);
        assert_eq!(
            slim,
            "<path stroke=\"#DDE2E6\" stroke-width=\"10\" d=\"M5 6v36M9 6v36l3-2\"/>\n\
             <path stroke=\"#DDE2E6\" stroke-width=\"10\" stroke-dasharray=\"60 30\" d=\"M1 1h1\"/>\n"
        );
    }

    #[test]
    fn a_filled_circle_and_its_edge_are_one_and_neighbours_of_one_kind_a_group() {
        let circle = |x: i32| {
            format!(
                "<circle cx=\"{x}\" cy=\"7\" r=\"35\" opacity=\"1\" fill=\"#FFFFFF\" stroke=\"none\" stroke-width=\"1\"/>\n\
                 <circle cx=\"{x}\" cy=\"7\" r=\"35\" opacity=\"1\" fill=\"none\" stroke=\"#A3440A\" stroke-width=\"16\"/>\n"
            )
        };
        assert_eq!(
            slim(&(circle(1) + &circle(2)), &[]),
            "<g fill=\"#FFFFFF\" stroke=\"#A3440A\" stroke-width=\"16\"><circle cx=\"1\" cy=\"7\" r=\"35\"/>\
             <circle cx=\"2\" cy=\"7\" r=\"35\"/></g>\n"
        );
    }

    #[test]
    fn what_can_be_seen_through_stays_apart_and_only_its_inside_is_thinned() {
        let area = "<polygon opacity=\"0.2\" fill=\"#17437F\" points=\"0,0 10,0 10,10 \"/>\n";
        let slim = slim(&area.repeat(2), &[]);
        assert_eq!(slim.matches("<path d=\"M0 0h10v10z\"/>").count(), 2, "{slim}");
        assert!(slim.starts_with("<g fill=\"#17437F\" fill-opacity=\"0.2\">"), "{slim}");
    }

    #[test]
    fn a_text_keeps_its_markup_escaped_and_its_place() {
        let body = "<text x=\"4\" y=\"9\" dy=\"0.5ex\" text-anchor=\"end\" font-family=\"sans-serif\" \
             font-size=\"120.00000000000001\" opacity=\"1\" fill=\"#1C252E\">\n&lt;b&gt; x=\"1\"\n</text>\n";
        assert_eq!(
            slim(body, &[]),
            "<text fill=\"#1C252E\" text-anchor=\"end\" font-size=\"120\" x=\"4\" y=\"9\" dy=\"0.5ex\">&lt;b&gt; x=\"1\"</text>\n"
        );
    }

    #[test]
    fn a_line_loses_only_points_that_lie_on_it() {
        assert_eq!(thinned(&[(0, 0), (10, 0), (20, 0), (30, 5)]), [(0, 0), (20, 0), (30, 5)]);
        // There and back again: the far end is off the way between the ends.
        assert_eq!(thinned(&[(0, 0), (10, 0), (0, 0)]), [(0, 0), (10, 0), (0, 0)]);
        assert!(thinned(&[]).is_empty());
    }
}
