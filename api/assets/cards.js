// What waits to be sent, shown: how much in the frame, each entry as a card, and
// a line beside the form that it was made with.
"use strict";

const cards = (() => {
  const THROWN_MS = 10_000;
  const byId = (id) => document.getElementById(id);
  const counted = (count, name) => (count === 1 ? word(`${name}One`) : word(`${name}Many`, count));

  // Entries whose refusal the page shows already: no card says it again.
  const told = new Set();

  const isHere = (entry) => entry.page.split("?")[0] === location.pathname;

  function line(list, text) {
    const item = document.createElement("li");
    item.textContent = text;
    list.append(item);
  }

  function card(entry) {
    const item = byId("unsent-card").content.firstElementChild.cloneNode(true);
    item.dataset.entry = entry.id;
    item.dataset.state = entry.state;
    item.querySelector(".what").textContent = entry.title;
    item.querySelector(".state").textContent = word({ waiting: "waits", settle: "settle", thrown: "thrown" }[entry.state]);
    const time = item.querySelector("time");
    time.dateTime = entry.at;
    time.textContent = moment(entry.at);
    for (const reason of entry.why) line(item.querySelector(".why"), reason);
    const fields = item.querySelector(".fields");
    for (const [label, value] of entry.shown) {
      const row = document.createElement("div");
      row.append(Object.assign(document.createElement("dt"), { textContent: label }));
      row.append(Object.assign(document.createElement("dd"), { textContent: value }));
      fields.append(row);
    }
    if (entry.shown.length === 0) fields.closest("details").remove();
    const settles = entry.state === "settle";
    const gone = isHere(entry) && !forms.of(document, entry);
    const offered = {
      again: settles && !entry.stale, fresh: settles && entry.stale, open: settles && !gone,
      throw: entry.state !== "thrown", undo: entry.state === "thrown",
    };
    for (const button of item.querySelectorAll("[data-act]")) if (!offered[button.dataset.act]) button.remove();
    return item;
  }

  // Beside its form, so that nobody enters the same again.
  function mark(entry) {
    const form = forms.of(document, entry);
    if (!form) return;
    const beside = document.createElement("p");
    beside.className = "not-sent";
    beside.dataset.entry = entry.id;
    beside.dataset.title = entry.title;
    beside.textContent = word("pending", entry.title);
    let seen = form;
    for (let box = form.closest("details"); box; box = box.parentElement.closest("details")) if (!box.open) seen = box;
    seen.after(beside);
  }

  // Sent while hands are busy here, or by another open page: this one does not
  // show it yet.
  function sentMeanwhile(beside, href = "") {
    const text = word(href ? "see" : "back", beside.dataset.title);
    const link = Object.assign(document.createElement("a"), { href, textContent: text });
    beside.classList.add("sent");
    beside.replaceChildren(link);
  }

  // It led to another page.
  function sent(entry, href) {
    for (const beside of document.querySelectorAll(`p.not-sent[data-entry="${entry.id}"]`)) sentMeanwhile(beside, href);
  }

  function summary(entries, mine) {
    const waiting = mine.filter((entry) => entry.state === "waiting").length;
    const settle = mine.filter((entry) => entry.state === "settle" && !told.has(entry.id)).length;
    const thrown = mine.filter((entry) => entry.state === "thrown").length;
    const others = entries.filter((entry) => entry.state !== "thrown").length - waiting - mine.filter((entry) => entry.state === "settle").length;
    const parts = [];
    if (waiting) parts.push(waiting === 1 ? word("one") : word("many", waiting));
    if (settle) parts.push(counted(settle, "settle"));
    if (others) parts.push(viewer() ? counted(others, "others") : word(others === 1 ? "one" : "many", others));
    if (thrown && parts.length === 0) parts.push(word("thrown"));
    return { text: parts.join(" · "), waiting, settle, own: waiting + settle + thrown };
  }

  async function render() {
    const box = byId("outbox");
    if (!box) return;
    const entries = await store.entries();
    const mine = viewer() ? entries.filter((entry) => entry.person === viewer()) : [];
    const { text, waiting, own } = summary(entries, mine);
    box.hidden = text === "";
    byId("outbox-sum").textContent = text;
    byId("outbox-why").textContent = own > 0 || byId("offline") ? word("why") : word("whyOthers");
    byId("outbox-now").hidden = waiting === 0;
    const shown = mine.filter((entry) => !told.has(entry.id)).sort((one, other) => isHere(other) - isHere(one));
    byId("outbox-cards").replaceChildren(...shown.map(card));
    for (const old of document.querySelectorAll("p.not-sent:not(.sent)")) {
      if (entries.some((entry) => String(entry.id) === old.dataset.entry)) old.remove();
      else sentMeanwhile(old);
    }
    for (const entry of mine) if (entry.state === "waiting") mark(entry);
  }

  // It was refused, so nothing was done under its key.
  async function sendAgain(entry, fields) {
    const renewed = fields.map(([field, value]) => [field, field === "once" ? newKey() : value]);
    await store.put({ ...entry, fields: renewed, state: "waiting", why: [], stale: false });
    return true;
  }

  // A press on a card. The answer tells whether there is something to send.
  async function act(name, entry, standing) {
    if (name === "again") return sendAgain(entry, entry.fields);
    if (name === "fresh") {
      const form = await standing(entry);
      if (form) return sendAgain(entry, forms.merged(entry, form));
      say(word("gone"));
    }
    if (name === "throw") {
      const was = entry.state;
      await store.put({ ...entry, state: "thrown", was, thrownAt: Date.now() });
      setTimeout(sweep, THROWN_MS + 100);
    }
    if (name === "undo") await store.put({ ...entry, state: entry.was });
    if (name === "open" && !open(entry)) location.assign(`${entry.page}#unsent-${entry.id}`);
    return name === "undo";
  }

  async function sweep() {
    for (const entry of await store.entries()) {
      if (entry.state === "thrown" && Date.now() - entry.thrownAt >= THROWN_MS) await store.remove(entry.id);
    }
    await render();
  }

  // The form as it was filled, on its page: what is sent from it replaces the entry.
  function open(entry) {
    const form = isHere(entry) ? forms.of(document, entry) : undefined;
    if (!form) return false;
    forms.fill(form, entry.fields, forms.touched(entry));
    form.dataset.settles = entry.id;
    byId("outbox-box").open = false;
    form.scrollIntoView({ block: "center" });
    form.querySelector("input:not([type=hidden]), select, textarea, button")?.focus({ preventScroll: true });
    return true;
  }

  // The address asks for one: "Open the page" was pressed elsewhere.
  async function openAsked() {
    const asked = /^#unsent-(\d+)$/.exec(location.hash);
    const entry = asked && await store.entry(Number(asked[1]));
    if (entry && entry.person === viewer()) open(entry);
  }

  return { render, sent, act, sweep, openAsked, told, box: () => byId("outbox-box") };
})();
