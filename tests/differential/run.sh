#!/usr/bin/env bash
# Holds the solver, the friction factors and the properties of water against the Python libraries fluids, iapws
# and scipy. Needs python3 with venv, and a package index for the first run.
set -euo pipefail
cd "$(dirname "$0")/../.."
venv=target/differential/venv
if ! cmp -s tests/differential/requirements.txt "$venv/requirements.txt"; then
    rm -rf "$venv"
    python3 -m venv "$venv"
    "$venv/bin/pip" install --quiet --disable-pip-version-check -r tests/differential/requirements.txt
    cp tests/differential/requirements.txt "$venv/requirements.txt"
fi
export GRADELINE_DIFFERENTIAL_OUT="$PWD/target/differential/systems.jsonl"
cargo test --quiet --test differential -- --ignored
"$venv/bin/python" tests/differential/check.py "$GRADELINE_DIFFERENTIAL_OUT"
export GRADELINE_DIFFERENTIAL_METERS="$PWD/target/differential/meters.jsonl"
cargo test --quiet --test differential_meter -- --ignored
"$venv/bin/python" tests/differential/meter.py "$GRADELINE_DIFFERENTIAL_METERS"
export GRADELINE_LOSSES_OUT="$PWD/target/differential/losses.jsonl"
cargo test --quiet --test differential_losses -- --ignored
"$venv/bin/python" tests/differential/losses.py "$GRADELINE_LOSSES_OUT"
export GRADELINE_DIFFERENTIAL_NETWORKS="$PWD/target/differential/networks.jsonl"
cargo test --quiet --test differential_network -- --ignored
"$venv/bin/python" tests/differential/network.py "$GRADELINE_DIFFERENTIAL_NETWORKS"
export GRADELINE_DIFFERENTIAL_PUMPS="$PWD/target/differential/pumps.jsonl"
cargo test --quiet --test differential_pumps -- --ignored
"$venv/bin/python" tests/differential/pumps.py "$GRADELINE_DIFFERENTIAL_PUMPS"
export GRADELINE_DIFFERENTIAL_TANK_OUT="$PWD/target/differential/tanks.jsonl"
cargo test --quiet --test differential_tank -- --ignored
"$venv/bin/python" tests/differential/tank.py "$GRADELINE_DIFFERENTIAL_TANK_OUT"
export GRADELINE_DIFFERENTIAL_DUCTS="$PWD/target/differential/ducts.jsonl"
cargo test --quiet --test differential_duct -- --ignored
"$venv/bin/python" tests/differential/duct.py "$GRADELINE_DIFFERENTIAL_DUCTS"
