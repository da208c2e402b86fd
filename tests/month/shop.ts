// The steps of a visit, by openapi-fetch on the types that openapi-typescript
// makes of the API document.

import createClient, { type Client } from "openapi-fetch";
import type { components, paths } from "onetrip-api";

type Schemas = components["schemas"];
export type NewJob = Schemas["NewJob"];
export type NewOrder = Schemas["NewOrder"];
export type NewOutsideReturn = Schemas["NewOutsideReturn"];
export type Asking = Client<paths>;

const PASSWORD = "month of twenty-eight days";

/**
 * What an operation answered; a problem stops the month. Lists and reports come
 * as text, too, where they are asked for so: here never.
 */
export async function told<T>(
  answer: Promise<{ data?: T; error?: unknown; response: Response }>,
): Promise<{ data: Exclude<T, string | undefined>; etag: string }> {
  const { data, error, response } = await answer;
  if (error !== undefined || data === undefined || typeof data === "string") {
    throw new Error(`${response.url}: ${response.status} ${JSON.stringify(error)}`);
  }
  return { data: data as Exclude<T, string | undefined>, etag: response.headers.get("etag") ?? "" };
}

/** An operation that has nothing to answer. */
export async function done(answer: Promise<{ error?: unknown; response: Response }>) {
  const { error, response } = await answer;
  if (error !== undefined) {
    throw new Error(`${response.url}: ${response.status} ${JSON.stringify(error)}`);
  }
}

/** An operation that is refused. */
export async function refused(
  status: number,
  answer: Promise<{ error?: Schemas["Problem"]; response: Response }>,
) {
  const { error, response } = await answer;
  if (error === undefined || response.status !== status) {
    throw new Error(`${response.url}: ${response.status} instead of ${status}`);
  }
}

/** A minute of a day of February 2027 in Chicago, which keeps standard time. */
export function local(day: number, minute: number): string {
  return new Date(Date.UTC(2027, 1, day, 6, minute)).toISOString();
}

export function date(day: number): string {
  return `2027-02-${String(day).padStart(2, "0")}`;
}

export const key = () => ({ "Idempotency-Key": crypto.randomUUID() });

export class Person {
  id = "";
  token = "";
  /** Where the person's day stands: the day, and minutes after midnight. */
  free: [number, number] = [0, 0];
  constructor(
    readonly name: string,
    readonly signInName: string,
  ) {}
}

export class Shop {
  id = "";
  today = 1;
  vehicles = new Map<string, string>();

  constructor(
    readonly base: string,
    /** Moves the server's clock to an RFC 3339 time. */
    readonly move: (to: string) => Promise<void>,
  ) {}

  /** A day of February 2027. */
  async at(day: number, minute = 8 * 60) {
    this.today = day;
    await this.move(local(day, minute));
  }

  async signIn(who: Person) {
    const anybody = createClient<paths>({ baseUrl: this.base });
    const body = { sign_in_name: who.signInName, password: PASSWORD };
    who.token = (await told(anybody.POST("/api/v1/sessions", { body }))).data.token;
  }

  by(who: Person): Asking {
    return createClient<paths>({
      baseUrl: this.base,
      headers: { authorization: `Bearer ${who.token}` },
    });
  }

  async add(by: Person, person: Person, role: Schemas["NewPerson"]["role"]) {
    const made = await told(
      this.by(by).POST("/api/v1/shops/{shop}/people", {
        params: { path: { shop: this.id }, header: key() },
        body: { name: person.name, role, sign_in_name: person.signInName, password: PASSWORD },
      }),
    );
    person.id = made.data.id;
  }

  async writeUp(by: Person, plate: string, jobs: NewJob[], order: Partial<NewOrder> = {}) {
    const known = this.vehicles.get(plate);
    const vehicle = known ? { vehicle_id: known } : { vehicle: { plate } };
    const made = await told(
      this.by(by).POST("/api/v1/shops/{shop}/orders", {
        params: { path: { shop: this.id }, header: key() },
        body: { jobs, ...vehicle, ...order },
      }),
    );
    this.vehicles.set(plate, made.data.vehicle.id);
    return new Visit(this, made.data);
  }

  async attended(by: Person, person: Person, day: number, attended_minutes: number) {
    await told(
      this.by(by).PUT("/api/v1/shops/{shop}/attendance/{person}/{day}", {
        params: { path: { shop: this.id, person: person.id, day: date(day) } },
        body: { attended_minutes },
      }),
    );
  }

  /** The manager's word on one proposed comeback of a job. */
  async decide(by: Person, job: string, earlier: string, confirm: boolean, reason: string) {
    const asking = this.by(by);
    const whole = await told(
      asking.GET("/api/v1/shops/{shop}/jobs/{job}", { params: { path: { shop: this.id, job } } }),
    );
    const link = whole.data.comebacks.find((comeback) => comeback.earlier_job_id === earlier);
    if (link === undefined) throw new Error(`job ${job} is not proposed for ${earlier}`);
    const path = { shop: this.id, comeback: link.id };
    const { etag } = await told(
      asking.GET("/api/v1/shops/{shop}/comebacks/{comeback}", { params: { path } }),
    );
    await told(
      asking.POST("/api/v1/shops/{shop}/comebacks/{comeback}/decision", {
        params: { path, header: { "If-Match": etag, ...key() } },
        body: { confirm, reason },
      }),
    );
  }
}

/** A repair order and the work on it. */
export class Visit {
  readonly jobs: string[];

  constructor(
    readonly shop: Shop,
    readonly order: Schemas["WholeOrder"],
  ) {
    this.jobs = order.jobs.map((job) => job.id);
  }

  get job(): string {
    return this.jobs[0] ?? "";
  }

  get path() {
    return { shop: this.shop.id, job: this.job };
  }

  get orderPath() {
    return { shop: this.shop.id, order: this.order.id };
  }

  async read(who: Person) {
    return told(
      this.shop.by(who).GET("/api/v1/shops/{shop}/jobs/{job}", { params: { path: this.path } }),
    );
  }

  async readOrder(who: Person) {
    return told(
      this.shop
        .by(who)
        .GET("/api/v1/shops/{shop}/orders/{order}", { params: { path: this.orderPath } }),
    );
  }

  async addJob(who: Person, body: NewJob) {
    const made = await told(
      this.shop.by(who).POST("/api/v1/shops/{shop}/orders/{order}/jobs", {
        params: { path: this.orderPath, header: key() },
        body,
      }),
    );
    this.jobs.push(made.data.id);
  }

  async check(who: Person, body: Schemas["NewCheck"]) {
    const made = await told(
      this.shop.by(who).POST("/api/v1/shops/{shop}/jobs/{job}/checks", {
        params: { path: this.path, header: key() },
        body,
      }),
    );
    return made.data;
  }

  adding(who: Person, body: Schemas["NewPartUse"]) {
    return this.shop.by(who).POST("/api/v1/shops/{shop}/jobs/{job}/parts", {
      params: { path: this.path, header: key() },
      body,
    });
  }

  async part(who: Person, body: Schemas["NewPartUse"]) {
    return (await told(this.adding(who, body))).data;
  }

  async charge(
    who: Person,
    code: string,
    [flat_rate_hundredths, billed_hundredths, labor_amount_minor]: [number, number, number],
    payer: Schemas["Payer"] = "customer",
    job = this.job,
  ) {
    const made = await told(
      this.shop.by(who).POST("/api/v1/shops/{shop}/jobs/{job}/operations", {
        params: { path: { shop: this.shop.id, job }, header: key() },
        body: { code, flat_rate_hundredths, billed_hundredths, labor_amount_minor, payer },
      }),
    );
    return made.data;
  }

  async start(who: Person, body: Schemas["NewLabor"]) {
    const made = await told(
      this.shop.by(who).POST("/api/v1/shops/{shop}/jobs/{job}/labor", {
        params: { path: this.path, header: key() },
        body,
      }),
    );
    return made.data;
  }

  /** Stretches of the day's work, one after the other, from 08:30 on. */
  async work(
    who: Person,
    stretches: [Schemas["Activity"], number][],
    more: Partial<Schemas["NewLabor"]> = {},
  ) {
    const day = this.shop.today;
    let [last, from] = who.free;
    if (last !== day) from = 8 * 60 + 30;
    for (const [activity, minutes] of stretches) {
      const times = { started_at: local(day, from), ended_at: local(day, from + minutes) };
      await this.shop.move(times.ended_at);
      await this.start(who, { activity, ...times, ...more });
      from += minutes;
    }
    who.free = [day, from];
  }

  async prove(who: Person, passed: boolean, note?: string) {
    await told(
      this.shop.by(who).POST("/api/v1/shops/{shop}/jobs/{job}/proofs", {
        params: { path: this.path, header: key() },
        body: { how: "road_test", passed, note },
      }),
    );
  }

  async assign(
    who: Person,
    body: { person_id: string; worked_as: "helper" | "trainee"; supervisor_id?: string },
  ) {
    await told(
      this.shop.by(who).POST("/api/v1/shops/{shop}/jobs/{job}/people", {
        params: { path: this.path, header: key() },
        body,
      }),
    );
  }

  async wait(
    who: Person,
    waiting_for: "part" | "customer" | "sublet" | "bay",
    expected_on?: string,
  ) {
    const made = await told(
      this.shop.by(who).POST("/api/v1/shops/{shop}/jobs/{job}/waits", {
        params: { path: this.path, header: key() },
        body: { waiting_for, expected_on },
      }),
    );
    return made.data;
  }

  async endWait(who: Person, id: string) {
    await told(
      this.shop.by(who).POST("/api/v1/shops/{shop}/jobs/{job}/waits/{id}/end", {
        params: { path: { ...this.path, id }, header: key() },
      }),
    );
  }

  ending(who: Person, etag: string, body: Schemas["Closing"], job = this.job) {
    return this.shop.by(who).POST("/api/v1/shops/{shop}/jobs/{job}/closure", {
      params: { path: { shop: this.shop.id, job }, header: { "If-Match": etag, ...key() } },
      body,
    });
  }

  async end(who: Person, body: Schemas["Closing"], job = this.job) {
    const path = { shop: this.shop.id, job };
    const asking = this.shop.by(who);
    const { etag } = await told(
      asking.GET("/api/v1/shops/{shop}/jobs/{job}", { params: { path } }),
    );
    await told(this.ending(who, etag, body, job));
  }

  async handOver(who: Person, body: Schemas["HandOver"] = {}) {
    const { etag } = await this.readOrder(who);
    await told(
      this.shop.by(who).POST("/api/v1/shops/{shop}/orders/{order}/closure", {
        params: { path: this.orderPath, header: { "If-Match": etag, ...key() } },
        body,
      }),
    );
  }
}
