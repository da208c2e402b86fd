"""The standing figures by polars, from data frames in memory."""

import polars as pl
from digest import run
from polars import col, lit, when


def load(paths):
    tables = {}
    for name, path in paths.items():
        frame = pl.read_parquet(path)
        words = [c for c, kind in frame.schema.items() if kind == pl.Categorical or kind == pl.String]
        tables[name] = frame.with_columns(
            [col(c).cast(pl.String).cast(pl.Enum(sorted(frame[c].cast(pl.String).drop_nulls().unique())))
             for c in words])
    return tables


def shares(cases, group, windows):
    times = (
        cases.lazy()
        .group_by([*group, col("time").clip(upper_bound=401).alias("t")])
        .agg(d=col("event").cast(pl.Int64).sum(), c=pl.len().cast(pl.Int64))
        .sort("t", descending=True)
        .with_columns(n=col("c").cum_sum().over(group))
    )
    step = when(col("d") > 0).then((col("n") - col("d")) / col("n")).otherwise(1.0)
    cut = times.sort("t").group_by(group).agg(
        col("c").sum().alias("cases"),
        *[step.filter(col("t") <= w).product().alias(f"s{w}") for w in windows],
        *[col("c").filter(col("t") >= w).sum().alias(f"left{w}") for w in windows],
        *[col("d").filter(col("t") <= w).sum().alias(f"back{w}") for w in windows],
    )
    shown = [when((col(f"left{w}") > 0) | (col(f"s{w}") <= 0)).then(1 - col(f"s{w}"))
             .alias(f"share{w}") for w in windows]
    return cut.with_columns(shown).collect()


def rows(frame, *columns):
    return frame.select(columns).rows()


def facts(tables, as_of, made):
    jobs = tables["job"]
    closed = jobs.filter(col("closed_day") <= as_of)
    days = jobs.select("job", "closed_day")
    link = (
        tables["comeback"].filter(col("state") == "confirmed")
        .join(days, left_on="earlier", right_on="job")
        .filter(col("opened_day") >= col("closed_day"))
        .join(tables["planned_visit"], on=["earlier", "later"], how="anti")
        .select("earlier", "later", days=col("opened_day") - col("closed_day"))
    )
    told = (
        tables["told"].join(days, on="job").filter(col("told_day") >= col("closed_day"))
        .select("job", days=col("told_day") - col("closed_day"))
    )
    first = (
        pl.concat([link.select(col("earlier").alias("job"), "days"), told])
        .group_by("job").agg(col("days").min())
    )
    up = link.filter(col("later") >= 0).select(job="later", first="earlier")
    step = up.rename({"job": "first", "first": "before"})
    while True:
        further = up.join(step, on="first", how="inner")
        if further.is_empty():
            break
        up = (
            up.join(step, on="first", how="left")
            .select("job", first=pl.coalesce("before", "first"))
        )
    cases = (
        closed.lazy()
        .filter((col("kind") == "complaint") & (col("outcome") == "repaired"))
        .join(tables["shop"].lazy(), on="shop")
        .filter(col("links_from").is_null() | (col("closed_day") >= col("links_from")))
        .join(first.lazy(), on="job", how="left")
        .join(up.lazy(), on="job", how="left")
        .join(jobs.lazy().select(first="job", answers="technician"),
              left_on=pl.coalesce("first", "job"), right_on="first")
        .with_columns(event=(col("closed_day") + col("days") <= as_of).fill_null(False))
        .select(
            "symptom", "event", technician="answers",
            week=col("closed_day") - (col("closed_day") + 4 - col("week_start")) % 7,
            time=when("event").then("days").otherwise(as_of - col("closed_day")),
        )
        .collect()
    )
    made["facts"] = {"closed": closed, "link": link, "cases": cases}


def cohorts(tables, as_of, made):
    facts(tables, as_of, made)
    made["cohort"] = rows(shares(made["facts"]["cases"], ["week"], [30]),
                          "week", "cases", "back30", "share30")


def returns(tables, as_of, made):
    three, said = [30, 90, 365], ["share30", "share90", "share365"]
    for group in ["symptom", "technician"]:
        made[group] = rows(shares(made["facts"]["cases"], [group], three), group, "cases", *said)
    first = (
        tables["part_return"].filter(col("state") == "confirmed")
        .group_by("part_use").agg(day=col("opened_day").min())
    )
    replaced = ["replaced_new", "replaced_rebuilt", "replaced_used"]
    uses = (
        tables["part_use"].lazy()
        .join(made["facts"]["closed"].lazy(), on="job")
        .join(tables["shop"].lazy(), on="shop")
        .filter(~col("outcome").is_in(["declined", "not_reproduced"]))
        .filter(col("links_from").is_null() | (col("closed_day") >= col("links_from")))
        .join(first.lazy(), on="part_use", how="left")
        .with_columns(event=((col("day") >= col("closed_day")) & (col("day") <= as_of)).fill_null(False))
        .select(
            "part", "role", "event",
            disposition=when(col("disposition").is_in(replaced)).then(lit("replaced"))
            .otherwise(col("disposition").cast(pl.String)),
            time=when("event").then(col("day") - col("closed_day"))
            .otherwise(as_of - col("closed_day")),
        )
        .collect()
    )
    made["part"] = rows(shares(uses, ["part", "disposition", "role"], three),
                        "part", "disposition", "role", "cases", *said)


def paths(tables, _, made):
    done = ~col("finding").eq_missing(lit("not_done"))
    on_path = done & (col("typed_at_close") == 0)
    walked = (
        tables["checks"].lazy().filter(col("job") >= 0).sort("job", "seq")
        .group_by("job", maintain_order=True)
        .agg(
            path=col("code").filter(on_path),
            minutes=col("minutes").filter(on_path & col("minutes").is_not_null()).sum(),
            known=(on_path & col("minutes").is_not_null()).any(),
            any_done=done.any(),
            measured=(col("typed_at_close") == 0).any(),
        )
    )
    diagnosis = (
        tables["labor"].lazy().filter(col("activity") == "diagnosis")
        .group_by("job").agg(clocked=col("minutes").sum()).filter(col("clocked") > 0)
    )
    found = (
        made["facts"]["closed"].lazy()
        .filter((col("kind") == "complaint") & col("symptom").is_not_null())
        .join(walked, on="job")
        .filter(when("any_done").then(col("path").list.len() > 0).otherwise("measured"))
        .join(diagnosis, on="job", how="left")
        .with_columns(minutes=when("known").then("minutes").otherwise("clocked"))
        .group_by("symptom", "path")
        .agg(n=pl.len(), known=col("minutes").count(), median=col("minutes").median())
        .with_columns(path=when(col("path").list.len() > 0)
                      .then(col("path").cast(pl.List(pl.String)).list.join(">")))
        .collect()
    )
    made["path"] = rows(found, "symptom", "path", "n", "known", "median")


def efficiency(tables, _, made):
    closed, link = made["facts"]["closed"], made["facts"]["link"]
    pieces = (
        tables["labor"].lazy().join(closed.lazy().select("job"), on="job")
        .group_by("job", "technician")
        .agg(clock=col("minutes").sum().cast(pl.Int64), day=col("started_day").min())
        .collect()
    )
    flat = tables["operation"].lazy().group_by("job").agg(flat=col("flat_rate_hundredths").sum())
    whole = (
        pieces.lazy().group_by("job").agg(whole=col("clock").sum()).filter(col("whole") > 0)
        .join(flat, on="job", how="left")
        .with_columns(flat=when(col("job").is_in(link["later"].implode())).then(0)
                      .otherwise(col("flat").fill_null(0)))
        .collect()
    )
    made["efficiency-symptom"] = (
        whole.join(closed, on="job").group_by("symptom")
        .agg(col("flat").sum(), col("whole").sum()).rows()
    )
    product = col("flat") * col("clock")
    parts = (
        pieces.lazy().join(whole.lazy(), on="job")
        .with_columns(got=product // col("whole"), rest=product % col("whole"))
        .sort([col("job"), col("rest"), col("day"), col("technician").cast(pl.String)],
              descending=[False, True, False, False])
        .with_columns(missing=col("flat") - col("got").sum().over("job"),
                      place=col("job").cum_count().over("job").cast(pl.Int64))
        .with_columns(got=col("got") + (col("place") <= col("missing")).cast(pl.Int64))
        .group_by("technician").agg(col("got").sum(), col("clock").sum())
        .collect()
    )
    made["efficiency-technician"] = parts.rows()
    # Only lines are left.
    del made["facts"]


if __name__ == "__main__":
    run(f"polars {pl.__version__}", load,
        {"cohorts": cohorts, "returns": returns, "paths": paths, "efficiency": efficiency})
