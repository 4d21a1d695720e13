//! Sums over a block of samples.

use pulp::Arch;

/// Lanes that are summed side by side.
const LANES: usize = 16;

/// Sums over samples; a sample without a number in either channel takes no part.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Sums {
    /// Samples that took part.
    pub(super) count: u64,
    /// Samples without a number.
    pub(super) bad: u64,
    /// Σi, A.
    pub(super) current: f64,
    /// Σi², A².
    pub(super) square: f64,
    /// Σu, V.
    pub(super) voltage: f64,
    /// Σu·i, W.
    pub(super) power: f64,
    /// Smallest and largest current.
    pub(super) current_range: [f32; 2],
    /// Smallest and largest voltage.
    pub(super) voltage_range: [f32; 2],
    /// How many samples lie at the ends of both ranges: smallest and largest current, then voltage.
    pub(super) at_ends: [u64; 4],
}

impl Default for Sums {
    fn default() -> Self {
        let none = [f32::INFINITY, f32::NEG_INFINITY];
        Self {
            count: 0,
            bad: 0,
            current: 0.0,
            square: 0.0,
            voltage: 0.0,
            power: 0.0,
            current_range: none,
            voltage_range: none,
            at_ends: [0; 4],
        }
    }
}

impl Sums {
    /// Of both channels.
    pub(super) fn of(current: &[f32], voltage: &[f32]) -> Self {
        let fast = Arch::new().dispatch(|| summed(current, voltage));
        if fast.square.is_finite() && fast.power.is_finite() && fast.voltage.is_finite() {
            return fast;
        }
        // Rare: some sample is no number.
        let (i, u): (Vec<f32>, Vec<f32>) =
            current.iter().zip(voltage).filter(|(i, u)| i.is_finite() && u.is_finite()).unzip();
        let bad = (current.len() - i.len()) as u64;
        Self { bad, ..summed(&i, &u) }
    }

    /// Both together.
    pub(super) fn add(&mut self, other: &Self) {
        self.count += other.count;
        self.bad += other.bad;
        self.current += other.current;
        self.square += other.square;
        self.voltage += other.voltage;
        self.power += other.power;
        let mut end = |place: usize, mine: &mut f32, theirs: f32, larger: bool| {
            if if larger { theirs > *mine } else { theirs < *mine } {
                (*mine, self.at_ends[place]) = (theirs, other.at_ends[place]);
            } else if theirs == *mine {
                self.at_ends[place] += other.at_ends[place];
            }
        };
        let (i, u) = (other.current_range, other.voltage_range);
        end(0, &mut self.current_range[0], i[0], false);
        end(1, &mut self.current_range[1], i[1], true);
        end(2, &mut self.voltage_range[0], u[0], false);
        end(3, &mut self.voltage_range[1], u[1], true);
    }

    pub(super) fn mean_current(&self) -> f64 {
        if self.count > 0 { self.current / self.count as f64 } else { 0.0 }
    }

    pub(super) fn mean_voltage(&self) -> f64 {
        if self.count > 0 { self.voltage / self.count as f64 } else { 0.0 }
    }
}

#[inline(always)]
fn summed(current: &[f32], voltage: &[f32]) -> Sums {
    let mut sums = [[0.0_f64; LANES]; 4];
    let mut low = [[f32::INFINITY; LANES]; 2];
    let mut high = [[f32::NEG_INFINITY; LANES]; 2];
    let pairs = current.chunks_exact(LANES).zip(voltage.chunks_exact(LANES));
    for (i, u) in pairs {
        for lane in 0..LANES {
            let (a, v) = (f64::from(i[lane]), f64::from(u[lane]));
            sums[0][lane] += a;
            sums[1][lane] += a * a;
            sums[2][lane] += v;
            sums[3][lane] += a * v;
            low[0][lane] = if i[lane] < low[0][lane] { i[lane] } else { low[0][lane] };
            high[0][lane] = if i[lane] > high[0][lane] { i[lane] } else { high[0][lane] };
            low[1][lane] = if u[lane] < low[1][lane] { u[lane] } else { low[1][lane] };
            high[1][lane] = if u[lane] > high[1][lane] { u[lane] } else { high[1][lane] };
        }
    }
    let rest = current.len() - current.len() % LANES;
    let mut total = sums.map(|lanes| lanes.iter().sum::<f64>());
    let fold = |lanes: &[[f32; LANES]; 2], of: fn(f32, f32) -> f32| lanes.map(|l| l.into_iter().fold(l[0], of));
    let (mut least, mut most) = (fold(&low, f32::min), fold(&high, f32::max));
    for (&i, &u) in current[rest..].iter().zip(&voltage[rest..]) {
        let (a, v) = (f64::from(i), f64::from(u));
        for (t, by) in total.iter_mut().zip([a, a * a, v, a * v]) {
            *t += by;
        }
        (least, most) = ([least[0].min(i), least[1].min(u)], [most[0].max(i), most[1].max(u)]);
    }
    let times = |samples: &[f32], value: f32| samples.iter().map(|s| u64::from(*s == value)).sum::<u64>();
    Sums {
        count: current.len() as u64,
        bad: 0,
        current: total[0],
        square: total[1],
        voltage: total[2],
        power: total[3],
        current_range: [least[0], most[0]],
        voltage_range: [least[1], most[1]],
        at_ends: [times(current, least[0]), times(current, most[0]), times(voltage, least[1]), times(voltage, most[1])],
    }
}
