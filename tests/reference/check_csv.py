#!/usr/bin/env python3
"""Compare cells with those that Python's csv module reads.

Standard input holds one JSON object a line:

    {"text": "...", "delimiter": ";", "rows": [["unit", "from", ...], ...]}

`text` is a whole CSV file. Its first row is the heading; `rows` holds, for
every row below it, the cells under the headings `unit`, `from`, `to` and
`wire`, in this order, without blanks at either end.

Exit status 0: every file agrees. 1: a file differs, or no file was read.
"""

import csv
import io
import json
import sys

FIELDS = ("unit", "from", "to", "wire")


def cells(text, delimiter):
    reader = csv.reader(io.StringIO(text.removeprefix("\ufeff"), newline=""), delimiter=delimiter, strict=True)
    rows = [row for row in reader if any(cell.strip() for cell in row)]
    heading = [cell.strip().lower() for cell in rows[0]]
    columns = [heading.index(field) for field in FIELDS]
    return [[row[column].strip() for column in columns] for row in rows[1:]]


def main():
    files = rows = 0
    for line in sys.stdin:
        given = json.loads(line)
        expected = cells(given["text"], given["delimiter"])
        if expected != given["rows"]:
            print(f"differs: {given['text']!r}\nexpected {expected}\nfound    {given['rows']}")
            return 1
        files += 1
        rows += len(expected)
    print(f"{files} files, {rows} rows, all cells agree")
    return 0 if files else 1


if __name__ == "__main__":
    sys.exit(main())
