#!/usr/bin/env python3
"""Work out the chain of a record again, from its description alone.

    check_record.py RECORD [NETLIST]

Every row of the table `verdict` must have the digest that the documentation
of the record describes. With NETLIST, a file of the netlist language whose
units were all recorded from it and whose cable is one of the catalogue with
connectors of the catalogue, the digests of the file, of each unit's own lines
and of the map are worked out too. Run it in the folder of the crate.

Exit status 0: everything agrees. 1: something differs, or there is no row.
"""

import hashlib
import sqlite3
import struct
import sys
import tomllib

COLUMNS = (
    "number time unit attempt lot supplier type cable map origin verdict hazard"
    " findings file file_digest unit_digest header options program"
).split()


def canonical(value):
    if value is None:
        return b"N"
    if isinstance(value, int):
        return b"I" + struct.pack(">q", value)
    data = value.encode()
    return b"T" + struct.pack(">Q", len(data)) + data


def chain(record):
    before, rows, differs = bytes(32), 0, 0
    for *row, digest in record.execute(f"SELECT {', '.join(COLUMNS)}, digest FROM verdict ORDER BY number"):
        data = b"backshell record row 1\n" + before + b"".join(map(canonical, row))
        before = hashlib.sha256(data).digest()
        rows += 1
        if before.hex() != digest:
            print(f"row {row[0]}: {digest}, expected {before.hex()}")
            differs += 1
    return rows, differs


def version_of_map(name):
    folder = "src/pinmap/catalogue"
    with open(f"{folder}/cables/{name}.toml", "rb") as file:
        cable = file.read()
    texts = [cable]
    for end in tomllib.loads(cable.decode())["ends"]:
        with open(f"{folder}/connectors/{end['connector']}.toml", "rb") as file:
            text = file.read()
        if text not in texts:
            texts.append(text)
    return hashlib.sha256(b"".join(struct.pack(">Q", len(text)) + text for text in texts)).hexdigest()


def own_lines(text):
    units = {}
    lines = None
    for line in text.splitlines():
        words = line.split()
        if words and words[0] == "unit":
            lines = units.setdefault(words[1].strip('"'), [])
        if lines is not None and words and not words[0].startswith("#"):
            lines.append(line)
    return {name: hashlib.sha256("".join(line + "\n" for line in lines).encode()).hexdigest() for name, lines in units.items()}


def netlist(record, path):
    with open(path, "rb") as file:
        data = file.read()
    whole, units, differs = hashlib.sha256(data).hexdigest(), own_lines(data.decode()), 0
    query = "SELECT unit, cable, map, file_digest, unit_digest FROM verdict WHERE file = ?"
    rows = list(record.execute(query, (path,)))
    for unit, cable, version, file_digest, unit_digest in rows:
        if (version, file_digest, unit_digest) != (version_of_map(cable), whole, units[unit]):
            print(f"{unit}: the digests of map, file or unit differ")
            differs += 1
    return len(rows), differs


def main():
    record = sqlite3.connect(f"file:{sys.argv[1]}?mode=ro", uri=True)
    rows, differs = chain(record)
    print(f"{rows} rows, {differs} differ")
    if len(sys.argv) > 2:
        units, wrong = netlist(record, sys.argv[2])
        print(f"{units} units, {wrong} differ")
        differs += wrong + (units == 0)
    return 1 if differs or rows == 0 else 0


if __name__ == "__main__":
    sys.exit(main())
