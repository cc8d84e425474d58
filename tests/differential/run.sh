#!/usr/bin/env bash
# Holds the solvers of every kind, the friction factors and the properties of water against the Python libraries
# fluids, iapws and scipy. Needs python3 with venv, and a package index for the first run.
set -euo pipefail
cd "$(dirname "$0")/../.."
venv=target/differential/venv
if ! cmp -s tests/differential/requirements.txt "$venv/requirements.txt"; then
    rm -rf "$venv"
    python3 -m venv "$venv"
    "$venv/bin/pip" install --quiet --disable-pip-version-check -r tests/differential/requirements.txt
    cp tests/differential/requirements.txt "$venv/requirements.txt"
fi

# check TEST VARIABLE SCRIPT: the test writes random cases with the program's answers to the file that the variable names,
# and the script works them out again.
check() {
    local file="$PWD/target/differential/$3.jsonl"
    env "$2=$file" cargo test --quiet --test "$1" -- --ignored
    "$venv/bin/python" "tests/differential/$3.py" "$file"
}
check differential GRADELINE_DIFFERENTIAL_OUT check
check differential_meter GRADELINE_DIFFERENTIAL_METERS meter
check differential_losses GRADELINE_LOSSES_OUT losses
check differential_network GRADELINE_DIFFERENTIAL_NETWORKS network
check differential_pumps GRADELINE_DIFFERENTIAL_PUMPS pumps
check differential_tank GRADELINE_DIFFERENTIAL_TANK_OUT tank
check differential_duct GRADELINE_DIFFERENTIAL_DUCTS duct
check differential_inverse GRADELINE_DIFFERENTIAL_INVERSE inverse
