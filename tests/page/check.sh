#!/bin/sh
# Pages looked at: made from the demo day and from a log that means harm, validated, opened in a browser
# without a window at the widths of a desk and a phone, light and dark, and printed on A4.
# usage: check.sh BUILD; needs npm, and chromium (or CHROMIUM=...).  Pictures: BUILD/page/.
set -eu
build=$1
here=$(dirname "$0")
demo=$here/../../testdata/demo
out=$build/page
validator=8.29.0
chromium=${CHROMIUM:-chromium}
for tool in npm "$chromium"; do
    command -v "$tool" >/dev/null || { echo "page-check: needs $tool (apt-get install npm chromium)" >&2; exit 1; }
done
mkdir -p "$out"
out=$(cd "$out" && pwd)
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
failed=0
fail() { echo "page-check: $*" >&2; failed=1; }

# ---- pages ----
"$build/braketally" report -q --bypass -c "$demo/car.csv" -m "$demo/map.csv" \
    "$demo"/saltmarsh_run*.csv.gz "$demo/saltmarsh_stops.csv.gz" -o "$out/day.html"
"$build/braketally" report -q -c "$demo/car.csv" -m "$demo/map.csv" "$demo/saltmarsh_run4.csv.gz" \
    -o "$out/run.html"
# Little is logged, and the names try to get out of their place.
harm="$scratch/<script>alert(1)<&\"'.csv"
{
    echo "time [s],speed [km/h],<script>&\"</style>,pedal_front [bar]"
    awk 'BEGIN { for (i = 0; i < 6000; i++) { t = i / 100; p = t % 12;
        print t "," (p < 9 ? 80 + 10 * p : 170 - 30 * (p - 9)) ",x" "," (p < 9 ? 0 : 30) } }'
} > "$harm"
"$build/braketally" report -q "$harm" -o "$out/harm.html"
if grep -qi '<script' "$out"/*.html; then fail "a name became markup"; fi
if grep -qiE '(src|href)="?(https?:|//)|@import|url\(["'\'']?https?:' "$out"/*.html; then
    fail "a page wants something from elsewhere"
fi
for page in "$out"/*.html; do
    size=$(wc -c < "$page")
    [ "$size" -lt 3000000 ] || fail "$page: expected less than 3 MB, found $size bytes"
done

# ---- valid ----
if [ ! -x "$build/node/node_modules/.bin/html-validate" ]; then
    npm install --silent --no-audit --no-fund --prefix "$build/node" "html-validate@$validator"
fi
"$build/node/node_modules/.bin/html-validate" --config "$here/html-validate.json" "$out"/*.html ||
    fail "not valid"

# ---- looked at ----
browser() {
    "$chromium" --headless --no-sandbox --disable-gpu --hide-scrollbars \
        --user-data-dir="$scratch/profile" "$@" 2>/dev/null
}
for page in day run harm; do
    for width in 1280 390; do
        # What is wider than its window would have to be pushed about on a phone.
        printf '<body onload="document.title=%s"><iframe src="%s" width="%s" height="900"></iframe>' \
            "'wide '+document.querySelector('iframe').contentDocument.documentElement.scrollWidth" \
            "$out/$page.html" $width > "$scratch/frame.html"
        wide=$(browser --allow-file-access-from-files --window-size=1400,1000 \
            --dump-dom "file://$scratch/frame.html" |
            sed -n 's|.*<title>wide \([0-9]*\)</title>.*|\1|p')
        [ "${wide:-9999}" -le $width ] || fail "$page.html is ${wide:-?} wide in a window of $width"
        for scheme in light dark; do
            dark=1
            [ $scheme = light ] || dark=0
            height=7000
            [ $page = harm ] && height=3600
            browser --blink-settings=preferredColorScheme=$dark --window-size=$width,$height \
                --screenshot="$out/$page-$width-$scheme.png" "file://$out/$page.html" >/dev/null
            [ -s "$out/$page-$width-$scheme.png" ] || fail "no picture of $page at $width, $scheme"
        done
    done
    browser --no-pdf-header-footer --print-to-pdf="$out/$page.pdf" "file://$out/$page.html" >/dev/null
    [ -s "$out/$page.pdf" ] || fail "$page.html does not print"
done
[ $failed = 0 ] && echo "page-check: $(find "$out" -name '*.html' | wc -l) pages valid; pictures in $out"
exit $failed
