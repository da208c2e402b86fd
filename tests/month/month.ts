// What month.py asks for, as a TypeScript program would write it: every
// operation, not every visit. It is type-checked against the API document, not
// run.

import { firstHalf } from "./first_half";
import { secondHalf } from "./second_half";
import { date, done, key, Person, Shop, told } from "./shop";

export class Crew {
  office = new Person("Office", "office");
  mara = new Person("Mara Quill", "mara");
  theo = new Person("Theo Brandt", "theo");
  rhea = new Person("Rhea Stone", "rhea");
  ana = new Person("Ana Reyes", "ana");
  ben = new Person("Ben Okoro", "ben");
  cal = new Person("Cal Dunn", "cal");

  everybody() {
    return [this.office, this.mara, this.theo, this.rhea, this.ana, this.ben, this.cal];
  }
}

async function foundShop(shop: Shop, crew: Crew) {
  await shop.signIn(crew.office);
  const asking = shop.by(crew.office);
  const made = await told(
    asking.POST("/api/v1/shops", {
      params: { header: key() },
      body: {
        code: "elm",
        name: "Elm Street Garage",
        time_zone: "America/Chicago",
        currency: "USD",
        labor_cost_minor: 4800,
        posted_rate_minor: 12000,
        window_days: 14,
        week_start: 1,
      },
    }),
  );
  shop.id = made.data.id;
  const path = { shop: shop.id };
  const { etag } = await told(asking.GET("/api/v1/shops/{shop}", { params: { path } }));
  await told(
    asking.PATCH("/api/v1/shops/{shop}", {
      params: { path, header: { "If-Match": etag } },
      body: {
        return_diagnosis_minor: 3000,
        return_proof_minor: 1000,
        return_transport_minor: 2000,
        return_bay_minor: 4000,
      },
    }),
  );
  await shop.add(crew.office, crew.mara, "service_manager");
  await shop.signIn(crew.mara);
  await shop.add(crew.mara, crew.theo, "adviser");
  await shop.add(crew.mara, crew.rhea, "adviser");
  for (const technician of [crew.ana, crew.ben, crew.cal]) {
    await shop.add(crew.mara, technician, "technician");
  }
  const person = { ...path, person: crew.rhea.id };
  await told(
    asking.POST("/api/v1/shops/{shop}/people/{person}/roles", {
      params: { path: person, header: key() },
      body: { role: "owner" },
    }),
  );
  await done(
    asking.DELETE("/api/v1/shops/{shop}/people/{person}/roles/{role}", {
      params: { path: { ...person, role: "adviser" } },
    }),
  );
  await told(
    shop.by(crew.mara).POST("/api/v1/shops/{shop}/codes", {
      params: { path, header: key() },
      body: { list: "symptom", code: "engine.clicking", label: "Clicks from the top" },
    }),
  );
}

async function attendance(shop: Shop, crew: Crew) {
  const minutes: [Person, number][] = [
    [crew.ana, 240],
    [crew.ben, 240],
    [crew.cal, 120],
  ];
  for (const week of [1, 8, 15, 22]) {
    for (const day of [0, 1, 2, 3, 4]) {
      for (const [person, attended] of minutes) {
        await shop.attended(crew.mara, person, week + day, attended);
      }
    }
  }
  await shop.attended(crew.mara, crew.cal, 20, 120);
  await done(
    shop.by(crew.mara).DELETE("/api/v1/shops/{shop}/attendance/{person}/{day}", {
      params: { path: { shop: shop.id, person: crew.cal.id, day: date(20) } },
    }),
  );
}

/** Every report, as its own struct. */
async function reports(shop: Shop, crew: Crew) {
  const asking = shop.by(crew.mara);
  const path = { shop: shop.id };
  const query = { as_of: date(28) };
  const comebacks = await told(
    asking.GET("/api/v1/shops/{shop}/reports/comebacks", {
      params: { path, query: { ...query, by: "symptom" } },
    }),
  );
  const reuse = await told(
    asking.GET("/api/v1/shops/{shop}/reports/reuse", { params: { path, query } }),
  );
  const ways = await told(
    asking.GET("/api/v1/shops/{shop}/reports/paths", { params: { path, query } }),
  );
  const labor = await told(
    asking.GET("/api/v1/shops/{shop}/reports/labor", {
      params: { path, query: { ...query, by: "payer" } },
    }),
  );
  const jobs = await told(asking.GET("/api/v1/shops/{shop}/reports/jobs", { params: { path } }));
  const weekly = await told(
    asking.GET("/api/v1/shops/{shop}/reports/weekly", {
      params: { path, query: { ...query, week: "2027-W08" } },
    }),
  );
  return {
    share: comebacks.data.total.share.share,
    parts: reuse.data.parts.length,
    symptoms: ways.data.symptoms.length,
    clock: labor.data.total.clock_hours,
    jobs: jobs.data.count,
    undecided: weekly.data.undecided.all,
  };
}

export async function month(base: string, move: (to: string) => Promise<void>) {
  const crew = new Crew();
  const shop = new Shop(base, move);
  await shop.at(1, 7 * 60);
  await foundShop(shop, crew);
  const morning = async (day: number) => {
    await shop.at(day);
    for (const person of crew.everybody()) await shop.signIn(person);
  };
  const visits = await firstHalf(shop, crew, morning);
  await secondHalf(shop, crew, morning, visits);
  await shop.at(26, 18 * 60);
  await attendance(shop, crew);
  await morning(29);
  return reports(shop, crew);
}
