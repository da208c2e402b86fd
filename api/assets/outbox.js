// Work forms: what they hold is kept first and sent then, each under its key, so
// that nothing typed is lost and nothing acts twice.
"use strict";

const outbox = (() => {
  // One try; a slow one is told as waiting; when the second tap of a double tap
  // still comes; and within which the same again is taken for the same.
  const [PATIENCE, SLOW, DOUBLE, TWICE] = [25_000, 4_000, 300, 2_000];
  const [FIRST_RETRY, LAST_RETRY] = [5_000, 300_000];
  const DOORS = ["/sign-in", "/tablet"];

  const delay = (ms) => new Promise((resolve) => { setTimeout(resolve, ms); });
  const watchers = new Map();
  let [chain, retry, failures] = [Promise.resolve(), undefined, 0];
  let last = { what: "", at: 0 };

  async function ask(address, options) {
    const patience = new AbortController();
    const timer = setTimeout(() => patience.abort(), PATIENCE);
    try {
      const answer = await fetch(address, { ...options, credentials: "same-origin", signal: patience.signal });
      const html = await answer.text();
      return {
        status: answer.status, url: answer.url, html,
        // A network's own page ("agree to our terms") answers for anybody.
        ours: answer.headers.has("x-request-id"),
        page: new DOMParser().parseFromString(html, "text/html"),
      };
    } finally { clearTimeout(timer); }
  }

  const tokenOf = (page) => page.querySelector('input[name="form_token"]')?.value ?? "";
  const personOf = (page) => page.querySelector("header[data-person]")?.dataset.person;

  const post = (entry, token) => ask(entry.action, {
    method: "POST", redirect: "follow", body: new URLSearchParams([...entry.fields, ["form_token", token]]),
  });

  function verdict(answer) {
    if (!answer.ours || [408, 429].includes(answer.status) || answer.status >= 500) return "later";
    if (DOORS.includes(new URL(answer.url).pathname)) return "door";
    return answer.status < 300 ? "done" : "settle";
  }

  // Sends once; where the page's token is of an earlier session, with a new one,
  // if it is the same person who is signed in.
  async function attempt(entry) {
    try {
      const token = tokenOf(document);
      const answer = await post(entry, token);
      if (answer.status !== 403) return { kind: verdict(answer), answer };
      const fresh = await ask(entry.page, {});
      const person = personOf(fresh.page);
      if (!fresh.ours) return { kind: "later" };
      if (!person) return { kind: "door" };
      if (person !== entry.person) return { kind: "other" };
      if (tokenOf(fresh.page) === token) return { kind: "settle", answer };
      const second = await post(entry, tokenOf(fresh.page));
      return { kind: verdict(second), answer: second };
    } catch { return { kind: "lost" }; }
  }

  const reasons = (page) => {
    const lines = [...page.querySelectorAll("main .refused li")];
    const told = (lines.length > 0 ? lines : [...page.querySelectorAll("main .refused p, main .lead")]).map(forms.text);
    return told.length > 0 ? told : [word("unclear")];
  };

  // What an answer does to its entry.
  async function settle(entry, { kind, answer }) {
    if (kind === "done") await store.remove(entry.id);
    if (kind !== "settle") return;
    await store.put({ ...entry, state: "settle", why: reasons(answer.page), stale: answer.status === 412 });
  }

  // What waits behind an entry was made on the version that the entry itself has
  // moved on by one; by more than one, and somebody else was at it.
  async function follow(sent, answer, waiting) {
    for (const listed of waiting.filter((one) => one.page === sent.page && one.id !== sent.id)) {
      const entry = await store.entry(listed.id);
      const seen = Number(entry?.fields.find(([name]) => name === "version")?.[1]);
      const stands = Number(forms.of(answer.page, entry ?? sent)?.elements.version?.value);
      if (entry?.state !== "waiting" || stands !== seen + 1) continue;
      const fields = entry.fields.map(([name, value]) => [name, name === "version" ? String(stands) : value]);
      await store.put({ ...entry, fields });
    }
  }

  // The same, waiting already: a second tap while the shop cannot be reached.
  const sameOf = (entry) => JSON.stringify([entry.action, entry.fields.filter(([name]) => !["once", "tapped_at", "version"].includes(name))]);
  async function waitsAlready(entry) {
    const entries = await store.entries();
    return entries.some((other) => other.state === "waiting" && other.person === entry.person && other.id !== entry.id && sameOf(other) === sameOf(entry));
  }

  async function run() {
    clearTimeout(retry);
    const waiting = (await store.entries()).filter((entry) => entry.person === viewer() && entry.state === "waiting");
    if (waiting.length === 0) return;
    if (!(await store.lease(Date.now() + PATIENCE + 5_000))) { again(2_000); return; }
    const held = new Set();
    let kind = "done";
    for (const listed of waiting) {
      const entry = await store.entry(listed.id);
      // Thrown away or sent meanwhile; or an earlier one of its page waits.
      if (entry?.state !== "waiting" || held.has(entry.page)) continue;
      await store.lease(Date.now() + PATIENCE + 5_000);
      const outcome = await attempt(entry);
      await settle(entry, outcome);
      if (outcome.kind === "done") await follow(entry, outcome.answer, waiting);
      kind = outcome.kind;
      const watcher = watchers.get(entry.id);
      watchers.delete(entry.id);
      if (watcher) watcher(outcome);
      else await behind(entry, outcome);
      if (["lost", "door", "other"].includes(kind)) break;
      if (kind === "later") held.add(entry.page);
    }
    await store.lease(0);
    const failed = kind === "lost" || held.size > 0;
    failures = failed ? failures + 1 : 0;
    if (failed) again(Math.min(FIRST_RETRY * 2 ** (failures - 1), LAST_RETRY));
    document.getElementById("outbox-door").hidden = kind !== "door";
    await cards.render();
  }

  function again(ms) {
    clearTimeout(retry);
    retry = setTimeout(flush, ms * (0.8 + 0.4 * Math.random()));
  }

  function flush() {
    chain = chain.then(run).catch(() => again(LAST_RETRY));
    return chain;
  }

  // Sent while something else is on the page: it changes only under idle hands.
  async function behind(entry, { kind, answer }) {
    if (kind === "settle") say(word("settleOne"));
    if (kind !== "done") return;
    say(word("sent", entry.title));
    if (new URL(answer.url).pathname !== location.pathname) { cards.sent(entry, answer.url); return; }
    const busy = document.activeElement?.closest("main form") || forms.all(document).some((form) => forms.changed(form) || form.hasAttribute("aria-busy"));
    if (!busy) await swap(answer, {});
  }

  const place = (box) => `${box.closest("[id]")?.id}/${forms.text(box.querySelector("summary"))}`;

  // Puts the answer's main in the place of this one; what was opened stays open.
  async function swap(answer, { form }) {
    await forms.keepAll();
    const [old, fresh] = [document.querySelector("main"), document.adoptNode(answer.page.querySelector("main"))];
    const open = [...old.querySelectorAll("details[open]")].filter((box) => !box.contains(form)).map(place);
    old.replaceWith(fresh);
    for (const box of fresh.querySelectorAll("details")) if (open.includes(place(box))) box.open = true;
    document.title = answer.page.title;
    small.standsNow();
    const header = document.querySelector("header[data-now]");
    if (header) header.dataset.now = answer.page.querySelector("header[data-now]")?.dataset.now ?? header.dataset.now;
    window.htmx?.process(fresh);
    small.dress(fresh);
    for (const each of forms.all(fresh)) forms.renew(each);
    await forms.restore(fresh);
    if (answer.status === 200) small.keepPage(answer.url, answer.html);
    return fresh;
  }

  // Whether the focus went there: what is folded away takes none.
  function focus(element, scroll) {
    if (!element) return false;
    if (!element.matches("a, button, input, select, textarea, summary")) element.tabIndex = -1;
    element.focus({ preventScroll: !scroll });
    return document.activeElement === element;
  }

  // Where the eyes and the keyboard go on: the same button, else its section.
  function goOn(main, entry, button, section) {
    const twin = button && [...main.querySelectorAll("form[data-send] button")].find((other) =>
      other.name === button.name && other.value === button.value && other.textContent === button.textContent
        && forms.address(other.form) === entry.action && forms.mark(other.form) === entry.mark);
    if (!focus(twin) && !focus(section && document.getElementById(section))) focus(main);
  }

  async function done(entry, answer, form, button) {
    const url = new URL(answer.url);
    if (url.pathname !== location.pathname || !answer.page.querySelector("main")) { location.assign(answer.url); return; }
    const section = form.closest("section[id]")?.id;
    cards.told.clear();
    const main = await swap(answer, { form });
    history.replaceState(history.state, "", url);
    goOn(main, entry, button, section);
    say(forms.text(main.querySelector('[role="status"].said p')) || word("saved"));
    await cards.render();
  }

  async function refused(entry, answer, form) {
    if (forms.near(answer.page, entry)) {
      const main = await swap(answer, { form });
      const again = forms.of(main, entry);
      if (again) again.dataset.settles = entry.id;
      // A record that moved on is shown as it stands: what was typed is on the card.
      if (again && answer.status !== 412) cards.told.add(entry.id);
      // A slip of the pen is said beside its field, and stays there to be mended.
      if (again && answer.status === 422) {
        delete again.dataset.settles;
        await store.remove(entry.id);
        await forms.rememberTyped(again, entry);
      }
      focus(main.querySelector(".refused") ?? again ?? main, true);
    } else {
      cards.box().open = true;
      focus(document.getElementById("outbox-sum"), true);
    }
    say(reasons(answer.page).join(" "));
    await cards.render();
  }

  async function pending(entry, form) {
    delete form.dataset.settles;
    form.reset();
    forms.renew(form);
    say(word("kept", entry.title));
    await cards.render();
  }

  function read(form, button) {
    const fields = [...new FormData(form)].filter(([name]) => name !== "form_token").map(([name, value]) => [name, String(value)]);
    if (button?.name) fields.push([button.name, button.value]);
    // When it happened, however late it is sent: what is measured by the
    // arrival would be wrong then.
    const at = small.now();
    fields.push(["tapped_at", at]);
    const action = new URL(button?.getAttribute("formaction") ?? form.getAttribute("action") ?? "", location.href);
    const query = new URLSearchParams(location.search);
    query.delete("did");
    const entry = {
      person: viewer(), action: action.pathname, mark: forms.mark(form), fields,
      given: forms.values(form, true), typed: forms.values(form),
      title: forms.title(form, button), shown: forms.shown(form), at,
      page: [location.pathname, String(query)].filter(Boolean).join("?"), state: "waiting", why: [],
    };
    if (form.dataset.settles) entry.id = Number(form.dataset.settles);
    return entry;
  }

  // The browser keeps nothing more: the form goes as it would without script.
  function plainly(form, button) {
    if (button?.name) form.append(Object.assign(document.createElement("input"), { type: "hidden", name: button.name, value: button.value }));
    form.submit();
  }

  async function take(form, button) {
    const entry = read(form, button);
    const what = JSON.stringify([entry.action, entry.fields.filter(([name]) => !["once", "tapped_at"].includes(name))]);
    if (what === last.what && Date.now() - last.at < TWICE) return;
    last = { what, at: Date.now() };
    form.setAttribute("aria-busy", "true");
    try {
      try {
        if (await waitsAlready(entry)) { say(word("kept", entry.title)); return; }
        entry.id = await store.put(entry);
      } catch { plainly(form, button); return; }
      cards.told.delete(entry.id);
      await forms.forget(form);
      const answered = new Promise((resolve) => { watchers.set(entry.id, resolve); });
      flush();
      const both = Promise.all([answered, delay(DOUBLE)]).then(([outcome]) => outcome);
      const outcome = await Promise.race([both, delay(SLOW)]);
      watchers.delete(entry.id);
      if (outcome?.kind === "done") await done(entry, outcome.answer, form, button);
      else if (outcome?.kind === "settle") await refused(entry, outcome.answer, form);
      else await pending(entry, form);
    } finally { form.removeAttribute("aria-busy"); }
  }

  // A press that only asks: nothing is written, so nothing is kept to be sent.
  async function look(form, button) {
    const address = new URL(button.getAttribute("formaction") ?? form.getAttribute("action"), location.href);
    const body = new URLSearchParams([...new FormData(form)].map(([name, value]) => [name, String(value)]));
    if (button.name) body.append(button.name, button.value);
    form.setAttribute("aria-busy", "true");
    const answer = await ask(address, { method: "POST", body }).catch(() => undefined);
    form.removeAttribute("aria-busy");
    if (!answer || verdict(answer) === "later") { say(word("unreached")); unreached(form); return; }
    if (verdict(answer) === "door" || !answer.page.querySelector("main")) { location.reload(); return; }
    await forms.forget(form);
    const main = await swap(answer, { form });
    const again = forms.all(main).find((other) => forms.address(other) === forms.address(form));
    if (again) await forms.remember(again);
    focus(document.getElementById(address.hash.slice(1)) ?? main, true);
  }

  function unreached(form) {
    form.querySelector(".unreached")?.remove();
    form.prepend(Object.assign(document.createElement("p"), { className: "refused unreached", textContent: word("unreached") }));
  }

  function submit(event) {
    const [form, button] = [event.target, event.submitter];
    if (event.defaultPrevented || !form.matches("form[data-send]") || !viewer()) return;
    // A press that only asks writes nothing: there is nothing to keep.
    if (button?.hasAttribute("data-asks")) return;
    const method = button?.getAttribute("formmethod") ?? form.getAttribute("method") ?? "get";
    if (method.toLowerCase() !== "post" || form.querySelector("[type=password]")) return;
    event.preventDefault();
    if (form.hasAttribute("aria-busy")) return;
    if (button?.hasAttribute("data-asks")) look(form, button);
    else take(form, button);
  }

  // The form of an entry as its page is now.
  async function standing(entry) {
    const now = await ask(entry.page, {}).catch(() => undefined);
    return now && forms.of(now.page, entry);
  }

  async function press(event) {
    const button = event.target.closest("#outbox button");
    if (!button) return;
    if (button.id === "outbox-now") { await flush(); return; }
    const entry = await store.entry(Number(button.closest("[data-entry]").dataset.entry));
    const sends = entry && await cards.act(button.dataset.act, entry, standing);
    await cards.render();
    if (sends) await flush();
  }

  async function start() {
    document.addEventListener("submit", submit);
    document.addEventListener("click", press);
    for (const name of ["input", "change"]) document.addEventListener(name, forms.typing);
    const awake = () => { if (!document.hidden) flush().then(cards.render); };
    for (const name of ["online", "focus"]) window.addEventListener(name, awake);
    document.addEventListener("visibilitychange", () => { if (document.hidden) forms.keepAll(); else awake(); });
    window.addEventListener("pagehide", () => { forms.keepAll(); });
    document.documentElement.dataset.script = "";
    await cards.sweep();
    await flush();
  }

  return { start };
})();
