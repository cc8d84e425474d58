//! Properties of fluids from a name and a temperature.
//!
//! Depends on: `constants`.

use crate::constants::policy::TABLE_FIGURES;
use crate::constants::{Constant, physical};

/// A fluid that the program knows by name.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Named {
    /// Liquid water at 0.1 MPa.
    Water,
    /// Dry air as an ideal gas.
    Air,
}

/// The units of properties in US customary, as `quantity` reads them: of density, dynamic and kinematic viscosity, and vapour
/// pressure, absolute. Pounds are of mass, so that `ρ V D/μ` needs no other unit.
pub const US_CUSTOMARY_UNITS: [&str; 4] = ["lbm/ft^3", "lbm/(ft.s)", "ft^2/s", "psia"];

/// Properties of a fluid at one state.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Properties {
    /// Density \[kg/m³\].
    pub density: f64,
    /// Dynamic viscosity \[Pa·s\].
    pub dynamic_viscosity: f64,
    /// Vapour pressure, absolute \[Pa\], for a liquid.
    pub vapour_pressure: Option<f64>,
}

/// A temperature outside the range of a formulation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OutOfRange {
    /// What was asked \[K\].
    pub temperature: f64,
    /// The range \[K\].
    pub range: (f64, f64),
}

impl Named {
    /// All of them.
    pub const ALL: [Self; 2] = [Self::Water, Self::Air];

    /// Whether it is a liquid, whose vapour pressure is known.
    pub fn is_liquid(self) -> bool {
        match self {
            Self::Water => true,
            Self::Air => false,
        }
    }

    /// Its name as it is written.
    pub fn name(self) -> &'static str {
        match self {
            Self::Water => "water",
            Self::Air => "air",
        }
    }

    /// Where its properties come from.
    pub fn source(self) -> &'static str {
        match self {
            Self::Water => {
                "IAPWS SR6-08 (density), R12-08 (viscosity), R7-97 (vapour pressure); liquid at 0.1 MPa"
            }
            Self::Air => "dry air as an ideal gas, viscosity by Sutherland's formula",
        }
    }

    /// Properties at a temperature \[K\]; `pressure` \[Pa, absolute\] matters to a gas alone.
    ///
    /// # Errors
    /// [`OutOfRange`] outside [`WATER_RANGE`] or [`AIR_RANGE`].
    pub fn properties(self, temperature: f64, pressure: f64) -> Result<Properties, OutOfRange> {
        let within = |range: (f64, f64)| {
            if temperature >= range.0 && temperature <= range.1 {
                Ok(())
            } else {
                Err(OutOfRange { temperature, range })
            }
        };
        match self {
            Self::Water => {
                within(WATER_RANGE)?;
                let density = water_density(temperature);
                Ok(Properties {
                    density,
                    dynamic_viscosity: water_dynamic_viscosity(density, temperature),
                    vapour_pressure: Some(water_vapour_pressure(temperature)),
                })
            }
            Self::Air => {
                within(AIR_RANGE)?;
                Ok(Properties {
                    density: pressure / (AIR_GAS_CONSTANT.value * temperature),
                    dynamic_viscosity: air_dynamic_viscosity(temperature),
                    vapour_pressure: None,
                })
            }
        }
    }

    /// Properties at a temperature \[K\] as they are had from a table of a course book: read at the two entries
    /// beside it, [`TABLE_STEP`] apart, and interpolated linearly. A gas's density stands in the table at
    /// one atmosphere and is taken in proportion to `pressure` \[Pa, absolute\].
    ///
    /// # Source
    /// The entries are [`Self::properties`] at each tenth degree Celsius, to the four figures that such tables
    /// print.
    ///
    /// # Errors
    /// As [`Self::properties`].
    pub fn table(self, temperature: f64, pressure: f64) -> Result<Properties, OutOfRange> {
        // Out of range is out of range, whatever lies within one step of it.
        self.properties(temperature, pressure)?;
        let steps = (temperature - ICE_POINT) / TABLE_STEP;
        // A temperature in °C becomes one in K by an addition, which may miss an entry by a hair.
        let before = libm::floor(steps + 1e-9);
        let share = (steps - before).max(0.0);
        let low = self.entry(before)?;
        if share < 1e-9 {
            return Ok(at_pressure(self, low, pressure));
        }
        let high = self.entry(before + 1.0)?;
        let between = |low: f64, high: f64| low + share * (high - low);
        let properties = Properties {
            density: between(low.density, high.density),
            dynamic_viscosity: between(low.dynamic_viscosity, high.dynamic_viscosity),
            vapour_pressure: match (low.vapour_pressure, high.vapour_pressure) {
                (Some(low), Some(high)) => Some(between(low, high)),
                _ => None,
            },
        };
        Ok(at_pressure(self, properties, pressure))
    }

    /// The table's entry at so many steps from 0 °C, at one atmosphere.
    fn entry(self, steps: f64) -> Result<Properties, OutOfRange> {
        let range = match self {
            Self::Water => WATER_RANGE,
            Self::Air => AIR_RANGE,
        };
        // Both ends are entries, and a sum may miss them by a hair.
        let temperature = (ICE_POINT + TABLE_STEP * steps).clamp(range.0, range.1);
        let exact = self.properties(temperature, physical::STANDARD_ATMOSPHERE.value)?;
        Ok(Properties {
            density: printed(exact.density),
            dynamic_viscosity: printed(exact.dynamic_viscosity),
            vapour_pressure: exact.vapour_pressure.map(printed),
        })
    }
}

/// A value above nought as a table prints it.
fn printed(value: f64) -> f64 {
    // Tens to a power of nought or more are exact, so that the nearest number to the decimal comes out.
    let decimals = f64::from(TABLE_FIGURES) - 1.0 - libm::floor(libm::log10(value));
    let scale = libm::pow(10.0, decimals.abs());
    if decimals >= 0.0 {
        (value * scale).round() / scale
    } else {
        (value / scale).round() * scale
    }
}

/// A table's properties at one atmosphere, at this pressure.
fn at_pressure(fluid: Named, table: Properties, pressure: f64) -> Properties {
    let density = match fluid {
        Named::Water => table.density,
        Named::Air => table.density * pressure / physical::STANDARD_ATMOSPHERE.value,
    };
    Properties { density, ..table }
}

/// 0 °C \[K\].
const ICE_POINT: f64 = 273.15;

/// Between the entries of a table \[K\]. Tables of course books go by ten degrees, some by five; the wider step is
/// the worse for who interpolates.
pub const TABLE_STEP: f64 = 10.0;

impl std::fmt::Display for OutOfRange {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(
            f,
            "temperature is {} K, outside {} K to {} K",
            self.temperature, self.range.0, self.range.1
        )
    }
}

impl std::error::Error for OutOfRange {}

/// Temperatures of water \[K\]: liquid from 0 °C to 100 °C.
///
/// The formulation for 0.1 MPa itself holds from 253.15 K to 383.15 K (IAPWS SR6-08, section 4); below 0 °C and
/// above 99.6 °C the liquid is metastable, and 100 °C is kept since tables of course books end there.
pub const WATER_RANGE: (f64, f64) = (273.15, 373.15);

/// Temperatures of air \[K\]: −50 °C to 300 °C, where Sutherland's law is within some 2 % of modern values.
pub const AIR_RANGE: (f64, f64) = (223.15, 573.15);

/// Gas constant of dry air.
pub const AIR_GAS_CONSTANT: Constant = Constant {
    value: 287.052_87,
    unit: "J/(kg K)",
    source: "ISO 2533:1975, standard atmosphere",
};

/// Coefficient of Sutherland's law for air: `μ = β T^1.5/(T + S)`.
pub const SUTHERLAND_COEFFICIENT: Constant = Constant {
    value: 1.458e-6,
    unit: "kg/(m s K^0.5)",
    source: "ISO 2533:1975, standard atmosphere",
};

/// Sutherland's temperature of air.
pub const SUTHERLAND_TEMPERATURE: Constant = Constant {
    value: 110.4,
    unit: "K",
    source: "ISO 2533:1975, standard atmosphere",
};

/// Dynamic viscosity of air \[Pa·s\] at a temperature \[K\], by Sutherland's law
/// `μ = β T^1.5/(T + S)`.
///
/// # Source
/// Sutherland (1893), Phil. Mag. 36, 507–531; coefficients of ISO 2533:1975.
fn air_dynamic_viscosity(temperature: f64) -> f64 {
    SUTHERLAND_COEFFICIENT.value * temperature * temperature.sqrt()
        / (temperature + SUTHERLAND_TEMPERATURE.value)
}

/// `x` to a small whole power.
fn power(x: f64, n: u32) -> f64 {
    (0..n).fold(1.0, |product, _| product * x)
}

/// Density of liquid water at 0.1 MPa \[kg/m³\] at a temperature \[K\], 253.15 K to 383.15 K.
///
/// `v = (R T_R/p₀) [a₅ + Σ aᵢ αⁿⁱ + Σ bᵢ βᵐⁱ]` with `α = T_R/(593 K − T)` and `β = T_R/(T − 232 K)`
///
/// # Source
/// IAPWS SR6-08(2011), Revised Supplementary Release on Properties of Liquid Water at 0.1 MPa, equation 2
/// and table 2.
fn water_density(temperature: f64) -> f64 {
    /// Specific gas constant of water \[J/(kg K)\].
    const R: f64 = 461.518_05;
    /// Reference pressure \[Pa\].
    const P0: f64 = 1.0e5;
    const TR: f64 = 10.0;
    const A5: f64 = 1.937_631_57e-2;
    const A: [(f64, u32); 5] = [
        (6.744_584_46e3, 4),
        (-2.225_216_04e5, 5),
        (1.002_312_47e8, 7),
        (-1.635_521_18e9, 8),
        (8.322_996_58e9, 9),
    ];
    const B: [(f64, u32); 6] = [
        (5.785_452_92e-3, 1),
        (-1.531_956_65e-2, 2),
        (3.113_378_59e-2, 3),
        (-4.235_462_41e-2, 4),
        (3.387_135_07e-2, 5),
        (-1.199_467_61e-2, 6),
    ];
    let alpha = TR / (593.0 - temperature);
    let beta = TR / (temperature - 232.0);
    let from_a: f64 = A.iter().map(|&(a, n)| a * power(alpha, n)).sum();
    let from_b: f64 = B.iter().map(|&(b, m)| b * power(beta, m)).sum();
    P0 / (R * TR * (A5 + from_a + from_b))
}

/// Dynamic viscosity of water \[Pa·s\] at a density \[kg/m³\] and a temperature \[K\].
///
/// `μ = μ₀(T̄) μ₁(T̄, ρ̄)` with `T̄ = T/647.096 K` and `ρ̄ = ρ/322 kg/m³`; the critical enhancement is left out (1),
/// as the release allows away from the critical point.
///
/// # Source
/// IAPWS R12-08, Release on the IAPWS Formulation 2008 for the Viscosity of Ordinary Water Substance,
/// equations 11 and 12, tables 1 and 2.
fn water_dynamic_viscosity(density: f64, temperature: f64) -> f64 {
    const H0: [f64; 4] = [1.677_52, 2.204_62, 0.636_656_4, -0.241_605];
    /// i, j, H_ij.
    const H1: [(u32, u32, f64); 21] = [
        (0, 0, 5.200_94e-1),
        (1, 0, 8.508_95e-2),
        (2, 0, -1.083_74),
        (3, 0, -2.895_55e-1),
        (0, 1, 2.225_31e-1),
        (1, 1, 9.991_15e-1),
        (2, 1, 1.887_97),
        (3, 1, 1.266_13),
        (5, 1, 1.205_73e-1),
        (0, 2, -2.813_78e-1),
        (1, 2, -9.068_51e-1),
        (2, 2, -7.724_79e-1),
        (3, 2, -4.898_37e-1),
        (4, 2, -2.570_40e-1),
        (0, 3, 1.619_13e-1),
        (1, 3, 2.573_99e-1),
        (0, 4, -3.253_72e-2),
        (3, 4, 6.984_52e-2),
        (4, 5, 8.721_02e-3),
        (3, 6, -4.356_73e-3),
        (5, 6, -5.932_64e-4),
    ];
    let t = temperature / 647.096;
    let r = density / 322.0;
    let below: f64 = H0.iter().zip(0..).map(|(&h, i)| h / power(t, i)).sum();
    let exponent: f64 = H1
        .iter()
        .map(|&(i, j, h)| power(1.0 / t - 1.0, i) * h * power(r - 1.0, j))
        .sum();
    1e-6 * (100.0 * t.sqrt() / below) * libm::exp(r * exponent)
}

/// Pressure of saturated vapour over water \[Pa\] at a temperature \[K\], 273.15 K to 647.096 K.
///
/// `p = [2C/(−B + √(B² − 4AC))]⁴ MPa`, with A, B and C quadratics of `ϑ = T + n₉/(T − n₁₀)`.
///
/// # Source
/// IAPWS R7-97(2012), Industrial Formulation 1997, region 4, equation 30 and table 34.
fn water_vapour_pressure(temperature: f64) -> f64 {
    const N: [f64; 10] = [
        0.116_705_214_527_67e4,
        -0.724_213_167_032_06e6,
        -0.170_738_469_400_92e2,
        0.120_208_247_024_70e5,
        -0.323_255_503_223_33e7,
        0.149_151_086_135_30e2,
        -0.482_326_573_615_91e4,
        0.405_113_405_420_57e6,
        -0.238_555_575_678_49,
        0.650_175_348_447_98e3,
    ];
    let theta = temperature + N[8] / (temperature - N[9]);
    let a = theta * theta + N[0] * theta + N[1];
    let b = N[2] * theta * theta + N[3] * theta + N[4];
    let c = N[5] * theta * theta + N[6] * theta + N[7];
    1e6 * power(2.0 * c / (-b + (b * b - 4.0 * a * c).sqrt()), 4)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Within half of the last digit that the release prints.
    fn agrees(found: f64, printed: f64, half_digit: f64) {
        assert!((found - printed).abs() <= half_digit, "{found} for {printed}");
    }

    /// IAPWS SR6-08(2011), table 8. Its viscosities stand on R12-08 at the density of 0.1 MPa.
    #[test]
    fn water_at_the_printed_check_points() {
        for (t, density, viscosity) in [
            (260.0, 997.068_360, 3_058.360_75e-6),
            (298.15, 997.047_013, 889.996_774e-6),
            (375.0, 957.009_710, 276.207_245e-6),
        ] {
            agrees(water_density(t), density, 0.51e-6);
            // Table 8 prints nine figures.
            let found = water_dynamic_viscosity(water_density(t), t);
            assert!((found / viscosity - 1.0).abs() < 1e-3, "{t}: {found}");
        }
    }

    /// IAPWS R12-08, table 4 (critical enhancement 1).
    #[test]
    fn viscosity_at_the_printed_check_points() {
        for (t, density, printed) in [
            (298.15, 998.0, 889.735_100),
            (298.15, 1200.0, 1_437.649_467),
            (373.15, 1000.0, 307.883_622),
            (433.15, 1.0, 14.538_324),
            (433.15, 1000.0, 217.685_358),
            (873.15, 1.0, 32.619_287),
            (873.15, 100.0, 35.802_262),
            (873.15, 600.0, 77.430_195),
            (1173.15, 1.0, 44.217_245),
            (1173.15, 100.0, 47.640_433),
            (1173.15, 400.0, 64.154_608),
        ] {
            agrees(1e6 * water_dynamic_viscosity(density, t), printed, 0.51e-6);
        }
    }

    /// IAPWS R7-97(2012), table 35.
    #[test]
    fn vapour_pressure_at_the_printed_check_points() {
        for (t, printed, half_digit) in [
            (300.0, 0.353_658_941e4, 0.51e-5),
            (500.0, 0.263_889_776e7, 0.51e-2),
            (600.0, 0.123_443_146e8, 0.51e-1),
        ] {
            agrees(water_vapour_pressure(t), printed, half_digit);
        }
    }

    /// Density \[kg/m³\] and viscosity \[mPa s\] by the check data of IAPWS, rounded to four figures by hand:
    /// 25 °C is 997.047 and 0.889 997; tables of course books print 999.7, 998.2 and 1.306, 1.002 for 10 and 20 °C.
    #[test]
    fn a_table_is_right_at_its_entries_and_straight_between_them() {
        let at = |celsius: f64| Named::Water.table(ICE_POINT + celsius, 101_325.0).unwrap();
        for (celsius, density, viscosity) in [(0.0, 999.8, 1.792), (10.0, 999.7, 1.306), (20.0, 998.2, 1.002)]
        {
            agrees(at(celsius).density, density, 1e-9);
            agrees(1e3 * at(celsius).dynamic_viscosity, viscosity, 1e-9);
        }
        agrees(at(15.0).density, 998.95, 1e-9);
        agrees(1e3 * at(15.0).dynamic_viscosity, 1.154, 1e-9);
        // Viscosity falls along a hollow curve, so that a straight line lies above it: 1.5 % at 15 °C.
        let exact = Named::Water.properties(ICE_POINT + 15.0, 101_325.0).unwrap();
        let above = at(15.0).dynamic_viscosity / exact.dynamic_viscosity - 1.0;
        assert!((0.012..0.016).contains(&above), "{above}");
        assert_eq!(at(100.0).density, 958.3);
        assert!(Named::Water.table(373.2, 101_325.0).is_err());
        // Air at twice the pressure is twice as dense.
        let air = |celsius: f64, p: f64| Named::Air.table(ICE_POINT + celsius, p).unwrap();
        agrees(air(20.0, 101_325.0).density, 1.204, 1e-9);
        agrees(air(20.0, 202_650.0).density, 2.408, 1e-9);
        agrees(1e6 * air(20.0, 101_325.0).dynamic_viscosity, 18.13, 1e-9);
        for celsius in [-49.0, -40.0, 295.0, 300.0] {
            assert!(air(celsius, 101_325.0).density > 0.0);
        }
    }

    #[test]
    fn a_temperature_out_of_range_is_refused() {
        for t in [f64::NAN, 0.0, 273.14, 373.16, f64::INFINITY] {
            assert!(Named::Water.properties(t, 1e5).is_err());
        }
        assert!(Named::Air.properties(223.0, 1e5).is_err());
        assert!(Named::Water.properties(273.15, 1e5).is_ok());
    }
}
