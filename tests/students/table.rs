//! The common tables that a careful student may take in place of the paper's properties.

/// One row: temperature \[°C\], density \[kg/m³\], dynamic viscosity \[Pa·s\], vapour pressure \[Pa\].
type Row = (f64, f64, f64, f64);

/// Water: density and viscosity at 0.1 MPa by IAPWS SR6-08 and R12-08, vapour pressure by IAPWS R7-97, each to four figures
/// as the library `iapws` 1.5.5 gives them.
const WATER: [Row; 15] = [
    (0.0, 999.8, 1.792e-3, 611.2),
    (5.0, 1000.0, 1.518e-3, 872.6),
    (10.0, 999.7, 1.306e-3, 1228.0),
    (15.0, 999.1, 1.138e-3, 1706.0),
    (20.0, 998.2, 1.002e-3, 2339.0),
    (25.0, 997.0, 0.8900e-3, 3170.0),
    (30.0, 995.6, 0.7972e-3, 4247.0),
    (35.0, 994.0, 0.7191e-3, 5629.0),
    (40.0, 992.2, 0.6527e-3, 7384.0),
    (45.0, 990.2, 0.5958e-3, 9594.0),
    (50.0, 988.0, 0.5465e-3, 12_350.0),
    (55.0, 985.7, 0.5036e-3, 15_760.0),
    (60.0, 983.2, 0.4660e-3, 19_950.0),
    (65.0, 980.6, 0.4329e-3, 25_040.0),
    (70.0, 977.8, 0.4035e-3, 31_200.0),
];

/// Dry air at 101.325 kPa, as tables of course books have it (from memory).
const AIR: [Row; 7] = [
    (0.0, 1.292, 1.729e-5, f64::NAN),
    (10.0, 1.246, 1.778e-5, f64::NAN),
    (20.0, 1.204, 1.825e-5, f64::NAN),
    (30.0, 1.164, 1.872e-5, f64::NAN),
    (40.0, 1.127, 1.918e-5, f64::NAN),
    (50.0, 1.092, 1.963e-5, f64::NAN),
    (60.0, 1.059, 2.008e-5, f64::NAN),
];

/// Density, dynamic viscosity and vapour pressure of a named fluid at a temperature \[K\], between rows along straight lines.
pub fn properties(fluid: &str, temperature: f64) -> (f64, f64, f64) {
    let rows: &[Row] = match fluid {
        "water" => &WATER,
        "air" => &AIR,
        _ => panic!("no table of {fluid}"),
    };
    let t = temperature - 273.15;
    let above = rows
        .iter()
        .position(|row| row.0 >= t - 1e-9)
        .unwrap_or_else(|| panic!("{t} °C is beyond the table"))
        .max(1);
    let (a, b) = (rows[above - 1], rows[above]);
    let share = (t - a.0) / (b.0 - a.0);
    let between = |a: f64, b: f64| a + share * (b - a);
    (between(a.1, b.1), between(a.2, b.2), between(a.3, b.3))
}
