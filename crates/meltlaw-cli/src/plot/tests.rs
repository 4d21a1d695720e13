use super::*;

fn plot(width: usize, rows: usize) -> Plot {
    let x = Axis::between("m/min", 0.0, 10.0, 2).unwrap();
    let y = Axis::between("A", 0.0, 100.0, 2).unwrap();
    Plot::new(x, y, width, 0, rows).unwrap()
}

#[test]
fn a_known_picture() {
    let mut plot = plot(25, 4);
    plot.curve(&[(0.0, 0.0), (10.0, 100.0)], Stroke::Solid);
    plot.mark(5.0, 50.0, '●');
    plot.upright(7.5);
    plot.strip("█ covered", |x| if x < 6.0 { '█' } else { ' ' });
    plot.arrows(&[(2.5, "2.5".to_owned()), (12.0, "12".to_owned())]);
    // 20 letters by 4 for 10 m/min by 100 A: the diagonal rises a dot in every second or third column of dots.
    let expected = [
        "    A",
        "100 ┤               ⣀⡤⠴⠚⠉",
        " 50 ┤          ●⡤⠴⠚⠉⠁",
        "    │     ⣀⡤⠴⠚⠉⠁    ┊",
        "  0 ┤⣀⡤⠴⠚⠉⠁         ┊",
        "    └┬─────────┬────────┬",
        "     0         5       10",
        "                    m/min",
        "     ████████████          █ covered",
        "          ▲2.5        12▶",
    ];
    assert_eq!(plot.lines(), expected);
}

#[test]
fn what_is_no_number_or_outside_is_left_out() {
    let empty = plot(25, 4).lines();
    let mut plot = plot(25, 4);
    plot.dot(f64::NAN, 5.0);
    plot.dot(5.0, f64::INFINITY);
    plot.mark(11.0, 5.0, 'x');
    plot.curve(&[(f64::NAN, 1.0), (3.0, f64::NAN), (4.0, 5.0)], Stroke::Solid);
    plot.curve(&[(5.0, 5.0)], Stroke::Dotted);
    plot.upright(f64::NAN);
    plot.beside(f64::NAN, "lost");
    plot.word_beside(-1.0, 5.0, "lost");
    assert_eq!(plot.lines(), empty);
}

#[test]
fn words_never_cover_what_is_drawn() {
    let mut plot = plot(25, 2);
    plot.mark(5.0, 75.0, 'x');
    plot.mark(6.0, 75.0, 'x');
    plot.word_beside(5.0, 75.0, "left");
    plot.word_beside(6.0, 75.0, "too long for either side");
    let row = &plot.lines()[1];
    assert!(row.contains("leftx") && !row.contains("too"), "{row}");
}

#[test]
fn words_in_the_margin_take_the_nearest_free_row() {
    let x = Axis::between("m/min", 0.0, 10.0, 2).unwrap();
    let y = Axis::between("A", 0.0, 100.0, 2).unwrap();
    let mut plot = Plot::new(x, y, 40, 10, 3).unwrap();
    plot.beside(10.0, "mean");
    plot.beside(12.0, "background");
    let lines = plot.lines();
    assert!(lines[3].ends_with("mean") && lines[2].ends_with("background"), "{lines:?}");
}

#[test]
fn too_little_room_gives_no_plot() {
    let axis = || Axis::between("A", 0.0, 100.0, 2).unwrap();
    assert!(Plot::new(axis(), axis(), 10, 0, 4).is_none());
    assert!(Plot::new(axis(), axis(), 40, 0, 1).is_none());
    assert!(Plot::new(axis(), axis(), 5, 30, 4).is_none());
}

#[test]
fn pictures_stand_next_to_each_other_whatever_their_height() {
    let pictures = [vec!["a".to_owned(), "b".to_owned()], vec!["c".to_owned()]];
    assert_eq!(next_to_each_other(&pictures, 3), ["a  c", "b"]);
}
