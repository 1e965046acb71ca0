"""Read Parquet files with DuckDB and print what is in them as JSON.

Doubles are printed by their bits and whole numbers as text, so that nothing
is lost on the way."""
import json
import struct
import sys

import duckdb

out = []
for path in sys.argv[1:]:
    source = "read_parquet('" + path.replace("'", "''") + "')"
    types = {row[0]: row[1] for row in duckdb.sql("DESCRIBE SELECT * FROM " + source).fetchall()}
    meta = duckdb.sql("SELECT key, value FROM parquet_kv_metadata('" + path.replace("'", "''") + "')").fetchall()
    columns = {}
    for name, kind in types.items():
        expression = '"' + name + '"'
        if kind.startswith("TIMESTAMP"):
            expression = "epoch_ms(" + expression + ")"
        cells = []
        for (value,) in duckdb.sql("SELECT " + expression + " FROM " + source).fetchall():
            if isinstance(value, float):
                value = struct.pack(">d", value).hex()
            elif isinstance(value, int) and not isinstance(value, bool):
                value = str(value)
            cells.append(value)
        columns[name] = cells
    out.append({"types": types, "meta": {bytes(k).decode(): bytes(v).decode() for k, v in meta}, "columns": columns})
json.dump(out, sys.stdout)
