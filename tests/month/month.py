"""A month of a shop, through the API alone, by the client that
openapi-python-client makes of the API document. At its end every report is
held against the sheets in fixtures/month, line by line.

    month.py http://127.0.0.1:8437 CLOCK_FILE

The server runs with --clock-file CLOCK_FILE on an empty record in which the
administrator "office" was added."""

import sys

import first_half
import second_half
import sheets
from api import Api
from shop import Clock, Person, Shop

ATTENDED_MINUTES = {"ana": 240, "ben": 240, "cal": 120}
WORKING_DAYS = [day for week in (1, 8, 15, 22) for day in range(week, week + 5)]


class Crew:
    office = Person("Office", "office")
    mara = Person("Mara Quill", "mara")
    theo = Person("Theo Brandt", "theo")
    rhea = Person("Rhea Stone", "rhea")
    ana = Person("Ana Reyes", "ana")
    ben = Person("Ben Okoro", "ben")
    cal = Person("Cal Dunn", "cal")


def found_shop(shop, crew):
    """The administrator makes the shop, the manager her people."""
    office = shop.client(crew.office)
    _, made = shop.api.call(
        office,
        "makeShop",
        {
            "code": "elm",
            "name": "Elm Street Garage",
            "time_zone": "America/Chicago",
            "currency": "USD",
            "labor_cost_minor": 4800,
            "posted_rate_minor": 12000,
            "window_days": 14,
            "week_start": 1,
        },
    )
    shop.id = made["id"]
    match, _ = shop.tagged(crew.office, "readShop")
    rest_of_a_return = {
        "return_diagnosis_minor": 3000,
        "return_proof_minor": 1000,
        "return_transport_minor": 2000,
        "return_bay_minor": 4000,
    }
    shop.call(crew.office, "changeShop", rest_of_a_return, match)
    shop.add(crew.office, crew.mara, "service_manager")
    shop.add(crew.mara, crew.theo, "adviser")
    shop.add(crew.mara, crew.rhea, "adviser")
    for technician in (crew.ana, crew.ben, crew.cal):
        shop.add(crew.mara, technician, "technician")
    # The owner keeps no front desk: she reads.
    shop.call(crew.office, "grantRole", {"role": "owner"}, person=crew.rhea.id)
    shop.call(crew.office, "takeRole", person=crew.rhea.id, role="adviser")
    shop.call(
        crew.mara,
        "addCode",
        {"list": "symptom", "code": "engine.clicking", "label": "Clicks from the top"},
    )


def attendance(shop, crew):
    for day in WORKING_DAYS:
        for sign_in, minutes in ATTENDED_MINUTES.items():
            shop.attended(crew.mara, getattr(crew, sign_in), day, minutes)
    # Nobody came on the Saturday.
    shop.attended(crew.mara, crew.cal, 20, 120)
    shop.call(crew.mara, "removeAttendance", person=crew.cal.id, day="2027-02-20")


def main():
    base, clock_file = sys.argv[1:]
    crew = Crew()
    clock = Clock(clock_file)
    clock.at(1, "07:00")
    shop = Shop(Api(base), clock)
    found_shop(shop, crew)
    visits = first_half.weeks(shop, crew)
    second_half.weeks(shop, crew, visits)
    clock.at(26, "18:00")
    attendance(shop, crew)
    clock.at(1, "09:00", month=3)
    # The reports as typed answers, too.
    report = shop.call(crew.mara, "reportComebacks", by="symptom")
    assert report["head"]["as_of"] == "2027-02-28", report["head"]
    assert shop.call(crew.rhea, "reportLabor")["head"]["shop"] == "elm"
    found, compared = sheets.compare(shop, crew.mara)
    for difference in found:
        print(difference)
    print(f"{compared}: {len(found)} differences")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
