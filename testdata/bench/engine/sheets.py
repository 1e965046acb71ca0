# Turns a lane sheet into Parquet with DuckDB and polars, bare and with the columns that
# a lengths and a bouts table derive, and prints wall and CPU seconds of each:
#   python sheets.py SHEET FOLDER
import os, sys, time
import duckdb, polars

sheet, folder = sys.argv[1:]

def took(name, do):
    before, start = os.times(), time.perf_counter()
    do()
    after, wall = os.times(), time.perf_counter() - start
    print(f"{name}_wall={wall:.3f}")
    print(f"{name}_cpu={after.user + after.system - before.user - before.system:.3f}")

# Seconds, counts, rates and scores as the program defines them for one length, then the
# repeats. No screening, no bases of counting, no ledger.
LENGTHS = """
select swimmer, date, session, rep, length, distance_m, time as duration_s, strokes,
  distance_m / time as speed_mps, 100 * time / distance_m as pace_s_per_100m,
  60 * strokes / time as stroke_rate_spm, distance_m / strokes as distance_per_stroke_m,
  strokes + time as score, (strokes + time) * 25 / distance_m as score_25,
  distance_m / time * distance_m / strokes as stroke_index, hr, rest
from read_csv(?, header = true, types = {'strokes': 'DOUBLE', 'hr': 'DOUBLE', 'rest': 'DOUBLE'})
"""
BOUTS = """
select swimmer, date, session, rep, count(*) as lengths, sum(distance_m) as distance_m, sum(duration_s) as duration_s,
  sum(distance_m) / sum(duration_s) as speed_mps, 60 * sum(strokes) / sum(duration_s) as stroke_rate_spm,
  sum(distance_m) / sum(strokes) as distance_per_stroke_m, avg(score_25) as score_25, max(hr) as hr
from lengths group by all order by all
"""

def derived():
    con = duckdb.connect()
    con.execute("set preserve_insertion_order = true")
    con.execute(f"create view raw as select * from read_csv('{sheet}')")
    lengths = LENGTHS.replace("?", f"'{sheet}'")
    con.execute(f"copy ({lengths}) to '{folder}/lengths.parquet' (format parquet, compression zstd)")
    con.execute(f"create view lengths as select * from '{folder}/lengths.parquet'")
    con.execute(f"copy ({BOUTS}) to '{folder}/bouts.parquet' (format parquet, compression zstd)")

def bare():
    duckdb.sql(f"copy (select * from read_csv('{sheet}', header = true)) to '{folder}/bare.parquet' (format parquet, compression zstd)")

def bare_polars():
    polars.scan_csv(sheet, infer_schema_length=10000).sink_parquet(f"{folder}/polars.parquet", compression="zstd")

took("duckdb_bare", bare)
took("duckdb_derived", derived)
took("polars_bare", bare_polars)
print(f"versions=DuckDB {duckdb.__version__}, polars {polars.__version__}")
