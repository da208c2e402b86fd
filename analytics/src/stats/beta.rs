//! Comparisons of two independent beta-distributed shares, by quadrature.
//!
//! The incomplete beta function is DLMF 8.17.22 (continued fraction, modified
//! Lentz); its terms are taken until they stop mattering, since a fixed number
//! of them fails for large shapes. Integrals run over the logit of the share:
//! there the density of any beta falls off exponentially on both sides, so
//! shapes below one have no singular ends.

use statrs::function::gamma::ln_gamma;

/// Smallest and largest shape the functions here are tested for.
pub const SHAPES: std::ops::RangeInclusive<f64> = 1e-3..=1e6;

/// Accepted difference between the two rules of one panel. The finer rule is
/// what is kept, and is far closer than the difference.
const PANEL_TOLERANCE: f64 = 1e-9;
const DEEPEST_SPLIT: u32 = 48;
/// exp(-45) is below what a double adds to one.
const NEGLIGIBLE: f64 = 45.0;

/// A beta distribution.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Beta {
    a: f64,
    b: f64,
    ln_beta: f64,
}

impl Beta {
    /// Shapes `a` (returned) and `b` (held); `None` outside [`SHAPES`].
    #[must_use]
    pub fn new(a: f64, b: f64) -> Option<Self> {
        (SHAPES.contains(&a) && SHAPES.contains(&b)).then(|| Self::unchecked(a, b))
    }

    /// The nearest beta whose shapes lie in [`SHAPES`]; what is not a number
    /// counts as the smallest.
    #[must_use]
    pub fn nearest(a: f64, b: f64) -> Self {
        let within = |shape: f64| shape.max(*SHAPES.start()).min(*SHAPES.end());
        Self::unchecked(within(a), within(b))
    }

    fn unchecked(a: f64, b: f64) -> Self {
        Self { a, b, ln_beta: ln_beta(a, b) }
    }

    #[must_use]
    pub const fn shapes(&self) -> (f64, f64) {
        (self.a, self.b)
    }

    #[must_use]
    pub fn mean(&self) -> f64 {
        self.a / (self.a + self.b)
    }

    /// P(X <= x).
    #[must_use]
    pub fn cdf(&self, x: f64) -> f64 {
        if x <= 0.0 {
            0.0
        } else if x >= 1.0 {
            1.0
        } else if x <= (self.a + 1.0) / (self.a + self.b + 2.0) {
            self.lower_tail(x)
        } else {
            1.0 - self.mirrored().lower_tail(1.0 - x)
        }
    }

    /// P(X > x).
    #[must_use]
    pub fn above(&self, x: f64) -> f64 {
        1.0 - self.cdf(x)
    }

    /// The x with P(X <= x) = p, to 1e-12 absolute; `p` is cut to 0..1.
    #[must_use]
    pub fn quantile(&self, p: f64) -> f64 {
        let (mut low, mut high) = (0.0, 1.0);
        while high - low > 1e-12 {
            let middle = f64::midpoint(low, high);
            if self.cdf(middle) < p {
                low = middle;
            } else {
                high = middle;
            }
        }
        f64::midpoint(low, high)
    }

    const fn mirrored(&self) -> Self {
        Self { a: self.b, b: self.a, ln_beta: self.ln_beta }
    }

    /// Regularized incomplete beta where its continued fraction is quick.
    fn lower_tail(&self, x: f64) -> f64 {
        let (a, b) = (self.a, self.b);
        (self.front(x) * continued_fraction(a, b, x)).clamp(0.0, 1.0)
    }

    /// E[max(0, z - X)].
    fn expected_below(&self, z: f64) -> f64 {
        if z <= 0.0 {
            return 0.0;
        }
        if z >= 1.0 {
            return z - self.mean();
        }
        // The same with a first shape raised by one is less by the front alone:
        // DLMF 8.17.20.
        let cdf = self.cdf(z);
        (z * cdf - self.mean() * (cdf - self.front(z))).max(0.0)
    }

    /// What stands before the continued fraction.
    fn front(&self, x: f64) -> f64 {
        (self.a * x.ln() + self.b * (-x).ln_1p() - self.ln_beta).exp() / self.a
    }

    /// Center and rough width on the logit scale.
    fn logit_shape(&self) -> (f64, f64) {
        let spread = |s: f64| (1.0 + s) / (s * s);
        ((self.a / self.b).ln(), (spread(self.a) + spread(self.b)).sqrt())
    }
}

/// Logarithm of B(a, b). The large terms of Stirling's formula are put
/// together before they are rounded: three log-gammas of shapes of a million
/// would leave nine digits.
fn ln_beta(a: f64, b: f64) -> f64 {
    let sum = a + b;
    let leading = (a - 0.5) * (a / sum).ln() + (b - 0.5) * (b / sum).ln();
    leading - 0.5 * sum.ln()
        + 0.5 * std::f64::consts::TAU.ln()
        + (stirling_rest(a) + stirling_rest(b) - stirling_rest(sum))
}

/// What Stirling's formula leaves of the log-gamma: DLMF 5.11.1.
fn stirling_rest(z: f64) -> f64 {
    if z < 15.0 {
        return ln_gamma(z) - ((z - 0.5) * z.ln() - z + 0.5 * std::f64::consts::TAU.ln());
    }
    let w = 1.0 / (z * z);
    (1.0 / 12.0 - w * (1.0 / 360.0 - w * (1.0 / 1260.0 - w * (1.0 / 1680.0 - w / 1188.0)))) / z
}

fn continued_fraction(a: f64, b: f64, x: f64) -> f64 {
    const TINY: f64 = 1e-300;
    let away_from_zero = |v: f64| if v.abs() < TINY { TINY } else { v };
    let terms = 100 + 20 * (a.max(b).sqrt() as u32);
    let mut c = 1.0;
    let mut d = 1.0 / away_from_zero(1.0 - (a + b) * x / (a + 1.0));
    let mut fraction = d;
    for term in 1..=terms {
        let m = f64::from(term);
        let even = m * (b - m) * x / ((a + 2.0 * m - 1.0) * (a + 2.0 * m));
        let odd = -(a + m) * (a + b + m) * x / ((a + 2.0 * m) * (a + 2.0 * m + 1.0));
        let mut step = 1.0;
        for coefficient in [even, odd] {
            d = 1.0 / away_from_zero(1.0 + coefficient * d);
            c = away_from_zero(1.0 + coefficient / c);
            step = d * c;
            fraction *= step;
        }
        if (step - 1.0).abs() < 1e-16 {
            break;
        }
    }
    fraction
}

/// P(X - Y > d).
#[must_use]
pub fn probability_exceeds(x: &Beta, y: &Beta, d: f64) -> f64 {
    if d >= 1.0 {
        return 0.0;
    }
    if d <= -1.0 {
        return 1.0;
    }
    let (low, high) = (d.max(0.0), (1.0 + d).min(1.0));
    let inside = integrate(x, y, d, (low, high), |z| y.cdf(z));
    (inside + x.above(high)).clamp(0.0, 1.0)
}

/// P(X > c and X > Y).
#[must_use]
pub fn probability_above_both(x: &Beta, y: &Beta, c: f64) -> f64 {
    if c >= 1.0 {
        return 0.0;
    }
    integrate(x, y, 0.0, (c.max(0.0), 1.0), |z| y.cdf(z)).clamp(0.0, 1.0)
}

/// E[max(0, X - Y - d)].
#[must_use]
pub fn expected_excess(x: &Beta, y: &Beta, d: f64) -> f64 {
    if d >= 1.0 {
        return 0.0;
    }
    if d <= -1.0 {
        return x.mean() - y.mean() - d;
    }
    let (low, high) = (d.max(0.0), (1.0 + d).min(1.0));
    let inside = integrate(x, y, d, (low, high), |z| y.expected_below(z));
    // Past `high` the difference exceeds d whatever Y is.
    let raised = Beta { a: x.a + 1.0, b: x.b, ln_beta: x.ln_beta + x.mean().ln() };
    let beyond = if high < 1.0 {
        x.mean() * raised.above(high) - (y.mean() + d) * x.above(high)
    } else {
        0.0
    };
    (inside + beyond).max(0.0)
}

/// E[max(0, X - Y - d)] and E[max(0, d - (X - Y))]: what is lost on average by
/// holding that the difference is below d, and by holding that it is above.
#[must_use]
pub fn expected_losses(x: &Beta, y: &Beta, d: f64) -> (f64, f64) {
    let excess = expected_excess(x, y, d);
    // The two differ by the mean of the difference, which has a closed form.
    (excess, (excess - (x.mean() - y.mean() - d)).max(0.0))
}

/// Integral of the density of `x` times `weight(x - d)` over `span`.
fn integrate(x: &Beta, y: &Beta, d: f64, span: (f64, f64), weight: impl Fn(f64) -> f64) -> f64 {
    let (low, high) = span;
    let width = high - low;
    if width <= 0.0 {
        return 0.0;
    }
    let value = |t: f64| {
        // Logarithms of the shares of `width` below and above the point.
        let (ln_up, ln_down) = (-softplus(-t), -softplus(t));
        let above_low = width * ln_up.exp();
        let point = low + above_low;
        let ln_point = if low > 0.0 { point.ln() } else { width.ln() + ln_up };
        let ln_rest = if high < 1.0 { (-point).ln_1p() } else { width.ln() + ln_down };
        let ln_density = (x.a - 1.0) * ln_point + (x.b - 1.0) * ln_rest - x.ln_beta
            + width.ln()
            + ln_up
            + ln_down;
        if ln_density < -NEGLIGIBLE {
            return 0.0;
        }
        // The difference is formed so that it stays exact near its kink.
        let difference = if low == d { above_low } else { point - d };
        ln_density.exp() * weight(difference)
    };
    let cuts = panel_cuts(x, y, d, span);
    cuts.iter().zip(cuts.iter().skip(1)).map(|(&from, &to)| adaptive(&value, from, to, 0)).sum()
}

/// Logarithm of 1 + exp(t), without overflow.
fn softplus(t: f64) -> f64 {
    t.max(0.0) + (-t.abs()).exp().ln_1p()
}

/// Where the integrand may bend, on the logit scale of the span: so that a
/// narrow peak never falls between the points of a wide panel.
fn panel_cuts(x: &Beta, y: &Beta, d: f64, (low, high): (f64, f64)) -> Vec<f64> {
    let start = -(NEGLIGIBLE / x.a.min(1.0) + x.b.ln_1p());
    let end = NEGLIGIBLE / x.b.min(1.0) + x.a.ln_1p();
    let mut cuts = vec![start, end];
    for (beta, shift) in [(x, 0.0), (y, d)] {
        let (center, scale) = beta.logit_shape();
        for step in [-8.0, -3.0, -1.0, 1.0, 3.0, 8.0] {
            let t: f64 = step * scale + center;
            let point = shift + 1.0 / (1.0 + (-t).exp());
            let mapped = ((point - low) / (high - point)).ln();
            if mapped > start && mapped < end {
                cuts.push(mapped);
            }
        }
    }
    cuts.sort_by(f64::total_cmp);
    cuts
}

/// Abscissae, Kronrod weights and Gauss weights of the 7-15 point pair on
/// [-1, 1], half of it: Piessens et al., QUADPACK (1983), routine QK15.
#[rustfmt::skip]
const KRONROD: [(f64, f64, f64); 7] = [
    (0.991_455_371_120_812_6, 0.022_935_322_010_529_224, 0.0),
    (0.949_107_912_342_758_5, 0.063_092_092_629_978_55, 0.129_484_966_168_869_7),
    (0.864_864_423_359_769_1, 0.104_790_010_322_250_18, 0.0),
    (0.741_531_185_599_394_4, 0.140_653_259_715_525_92, 0.279_705_391_489_276_64),
    (0.586_087_235_467_691_1, 0.169_004_726_639_267_9, 0.0),
    (0.405_845_151_377_397_2, 0.190_350_578_064_785_4, 0.381_830_050_505_118_9),
    (0.207_784_955_007_898_47, 0.204_432_940_075_298_9, 0.0),
];
const KRONROD_CENTER: (f64, f64) = (0.209_482_141_084_727_82, 0.417_959_183_673_469_4);

fn adaptive(value: &impl Fn(f64) -> f64, from: f64, to: f64, depth: u32) -> f64 {
    let center = f64::midpoint(from, to);
    let half = (to - from) / 2.0;
    let middle = value(center);
    let (mut fine, mut coarse) = (KRONROD_CENTER.0 * middle, KRONROD_CENTER.1 * middle);
    for (abscissa, kronrod, gauss) in KRONROD {
        let pair = value(center - half * abscissa) + value(center + half * abscissa);
        fine += kronrod * pair;
        coarse += gauss * pair;
    }
    if ((fine - coarse) * half).abs() < PANEL_TOLERANCE || depth >= DEEPEST_SPLIT {
        return fine * half;
    }
    adaptive(value, from, center, depth + 1) + adaptive(value, center, to, depth + 1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// a, b, x, scipy 1.17.1 special.betainc(a, b, x).
    const TAILS: [(f64, f64, f64, f64); 9] = [
        (0.3, 9.7, 0.05, 0.807_019_912_046_349_4),
        (3.0, 7.0, 0.1, 0.052_972_138),
        (11.5, 36.5, 0.25, 0.589_154_271_440_479_8),
        (0.01, 5.0, 0.001, 0.952_795_880_007_077_2),
        (2_500.0, 7_500.0, 0.255, 0.875_639_593_797_602_5),
        (1e5, 9e5, 0.1003, 0.841_345_032_177_467_3),
        (4e5, 6e5, 0.4, 0.500_054_289_176_184_3),
        (0.001, 0.001, 0.3, 0.499_576_962_139_676_3),
        (1e6, 1e6, 0.5003, 0.801_928_037_157_870_1),
    ];

    type Pair = (f64, f64, f64, f64, f64, f64, f64, f64);

    /// Shapes of X and Y and d; P(X - Y > d), P(X > max(d, .02) and X > Y),
    /// E[max(0, X - Y - d)]. scipy 1.17.1: integrate.quad over the logit of x
    /// of beta density times betainc(c, e, x - d), cut at six standard
    /// deviations around both centers, epsabs 1e-14; for the two rows of large
    /// shapes, where that leaves nine digits, the trapezoid sum over the logit
    /// (numpy 2.4.6) with the log-beta of mpmath 1.4 at 25 digits.
    #[rustfmt::skip]
    const PAIRS: [Pair; 9] = [
        (3.0, 7.0, 0.3, 9.7, 0.05, 0.951_901_151_282_907_8, 0.974_133_137_842_467_9, 0.222_843_311_067_163_5),
        (0.3, 9.7, 0.3, 9.7, 0.05, 0.143_187_016_025_642_6, 0.174_359_430_780_351_4, 0.009_261_701_064_125_95),
        (11.5, 36.5, 2.33, 67.67, 0.34, 0.025_316_317_779_365_6, 0.059_118_658_570_839_5, 0.000_717_874_211_715_6),
        (8.0, 34.0, 6.0, 116.0, 0.15, 0.419_509_376_995_126_5, 0.733_534_238_634_273_9, 0.021_214_555_315_028_2),
        (2_500.0, 7_500.0, 300.0, 9_700.0, 0.2205, 0.456_357_982_547_919_6, 0.999_999_999_998_731_5, 0.001_617_715_148_106_1),
        (0.05, 1.95, 0.5, 1.5, 0.01, 0.061_550_648_667_141_3, 0.062_331_959_461_585_2, 0.010_438_601_870_735),
        (5.0, 5.0, 4.0, 6.0, -0.3, 0.969_307_162_355_252_7, 0.681_406_828_461_745_8, 0.402_354_513_602_787_3),
        (1.0, 1e5, 2.0, 3.0, -0.2, 0.180_815_360_216_348_9, 0.0, 0.012_993_808_134_512_8),
        (4e5, 6e5, 39_000.0, 61_000.0, 0.01, 0.500_162_705_500_673_9, 0.999_999_999_653_114_8, 0.000_645_619_509_259),
    ];

    fn beta(a: f64, b: f64) -> Beta {
        Beta::new(a, b).unwrap()
    }

    #[test]
    fn tails_agree_with_scipy() {
        for (a, b, x, expected) in TAILS {
            let got = beta(a, b).cdf(x);
            assert!((got - expected).abs() < 1e-10, "{a} {b} {x}: {got} {expected}");
            assert!((beta(a, b).above(x) - (1.0 - expected)).abs() < 1e-10);
        }
    }

    #[test]
    fn comparisons_agree_with_scipy() {
        for (a, b, c, e, d, exceeds, both, excess) in PAIRS {
            let (x, y) = (beta(a, b), beta(c, e));
            let got = [
                probability_exceeds(&x, &y, d),
                probability_above_both(&x, &y, d.max(0.02)),
                expected_excess(&x, &y, d),
            ];
            for (got, expected) in got.into_iter().zip([exceeds, both, excess]) {
                assert!((got - expected).abs() < 1e-10, "{a} {b} {c} {e} {d}: {got} {expected}");
            }
        }
    }

    #[test]
    fn shapes_outside_the_tested_range_are_refused() {
        for (a, b) in [(0.0, 1.0), (1.0, 2e6), (f64::NAN, 1.0), (-1.0, 1.0)] {
            assert_eq!(Beta::new(a, b), None);
            let (a, b) = Beta::nearest(a, b).shapes();
            assert!(SHAPES.contains(&a) && SHAPES.contains(&b));
        }
    }

    proptest! {
        #[test]
        fn the_two_sides_make_one(a in 0.05..300.0, b in 0.05..300.0, c in 0.05..300.0, e in 0.05..300.0, d in -0.9..0.9) {
            let (x, y) = (beta(a, b), beta(c, e));
            let there = probability_exceeds(&x, &y, d);
            let back = probability_exceeds(&y, &x, -d);
            prop_assert!((there + back - 1.0).abs() < 1e-7, "{} {}", there, back);
            let gain = expected_excess(&x, &y, d);
            let loss = expected_excess(&y, &x, -d);
            prop_assert!((gain - loss - (x.mean() - y.mean() - d)).abs() < 1e-7);
        }

        #[test]
        fn a_quantile_leads_back(a in 0.2..500.0, b in 0.2..500.0, p in 0.01..0.99) {
            let x = beta(a, b);
            // Exact to 1e-12 in x: near an end where the density has no bound, a
            // step of that length is a long one in p.
            let found = x.quantile(p);
            prop_assert!(x.cdf(found - 1e-12) <= p + 1e-9 && p - 1e-9 <= x.cdf(found + 1e-12));
        }

        #[test]
        fn more_returns_never_lower_a_probability(a in 0.1..100.0, b in 1.1..100.0, c in 0.1..50.0, e in 0.1..50.0, d in 0.0..0.5) {
            let y = beta(c, e);
            let (less, more) = (beta(a, b), beta(a + 1.0, b - 1.0));
            prop_assert!(probability_exceeds(&more, &y, d) >= probability_exceeds(&less, &y, d) - 1e-9);
            prop_assert!(probability_above_both(&more, &y, d) >= probability_above_both(&less, &y, d) - 1e-9);
        }
    }
}
