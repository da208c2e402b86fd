"""The shop of the month: its clock, its people, and the steps of a visit."""

import os
from datetime import datetime, timedelta, timezone
from pathlib import Path

# America/Chicago keeps standard time all February.
ZONE = timezone(timedelta(hours=-6))
PASSWORD = "month of twenty-eight days"


class Clock:
    """The server's clock, in a file. It never runs backward."""

    def __init__(self, path):
        self.path = Path(path)
        self.now = None

    def at(self, day, time="08:00", month=2):
        hour, minute = map(int, time.split(":"))
        self.move(datetime(2027, month, day, hour, minute, tzinfo=ZONE))

    def move(self, to):
        if self.now is not None and to < self.now:
            return
        self.now = to
        new = self.path.with_suffix(".new")
        new.write_text(to.isoformat())
        os.replace(new, self.path)


class Person:
    def __init__(self, name, sign_in):
        self.name, self.sign_in, self.id = name, sign_in, None
        self.session = (None, None)
        # Where the person's day stands; work is recorded from 08:30 on.
        self.free = None


class Shop:
    def __init__(self, api, clock):
        self.api, self.clock, self.id = api, clock, None
        self.vehicles = {}

    def client(self, who):
        """Signed in anew every day, as people do."""
        today = self.clock.now.date()
        if who.session[0] != today:
            body = {"sign_in_name": who.sign_in, "password": PASSWORD}
            _, made = self.api.call(self.api.anybody(), "signIn", body)
            who.session = (today, self.api.bearer(made["token"]))
        return who.session[1]

    def call(self, who, operation, body=None, match=None, **place):
        """An operation in the shop: what it answers."""
        return self.tagged(who, operation, body, match, **place)[1]

    def tagged(self, who, operation, body=None, match=None, **place):
        """The same with its ETag."""
        headers, answer = self.api.call(
            self.client(who), operation, body, match, shop=self.id, **place
        )
        return headers.get("etag"), answer

    def table(self, who, operation, **query):
        return self.api.table(self.client(who), operation, shop=self.id, **query)

    def add(self, who, person, role):
        body = {
            "name": person.name,
            "role": role,
            "sign_in_name": person.sign_in,
            "password": PASSWORD,
        }
        person.id = self.call(who, "addPerson", body)["id"]

    def write_up(self, who, plate, jobs, **order):
        """A visit: a known vehicle, or one that is described."""
        known = self.vehicles.get(plate)
        body = {"jobs": jobs, **order}
        body |= {"vehicle_id": known} if known else {"vehicle": {"plate": plate}}
        made = self.call(who, "openOrder", body)
        self.vehicles[plate] = made["vehicle"]["id"]
        return Visit(self, made)

    def attended(self, who, person, day, minutes):
        self.call(
            who,
            "setAttendance",
            {"attended_minutes": minutes},
            person=person.id,
            day=f"2027-02-{day:02}",
        )

    def decide(self, who, job, earlier, confirm, reason):
        """The manager's word on one proposed comeback of a job."""
        proposed = self.call(who, "readJob", job=job)["comebacks"]
        link = next(c for c in proposed if c["earlier_job_id"] == earlier)
        match, _ = self.tagged(who, "readComeback", comeback=link["id"])
        body = {"confirm": confirm, "reason": reason}
        self.call(who, "decideComeback", body, match, comeback=link["id"])


class Visit:
    """A repair order and the work on it."""

    def __init__(self, shop, order):
        self.shop, self.id, self.number = shop, order["id"], order["order_no"]
        self.jobs = [job["id"] for job in order["jobs"]]

    @property
    def job(self):
        return self.jobs[0]

    def add_job(self, who, job):
        self.jobs.append(self.shop.call(who, "addJob", job, order=self.id)["id"])

    def check(self, who, code, finding, minutes=None, **more):
        body = {"code": code, "finding": finding, **more}
        if minutes is not None:
            body["minutes"] = minutes
        return self.shop.call(who, "addCheck", body, job=self.job)

    def part(self, who, part_no, name, disposition, role, **more):
        body = {
            "part_no": part_no,
            "name": name,
            "disposition": disposition,
            "role": role,
            **more,
        }
        return self.shop.call(who, "addPartUse", body, job=self.job)

    def charge(self, who, code, flat_rate, billed, amount, payer="customer", job=None):
        """Hours in hundredths, money in cents."""
        body = {
            "code": code,
            "flat_rate_hundredths": flat_rate,
            "billed_hundredths": billed,
            "labor_amount_minor": amount,
            "payer": payer,
        }
        return self.shop.call(who, "addOperation", body, job=job or self.job)

    def work(self, who, *stretches, **more):
        """Stretches of the day's work, one after the other: their entries."""
        entries = []
        start = self.shop.clock.now.replace(hour=8, minute=30)
        if who.free is None or who.free < start:
            who.free = start
        for activity, minutes in stretches:
            ended = who.free + timedelta(minutes=minutes)
            self.shop.clock.move(ended)
            body = {
                "activity": activity,
                "started_at": who.free.isoformat(),
                "ended_at": ended.isoformat(),
                **more,
            }
            entries.append(self.shop.call(who, "startLabor", body, job=self.job))
            who.free = ended
        return entries

    def prove(self, who, passed, **more):
        body = {"how": "road_test", "passed": passed, **more}
        self.shop.call(who, "addProof", body, job=self.job)

    def change(self, who, operation, line, **fields):
        """A line that was written wrong, put right."""
        match, _ = self.shop.tagged(who, "readJob", job=self.job)
        return self.shop.call(who, operation, fields, match, job=self.job, id=line["id"])

    def remove(self, who, operation, line):
        self.shop.call(who, operation, job=self.job, id=line["id"])

    def end(self, who, outcome, job=None, **closing):
        job = job or self.job
        match, _ = self.shop.tagged(who, "readJob", job=job)
        self.shop.call(who, "closeJob", {"outcome": outcome, **closing}, match, job=job)

    def hand_over(self, who, **more):
        match, _ = self.shop.tagged(who, "readOrder", order=self.id)
        self.shop.call(who, "handOver", more, match, order=self.id)
