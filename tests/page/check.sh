#!/bin/sh
# Pages looked at: the demo day, and logs of which little is known or that mean harm, validated, measured and
# photographed in a browser without a window at the widths of a desk and a phone, light and dark, and
# printed on A4.  look.js says what is measured.
# usage: check.sh BUILD; needs npm, and chromium (or CHROMIUM=...), else it says that it skips.
# Pictures: BUILD/page/.
set -eu
build=$1
here=$(dirname "$0")
demo=$here/../../testdata/demo
out=$build/page
validator=8.29.0
tallest=16000 # px that a picture can have
chromium=${CHROMIUM:-chromium}
for tool in npm "$chromium"; do
    command -v "$tool" >/dev/null || { echo "page-check: skipped, there is no $tool"; exit 0; }
done
mkdir -p "$out"
out=$(cd "$out" && pwd)
rm -f "$out"/*.html "$out"/*.png "$out"/*.pdf
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
failed=0
fail() { echo "page-check: $*" >&2; failed=1; }

# ---- pages ----
report() {
    "$build/braketally" report -q "$@" || fail "no page from: $*"
}
full() {
    report --bypass -c "$demo/car.csv" -m "$demo/map.csv" "$@"
}
full -o "$out/day.html" "$demo"/saltmarsh_run*.csv.gz "$demo/saltmarsh_stops.csv.gz"
full -o "$out/run.html" "$demo/saltmarsh_run4.csv.gz"
full -o "$out/stops.html" "$demo/saltmarsh_stops.csv.gz"
twenty=
for i in 1 2 3 4; do
    for run in 1 2 3 4 5; do
        ln -sf "$(cd "$demo" && pwd)/saltmarsh_run$run.csv.gz" "$scratch/day${i}_run$run.csv.gz"
        twenty="$twenty $scratch/day${i}_run$run.csv.gz"
    done
done
# shellcheck disable=SC2086
report -o "$out/twenty.html" -c "$demo/car.csv" -m "$demo/map.csv" $twenty
# The car without some of its channels.
for lack in motor rear; do
    case $lack in
    motor) grep -vE '^(motor_torque|motor_request),' "$demo/map.csv" ;;
    rear) grep -vE '^(pedal_rear|line_rear|line_request|disc_r[lr]),' "$demo/map.csv" ;;
    esac > "$scratch/map.csv"
    report -o "$out/no-$lack.html" -c "$demo/car.csv" -m "$scratch/map.csv" "$demo/saltmarsh_run2.csv.gz"
done
# A log in which the car brakes once, or not; little is logged, and the names try to get out of their place.
log() {
    echo "time [s],speed [km/h],<script>&\"</style>,pedal_front [bar],pedal_rear [bar],line_rear [bar]"
    awk -v brakings="$1" 'BEGIN { for (i = 0; i < 6000; i++) { t = i / 100; p = t % 12; on = p >= 9 && t < 12 * brakings
        print t "," (t >= 12 * brakings ? 80 : p < 9 ? 80 + 10 * p : 170 - 30 * (p - 9)) ",x," (on ? 30 : 0) "," \
            (on ? 25 : 0) "," (on ? 22 : 0) } }'
}
harm="$scratch/<script>alert(1)<&\"'.csv"
log 5 > "$harm"
long="$scratch/a_name_that_somebody_gave_with_date_and_driver_and_weather_and_tyres_2026-11-25_afternoon_run_07.csv"
cp "$harm" "$long"
log 1 > "$scratch/one.csv"
log 0 > "$scratch/zero.csv"
report -o "$out/harm.html" "$harm" "$long" "$scratch/zero.csv"
report -o "$out/one.html" "$scratch/one.csv"
report -o "$out/zero.html" "$scratch/zero.csv"
if grep -qi '<script' "$out"/*.html; then fail "a name became markup"; fi
if grep -qiE '(src|href)="?(https?:|//)|@import|url\(["'\'']?https?:' "$out"/*.html; then
    fail "a page wants something from elsewhere"
fi
size=$(wc -c < "$out/run.html")
[ "$size" -lt 3000000 ] || fail "run.html: expected less than 3 MB, found $size bytes"

# ---- valid ----
if [ ! -x "$build/node/node_modules/.bin/html-validate" ]; then
    npm install --silent --no-audit --no-fund --prefix "$build/node" "html-validate@$validator"
fi
# Twenty runs are the parts of one run, twenty times over: nothing new to the validator, which is slow.
find "$out" -name '*.html' ! -name twenty.html \
    -exec "$build/node/node_modules/.bin/html-validate" --config "$here/html-validate.json" {} + ||
    fail "not valid"

# ---- looked at ----
browser() {
    "$chromium" --headless --no-sandbox --disable-gpu --hide-scrollbars \
        --user-data-dir="$scratch/profile" "$@" 2>/dev/null
}
least=21
cp "$here/look.js" "$scratch/"
for file in "$out"/*.html; do
    page=$(basename "$file" .html)
    for view in 1280-light 1280-dark 390-light 390-dark; do
        width=${view%-*}
        dark=1
        [ "${view#*-}" = light ] || dark=0
        printf '<script src="look.js"></script><pre id="found"></pre><iframe id="page" src="%s" width="%s" height="900" onload="look()"></iframe>' \
            "$file" "$width" > "$scratch/frame.html"
        browser --allow-file-access-from-files --blink-settings=preferredColorScheme=$dark \
            --window-size=1400,1000 --dump-dom "file://$scratch/frame.html" |
            sed -n '/<pre id="found">/,/<\/pre>/p' | sed 's/.*<pre id="found">//; s|</pre>.*||' > "$scratch/found"
        wide=$(sed -n 's/^wide //p' "$scratch/found")
        height=$(sed -n 's/^height //p' "$scratch/found")
        # What is wider than its window would have to be pushed about on a phone.
        [ "${wide:-9999}" -le "$width" ] || fail "$page.html is ${wide:-?} wide in a window of $width"
        if grep -q '^bad' "$scratch/found"; then
            fail "$page.html, $view: $(grep -c '^bad' "$scratch/found") findings, such as"
            grep '^bad' "$scratch/found" | head -n 5 >&2
        fi
        least=$(sed -n 's/^contrast //p' "$scratch/found" | awk -v l="$least" '{ print $1 < l ? $1 : l }')
        [ "${height:-$tallest}" -lt $tallest ] || height=$tallest
        browser --blink-settings=preferredColorScheme=$dark --window-size="$width,$height" \
            --screenshot="$out/$page-$view.png" "file://$file" >/dev/null
        [ -s "$out/$page-$view.png" ] || fail "no picture of $page, $view"
    done
    browser --no-pdf-header-footer --print-to-pdf="$out/$page.pdf" "file://$file" >/dev/null
    [ -s "$out/$page.pdf" ] || fail "$page.html does not print"
done
[ $failed = 0 ] && echo "page-check: $(find "$out" -name '*.html' | wc -l) pages valid, no label cut or on another," \
    "contrast $least at least; pictures in $out"
exit $failed
