"""Reports against the sheets that were worked by hand."""

import csv
import re
from decimal import Decimal, InvalidOperation
from pathlib import Path

# What every line of every report says beside its figures, and what differs
# from one record to the next: ids, and where the jobs and definitions are.
HEAD = {"shop": "elm", "as_of": "2027-02-28", "window_days": "14", "currency": "USD"}
# Causes of the two jobs of a comeback are shown beside it; they are no figures.
BESIDE = {*HEAD, "report", "change_no", "select", "job_id", "earlier_cause", "later_cause"}

FOLDER = Path(__file__).resolve().parents[2] / "fixtures" / "month"


def rows(path):
    with path.open(newline="") as lines:
        return list(csv.DictReader(lines))


def number(text):
    try:
        return Decimal(text)
    except InvalidOperation:
        return None


def same(wanted, told):
    """Text is equal to the letter; a number to half the last digit that the
    sheet has."""
    if wanted == told:
        return True
    want, tell = number(wanted), number(told)
    if want is None or tell is None:
        return False
    half = Decimal((0, (5,), want.as_tuple().exponent - 1))
    return abs(want - tell) <= half


def differences(name, sheet, told):
    """What differs, one line each. The column `how` is for people."""
    found = []
    if len(sheet) != len(told):
        found.append(f"{name}: {len(sheet)} lines worked, {len(told)} told")
    for place, (worked, line) in enumerate(zip(sheet, told), start=1):
        first = next(iter(worked.values()))
        columns = {
            column
            for column in line
            if column not in BESIDE and not column.endswith("_definition")
        }
        for column in sorted(columns - worked.keys()):
            found.append(f"{name}: nothing was worked for the column {column}")
        for column, wanted in (worked | HEAD).items():
            if column == "how":
                continue
            value = line.get(column)
            if value is None:
                found.append(f"{name}: the report has no column {column}")
            elif not same(wanted, value):
                found.append(
                    f"{name} line {place} ({first}) {column}: worked {wanted!r}, told {value!r}"
                )
    return found


def unopened(name, sheet, told, jobs):
    """Lines that open to other jobs than those they count. `how` names the
    orders first, one for each job; `jobs` are what a selector opens to."""
    for worked, line in zip(sheet, told):
        named = re.match(r"orders ([\d ]+)", worked["how"])
        if named and line["select"]:
            wanted = sorted(map(int, named[1].split()))
            opened = sorted(int(job["order_no"]) for job in jobs(line["select"]))
            if opened != wanted:
                first = next(iter(worked.values()))
                yield f"{name} ({first}): worked from orders {wanted}, opens to {opened}"


def compare(shop, who):
    """Every sheet against its report: the differences, and how many sheets,
    lines and fields were compared."""
    found, sheets, lines, fields = [], rows(FOLDER / "sheets.csv"), 0, 0

    def jobs(select):
        return shop.table(who, "reportJobs", select=select)

    for entry in sheets:
        query = {key: entry[key] for key in ("by", "week", "table") if entry[key]}
        told = shop.table(who, f"report{entry['report'].capitalize()}", **query)
        sheet = rows(FOLDER / "sheets" / entry["sheet"])
        lines += len(sheet)
        fields += sum(len(line.keys() - {"how"}) for line in sheet)
        found += differences(entry["sheet"], sheet, told)
        found += unopened(entry["sheet"], sheet, told, jobs)
    return found, f"{len(sheets)} sheets, {lines} lines, {fields} fields"
