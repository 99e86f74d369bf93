#!/bin/sh
# columns.sh PROGRAM PAGE: print PAGE with its generated lists made anew.  Between
# `.\" columns T` and `.\" end` stands what `PROGRAM columns T` says of table T.
set -eu
program=$1

list() {
    "$program" columns "$1" -f csv --delimiter tab | awk -F '\t' '
        function fold(text, word, n, i, line) {
            n = split(text, word, " ")
            line = word[1]
            for (i = 2; i <= n; i++)
                if (length(line) + 1 + length(word[i]) > 78) { print line; line = word[i] }
                else line = line " " word[i]
            print line
        }
        NR == 1 { print ".Bl -tag -width Ds"; next }
        { gsub(/\\/, "\\e")
          print ".It Va " $1 ($2 == "" || $2 == "1" ? "" : " Pq Li " $2)
          fold(toupper(substr($3, 1, 1)) substr($3, 2) ".") }
        END { print ".El" }'
}

inside=no
while IFS= read -r line; do
    case $line in
    '.\" end') inside=no ;;
    esac
    [ "$inside" = yes ] || printf '%s\n' "$line"
    case $line in
    '.\" columns '*)
        inside=yes
        list "${line#'.\" columns '}"
        ;;
    esac
done <"$2"
