//! A small histogram.

use super::svg::{Anchor, Svg, Words};

/// Bars of a histogram.
pub const BARS: usize = 24;

// Millimetres.
const SHEET: (f64, f64) = (64.0, 26.0);
const SIDE: f64 = 2.0;
const TOP: f64 = 6.0;
const BASE: f64 = 20.0;

const STYLE: &str =
    ".bar{fill:#3f6ea3}.base{fill:none;stroke:#555;stroke-width:.2}text{font-family:sans-serif;fill:#222}";

/// How many values fall into each of [`BARS`] equal steps from the least to the greatest; all in the first where they
/// are the same.
pub fn counts(values: &[f64]) -> [usize; BARS] {
    let least = values.iter().copied().fold(f64::INFINITY, f64::min);
    let greatest = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let mut counts = [0; BARS];
    for value in values {
        let share = (value - least) / (greatest - least);
        // A cast of NaN gives 0.
        let bar = (share * BARS as f64) as usize;
        counts[bar.min(BARS - 1)] += 1;
    }
    counts
}

/// A histogram as SVG. `title` stands above it; `least` and `greatest` are the values' ends as they are to be printed.
pub fn histogram(values: &[f64], title: &str, least: &str, greatest: &str) -> String {
    let counts = counts(values);
    let most = counts.iter().copied().max().unwrap_or(0).max(1);
    let mut svg = Svg::new(SHEET.0, SHEET.1);
    let step = (SHEET.0 - 2.0 * SIDE) / BARS as f64;
    for (i, count) in counts.iter().enumerate() {
        if *count > 0 {
            let height = (BASE - TOP) * *count as f64 / most as f64;
            svg.area(SIDE + step * i as f64, BASE - height, 0.86 * step, height, "bar");
        }
    }
    svg.line(&[(SIDE, BASE), (SHEET.0 - SIDE, BASE)], "base");
    let words = |text: &str| Words::plain(text);
    svg.text((SIDE, 4.2), Anchor::Start, 3.4, 0.0, &words(title));
    svg.text((SIDE, BASE + 4.2), Anchor::Start, 3.2, 0.0, &words(least));
    svg.text(
        (SHEET.0 - SIDE, BASE + 4.2),
        Anchor::End,
        3.2,
        0.0,
        &words(greatest),
    );
    let description = format!("Histogram of {} values from {least} to {greatest}", values.len());
    svg.finish(title, &description, STYLE)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_value_falls_into_its_bar() {
        let even: Vec<f64> = (0..240).map(|i| 5.0 + f64::from(i) / 239.0).collect();
        let bars = counts(&even);
        assert_eq!(bars.iter().sum::<usize>(), 240);
        assert!(bars.iter().all(|n| (9..=11).contains(n)), "{bars:?}");
        let mut all_in_one = [0; BARS];
        all_in_one[0] = 3;
        assert_eq!(counts(&[7.0; 3]), all_in_one);
        assert_eq!(counts(&[]), [0; BARS]);
    }

    #[test]
    fn it_says_what_it_shows() {
        let svg = histogram(&[1.0, 2.0, 2.0], "V < 3", "1.00 m/s", "2.00 m/s");
        assert!(svg.contains("V &lt; 3") && svg.contains("Histogram of 3 values from 1.00 m/s to 2.00 m/s"));
        assert_eq!(svg.matches("<rect").count(), 2);
    }
}
