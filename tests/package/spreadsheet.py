"""Flat spreadsheets made of our CSV against the CSV: spreadsheet.py PROGRAM FOLDER..., in each TABLE.csv and
TABLE.fods."""
import csv
import glob
import json
import subprocess
import sys
import xml.etree.ElementTree as xml

OFFICE = "{urn:oasis:names:tc:opendocument:xmlns:office:1.0}"
TABLE = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"
TEXT = "{urn:oasis:names:tc:opendocument:xmlns:text:1.0}"


def cells(path):
    """Rows of (type, value) as the spreadsheet holds them; formulas have the type "formula"."""
    for row in xml.parse(path).iter(TABLE + "table-row"):
        out = []
        for cell in row.iter(TABLE + "table-cell"):
            kind = "formula" if cell.get(TABLE + "formula") else cell.get(OFFICE + "value-type")
            value = cell.get(OFFICE + "value")
            if kind == "string":
                value = "\n".join("".join(p.itertext()) for p in cell.findall(TEXT + "p"))
            out += [(kind, value)] * int(cell.get(TABLE + "number-columns-repeated", 1))
        for _ in range(int(row.get(TABLE + "number-rows-repeated", 1)) if out[0][0] else 1):
            yield out


def check(program, path):
    name = path.rsplit("/", 1)[-1].removesuffix(".csv")
    meta = json.loads(subprocess.run([program, "columns", name, "--csvw"], capture_output=True, check=True).stdout)
    kinds = [c["datatype"] for c in meta["tableSchema"]["columns"]]
    with open(path, newline="", encoding="utf-8-sig") as file:
        first = file.readline()
        file.seek(0)
        delimiter = max(",;\t", key=first.count)
        ours = list(csv.reader(file, delimiter=delimiter))
    theirs = list(cells(path.removesuffix("csv") + "fods"))
    numbers, faults = 0, []
    if [value for _, value in theirs[0][:len(kinds)]] != ours[0]:
        faults.append("header")
    for i, row in enumerate(ours[1:], 1):
        for kind, cell, (found, value) in zip(kinds, row, theirs[i]):
            if cell == "":
                good = found is None
            elif kind == "string":
                good = found == "string" and value == cell
            else:
                good = found == "float" and float(value) == float(cell.replace(",", "."))
                numbers += 1
            if not good:
                faults.append(f"row {i}: {cell!r} ({kind}) became {found} {value!r}")
    for text in faults[:5]:
        print(f"FAILED spreadsheet: {path}: {text}")
    return numbers, len(faults)


total = wrong = 0
for folder in sys.argv[2:]:
    paths = sorted(glob.glob(folder + "/*.csv"))
    assert len(paths) == 3, paths
    for one in paths:
        n, bad = check(sys.argv[1], one)
        total += n
        wrong += bad
print(f"spreadsheet: {total} numbers, {wrong} cells wrong")
sys.exit(wrong > 0 or total < 1000)
