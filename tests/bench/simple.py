"""The job of simple.awk with a table library, for comparison: simple.py pandas|duckdb|polars FILE."""

import sys

library, path = sys.argv[1:]
wanted = ["time [s]", "pedal_front [bar]", "speed [m/s]"]

if library == "pandas":
    import pandas

    d = pandas.read_csv(path, usecols=wanted)[wanted]
    d.columns = ["t", "p", "v"]
    on = d.p > 3
    group = (on != on.shift()).cumsum()[on]
    z = d[on].groupby(group).agg(
        t=("t", "first"), end=("t", "last"), entry=("v", "first"), exit=("v", "last"),
        most=("p", "max"), mean=("p", "mean"))
    z = z[(z.end - z.t >= 0.3) & (z.entry - z.exit >= 2)]
    starts = z.t.tolist()
elif library == "duckdb":
    import duckdb

    starts = [row[0] for row in duckdb.sql(f"""
        with d as (select "time [s]" t, "pedal_front [bar]" p, "speed [m/s]" v from read_csv('{path}')),
        e as (select *, (p > 3) <> lag(p > 3, 1, false) over (order by t) edge from d),
        g as (select *, sum(edge::int) over (order by t) id from e)
        select min(t), max(t), arg_min(v, t) entry, arg_max(v, t) exit, max(p), avg(p)
        from g where p > 3 group by id
        having max(t) - min(t) >= 0.3 and arg_min(v, t) - arg_max(v, t) >= 2 order by 1
        """).fetchall()]
else:
    import polars

    d = polars.scan_csv(path).select(wanted).rename(dict(zip(wanted, "tpv")))
    on = polars.col("p") > 3
    c = polars.col
    z = (d.with_columns(id=(on != on.shift(fill_value=False)).cast(polars.Int32).cum_sum())
         .filter(on).group_by("id", maintain_order=True)
         .agg(start=c("t").first(), end=c("t").last(), entry=c("v").first(), exit=c("v").last(),
              most=c("p").max(), mean=c("p").mean())
         .filter((c("end") - c("start") >= 0.3) & (c("entry") - c("exit") >= 2)).collect())
    starts = z["start"].to_list()

for start in starts:
    print(start)
