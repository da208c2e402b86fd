// Order 21: what is written wrong is put right before the hand-over.

import { complaint } from "./first_half";
import type { Crew } from "./month";
import { type Shop, type Visit, done, key, told } from "./shop";

export async function writtenWrong(shop: Shop, crew: Crew) {
  const { theo, ben, cal } = crew;
  const it = await shop.writeUp(
    theo,
    "M115",
    [complaint("brakes.noise", "Squeals when wet", ben)],
    { promised_at: "2027-02-18T12:00:00-06:00" },
  );
  const asking = shop.by(theo);
  const order = await it.readOrder(theo);
  await told(
    asking.PATCH("/api/v1/shops/{shop}/orders/{order}", {
      params: { path: it.orderPath, header: { "If-Match": order.etag } },
      body: { promised_at: "2027-02-18T17:00:00-06:00" },
    }),
  );
  await it.assign(theo, { person_id: cal.id, worked_as: "helper" });
  await done(
    asking.DELETE("/api/v1/shops/{shop}/jobs/{job}/people/{person}", {
      params: { path: { ...it.path, person: cal.id } },
    }),
  );
  await checks(shop, crew, it);
  await parts(shop, crew, it);
  await work(shop, crew, it);
  await charges(shop, crew, it);
  await it.end(ben, { outcome: "declined", cause: "pad-worn", cause_how: "glazed" });
  const { etag } = await it.read(ben);
  await told(
    shop.by(ben).POST("/api/v1/shops/{shop}/jobs/{job}/reopening", {
      params: { path: it.path, header: { "If-Match": etag, ...key() } },
    }),
  );
  await it.end(ben, {
    outcome: "repaired",
    cause: "pad-worn",
    cause_how: "glazed",
    correction: "New pads",
  });
  await it.handOver(theo);
}

async function checks(shop: Shop, { ben }: Crew, it: Visit) {
  const strip = await it.check(ben, { code: "brake-strip", finding: "abnormal", minutes: 200 });
  const { etag } = await it.read(ben);
  await told(
    shop.by(ben).PATCH("/api/v1/shops/{shop}/jobs/{job}/checks/{id}", {
      params: { path: { ...it.path, id: strip.id }, header: { "If-Match": etag } },
      body: { minutes: 20 },
    }),
  );
  const driven = await it.check(ben, { code: "road-test", finding: "normal", minutes: 5 });
  await done(
    shop.by(ben).DELETE("/api/v1/shops/{shop}/jobs/{job}/checks/{id}", {
      params: { path: { ...it.path, id: driven.id } },
    }),
  );
}

async function parts(shop: Shop, { mara }: Crew, it: Visit) {
  const pads = await it.part(mara, {
    part_no: "PAD-3",
    name: "Brake pad set",
    disposition: "replaced_new",
    role: "suspect",
    position: "rear",
    unit_cost_minor: 4400,
  });
  const { etag } = await it.read(mara);
  await told(
    shop.by(mara).PATCH("/api/v1/shops/{shop}/jobs/{job}/parts/{id}", {
      params: { path: { ...it.path, id: pads.id }, header: { "If-Match": etag } },
      body: { position: "front", unit_cost_minor: 4000 },
    }),
  );
  const clip = await it.part(mara, {
    part_no: "CLIP-1",
    name: "Pad clip",
    disposition: "replaced_new",
    role: "bystander",
  });
  await done(
    shop.by(mara).DELETE("/api/v1/shops/{shop}/jobs/{job}/parts/{id}", {
      params: { path: { ...it.path, id: clip.id } },
    }),
  );
}

async function work(shop: Shop, { ben }: Crew, it: Visit) {
  const repair = await it.start(ben, {
    activity: "repair",
    started_at: "2027-02-18T09:00:00-06:00",
    ended_at: "2027-02-18T10:30:00-06:00",
  });
  const { etag } = await it.read(ben);
  await told(
    shop.by(ben).PATCH("/api/v1/shops/{shop}/jobs/{job}/labor/{id}", {
      params: { path: { ...it.path, id: repair.id }, header: { "If-Match": etag } },
      body: { ended_at: "2027-02-18T10:00:00-06:00" },
    }),
  );
  const proof = await it.start(ben, {
    activity: "proof",
    started_at: "2027-02-18T10:30:00-06:00",
    ended_at: "2027-02-18T10:40:00-06:00",
  });
  await done(
    shop.by(ben).DELETE("/api/v1/shops/{shop}/jobs/{job}/labor/{id}", {
      params: { path: { ...it.path, id: proof.id } },
    }),
  );
}

async function charges(shop: Shop, { theo, mara }: Crew, it: Visit) {
  const pads = await it.charge(theo, "brake-pads", [200, 150, 15000]);
  const { etag } = await it.read(theo);
  await told(
    shop.by(theo).PATCH("/api/v1/shops/{shop}/jobs/{job}/operations/{id}", {
      params: { path: { ...it.path, id: pads.id }, header: { "If-Match": etag } },
      body: { payer: "maker" },
    }),
  );
  const diagnosis = await it.charge(theo, "diagnosis", [50, 50, 6000]);
  await done(
    shop.by(theo).DELETE("/api/v1/shops/{shop}/jobs/{job}/operations/{id}", {
      params: { path: { ...it.path, id: diagnosis.id } },
    }),
  );
  const turned = await told(
    shop.by(mara).POST("/api/v1/shops/{shop}/jobs/{job}/sublets", {
      params: { path: it.path, header: key() },
      body: { business: "Hartwell Machine", work: "Turn the discs", cost_minor: 6000 },
    }),
  );
  await done(
    shop.by(mara).DELETE("/api/v1/shops/{shop}/jobs/{job}/sublets/{id}", {
      params: { path: { ...it.path, id: turned.data.id } },
    }),
  );
}
