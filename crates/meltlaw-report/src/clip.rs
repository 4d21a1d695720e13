//! Cutting lines and areas off at a rectangle.

use crate::marks::{Frame, Place};

/// The pieces of a line that lie inside the frame (Liang and Barsky's parametric cut, segment by segment).
pub(crate) fn line(points: &[Place], frame: Frame) -> Vec<Vec<Place>> {
    let mut pieces: Vec<Vec<Place>> = Vec::new();
    for pair in points.windows(2) {
        let Some((start, end)) = segment(pair[0], pair[1], frame) else { continue };
        match pieces.last_mut() {
            Some(piece) if piece.last() == Some(&start) => piece.push(end),
            _ => pieces.push(vec![start, end]),
        }
    }
    pieces
}

fn segment(a: Place, b: Place, frame: Frame) -> Option<(Place, Place)> {
    let (dx, dy) = (b.0 - a.0, b.1 - a.1);
    let (mut enter, mut leave) = (0.0f64, 1.0f64);
    let sides = [(-dx, a.0 - frame.left), (dx, frame.right - a.0), (-dy, a.1 - frame.top), (dy, frame.bottom - a.1)];
    for (towards, room) in sides {
        if towards == 0.0 {
            if room < 0.0 {
                return None;
            }
        } else if towards < 0.0 {
            enter = enter.max(room / towards);
        } else {
            leave = leave.min(room / towards);
        }
    }
    let at = |t: f64| match t {
        0.0 => a,
        1.0 => b,
        t => (a.0 + t * dx, a.1 + t * dy),
    };
    (enter <= leave).then(|| (at(enter), at(leave)))
}

/// Which coordinate, where the side lies, and in which direction the inside.
type Side = (fn(Place) -> f64, f64, f64);

/// The part of an area inside the frame (Sutherland and Hodgman's cut, side by side).
pub(crate) fn area(points: &[Place], frame: Frame) -> Vec<Place> {
    let sides: [Side; 4] = [
        (|p| p.0, frame.left, 1.0),
        (|p| p.0, frame.right, -1.0),
        (|p| p.1, frame.top, 1.0),
        (|p| p.1, frame.bottom, -1.0),
    ];
    sides.into_iter().fold(points.to_vec(), |corners, (coordinate, at, sign)| {
        let room = |p: Place| sign * (coordinate(p) - at);
        let mut kept = Vec::with_capacity(corners.len() + 2);
        for (n, &corner) in corners.iter().enumerate() {
            let before = corners[(n + corners.len() - 1) % corners.len()];
            let (r0, r1) = (room(before), room(corner));
            if (r0 < 0.0) != (r1 < 0.0) {
                let t = r0 / (r0 - r1);
                kept.push((before.0 + t * (corner.0 - before.0), before.1 + t * (corner.1 - before.1)));
            }
            if r1 >= 0.0 {
                kept.push(corner);
            }
        }
        kept
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const FRAME: Frame = Frame { left: 0.0, top: 0.0, right: 10.0, bottom: 10.0 };

    #[test]
    fn a_line_through_the_frame_is_cut_at_both_edges() {
        assert_eq!(line(&[(-5.0, 5.0), (15.0, 5.0)], FRAME), [vec![(0.0, 5.0), (10.0, 5.0)]]);
        assert!(line(&[(-5.0, 11.0), (15.0, 11.0)], FRAME).is_empty());
    }

    #[test]
    fn a_line_inside_stays_one_piece() {
        let points = vec![(1.0, 1.0), (2.0, 5.0), (9.0, 9.0)];
        assert_eq!(line(&points, FRAME), [points]);
    }

    #[test]
    fn an_area_around_the_frame_becomes_the_frame() {
        let cut = area(&[(-5.0, -5.0), (15.0, -5.0), (15.0, 15.0), (-5.0, 15.0)], FRAME);
        let size: f64 = cut.iter().zip(cut.iter().cycle().skip(1)).map(|(a, b)| (a.0 * b.1 - b.0 * a.1) / 2.0).sum();
        assert!((size.abs() - 100.0).abs() < 1e-9);
        assert!(area(&[], FRAME).is_empty());
    }
}
