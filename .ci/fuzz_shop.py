"""Prepares records of the demo shop for one role's requests.

fuzz_shop.py BASE ROLE FOLDER writes there the role's token and two settings:
alone/schemathesis.toml with ids for every path, and linked/schemathesis.toml
with the shop's only, where one answer's ids are the next request's.
"""

import datetime
import json
import secrets
import sys
import urllib.error
import urllib.request
from pathlib import Path

PASSWORD = "demo four sycamores"
# Of an account made here: words of the shop's own name are refused.
ANOTHER = "lamp river seven chair"
SIGN_INS = {
    "technician": "mirela",
    "adviser": "wren",
    "manager": "piotr",
    "owner": "adaeze",
    "administrator": "office",
}


YESTERDAY = (datetime.datetime.now(datetime.UTC) - datetime.timedelta(days=1)).date().isoformat()
# Which of the shop's own words a field of a body takes, four times in five.
BOUND = {
    "body.symptom": "symptom",
    "body.jobs[*].symptom": "symptom",
    "body.items[*].jobs[*].symptom": "symptom",
    "body.cause": "cause",
    "body.lead_id": "people",
    "body.person_id": "people",
    "body.supervisor_id": "people",
    "body.vehicle_id": "vehicles",
    "body.earlier_job_id": "jobs",
    "body.later_job_id": "jobs",
    "body.into": "check",
}
BOUND_IN = {
    "addCheck": {"body.code": "check"},
    "decideComeback": {"body.reason": "comeback_reason"},
    "tellOutsideReturn": {"body.reason": "comeback_reason"},
}


class Person:
    def __init__(self, base, sign_in_name, password=PASSWORD):
        self.base, self.token = base, None
        self.token = self.post("sessions", {"sign_in_name": sign_in_name, "password": password})["token"]

    def ask(self, method, path, body=None, **headers):
        request = urllib.request.Request(f"{self.base}/api/v1/{path}", method=method)
        if self.token:
            request.add_header("authorization", f"Bearer {self.token}")
        if method == "POST" and self.token:
            request.add_header("idempotency-key", secrets.token_hex(8))
        for name, value in headers.items():
            request.add_header(name.replace("_", "-"), value)
        data = None
        if body is not None:
            request.add_header("content-type", "application/json")
            data = json.dumps(body).encode()
        try:
            with urllib.request.urlopen(request, data) as answer:
                return json.load(answer), answer.headers.get("etag")
        except urllib.error.HTTPError as refused:
            sys.exit(f"{method} {path}: {refused.code} {refused.read().decode()}")

    def get(self, path):
        return self.ask("GET", path)[0]

    def post(self, path, body=None, **headers):
        return self.ask("POST", path, body, **headers)[0]


def lines_of(manager, job, helper):
    """Two of each line of a job: one to change, one to remove."""
    bodies = {
        "checks": {"code": "read-codes", "finding": "normal", "minutes": 8},
        "parts": {"name": "idle air valve", "disposition": "cleaned_reused", "role": "suspect"},
        "operations": {"code": "idle-air-valve", "flat_rate_hundredths": 80, "billed_hundredths": 80},
        "labor": {
            "activity": "diagnosis",
            "person_id": helper,
        },
        "sublets": {"business": "the machine shop", "work": "pressure test", "cost_minor": 9000},
    }
    made = {"waits": [manager.post(f"{job}/waits", {"waiting_for": "part"})["id"]]}
    for kind, body in bodies.items():
        made[kind] = []
        for hour in (15, 17):
            if kind == "labor":
                body = {**body, "started_at": f"{YESTERDAY}T{hour}:00:00Z", "ended_at": f"{YESTERDAY}T{hour}:30:00Z"}
            made[kind].append(manager.post(f"{job}/{kind}", body)["id"])
    return made


def records(base, role):
    """Path parameters for every operation, and those that some need else."""
    manager, me = Person(base, SIGN_INS["manager"]), Person(base, SIGN_INS[role])
    shop = manager.get("me")["shops"][0]["id"]
    at = f"shops/{shop}"
    name = f"{role}{secrets.token_hex(4)}"
    account = {"name": name, "role": "technician", "sign_in_name": name, "password": ANOTHER}
    person = manager.post(f"{at}/people", account)["id"]
    visitor = Person(base, name, ANOTHER)

    complaint = {"complaint": "idles rough", "symptom": "engine.idle-rough"}

    def order(**more):
        more = more or {"vehicle": {"plate": secrets.token_hex(3)}}
        made = manager.post(f"{at}/orders", {"jobs": [complaint], **more})
        return made["id"], made["jobs"][0]["id"], made["vehicle_id"]

    def end(kind, record, body):
        seen = manager.ask("GET", f"{at}/{kind}/{record}")[1]
        manager.post(f"{at}/{kind}/{record}/closure", body, If_Match=seen)

    def closed(**more):
        made = order(**more)
        repaired = {"outcome": "repaired", "cause": "throttle-dirty", "correction": "cleaned"}
        end("jobs", made[1], repaired)
        return made

    working, job, vehicle = order()
    line = lines_of(manager, f"{at}/jobs/{job}", person)
    manager.post(f"{at}/jobs/{job}/people", {"person_id": person, "worked_as": "helper"})
    back, earlier, same = closed()
    end("orders", back, {})
    later = order(vehicle_id=same)[1]
    comeback = manager.get(f"{at}/jobs/{later}")["comebacks"][0]["id"]
    today = manager.get(f"{at}/orders/{back}")["closed_on"]
    pay = {"supplier": "the parts house", "amount_minor": 4150, "paid_on": today}
    pay_back = manager.post(f"{at}/jobs/{earlier}/pay-backs", pay)["id"]
    to_close, done = order()[1], closed()
    code = f"tried-{secrets.token_hex(4)}"
    manager.post(f"{at}/codes", {"list": "check", "code": code, "label": f"Tried {code}"})
    to_merge = f"merged-{secrets.token_hex(4)}"
    manager.post(f"{at}/codes", {"list": "check", "code": to_merge, "label": f"Merged {to_merge}"})
    # A second session of the same person: ending the one the run uses would
    # end the run.
    Person(base, SIGN_INS[role])
    beside = next(it["id"] for it in me.get("me/sessions")["items"] if not it["current"])
    path = {
        "shop": shop,
        "order": working,
        "job": job,
        "vehicle": vehicle,
        "comeback": comeback,
        # Somebody else than who asks: who disabled themselves would be out.
        "person": person,
        "role": "adviser",
        "day": YESTERDAY,
        "list": "check",
        "code": code,
        "session": beside,
        "token": me.post("me/tokens", {"name": "tried", "scope": "read"})["id"],
        "tablet": manager.post(f"{at}/tablets", {"name": f"bay {name}"})["id"],
    }
    visitors = manager.get(f"{at}/people/{person}/sessions")["items"]
    assert visitor.token and visitors
    other = {
        "endPersonSession": {"session": visitors[0]["id"]},
        "revokeToken": {"token": manager.post("me/tokens", {"name": "tried", "scope": "read"})["id"]},
        "mergeCode": {"code": to_merge},
        # What these end, others still write to.
        "closeJob": {"job": to_close},
        "reopenJob": {"job": to_close},
        "handOver": {"order": done[0]},
        "voidOrder": {"order": order()[0]},
        # These ask for a job that was handed over.
        "tellOutsideReturn": {"job": earlier},
        "withdrawOutsideReturn": {"job": earlier},
        "addPayBack": {"job": earlier},
        "removePayBack": {"job": earlier, "id": pay_back},
        "endWait": {"id": line["waits"][0]},
        "stopLabor": {"id": line["labor"][0]},
    }
    for kind, of in [("checks", "Check"), ("parts", "PartUse"), ("operations", "Operation"),
                     ("labor", "Labor"), ("sublets", "Sublet")]:
        other[f"change{of}"] = {"id": line[kind][0]}
        other[f"remove{of}"] = {"id": line[kind][1]}
    words = {
        kind: [it["code"] for it in manager.get(f"{at}/codes?list={kind}")["items"][:20]]
        for kind in ("symptom", "cause", "check", "comeback_reason")
    }
    words["people"] = [it["id"] for it in manager.get(f"{at}/people")["items"]]
    words["jobs"] = [job, earlier, later]
    words["vehicles"] = [vehicle, same]
    return me.token, path, other, words


def settings(path, other, words):
    # Control characters in a header never reach the program: its HTTP library
    # refuses the bytes with a bare 400 (RFC 9110, section 5.5).
    controls = "".join(f"\\u{byte:04x}" for byte in [*range(32), 127])

    def bind(fields):
        return [f'"{field}" = {{ dictionary = "{name}", probability = 0.8 }}' for field, name in fields.items()]

    def fix(values):
        return [f'"path.{name}" = "{value}"' for name, value in values.items()]

    common = ["[generation]", f'exclude-header-characters = "{controls}"', 'database = "none"']
    for name, values in words.items():
        common += [f"[dictionaries.{name}]", f"values = {json.dumps(values)}"]
    common += ["[parameters]", *bind(BOUND)]
    alone, linked = common + fix(path), common + fix({"shop": path["shop"]})
    for operation in [*other, *(set(BOUND_IN) - set(other))]:
        own = fix({**path, **other.get(operation, {})}) + bind({**BOUND, **BOUND_IN.get(operation, {})})
        alone += ["[[operations]]", f'include-operation-id = "{operation}"', f"parameters = {{ {', '.join(own)} }}"]
    return {"alone": alone, "linked": linked}


def main(base, role, folder):
    token, *rest = records(base, role)
    (Path(folder) / "token").write_text(token)
    for name, lines in settings(*rest).items():
        (Path(folder) / name).mkdir()
        (Path(folder) / name / "schemathesis.toml").write_text("\n".join(lines) + "\n")


main(*sys.argv[1:])
