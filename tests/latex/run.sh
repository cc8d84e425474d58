#!/usr/bin/env bash
# Typesets every .tex file below a folder with pdflatex, one run each and two at a time, and fails on what a reader would see:
# errors, characters the fonts lack, references that lead nowhere, and lines more than 5 pt too wide.
#
#     tests/latex/run.sh DIR     checks what is there
#     tests/latex/run.sh         writes the papers of the test suite first, and checks those
#
# The PDF and the log of NAME.tex end up beside it as NAME-tex.pdf and NAME-tex.log: NAME.pdf may be the program's own. Needs Debian's texlive-latex-base,
# texlive-latex-recommended and lmodern, or their like.
set -u
cd "$(dirname "$0")/../.." || exit 2

if ! command -v pdflatex >/dev/null; then
    echo "pdflatex is missing: install texlive-latex-base, texlive-latex-recommended and lmodern" >&2
    exit 2
fi

if [ $# -eq 0 ]; then
    dir="$PWD/target/latex"
    rm -rf "$dir"
    mkdir -p "$dir"
    GRADELINE_LATEX_DIR="$dir" cargo test --quiet --test papers -- --ignored writes_papers_for_latex || exit 2
else
    dir=$1
fi
if [ ! -d "$dir" ]; then
    echo "no folder $dir" >&2
    exit 2
fi

widest=5
jobs=${LATEX_JOBS:-2}
outcome=$(mktemp -d) || exit 2
trap 'rm -rf "$outcome"' EXIT

# Typesets one file; what there is to say about it goes to the file $2, which stays empty where all is well.
typeset_one() {
    local file=$1 says=$2 stem="${1%.tex}-tex" why="" wide what
    local log="$stem.log"
    # The same text gives the same PDF: no date, no identifier made from the time.
    (cd "$(dirname "$file")" && SOURCE_DATE_EPOCH=0 FORCE_SOURCE_DATE=1 \
        timeout 300 pdflatex -no-shell-escape -interaction=nonstopmode -halt-on-error \
        -jobname "$(basename "$stem")" "./$(basename "$file")" \
        </dev/null >/dev/null 2>&1) || why="pdflatex failed"
    {
        if [ ! -f "$log" ]; then
            why="${why:-no log}"
        else
            # Long lines of the log are folded at 79 characters; a message's first words stand before the fold.
            [ -n "$why" ] && grep -a -A4 '^!' "$log" | head -12
            for what in 'Missing character' 'LaTeX Warning: Reference' 'LaTeX Warning: Citation' \
                'There were undefined references' 'Rerun to get'; do
                if grep -aq "$what" "$log"; then
                    grep -a "$what" "$log" | head -5
                    why="${why:+$why; }$what"
                fi
            done
            wide=$(awk -v most="$widest" '/^Overfull \\hbox/ {
                if (match($0, /\([0-9.]+pt/) && substr($0, RSTART + 1, RLENGTH - 3) + 0 > most) print }' "$log")
            if [ -n "$wide" ]; then
                printf '%s\n' "$wide" | head -5
                why="${why:+$why; }too wide"
            fi
        fi
        if [ -z "$why" ]; then
            rm -f "$stem.aux"
        else
            echo "$file: $why"
        fi
    } >"$says.part"
    mv "$says.part" "$says"
}

# A few at a time; what each has to say is told in the order of the files' names, whichever ends first.
count=0
while IFS= read -r -d '' file; do
    count=$((count + 1))
    typeset_one "$file" "$outcome/$(printf '%06d' "$count")" &
    while [ "$(jobs -rp | wc -l)" -ge "$jobs" ]; do
        wait -n || true
    done
done < <(find "$dir" -name '*.tex' -print0 | sort -z)
wait

failed=$(find "$outcome" -type f -size +0 | wc -l)
passed=$(find "$outcome" -name '??????' -type f -size 0 | wc -l)
# A run that left no word behind has failed too.
failed=$((failed + count - failed - passed))
[ "$count" -gt 0 ] && find "$outcome" -type f -size +0 -print0 | sort -z | xargs -0 -r cat

echo "$passed passed, $failed failed"
[ "$failed" -eq 0 ] && [ "$passed" -gt 0 ]
