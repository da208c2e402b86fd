"""Order 21: what is written wrong is put right before the hand-over. Nothing
of the slips is left in a report."""

from datetime import datetime, timedelta

from first_half import complaint


def written_wrong(shop, crew):
    it = shop.write_up(
        crew.theo, "M115", [complaint("brakes.noise", "Squeals when wet", crew.ben)],
        promised_at="2027-02-18T12:00:00-06:00",
    )
    match, _ = shop.tagged(crew.theo, "readOrder", order=it.id)
    later = {"promised_at": "2027-02-18T17:00:00-06:00"}
    shop.call(crew.theo, "changeOrder", later, match, order=it.id)
    helper = {"person_id": crew.cal.id, "worked_as": "helper"}
    shop.call(crew.theo, "assignPerson", helper, job=it.job)
    shop.call(crew.theo, "unassignPerson", job=it.job, person=crew.cal.id)
    checks(crew, it)
    parts(crew, it)
    work(crew, it)
    charges(crew, it)
    # Closed with the wrong outcome.
    it.end(crew.ben, "declined", cause="pad-worn", cause_how="glazed")
    match, _ = shop.tagged(crew.ben, "readJob", job=it.job)
    shop.call(crew.ben, "reopenJob", match=match, job=it.job)
    it.end(crew.ben, "repaired", cause="pad-worn", cause_how="glazed", correction="New pads")
    it.hand_over(crew.theo)
    return it


def checks(crew, it):
    strip = it.check(crew.ben, "brake-strip", "abnormal", 200)
    it.change(crew.ben, "changeCheck", strip, minutes=20)
    it.remove(crew.ben, "removeCheck", it.check(crew.ben, "road-test", "normal", 5))
    it.check(crew.ben, "rotor-runout", "not_done", not_done_reason="discs are new")


def parts(crew, it):
    pads = it.part(
        crew.mara, "PAD-3", "Brake pad set", "replaced_new", "suspect", position="rear",
        supplier="Corner Parts", unit_cost_minor=4400,
    )
    it.change(crew.mara, "changePartUse", pads, position="front", unit_cost_minor=4000)
    clip = it.part(crew.mara, "CLIP-1", "Pad clip", "replaced_new", "bystander")
    it.remove(crew.mara, "removePartUse", clip)


def work(crew, it):
    _, repair, proof = it.work(crew.ben, ("diagnosis", 30), ("repair", 90), ("proof", 10))
    it.remove(crew.ben, "removeLabor", proof)
    stopped = datetime.fromisoformat(repair["ended_at"]) - timedelta(minutes=30)
    it.change(crew.ben, "changeLabor", repair, ended_at=stopped.isoformat())


def charges(crew, it):
    pads = it.charge(crew.theo, "brake-pads", 200, 150, 15000)
    it.change(crew.theo, "changeOperation", pads, payer="maker")
    it.remove(crew.theo, "removeOperation", it.charge(crew.theo, "diagnosis", 50, 50, 6000))
    sent = {"business": "Hartwell Machine", "work": "Turn the discs", "cost_minor": 6000}
    turned = it.shop.call(crew.mara, "addSublet", sent, job=it.job)
    it.remove(crew.mara, "removeSublet", turned)
