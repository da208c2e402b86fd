"""Reports over HTTP after one more closed job, and the first byte of the weekly
page, on a copy of a record.

    python3 reports.py PROGRAM DATA_FOLDER [ROUNDS]

A round opens an order through the API, closes its job and hands the vehicle over,
then asks for each report as of today once: the job must be in its counts.
"""

import http.client
import json
import re
import shutil
import subprocess
import sys
import tempfile
import time
import uuid
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

PASSWORD = "demo four sycamores"
REPORTS = ["comebacks?by=symptom", "comebacks?by=technician", "reuse", "paths",
           "labor?by=technician", "labor?by=symptom", "weekly", "compare?by=technician", "checks",
           "repeats", "pattern", "bench", "warnings"]


class Client:
    def __init__(self, address):
        self.host = address.removeprefix("http://").rstrip("/")
        self.conn = http.client.HTTPConnection(self.host)
        self.token = self.cookie = None

    def ask(self, method, path, body=None, **headers):
        """Status, head, body, milliseconds to the first byte."""
        if self.token and path.startswith("/api"):
            headers["authorization"] = f"Bearer {self.token}"
        if self.cookie:
            headers["cookie"] = self.cookie
        if isinstance(body, dict):
            body = json.dumps(body)
            headers["content-type"] = "application/json"
        begun = time.perf_counter()
        self.conn.request(method, path, body, headers)
        answer = self.conn.getresponse()
        took = (time.perf_counter() - begun) * 1000
        return answer.status, answer.headers, answer.read(), took

    def made(self, path, body, **headers):
        status, _, answer, _ = self.ask("POST", path, body,
                                        **{"idempotency-key": str(uuid.uuid4()), **headers})
        assert status < 300, (path, status, answer)
        return json.loads(answer)


def spread(took):
    took = sorted(took)
    return {"median_ms": took[len(took) // 2], "p99_ms": took[(len(took) - 1) * 99 // 100],
            "max_ms": took[-1]}


def closed_jobs(client, shop, today):
    status, _, body, _ = client.ask("GET", f"/api/v1/shops/{shop}/reports/labor?as_of={today}")
    assert status == 200, body
    return json.loads(body)["total"]["count"]


def close_one(client, shop, number):
    base = f"/api/v1/shops/{shop}"
    order = client.made(f"{base}/orders", {
        "vehicle": {"plate": f"RP{number:06}"},
        "jobs": [{"symptom": "engine.stalls", "complaint": "it dies at the lights"}]})
    job = order["jobs"][0]["id"]
    client.made(f"{base}/jobs/{job}/closure", {
        "outcome": "repaired", "cause": "air-filter", "cause_how": "reading",
        "correction": "replaced",
        "checks": [{"code": "read-codes", "finding": "normal", "minutes": 8}]},
        **{"if-match": '"1"'})
    status, head, _, _ = client.ask("GET", f"{base}/orders/{order['id']}")
    client.made(f"{base}/orders/{order['id']}/closure", {}, **{"if-match": head["etag"]})


def main():
    program, data = sys.argv[1:3]
    rounds = int(sys.argv[3]) if len(sys.argv) > 3 else 30
    with tempfile.TemporaryDirectory(prefix="reports-") as folder:
        copy = Path(folder) / "data"
        shutil.copytree(data, copy)
        server = subprocess.Popen([program, "serve", "--data", copy, "--listen", "127.0.0.1:0"],
                                  stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
        try:
            measure(re.search(r"http://\S+", server.stdout.readline()).group(), rounds)
        finally:
            server.terminate()
            server.wait()


def measure(address, rounds):
    client = Client(address)
    while True:
        told = json.loads(client.ask("GET", "/readyz")[2])["reports"]
        if told["ready"] == told["of"]:
            break
        time.sleep(0.1)
    client.token = client.made("/api/v1/sessions",
                               {"sign_in_name": "piotr", "password": PASSWORD})["token"]
    shop = json.loads(client.ask("GET", "/api/v1/shops")[2])["items"][0]
    today = datetime.now(ZoneInfo(shop["time_zone"])).date()
    took = {name: [] for name in REPORTS}
    missing = 0
    for number in range(rounds):
        for place, name in enumerate(REPORTS):
            before = closed_jobs(client, shop["id"], today)
            close_one(client, shop["id"], number * len(REPORTS) + place)
            join = "&" if "?" in name else "?"
            status, _, body, spent = client.ask(
                "GET", f"/api/v1/shops/{shop['id']}/reports/{name}{join}as_of={today}")
            assert status == 200, (name, body)
            took[name].append(spent)
            missing += closed_jobs(client, shop["id"], today) != before + 1
    status, head, _, _ = client.ask(
        "POST", "/sign-in", "sign_in_name=piotr&password=" + PASSWORD.replace(" ", "+"),
        **{"content-type": "application/x-www-form-urlencoded", "sec-fetch-site": "same-origin",
           "origin": address.rstrip("/")})
    client.cookie = head["set-cookie"].split(";")[0]
    pages = []
    for number in range(rounds):
        close_one(client, shop["id"], 900_000 + number)
        status, _, body, spent = client.ask("GET", f"/shops/{shop['code']}/week")
        assert status == 200, (status, body[:300])
        pages.append(spent)
    print(json.dumps({"rounds": rounds, "missing": missing, "week_page": spread(pages),
                      "reports": {name: spread(one) for name, one in took.items()}}, indent=1))


if __name__ == "__main__":
    main()
