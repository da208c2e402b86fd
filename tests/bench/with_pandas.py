"""The standing figures by pandas, Kaplan-Meier by lifelines."""

import lifelines
import numpy as np
import pandas as pd
from digest import run
from lifelines import KaplanMeierFitter


def load(paths):
    return {name: pd.read_parquet(path) for name, path in paths.items()}


def shares(cases, group, windows):
    """Per group: cases, events by the first window, shares."""
    fitter, made = KaplanMeierFitter(), []
    for key, part in cases.groupby(group, dropna=False, observed=True):
        fitter.fit(part["time"], part["event"])
        survival = fitter.survival_function_at_times(windows).to_numpy()
        longest = part["time"].max()
        said = [1 - s if longest >= w or s <= 0 else None for w, s in zip(windows, survival)]
        back = int((part["event"] & (part["time"] <= windows[0])).sum())
        made.append((key, len(part), back, *said))
    return made


def facts(tables, as_of, made):
    jobs, shops = tables["job"], tables["shop"]
    days = jobs.set_index("job")["closed_day"]
    link = tables["comeback"]
    link = link[(link["state"] == "confirmed") & (link["earlier"] >= 0)]
    link = link.assign(days=link["opened_day"] - link["earlier"].map(days))
    link = link[link["days"] >= 0]
    planned = pd.MultiIndex.from_frame(tables["planned_visit"][["earlier", "later"]])
    link = link[~pd.MultiIndex.from_frame(link[["earlier", "later"]]).isin(planned)]
    told = tables["told"]
    told = told.assign(days=told["told_day"] - told["job"].map(days))
    told = told[told["days"] >= 0]
    returned = pd.concat([link[["earlier", "days"]].rename(columns={"earlier": "job"}),
                          told[["job", "days"]]])
    first = returned.groupby("job")["days"].min()
    before = link[link["later"] >= 0].set_index("later")["earlier"]
    top = before.copy()
    while True:
        further = top.map(before)
        if further.isna().all():
            break
        top = further.fillna(top).astype(np.int32)
    closed = jobs[jobs["closed_day"] <= as_of].merge(shops, on="shop")
    cases = closed[(closed["kind"] == "complaint") & (closed["outcome"] == "repaired")
                   & (closed["links_from"].isna() | (closed["closed_day"] >= closed["links_from"]))]
    back = cases["job"].map(first)
    event = (cases["closed_day"] + back <= as_of).to_numpy()
    first_job = cases["job"].map(top).fillna(cases["job"]).astype(np.int32)
    cases = cases.assign(
        event=event,
        time=np.where(event, back, as_of - cases["closed_day"]).astype(np.int32),
        week=cases["closed_day"] - (cases["closed_day"] + 4 - cases["week_start"]) % 7,
        technician=first_job.map(jobs.set_index("job")["technician"].astype(object)),
    )
    made["facts"] = {"closed": closed, "link": link, "cases": cases}


def cohorts(tables, as_of, made):
    facts(tables, as_of, made)
    made["cohort"] = shares(made["facts"]["cases"], "week", [30])


def returns(tables, as_of, made):
    three = [30, 90, 365]
    for group in ["symptom", "technician"]:
        made[group] = [(key, n, *said) for key, n, _, *said
                       in shares(made["facts"]["cases"], group, three)]
    uses = tables["part_use"].merge(made["facts"]["closed"], on="job")
    uses = uses[~uses["outcome"].isin(["declined", "not_reproduced"])
                & (uses["links_from"].isna() | (uses["closed_day"] >= uses["links_from"]))]
    confirmed = tables["part_return"][tables["part_return"]["state"] == "confirmed"]
    day = uses["part_use"].map(confirmed.groupby("part_use")["opened_day"].min())
    event = ((day >= uses["closed_day"]) & (day <= as_of)).to_numpy()
    fitted = ["replaced_new", "replaced_rebuilt", "replaced_used"]
    disposition = uses["disposition"].astype(object)
    uses = uses.assign(
        event=event,
        time=np.where(event, day - uses["closed_day"], as_of - uses["closed_day"]).astype(np.int32),
        disposition=disposition.where(~disposition.isin(fitted), "replaced").astype("category"),
    )
    made["part"] = [(*key, n, *said) for key, n, _, *said
                    in shares(uses, ["part", "disposition", "role"], three)]


def paths(tables, _, made):
    checks = tables["checks"]
    done = (checks["finding"].astype(object) != "not_done").to_numpy()
    measured = (checks["typed_at_close"] == 0).to_numpy()
    of_job = pd.DataFrame({"job": checks["job"], "done": done, "measured": measured})
    walked = of_job.groupby("job").any()
    on_path = checks[done & measured].sort_values(["job", "seq"], kind="stable")
    by_job = on_path.groupby("job")
    walked["path"] = on_path["code"].astype(object).groupby(on_path["job"]).agg(">".join)
    walked["minutes"] = by_job["minutes"].sum(min_count=1)
    labor = tables["labor"]
    diagnosis = labor[labor["activity"] == "diagnosis"].groupby("job")["minutes"].sum()
    closed = made["facts"]["closed"]
    jobs = closed[(closed["kind"] == "complaint") & closed["symptom"].notna()]
    jobs = jobs.merge(walked, left_on="job", right_index=True)
    jobs = jobs[np.where(jobs["done"], jobs["path"].notna(), jobs["measured"])]
    clocked = jobs["job"].map(diagnosis[diagnosis > 0])
    jobs = jobs.assign(minutes=jobs["minutes"].fillna(clocked))
    grouped = jobs.groupby(["symptom", "path"], dropna=False, observed=True)["minutes"]
    found = grouped.agg(["size", "count", "median"])
    made["path"] = [(*key, *row) for key, row in zip(found.index, found.itertuples(index=False))]


def efficiency(tables, _, made):
    closed, link = made["facts"]["closed"], made["facts"]["link"]
    labor = tables["labor"][tables["labor"]["job"].isin(closed["job"])]
    pieces = (labor.groupby(["job", "technician"], observed=True)
              .agg(clock=("minutes", "sum"), day=("started_day", "min")).reset_index())
    pieces["clock"] = pieces["clock"].astype(np.int64)
    clock = pieces.groupby("job")["clock"].sum()
    clock = clock[clock > 0]
    flat = tables["operation"].groupby("job")["flat_rate_hundredths"].sum()
    flat = flat.reindex(clock.index).fillna(0).astype(np.int64)
    flat[flat.index.isin(link["later"])] = 0
    whole = pd.DataFrame({"flat": flat, "whole": clock})
    sums = (whole.merge(closed[["job", "symptom"]], left_index=True, right_on="job")
            .groupby("symptom", dropna=False, observed=True)[["flat", "whole"]].sum())
    made["efficiency-symptom"] = list(sums.itertuples(name=None))
    parts = pieces.merge(whole, left_on="job", right_index=True)
    parts["got"] = parts["flat"] * parts["clock"] // parts["whole"]
    parts["rest"] = parts["flat"] * parts["clock"] % parts["whole"]
    parts["name"] = parts["technician"].astype(object)
    parts = parts.sort_values(["job", "rest", "day", "name"], ascending=[True, False, True, True])
    by_job = parts.groupby("job")
    missing = parts["flat"] - by_job["got"].transform("sum")
    parts["got"] += by_job.cumcount() < missing
    sums = parts.groupby("technician", observed=True)[["got", "clock"]].sum()
    made["efficiency-technician"] = list(sums.itertuples(name=None))
    # Only lines are left.
    del made["facts"]


if __name__ == "__main__":
    run(f"pandas {pd.__version__}, lifelines {lifelines.__version__}", load,
        {"cohorts": cohorts, "returns": returns, "paths": paths, "efficiency": efficiency})
