#!/usr/bin/env bash
# Every check of the project, in one command, for people and for CI alike.
# Installs what the checks need (TeX, a browser and Java from Debian's packages; Python libraries and checkers of HTML in
# folders of their own below the target folder).
set -euo pipefail
cd "$(dirname "$0")/.."

# A target folder outside a fresh clone saves building every package again; nothing depends on it.
if [ "${CI:-}" = true ] && [ -z "${CARGO_TARGET_DIR:-}" ]; then
    export CARGO_TARGET_DIR="${XDG_CACHE_HOME:-$HOME/.cache}/gradeline-target"
fi
target="${CARGO_TARGET_DIR:-target}"
mkdir -p "$target"
target="$(cd "$target" && pwd)"

step() { printf '\n== %s\n' "$*"; }

step "tools"
as_root() { if [ "$(id -u)" = 0 ]; then "$@"; else sudo "$@"; fi; }
if ! command -v pdflatex >/dev/null || ! kpsewhich lmodern.sty >/dev/null; then
    as_root apt-get update -qq
    as_root env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends \
        texlive-latex-base texlive-latex-recommended lmodern >/dev/null
fi
pdflatex --version | head -n 1
# HTML is looked at in a browser, and by a validator that runs on Java.
missing=()
command -v chromium >/dev/null || missing+=(chromium)
command -v java >/dev/null || missing+=(default-jre-headless)
command -v npm >/dev/null || missing+=(nodejs npm)
if [ "${#missing[@]}" -gt 0 ]; then
    as_root apt-get update -qq
    as_root env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends "${missing[@]}" >/dev/null
fi

step "form"
cargo fmt --check

step "lints"
cargo clippy --all-targets --locked -- -D warnings
# Without the typesetter everything else still builds.
cargo check --no-default-features --all-targets --locked

step "documentation"
RUSTDOCFLAGS="-D warnings" cargo doc --no-deps --locked

step "the demonstration, and all its papers through pdflatex"
# The program as tests build it.
cargo test --locked --no-run
rm -rf "$target/demonstration"
"$target/debug/gradeline" demo "$target/demonstration"
bash tests/latex/run.sh "$target/demonstration/dealt"

step "papers of every template, and of hostile texts, through pdflatex"
bash tests/latex/run.sh

step "the same as HTML and as PDF, through a validator, an accessibility checker and a reader of structure"
cp "$target"/demonstration/dealt/week-3/instructor/packets/*.pdf target/latex/readers/
bash tests/papers/run.sh target/latex/readers "$target/tools"

step "agreement with other libraries"
bash tests/differential/run.sh "$target"

step "every template of the bank proved"
# 400 draws of each take half a minute of one core.
"$target/debug/gradeline" prove --draws 400

step "tests"
cargo test --locked
