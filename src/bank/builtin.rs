//! The bank that the program carries: `problem-banks/`.

use super::Bank;
use super::template::Template;
use std::sync::Arc;

/// Every file of `problem-banks/`: name and text.
pub const BUILTIN: &[(&str, &str)] = &[
    (
        "annular-oil-cooler",
        include_str!("../../problem-banks/annular-oil-cooler.yaml"),
    ),
    (
        "ballast-tanks-equalising",
        include_str!("../../problem-banks/ballast-tanks-equalising.yaml"),
    ),
    (
        "bearing-oil-line",
        include_str!("../../problem-banks/bearing-oil-line.yaml"),
    ),
    (
        "brewery-cooling-orifice",
        include_str!("../../problem-banks/brewery-cooling-orifice.yaml"),
    ),
    (
        "brewery-two-bores",
        include_str!("../../problem-banks/brewery-two-bores.yaml"),
    ),
    (
        "bunker-oil-transfer",
        include_str!("../../problem-banks/bunker-oil-transfer.yaml"),
    ),
    (
        "capillary-viscometer",
        include_str!("../../problem-banks/capillary-viscometer.yaml"),
    ),
    (
        "deck-wash-smallest-diameter",
        include_str!("../../problem-banks/deck-wash-smallest-diameter.yaml"),
    ),
    (
        "drying-kiln-air-duct",
        include_str!("../../problem-banks/drying-kiln-air-duct.yaml"),
    ),
    (
        "dye-vat-emptying",
        include_str!("../../problem-banks/dye-vat-emptying.yaml"),
    ),
    (
        "feed-yard-pump-power",
        include_str!("../../problem-banks/feed-yard-pump-power.yaml"),
    ),
    (
        "fish-farm-widening",
        include_str!("../../problem-banks/fish-farm-widening.yaml"),
    ),
    (
        "foundry-main-standard-size",
        include_str!("../../problem-banks/foundry-main-standard-size.yaml"),
    ),
    (
        "glasshouse-pump-speed",
        include_str!("../../problem-banks/glasshouse-pump-speed.yaml"),
    ),
    (
        "hatchery-pressure-drop",
        include_str!("../../problem-banks/hatchery-pressure-drop.yaml"),
    ),
    (
        "irrigation-line-flow",
        include_str!("../../problem-banks/irrigation-line-flow.yaml"),
    ),
    (
        "mine-main-ageing",
        include_str!("../../problem-banks/mine-main-ageing.yaml"),
    ),
    (
        "paper-mill-two-mains",
        include_str!("../../problem-banks/paper-mill-two-mains.yaml"),
    ),
    (
        "penstock-turbine",
        include_str!("../../problem-banks/penstock-turbine.yaml"),
    ),
    (
        "quarry-siphon-summit",
        include_str!("../../problem-banks/quarry-siphon-summit.yaml"),
    ),
    (
        "raw-water-venturi",
        include_str!("../../problem-banks/raw-water-venturi.yaml"),
    ),
    (
        "rinsing-line-flow",
        include_str!("../../problem-banks/rinsing-line-flow.yaml"),
    ),
    (
        "rising-main-pump-power",
        include_str!("../../problem-banks/rising-main-pump-power.yaml"),
    ),
    (
        "shipyard-ring",
        include_str!("../../problem-banks/shipyard-ring.yaml"),
    ),
    (
        "spray-header-pump",
        include_str!("../../problem-banks/spray-header-pump.yaml"),
    ),
    (
        "sprinkler-main-standard-size",
        include_str!("../../problem-banks/sprinkler-main-standard-size.yaml"),
    ),
    (
        "terraced-basins",
        include_str!("../../problem-banks/terraced-basins.yaml"),
    ),
    (
        "test-loop-pressure-drop",
        include_str!("../../problem-banks/test-loop-pressure-drop.yaml"),
    ),
    (
        "town-reservoirs-flow",
        include_str!("../../problem-banks/town-reservoirs-flow.yaml"),
    ),
    (
        "trunk-main-leak",
        include_str!("../../problem-banks/trunk-main-leak.yaml"),
    ),
    (
        "washery-pit-pump",
        include_str!("../../problem-banks/washery-pit-pump.yaml"),
    ),
    (
        "wind-tunnel-pitot",
        include_str!("../../problem-banks/wind-tunnel-pitot.yaml"),
    ),
    (
        "works-main-two-pumps",
        include_str!("../../problem-banks/works-main-two-pumps.yaml"),
    ),
];

/// The built-in templates. They are checked by tests, so that reading them can't fail.
pub fn builtin_bank() -> Bank {
    let templates = BUILTIN
        .iter()
        .filter_map(|(name, text)| {
            Template::parse(text, name, &format!("problem-banks/{name}.yaml"))
                .map(Arc::new)
                .ok()
        })
        .collect();
    Bank::of(templates)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_file_of_the_bank_is_carried() {
        let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("problem-banks");
        let mut files: Vec<String> = std::fs::read_dir(folder)
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .filter_map(|name| Some(name.strip_suffix(".yaml")?.to_owned()))
            .collect();
        files.sort();
        let carried: Vec<&str> = BUILTIN.iter().map(|(name, _)| *name).collect();
        assert_eq!(carried, files);
    }

    #[test]
    fn every_built_in_template_reads() {
        for (name, text) in BUILTIN {
            if let Err(faults) = Template::parse(text, name, &format!("problem-banks/{name}.yaml")) {
                panic!("{faults}");
            }
        }
        assert_eq!(builtin_bank().templates.len(), BUILTIN.len());
    }
}
