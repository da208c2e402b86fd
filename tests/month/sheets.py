"""Reports against the sheets that were worked by hand."""

import csv
from decimal import Decimal, InvalidOperation
from pathlib import Path

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
        for column, wanted in worked.items():
            if column == "how":
                continue
            value = line.get(column)
            if value is None:
                found.append(f"{name}: the report has no column {column}")
            elif not same(wanted, value):
                first = next(iter(worked.values()))
                found.append(
                    f"{name} line {place} ({first}) {column}: worked {wanted!r}, told {value!r}"
                )
    return found


def compare(shop, who):
    """Every sheet against its report: the differences, and how many lines
    were compared."""
    found, lines = [], 0
    for entry in rows(FOLDER / "sheets.csv"):
        query = {key: entry[key] for key in ("by", "week", "table") if entry[key]}
        told = shop.table(who, f"report{entry['report'].capitalize()}", **query)
        sheet = rows(FOLDER / "sheets" / entry["sheet"])
        lines += len(sheet)
        found += differences(entry["sheet"], sheet, told)
    return found, lines
