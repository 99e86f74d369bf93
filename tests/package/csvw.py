"""The metadata of every table against the W3C Recommendation "Metadata Vocabulary for Tabular Data" (17
December 2015), its units against the grammar of UCUM, and a table that was written against its metadata.

    csvw.py PROGRAM CSV...        CSV files are named TABLE.csv
"""
import csv
import json
import re
import subprocess
import sys

# Section 5.6: what a column may have, and the datatypes of section 5.11.1 that are in use here.
COLUMN = {"name", "titles", "datatype", "required", "null", "suppressOutput", "virtual", "default", "lang",
          "aboutUrl", "propertyUrl", "valueUrl", "ordered", "separator", "textDirection", "@id", "@type"}
TABLE = {"@context", "@id", "@type", "url", "dialect", "notes", "suppressOutput", "tableDirection",
         "tableSchema", "transformations"}
SCHEMA = {"columns", "foreignKeys", "primaryKey", "rowTitles", "@id", "@type"}
DIALECT = {"commentPrefix": str, "delimiter": str, "doubleQuote": bool, "encoding": str, "header": bool,
           "headerRowCount": int, "lineTerminators": list, "quoteChar": str, "skipBlankRows": bool}
CELL = {"string": r".*", "integer": r"-?\d+", "decimal": r"-?\d+(\.\d+)?"}
# Common properties are names with a prefix that the context knows, or absolute URLs.
COMMON = re.compile(r"dc:\w+|https?://\S+")
UCUM_KEY = "http://qudt.org/schema/qudt/ucumCode"
# RFC 6570's variable names; one that begins with _ is not for columns.
NAME = re.compile(r"(?!_)([A-Za-z0-9_]|%[0-9A-Fa-f]{2})+")

# Of the atoms of UCUM those of mechanics, heat and electricity; the first ones take prefixes.
METRIC = "m s g rad K Cel N Pa J W V A C Ohm Hz bar eV L l".split()
OTHER = "% deg ' '' min h d [g] [psi] [lbf_av] [ft_i] [in_i] [mi_i] [degF] 10* 10^".split()
PREFIX = "Y Z E P T G M k h da d c m u n p f a z y".split()
AS_LOGGED = {"bias_setting"}  # the one number whose unit nobody knows
faults = []


def fault(table, text):
    faults.append(f"{table}: {text}")


def is_atom(text):
    return text in METRIC or text in OTHER or any(
        text.startswith(p) and text[len(p):] in METRIC for p in PREFIX)


def is_ucum(code):
    """term = [/] component {(. | /) component}; component = number | atom [exponent] [{note}] | {note}"""
    for part in re.split(r"[./]", re.sub(r"\{[\x21-\x7a|~]*\}", "{}", code.removeprefix("/"))):
        m = re.fullmatch(r"(?P<atom>[^{}]*?)(?P<exponent>[+-]?\d+)?(?P<note>\{\})?", part)
        if not m or not part or not (is_atom(m["atom"]) if m["atom"] else m["note"] or m["exponent"]):
            return False
    return True


def check_metadata(table, data):
    if data.get("@context") != "http://www.w3.org/ns/csvw":
        fault(table, "@context")
    if data.get("url") != f"{table}.csv":
        fault(table, "url")
    for key in data.keys() - TABLE:
        if not COMMON.fullmatch(key):
            fault(table, f"unknown {key}")
    for key, value in data.get("dialect", {}).items():
        if not isinstance(value, DIALECT.get(key, ())):
            fault(table, f"dialect {key}")
    schema = data["tableSchema"]
    if schema.keys() - SCHEMA:
        fault(table, f"schema {schema.keys() - SCHEMA}")
    names = [c["name"] for c in schema["columns"]]
    if len(set(names)) < len(names) or not names:
        fault(table, "names repeat")
    for column in schema["columns"]:
        name = column["name"]
        if not NAME.fullmatch(name) or not isinstance(column["titles"], str):
            fault(table, f"name {name}")
        if column["datatype"] not in CELL:
            fault(table, f"{name}: datatype {column['datatype']}")
        for key in column.keys() - COLUMN:
            if not COMMON.fullmatch(key) or not isinstance(column[key], str) or not column[key]:
                fault(table, f"{name}: {key}")
        if UCUM_KEY in column and not is_ucum(column[UCUM_KEY]):
            fault(table, f"{name}: no unit of UCUM: {column[UCUM_KEY]}")
        if (column["datatype"] == "string") == (UCUM_KEY in column) and name not in AS_LOGGED:
            fault(table, f"{name}: a number has a unit, a text has none")


def check_table(path, columns):
    with open(path, newline="", encoding="utf-8") as file:
        rows = list(csv.reader(file, strict=True))
    if rows[0] != [c["titles"] for c in columns]:
        fault(path, "the header is not the titles")
    if len(rows) < 2:
        fault(path, "no rows")
    for number, row in enumerate(rows[1:], 2):
        if len(row) != len(columns):
            fault(path, f"row {number}: {len(row)} cells")
        for cell, column in zip(row, columns):
            if cell and not re.fullmatch(CELL[column["datatype"]], cell):
                fault(path, f"row {number}, {column['name']}: {cell} is no {column['datatype']}")


def main(program, paths):
    for good in "m/s2 N.m % %/{lap} /min {lap} 10*3 kg.m2/s2 m-1 [psi] 1".split():
        assert is_ucum(good), good
    for wrong in "psi mph rpm Nm m//s m/ {x km/hr °C bar. N*m".split():
        assert not is_ucum(wrong), wrong
    listed = subprocess.run([program, "--completion", "zsh"], capture_output=True, text=True, check=True).stdout
    tables = re.search(r"operand='\(([a-z ]*)\)'", listed)[1].split()
    columns = {}
    for table in tables:
        if table == "flags":
            continue
        text = subprocess.run([program, "columns", table, "--csvw"], capture_output=True, check=True).stdout
        data = json.loads(text.decode("utf-8"))
        check_metadata(table, data)
        columns[table] = data["tableSchema"]["columns"]
    for path in paths:
        check_table(path, columns[path.rsplit("/", 1)[-1].removesuffix(".csv")])
    for text in faults:
        print("FAILED csvw:", text)
    return bool(faults) or len(columns) < 10


if __name__ == "__main__":
    sys.exit(main(sys.argv[1], sys.argv[2:]))
