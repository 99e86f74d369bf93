#!/bin/sh
# What a spreadsheet makes of our CSV, without anybody clicking: sh tests/package/spreadsheet.sh [BUILD]
# LibreOffice (Debian: libreoffice-calc) opens it in an English and in a German locale, and what it took for
# numbers has to be numbers, with our values.
set -eu
build=${1:-build}
program=$(cd "$build" && pwd)/braketally
command -v soffice >/dev/null || { echo "spreadsheet: needs LibreOffice (libreoffice-calc)" >&2; exit 2; }
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
trap 'exit 130' INT TERM HUP

demo=testdata/demo
# A log whose name would run as a formula.
cp $demo/saltmarsh_run5.csv.gz "$scratch/=1+1.csv.gz"
for style in en: "de:--decimal-comma --bom" "tab:--delimiter=tab"; do
    locale=${style%%:*}
    mkdir "$scratch/$locale"
    for name in zones events runs; do
        # shellcheck disable=SC2086
        "$program" $name -q -f csv ${style#*:} -c $demo/car.csv -m $demo/map.csv \
            $demo/saltmarsh_run1.csv.gz "$scratch/=1+1.csv.gz" >"$scratch/$locale/$name.csv"
    done
done
# Filter options: delimiter, quote, encoding, first line, formats, language, ..., detect special numbers = no:
# what a double click gives.  1033 = English (US), 1031 = German.
convert() {
    HOME=$scratch soffice -env:UserInstallation="file://$scratch/profile" --headless \
        --infilter="CSV:$2" --convert-to fods --outdir "$scratch/$1" "$scratch/$1"/*.csv >"$scratch/log" 2>&1 ||
        { cat "$scratch/log" >&2; exit 1; }
}
convert en 44,34,76,1,,1033,false,false
convert de 59,34,76,1,,1031,false,false
convert tab 9,34,76,1,,1033,false,false
python3 tests/package/spreadsheet.py "$program" "$scratch/en" "$scratch/de" "$scratch/tab"
