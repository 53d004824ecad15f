#!/usr/bin/env python3
"""Read reports with the readers that others use.

Standard input holds one JSON object a line:

    {"name": …, "kind": "json", "schema": {…}, "document": {…}}   a report and the JSON Schema that the program prints for it
    {"name": …, "kind": "sarif", "schema": {…}, "document": {…}}  a SARIF log and the schema of SARIF 2.1.0
    {"name": …, "kind": "junit", "text": …, "passed": n, "failures": n, "errors": n}
    {"name": …, "kind": "csv", "text": …, "rows": n}

Of a report of our own, every member must be one that its schema declares, though the schema would allow others.

Exit status 0: all are valid. 1: one isn't, or no line was read.
"""

import csv
import io
import json
import sys
import xml.etree.ElementTree

import jsonschema
import junitparser
import rfc3986_validator  # without it, the format `uri-reference` isn't looked at


def closed(schema):
    """The same schema, its objects without members that it doesn't declare."""
    if isinstance(schema, list):
        return [closed(one) for one in schema]
    if not isinstance(schema, dict):
        return schema
    out = {key: closed(value) for key, value in schema.items()}
    if isinstance(out.get("properties"), dict) and "additionalProperties" not in out and not out.get("$ref"):
        out["additionalProperties"] = False
    return out


def errors_of(schema, document):
    kind = jsonschema.validators.validator_for(schema)
    kind.check_schema(schema)
    validator = kind(schema, format_checker=jsonschema.FormatChecker())
    return [f"{'/'.join(map(str, error.absolute_path))}: {error.message[:300]}" for error in validator.iter_errors(document)]


def beyond_the_schema(text):
    """SARIF: what the schema can't say (sections 3.27.6, 3.27.10 and 3.52.3)."""
    for run in text["runs"]:
        rules = run["tool"]["driver"]["rules"]
        if len({rule["id"] for rule in rules}) != len(rules):
            yield "a rule stands twice"
        for result in run["results"]:
            if rules[result["ruleIndex"]]["id"] != result["ruleId"]:
                yield f"ruleIndex {result['ruleIndex']} isn't {result['ruleId']}"
            if result["kind"] != "fail" and result["level"] != "none":
                yield f"kind {result['kind']} with level {result['level']}"


def junit_errors(item):
    xml.etree.ElementTree.fromstring(item["text"].encode())
    suites = junitparser.JUnitXml.fromstring(item["text"].encode())
    seen = {"passed": 0, "failures": 0, "errors": 0}
    for suite in suites:
        counted = (suite.tests, suite.failures, suite.errors)
        suite.update_statistics()
        if counted != (suite.tests, suite.failures, suite.errors):
            yield f"suite {suite.name} says {counted}, has {(suite.tests, suite.failures, suite.errors)}"
        seen["failures"] += suite.failures
        seen["errors"] += suite.errors
        seen["passed"] += suite.tests - suite.failures - suite.errors
    for key, value in seen.items():
        if value != item[key]:
            yield f"{value} {key}, and {item[key]} wanted"


def csv_errors(item):
    rows = list(csv.reader(io.StringIO(item["text"], newline=""), strict=True))
    if len(rows) != item["rows"] + 1:
        yield f"{len(rows) - 1} rows, and {item['rows']} wanted"
    for row in rows:
        if len(row) != len(rows[0]):
            yield f"a row of {len(row)} cells"
        if any(cell[:1] in ("=", "+", "-", "@", "\t", "\r") for cell in row if cell):
            yield f"a formula in {row}"


def main():
    read, wrong = 0, 0
    for line in sys.stdin:
        item = json.loads(line)
        read += 1
        match item["kind"]:
            case "json":
                errors = errors_of(closed(item["schema"]), item["document"])
            case "sarif":
                errors = errors_of(item["schema"], item["document"]) + list(beyond_the_schema(item["document"]))
            case "junit":
                errors = list(junit_errors(item))
            case "csv":
                errors = list(csv_errors(item))
            case kind:
                errors = [f"no such kind: {kind}"]
        for error in errors[:10]:
            print(f"{item['name']}: {error}")
        wrong += bool(errors)
    print(f"{read} reports read, {wrong} of them wrong")
    return 0 if read and not wrong else 1


sys.exit(main())
