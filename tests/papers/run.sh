#!/usr/bin/env bash
# Checks the HTML and PDF files below a folder as their readers' programs would:
# - HTML: the Nu validator; axe-core in headless Chromium (WCAG 2.2 AA), on a desk and on a phone's width, where nothing may
#   stick out of the page;
# - PDF: `pdf.py`: tags, language, title, words for each formula and figure, embedded fonts.
#
#     tests/papers/run.sh DIR TOOLS
#
# TOOLS is a folder for the tools, which are installed there where they are missing. Needs node with npm, java, chromium and
# python3 with venv.
set -euo pipefail
here="$(cd "$(dirname "$0")" && pwd)"
dir="$(cd "$1" && pwd)"
mkdir -p "$2"
tools="$(cd "$2" && pwd)"

node_modules="$tools/node/node_modules"
if [ ! -f "$node_modules/axe-core/axe.min.js" ] || [ ! -f "$node_modules/vnu-jar/build/dist/vnu.jar" ]; then
    mkdir -p "$tools/node"
    npm install --prefix "$tools/node" --no-audit --no-fund --silent axe-core@4 vnu-jar@26 >/dev/null
fi
python="$tools/papers-python/bin/python"
if [ ! -x "$python" ] || ! "$python" -c 'import pikepdf' 2>/dev/null; then
    python3 -m venv "$tools/papers-python"
    "$tools/papers-python/bin/pip" install --quiet -r "$here/requirements.txt"
fi

mapfile -t pages < <(find "$dir" -name '*.html' | sort)
[ "${#pages[@]}" -gt 0 ] || { echo "no HTML below $dir" >&2; exit 1; }
# `alttext` is what speaks a formula where MathML does not; the validator knows the later MathML Core alone.
java -jar "$node_modules/vnu-jar/build/dist/vnu.jar" --errors-only \
    --filterpattern '.*Attribute .alttext. not allowed.*' "${pages[@]}"
echo "${#pages[@]} HTML files are valid"

room="$(mktemp -d)"
trap 'rm -rf "$room"' EXIT
failed=0
number=0
for page in "${pages[@]}"; do
    for width in 1280 390; do
        number=$((number + 1))
        looked="$room/$number.html"
        cat "$page" - >"$looked" <<HTML
<script src="file://$node_modules/axe-core/axe.min.js"></script>
<script>
axe.run(document, { runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
  // The checker takes a head that is a formula for an empty one: it reads no MathML.
  rules: { "empty-table-header": { enabled: false } } }).then(r => {
  const out = r.violations.flatMap(v => v.nodes.map(n => v.id + ": " + v.help + ": " + n.html.slice(0, 160)));
  const wide = document.documentElement.scrollWidth;
  if (wide > window.innerWidth) out.push("wider than the window: " + wide + " px of " + window.innerWidth);
  const pre = document.createElement("pre");
  pre.id = "axe-says";
  pre.textContent = "axe: " + r.passes.length + " rules passed\n" + out.join("\n");
  document.body.replaceChildren(pre);
});
</script>
HTML
        # A phone is narrower than the narrowest window of a browser without a head: the page goes into a frame.
        if [ "$width" -lt 500 ]; then
            printf '<!DOCTYPE html><title></title><iframe src="%s" width="%s" height="800"></iframe><script>
onload = () => { const wait = () => { const d = document.querySelector("iframe").contentDocument.getElementById("axe-says");
  if (d) document.body.replaceChildren(d.cloneNode(true)); else setTimeout(wait, 50); }; wait(); };
</script>' "$number.html" "$width" >"$room/frame-$number.html"
            looked="$room/frame-$number.html"
        fi
        # Files may read files here, as the frame and the checker lie beside the page.
        says="$(chromium --headless --no-sandbox --disable-gpu --allow-file-access-from-files --window-size="1280,900" \
            --virtual-time-budget=60000 --dump-dom "file://$looked" 2>/dev/null |
            sed -n '/id="axe-says"/,/<\/pre>/p' | sed 's/<[^>]*>//g')"
        case "$says" in
        "axe: "*" rules passed") ;;
        *)
            failed=$((failed + 1))
            printf '%s at %s px:\n%s\n' "$page" "$width" "${says:-the checker did not answer}" >&2
            ;;
        esac
    done
done
[ "$failed" -eq 0 ] || { echo "$failed of $number looks failed" >&2; exit 1; }
echo "$number looks at HTML files found no barrier"

"$python" "$here/pdf.py" "$dir"
