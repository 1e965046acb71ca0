"""Checks a published set with software that its maker did not write.

usage: foreign_readers.py OUT TWIN [NODE_MODULES]

OUT is a published set, TWIN a folder with a CSV twin of every Parquet file in
it, under the same path with .csv for .parquet; NODE_MODULES is where hyparquet is. Prints one line a complaint and
ends with 1 when there is any.
"""
import csv
import json
import math
import os
import subprocess
import sys
from datetime import datetime, timezone

import duckdb
import pandas
import polars
import pyarrow.parquet
from cffconvert.cli.create_citation import create_citation
from frictionless import Package, system
from rocrate.rocrate import ROCrate

out, twin = sys.argv[1], sys.argv[2]
modules = sys.argv[3] if len(sys.argv) > 3 else ""
script = os.path.join(os.path.dirname(os.path.abspath(__file__)), "read_hyparquet.mjs")
complaints = []


def complain(*words):
    complaints.append(" ".join(str(w) for w in words))


def parse(kind, text):
    """The value that a CSV cell stands for; nothing is null."""
    if text == "":
        return None
    if kind == "boolean":
        return {"true": True, "false": False}[text]
    if kind == "integer":
        return int(text)
    if kind == "number":
        return float(text)
    if kind == "datetime":
        return datetime.fromisoformat(text.replace("Z", "+00:00"))
    return text


def plain(value):
    """A reader's value as plain Python has it."""
    if value is None or value is pandas.NA or value is pandas.NaT:
        return None
    if isinstance(value, float) and math.isnan(value):
        return None
    if hasattr(value, "to_pydatetime"):
        value = value.to_pydatetime()
    if isinstance(value, datetime):
        return value.astimezone(timezone.utc)
    return value.item() if hasattr(value, "item") else value


def readers(path, kinds):
    table = pyarrow.parquet.read_table(path)
    yield "pyarrow", {name: table[name].to_pylist() for name in table.column_names}
    frame = polars.read_parquet(path)
    yield "polars", {name: frame[name].to_list() for name in frame.columns}
    frame = pandas.read_parquet(path, dtype_backend="pyarrow")
    yield "pandas", {name: frame[name].tolist() for name in frame.columns}
    found = duckdb.execute("SELECT * FROM read_parquet(?)", [path]).to_arrow_table()
    yield "duckdb", {name: found[name].to_pylist() for name in found.column_names}
    if modules:
        read = subprocess.run(["node", script, modules, path], check=True, capture_output=True)
        columns = json.loads(read.stdout)
        for name, kind in kinds.items():
            values = columns.setdefault(name, [])
            if kind == "integer":
                columns[name] = [None if v is None else int(v) for v in values]
            if kind == "datetime":
                columns[name] = [None if v is None else parse(kind, v) for v in values]
        yield "hyparquet", {name: columns[name] for name in kinds}


arrow_types = {"string": "string", "boolean": "bool", "number": "double", "datetime": "timestamp[ms, tz=UTC]"}

descriptor = json.load(open(os.path.join(out, "datapackage.json")))
rows_seen = 0
for resource in descriptor["resources"]:
    path = os.path.join(out, resource["path"])
    fields = resource["schema"]["fields"]
    kinds = {f["name"]: f["type"] for f in fields}
    for f in fields:
        if not f.get("description"):
            complain(resource["name"], f["name"], "has no description")
    schema = pyarrow.parquet.read_schema(path)
    for name, kind in kinds.items():
        got = str(schema.field(name).type)
        if got.startswith("dictionary"):
            got = "string"
        if kind == "integer" and got not in ("int32", "int64") or kind in arrow_types and got != arrow_types[kind]:
            complain(resource["name"], name, "is", got, "and described as", kind)
    with open(os.path.join(twin, resource["path"].replace(".parquet", ".csv")), newline="") as file:
        rows = list(csv.DictReader(file))
    rows_seen += len(rows)
    for reader, columns in readers(path, kinds):
        if list(columns) != list(kinds):
            complain(resource["name"], reader, "reads the columns", list(columns))
            continue
        for name, kind in kinds.items():
            want = [parse(kind, row[name]) for row in rows]
            # A CSV cannot tell an empty text from a missing one.
            got = [None if v == "" else v for v in map(plain, columns[name])]
            if got != want:
                i = next((i for i, (a, b) in enumerate(zip(got, want)) if a != b), min(len(got), len(want)))
                complain(resource["name"], name, "row", i + 1, reader, "reads", got[i : i + 1], "where the twin has", want[i : i + 1])

# The descriptor, and the twins held against its table schemas.
for error in Package.metadata_validate(descriptor):
    complain("data package:", error.message)
for resource in descriptor["resources"]:
    for key in ("bytes", "hash"):
        del resource[key]
    for field in resource["schema"]["fields"]:
        if field["type"] == "string":
            field.pop("constraints", None)  # a CSV cannot tell an empty text from a missing one
    resource.update(path=resource["path"].replace(".parquet", ".csv"), format="csv", mediatype="text/csv", encoding="utf-8")
with system.use_context(trusted=True):
    package = Package(descriptor, basepath=twin)
    for task in package.validate(limit_rows=500, limit_errors=3).tasks:
        for error in task.errors:
            complain("table schema:", task.name, error.message)

create_citation(os.path.join(out, "CITATION.cff"), None).validate()

crate = ROCrate(out)
if crate.get("#run")["instrument"]["name"] != "lengthwise" or len(crate.get("#run")["result"]) < len(descriptor["resources"]):
    complain("crate: the run is not described")
for part in crate.root_dataset["hasPart"]:
    if not os.path.exists(os.path.join(out, part.id)):
        complain("crate:", part.id, "is not there")

others = "frictionless, cffconvert, rocrate, pyarrow, polars, pandas, duckdb" + (", hyparquet" if modules else "")
print(f"{others}: {len(descriptor['resources'])} tables, {rows_seen} rows")
print("\n".join(complaints), file=sys.stderr)
sys.exit(1 if complaints else 0)
