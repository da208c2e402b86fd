"""The last two weeks of the month, 15 to 28 February 2027."""

import put_right
from api import Refused
from first_half import complaint


def monday_15(shop, crew, visits):
    shop.clock.at(15)
    second = {"second_visit_of_job_id": visits[11].job}
    it = visits[17] = shop.write_up(
        crew.theo, "M110", [complaint("brakes.noise", "As planned", crew.ben, **second)]
    )
    # What was planned is not a comeback.
    job = shop.call(crew.theo, "readJob", job=it.job)
    assert job["comebacks"] == [] and job["second_visit_of_job_id"] == visits[11].job, job
    it.check(crew.ben, "rotor-runout", "normal", 20)
    it.part(
        crew.mara, "DISC-17", "Brake disc", "replaced_new", "suspect", position="front",
        quantity_hundredths=200, unit_cost_minor=4500, unit_price_minor=7500,
    )
    it.part(
        crew.ben, "SENS-17", "Wheel speed sensor", "removed_refitted", "bystander",
        position="front left",
    )
    it.work(
        crew.ben, ("access", 30), ("repair", 60), ("reassembly", 30), ("proof", 30)
    )
    it.prove(crew.ben, True)
    it.charge(crew.theo, "brake-discs", 250, 250, 30000)
    it.end(
        crew.ben, "repaired", cause="rotor-out-of-true", cause_how="0.2 mm", correction="New discs"
    )
    it.hand_over(crew.theo)


def tuesday_16(shop, crew, visits):
    shop.clock.at(16)
    it = visits[18] = shop.write_up(
        crew.theo, "M101", [complaint("engine.tick", "Taps a third time", crew.ana)]
    )
    it.check(crew.ana, "stethoscope", "abnormal", 10)
    it.check(crew.ana, "lifter-leak-down", "abnormal", 20)
    it.part(
        crew.mara, "LIFT-1", "Valve lifter", "replaced_new", "suspect", position="cylinder 3",
        quantity_hundredths=200, unit_cost_minor=3000,
    )
    it.work(crew.ana, ("diagnosis", 30), ("access", 60), ("repair", 30), ("reassembly", 60))
    it.charge(crew.theo, "lifter-service", 250, 250, 0, "own_guarantee")
    it.end(
        crew.ana, "repaired", cause="lifter-worn", cause_how="seen, scored",
        cause_position="cylinder 3", correction="Two lifters replaced",
    )
    it.hand_over(crew.theo)
    # The part came back for both earlier visits; the visit for the latest.
    shop.decide(crew.mara, it.job, visits[1].job, False, "not-yet-known")
    shop.decide(crew.mara, it.job, visits[9].job, True, "part-reused-failed")
    wrong = visits[19] = shop.write_up(
        crew.theo, "M114", [complaint("engine.tick", "Written up twice", crew.ana)]
    )
    match, _ = shop.tagged(crew.theo, "readOrder", order=wrong.id)
    void = shop.call(crew.theo, "voidOrder", {"reason": "Written up twice"}, match, order=wrong.id)
    assert void["status"] == "void" and void["order_no"] == "19", void


def wednesday_17(shop, crew, visits):
    shop.clock.at(17)
    second = {"second_visit_of_job_id": visits[10].job}
    it = visits[20] = shop.write_up(
        crew.theo,
        "M109",
        [complaint("cooling.coolant-loss", "The hose is here", crew.ben, **second)],
    )
    it.check(crew.ben, "cooling-pressure", "abnormal", 10)
    it.work(crew.ben, ("repair", 60))


def thursday_18(shop, crew, visits):
    shop.clock.at(18)
    hose = visits[20]
    hose.part(
        crew.mara, "HOSE-20", "Radiator hose", "replaced_new", "suspect", position="upper",
        unit_cost_minor=1500, unit_price_minor=3000,
    )
    hose.charge(crew.theo, "hose", 100, 100, 12000)
    hose.end(crew.ben, "repaired", cause="hose-or-cap", cause_how="split", correction="New hose")
    hose.hand_over(crew.theo)
    visits[21] = put_right.written_wrong(shop, crew)


def friday_19(shop, crew, visits):
    shop.clock.at(19)
    first = visits[15].job
    it = visits[22] = shop.write_up(
        crew.theo,
        "M113",
        [complaint("engine.idle-rough", "Hunts again", crew.ana, in_before_job_id=first)],
    )
    # Started and stopped by the clock this time.
    entry = shop.call(crew.ana, "startLabor", {"activity": "diagnosis"}, job=it.job)
    shop.clock.at(19, "08:30")
    shop.call(crew.ana, "stopLabor", job=it.job, id=entry["id"])
    it.work(crew.ana, ("repair", 30))
    it.part(
        crew.mara, "IAV-2", "Idle air valve", "replaced_new", "suspect",
        supplier="Corner Parts", lot="L8", unit_cost_minor=5000,
    )
    it.charge(crew.theo, "idle-valve", 100, 100, 10000, "supplier")
    it.end(
        crew.ana, "repaired", cause="part-defective-new", cause_how="sticks on the bench",
        correction="Another new valve",
    )
    it.hand_over(crew.theo)
    shop.decide(crew.mara, it.job, first, True, "part-defective")
    back = {"supplier": "Corner Parts", "amount_minor": 5000, "paid_on": "2027-02-19"}
    twice = [shop.call(crew.mara, "addPayBack", back, job=it.job) for _ in range(2)]
    it.remove(crew.mara, "removePayBack", twice[1])


def saturday_20(shop, crew, visits):
    shop.clock.at(20, "10:00")
    match, _ = shop.tagged(crew.theo, "readVehicle", vehicle=shop.vehicles["M112"])
    sold = {"sold_on": "2027-02-20", "sold_note": "to a neighbor"}
    shop.call(crew.theo, "changeVehicle", sold, match, vehicle=shop.vehicles["M112"])
    reset = {
        "reset_on": "2027-02-20", "reading_before": 182350, "reading_after": 0,
        "odometer_unit": "km", "note": "instrument cluster replaced",
    }
    shop.call(crew.theo, "resetOdometer", reset, vehicle=shop.vehicles["M102"])


def monday_22(shop, crew, visits):
    shop.clock.at(22)
    it = visits[23] = shop.write_up(
        crew.theo,
        "M102",
        [{"kind": "maintenance", "complaint": "Learn the new cluster", "lead_id": crew.ana.id}],
        odometer_in=45,
    )
    order = shop.call(crew.theo, "readOrder", order=it.id)
    assert order["odometer_warning"] is None, order
    it.work(crew.ana, ("repair", 30))
    it.charge(crew.theo, "cluster-learn", 50, 50, 6000)
    it.end(crew.ana, "repaired", correction="Learned")
    it.hand_over(crew.theo)


def tuesday_23(shop, crew, visits):
    shop.clock.at(23)
    it = visits[24] = shop.write_up(
        crew.theo, "M117", [complaint("engine.tick", "A noise up front", crew.ana)]
    )
    it.check(crew.ana, "stethoscope", "abnormal", 20)
    it.part(
        crew.mara, "MNT-24", "Engine mount", "replaced_new", "suspect", position="right",
        unit_cost_minor=6000, unit_price_minor=11000,
    )
    it.work(crew.ana, ("diagnosis", 30), ("access", 15), ("repair", 30), ("reassembly", 15))
    it.charge(crew.theo, "diagnosis", 50, 50, 6000)
    mount = it.charge(crew.theo, "engine-mount", 100, 100, 12000)
    it.end(
        crew.ana, "repaired", cause="mount-broken", cause_how="seen, torn", correction="New mount"
    )
    it.hand_over(crew.theo)
    return mount


def correction(shop, crew, visits, mount):
    """After the hand-over the manager puts right what was written wrong: the
    symptom and the hours. A technician may not."""
    shop.clock.at(23, "17:00")
    job = visits[24].job
    match, _ = shop.tagged(crew.ana, "readJob", job=job)
    try:
        shop.call(crew.ana, "changeJob", {"symptom": "engine.knock"}, match, job=job)
        raise AssertionError("a technician changed a job that was handed over")
    except Refused as refused:
        assert refused.status in (403, 409), refused
    match, _ = shop.tagged(crew.mara, "readJob", job=job)
    shop.call(crew.mara, "changeJob", {"symptom": "engine.knock"}, match, job=job)
    match, _ = shop.tagged(crew.mara, "readJob", job=job)
    hours = {
        "flat_rate_hundredths": 150, "billed_hundredths": 150, "labor_amount_minor": 18000,
    }
    shop.call(crew.mara, "changeOperation", hours, match, job=job, id=mount["id"])
    corrected = shop.call(crew.mara, "readJob", job=job)
    assert corrected["corrected_at"] is not None, corrected
    changes = shop.call(crew.mara, "listAudit", job_id=job)["items"]
    assert any(change["correction"] for change in changes), changes


def wednesday_24(shop, crew, visits):
    shop.clock.at(24)
    it = visits[25] = shop.write_up(
        crew.theo, "M108", [complaint("engine.tick", "Taps, softly", crew.ben)]
    )
    it.part(
        crew.ben, "LIFT-1", "Valve lifter", "adjusted_reused", "suspect", position="cylinder 5"
    )
    it.work(crew.ben, ("diagnosis", 30), ("repair", 90))
    it.charge(crew.theo, "lifter-service", 150, 150, 18000)
    it.check(crew.ben, "stethoscope", "abnormal", typed_at_close=True)
    it.end(
        crew.ben, "repaired", cause="wrong-adjustment", cause_how="clearance 0.5 mm",
        correction="Adjusted",
    )
    it.hand_over(crew.theo)
    shop.decide(crew.mara, it.job, visits[8].job, False, "new-fault")


def thursday_25(shop, crew, visits):
    shop.clock.at(25)
    it = visits[26] = shop.write_up(
        crew.theo, "M103", [complaint("brakes.noise", "Grinds again", crew.ben)]
    )
    # Left open and undecided over the end of the month.
    it.work(crew.ben, ("diagnosis", 30))


def friday_26(shop, crew, visits):
    shop.clock.at(26)
    codes = shop.call(crew.mara, "listCodes", list="check")["items"]
    label = {"label": "Listen by stethoscope"}
    version = next(c["version"] for c in codes if c["code"] == "stethoscope")
    shop.call(crew.mara, "changeCode", label, f'"{version}"', list="check", code="stethoscope")
    version = next(c["version"] for c in codes if c["code"] == "glow-current")
    retired = {"retired": True}
    shop.call(crew.mara, "changeCode", retired, f'"{version}"', list="check", code="glow-current")
    try:
        visits[26].check(crew.ben, "glow-current", "normal", 5)
        raise AssertionError("a retired check was taken for new work")
    except Refused as refused:
        assert refused.status == 422 and "/code" in refused.text, refused
    shop.call(
        crew.mara, "mergeCode", {"into": "engine.tick"}, list="symptom", code="engine.clicking"
    )


def weeks(shop, crew, visits):
    monday_15(shop, crew, visits)
    tuesday_16(shop, crew, visits)
    wednesday_17(shop, crew, visits)
    thursday_18(shop, crew, visits)
    friday_19(shop, crew, visits)
    saturday_20(shop, crew, visits)
    monday_22(shop, crew, visits)
    mount = tuesday_23(shop, crew, visits)
    correction(shop, crew, visits, mount)
    wednesday_24(shop, crew, visits)
    thursday_25(shop, crew, visits)
    friday_26(shop, crew, visits)
    for number, visit in visits.items():
        assert visit.number == str(number), (visit.number, number)
