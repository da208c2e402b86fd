// The last two weeks of the month, 15 to 28 February 2027.

import { type Morning, type Visits, complaint, visit } from "./first_half";
import type { Crew } from "./month";
import { writtenWrong } from "./put_right";
import { type Shop, done, key, refused, told } from "./shop";

async function secondVisits(shop: Shop, crew: Crew, morning: Morning, visits: Visits) {
  const { theo, mara, ana, ben } = crew;
  await morning(15);
  const seventeen = await shop.writeUp(theo, "M110", [
    complaint("brakes.noise", "As planned", ben, {
      second_visit_of_job_id: visit(visits, 11).job,
    }),
  ]);
  const { data: planned } = await seventeen.read(theo);
  if (planned.comebacks.length > 0) throw new Error("what was planned is no comeback");
  await seventeen.part(ben, {
    part_no: "SENS-17",
    name: "Wheel speed sensor",
    disposition: "removed_refitted",
    role: "bystander",
    position: "front left",
  });
  await seventeen.end(ben, {
    outcome: "repaired",
    cause: "rotor-out-of-true",
    cause_how: "0.2 mm",
    correction: "New discs",
  });
  await seventeen.handOver(theo);
  await morning(16);
  const eighteen = await shop.writeUp(theo, "M101", [
    complaint("engine.tick", "Taps a third time", ana),
  ]);
  await eighteen.end(ana, {
    outcome: "repaired",
    cause: "lifter-worn",
    cause_how: "seen, scored",
    correction: "Two lifters replaced",
  });
  await eighteen.handOver(theo);
  await shop.decide(mara, eighteen.job, visit(visits, 1).job, false, "not-yet-known");
  await shop.decide(mara, eighteen.job, visit(visits, 9).job, true, "part-reused-failed");
  const wrong = await shop.writeUp(theo, "M114", [
    complaint("engine.tick", "Written up twice", ana),
  ]);
  const { etag } = await wrong.readOrder(theo);
  const { data: order } = await told(
    shop.by(theo).POST("/api/v1/shops/{shop}/orders/{order}/void", {
      params: { path: wrong.orderPath, header: { "If-Match": etag, ...key() } },
      body: { reason: "Written up twice" },
    }),
  );
  if (order.status !== "void" || order.order_no !== "19") throw new Error("void keeps its number");
}

async function paidBack(shop: Shop, crew: Crew, morning: Morning, visits: Visits) {
  const { theo, mara, ana } = crew;
  await morning(19);
  const first = visit(visits, 15).job;
  const it = await shop.writeUp(theo, "M113", [
    complaint("engine.idle-rough", "Hunts again", ana, { in_before_job_id: first }),
  ]);
  const entry = await it.start(ana, { activity: "diagnosis" });
  await shop.at(19, 8 * 60 + 30);
  await told(
    shop.by(ana).POST("/api/v1/shops/{shop}/jobs/{job}/labor/{id}/stop", {
      params: { path: { ...it.path, id: entry.id }, header: key() },
    }),
  );
  await it.charge(theo, "idle-valve", [100, 100, 10000], "supplier");
  await it.end(ana, {
    outcome: "repaired",
    cause: "part-defective-new",
    cause_how: "sticks on the bench",
    correction: "Another new valve",
  });
  await it.handOver(theo);
  await shop.decide(mara, it.job, first, true, "part-defective");
  const back = () =>
    told(
      shop.by(mara).POST("/api/v1/shops/{shop}/jobs/{job}/pay-backs", {
        params: { path: it.path, header: key() },
        body: { supplier: "Corner Parts", amount_minor: 5000, paid_on: "2027-02-19" },
      }),
    );
  await back();
  const twice = await back();
  await done(
    shop.by(mara).DELETE("/api/v1/shops/{shop}/jobs/{job}/pay-backs/{id}", {
      params: { path: { ...it.path, id: twice.data.id } },
    }),
  );
}

async function vehicles(shop: Shop, crew: Crew, morning: Morning) {
  await morning(20);
  const asking = shop.by(crew.theo);
  const sold = { shop: shop.id, vehicle: shop.vehicles.get("M112") ?? "" };
  const { etag } = await told(
    asking.GET("/api/v1/shops/{shop}/vehicles/{vehicle}", { params: { path: sold } }),
  );
  await told(
    asking.PATCH("/api/v1/shops/{shop}/vehicles/{vehicle}", {
      params: { path: sold, header: { "If-Match": etag } },
      body: { sold_on: "2027-02-20", sold_note: "to a neighbor" },
    }),
  );
  await told(
    asking.POST("/api/v1/shops/{shop}/vehicles/{vehicle}/odometer-resets", {
      params: {
        path: { shop: shop.id, vehicle: shop.vehicles.get("M102") ?? "" },
        header: key(),
      },
      body: {
        reset_on: "2027-02-20",
        reading_before: 182350,
        reading_after: 0,
        odometer_unit: "km",
      },
    }),
  );
}

async function correction(shop: Shop, crew: Crew, morning: Morning) {
  const { theo, mara, ana } = crew;
  await morning(23);
  const it = await shop.writeUp(theo, "M117", [complaint("engine.tick", "A noise up front", ana)]);
  const mount = await it.charge(theo, "engine-mount", [100, 100, 12000]);
  await it.end(ana, {
    outcome: "repaired",
    cause: "mount-broken",
    cause_how: "seen, torn",
    correction: "New mount",
  });
  await it.handOver(theo);
  const before = await it.read(mara);
  await told(
    shop.by(mara).PATCH("/api/v1/shops/{shop}/jobs/{job}", {
      params: { path: it.path, header: { "If-Match": before.etag } },
      body: { symptom: "engine.knock" },
    }),
  );
  const { etag } = await it.read(mara);
  await told(
    shop.by(mara).PATCH("/api/v1/shops/{shop}/jobs/{job}/operations/{id}", {
      params: { path: { ...it.path, id: mount.id }, header: { "If-Match": etag } },
      body: { flat_rate_hundredths: 150, billed_hundredths: 150, labor_amount_minor: 18000 },
    }),
  );
  const changes = await told(
    shop.by(mara).GET("/api/v1/shops/{shop}/audit", {
      params: { path: { shop: shop.id }, query: { job_id: it.job } },
    }),
  );
  if (!changes.data.items.some((change) => change.correction)) throw new Error("a correction");
}

async function rejectedAndOpen(shop: Shop, crew: Crew, morning: Morning, visits: Visits) {
  const { theo, mara, ben } = crew;
  await morning(24);
  const it = await shop.writeUp(theo, "M108", [complaint("engine.tick", "Taps, softly", ben)]);
  await it.check(ben, { code: "stethoscope", finding: "abnormal", typed_at_close: true });
  await it.end(ben, {
    outcome: "repaired",
    cause: "wrong-adjustment",
    cause_how: "clearance 0.5 mm",
    correction: "Adjusted",
  });
  await it.handOver(theo);
  await shop.decide(mara, it.job, visit(visits, 8).job, false, "new-fault");
  await morning(25);
  const open = await shop.writeUp(theo, "M103", [complaint("brakes.noise", "Grinds again", ben)]);
  visits.set(26, open);
  await open.work(ben, [["diagnosis", 30]]);
}

async function codes(shop: Shop, crew: Crew, morning: Morning, visits: Visits) {
  await morning(26);
  const { mara, ben } = crew;
  const asking = shop.by(mara);
  const path = { shop: shop.id };
  const { data: checks } = await told(
    asking.GET("/api/v1/shops/{shop}/codes", { params: { path, query: { list: "check" } } }),
  );
  const change = async (code: string, body: { label?: string; retired?: boolean }) => {
    const entry = checks.items.find((found) => found.code === code);
    const header = { "If-Match": `"${entry?.version}"` };
    await told(
      asking.PATCH("/api/v1/shops/{shop}/codes/{list}/{code}", {
        params: { path: { ...path, list: "check", code }, header },
        body,
      }),
    );
  };
  await change("stethoscope", { label: "Listen by stethoscope" });
  await change("glow-current", { retired: true });
  await refused(
    422,
    shop.by(ben).POST("/api/v1/shops/{shop}/jobs/{job}/checks", {
      params: { path: visit(visits, 26).path, header: key() },
      body: { code: "glow-current", finding: "normal", minutes: 5 },
    }),
  );
  await told(
    asking.POST("/api/v1/shops/{shop}/codes/{list}/{code}/merge", {
      params: {
        path: { ...path, list: "symptom", code: "engine.clicking" },
        header: key(),
      },
      body: { into: "engine.tick" },
    }),
  );
}

export async function secondHalf(shop: Shop, crew: Crew, morning: Morning, visits: Visits) {
  await secondVisits(shop, crew, morning, visits);
  await morning(18);
  await writtenWrong(shop, crew);
  await paidBack(shop, crew, morning, visits);
  await vehicles(shop, crew, morning);
  await correction(shop, crew, morning);
  await rejectedAndOpen(shop, crew, morning, visits);
  await codes(shop, crew, morning, visits);
}
