//! The common tables that a careful student may take in place of the paper's properties.

/// One row: temperature \[°C\], density \[kg/m³\], dynamic viscosity \[Pa·s\], vapour pressure \[Pa\].
type Row = (f64, f64, f64, f64);

/// Water, each ten degrees: density and viscosity at 0.1 MPa by IAPWS SR6-08 and R12-08, vapour pressure by IAPWS R7-97,
/// as the library `iapws` 1.5.5 gives them, to the four figures that tables of course books print.
const WATER: [Row; 8] = [
    (0.0, 999.8, 1.792e-3, 611.2),
    (10.0, 999.7, 1.306e-3, 1228.0),
    (20.0, 998.2, 1.002e-3, 2339.0),
    (30.0, 995.6, 0.7972e-3, 4247.0),
    (40.0, 992.2, 0.6527e-3, 7384.0),
    (50.0, 988.0, 0.5465e-3, 12_350.0),
    (60.0, 983.2, 0.4660e-3, 19_950.0),
    (70.0, 977.8, 0.4035e-3, 31_200.0),
];

/// Dry air at 101.325 kPa, each ten degrees, by the formulas of ISO 2533:1975, worked by hand to four figures.
const AIR: [Row; 7] = [
    (0.0, 1.292, 1.716e-5, f64::NAN),
    (10.0, 1.247, 1.765e-5, f64::NAN),
    (20.0, 1.204, 1.813e-5, f64::NAN),
    (30.0, 1.164, 1.861e-5, f64::NAN),
    (40.0, 1.127, 1.908e-5, f64::NAN),
    (50.0, 1.092, 1.954e-5, f64::NAN),
    (60.0, 1.059, 1.999e-5, f64::NAN),
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
