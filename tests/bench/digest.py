"""What the other engines have in common: the tables, the clock, the lines of
figures.md."""

import json
import sys
import time
from datetime import date, timedelta
from pathlib import Path
from statistics import median

TABLES = ["shop", "job", "comeback", "planned_visit", "told", "checks", "part_use",
          "part_return", "labor", "operation"]
EPOCH = date(1970, 1, 1)


def day_number(text):
    return (date.fromisoformat(text) - EPOCH).days


def text(value):
    if value is None or value != value:
        return "-"
    return str(value).replace("\t", " ").replace("\n", " ")


def whole(value):
    return "-" if value is None else str(int(value))


def share(value):
    return "-" if value is None or value != value else f"{value:.9f}"


def minutes(value):
    return "-" if value is None or value != value else f"{value:.2f}"


def week(day):
    return str(EPOCH + timedelta(days=int(day)))


# How the fields of each kind of line are written.
FORMS = {
    "cohort": [week, whole, whole, share],
    "symptom": [text, whole, share, share, share],
    "technician": [text, whole, share, share, share],
    "part": [text, text, text, whole, share, share, share],
    "path": [text, text, whole, whole, minutes],
    "efficiency-technician": [text, whole, whole],
    "efficiency-symptom": [text, whole, whole],
}


def lines(figures):
    made = []
    for kind, rows in figures.items():
        for row in rows:
            fields = [form(value) for form, value in zip(FORMS[kind], row, strict=True)]
            made.append("\t".join([kind, *fields]).encode() + b"\n")
    return b"".join(sorted(made))


def run(engine, load, steps):
    """`steps` are functions of (tables, as_of, made) by name; each puts its
    kinds of rows into `made`. Prints times as JSON, writes the digest."""
    folder, as_of, out, times = Path(sys.argv[1]), day_number(sys.argv[2]), sys.argv[3], int(sys.argv[4])
    tables = load({name: str(folder / f"{name}.parquet") for name in TABLES})
    spent = {name: [] for name in steps}
    totals = []
    for _ in range(times):
        made, begun = {}, time.perf_counter()
        for name, step in steps.items():
            start = time.perf_counter()
            step(tables, as_of, made)
            spent[name].append(time.perf_counter() - start)
        totals.append(time.perf_counter() - begun)
    Path(out).write_bytes(lines(made))
    print(json.dumps({
        "engine": engine, "runs": times, "seconds": median(totals), "least": min(totals),
        "most": max(totals), "steps": {name: median(one) for name, one in spent.items()},
    }))
