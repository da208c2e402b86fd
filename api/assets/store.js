// What this browser keeps: entries that wait to be sent, what was typed and not
// sent, and who of several open pages does the sending. IndexedDB, since it is
// there on a plain http address of a shop's own network, and lasts.
"use strict";

const store = (() => {
  const STORES = { entries: { keyPath: "id", autoIncrement: true }, drafts: { keyPath: "key" }, lease: { keyPath: "name" } };

  const opened = new Promise((resolve) => {
    let request;
    // A browser that keeps nothing, by its settings, throws or refuses here.
    try { request = indexedDB.open("onetrip", 1); } catch { resolve(null); return; }
    request.onupgradeneeded = () => {
      for (const [name, options] of Object.entries(STORES)) request.result.createObjectStore(name, options);
    };
    request.onsuccess = () => {
      request.result.onversionchange = () => request.result.close();
      resolve(request.result);
    };
    request.onerror = request.onblocked = () => resolve(null);
  });

  // Runs `work` on one table in one transaction; what it returns last is read
  // once the transaction has really been written.
  async function on(name, mode, work) {
    const database = await opened;
    return new Promise((resolve, reject) => {
      const transaction = database.transaction(name, mode, { durability: "strict" });
      const request = work(transaction.objectStore(name));
      transaction.oncomplete = () => resolve(request ? request.result : undefined);
      transaction.onerror = transaction.onabort = () => reject(transaction.error);
    });
  }

  // One page at a time sends, so that entries go in their order. The key of
  // each makes sending twice harmless; this only saves the trouble. The next page
  // of the same tab holds what this one held.
  const self = (() => {
    const made = Math.random().toString(36).slice(2);
    try { return (sessionStorage.tab ??= made); } catch { return made; }
  })();
  function lease(until) {
    let mine = false;
    return on("lease", "readwrite", (table) => {
      const asked = table.get("sender");
      asked.onsuccess = () => {
        const held = asked.result;
        if (held && held.by !== self && held.until > Date.now()) return;
        mine = true;
        table.put({ name: "sender", by: self, until });
      };
      return asked;
    }).then(() => mine);
  }

  return {
    works: opened.then((database) => database !== null),
    entries: () => on("entries", "readonly", (table) => table.getAll()),
    entry: (id) => on("entries", "readonly", (table) => table.get(id)),
    put: (entry) => on("entries", "readwrite", (table) => table.put(entry)),
    remove: (id) => on("entries", "readwrite", (table) => table.delete(id)),
    drafts: () => on("drafts", "readonly", (table) => table.getAll()),
    draft: (key) => on("drafts", "readonly", (table) => table.get(key)),
    putDraft: (draft) => on("drafts", "readwrite", (table) => table.put(draft)),
    removeDraft: (key) => on("drafts", "readwrite", (table) => table.delete(key)),
    lease,
  };
})();

// Every word is in the page, so that it can be in another language.
function word(name, filled) {
  const text = document.getElementById("words")?.dataset[name] ?? "";
  return filled === undefined ? text : text.replace("#", () => filled);
}

// Read out to who does not see it.
function say(text) {
  const said = document.getElementById("said");
  if (said) said.textContent = text;
}

// Whose page this is, and how their shop writes; the frame says it.
const shop = () => document.querySelector("header[data-person]")?.dataset ?? {};
const viewer = () => shop().person ?? "";

// A time as the shop writes it, on the shop's own clock.
function moment(at) {
  const [locale, dateStyle] = { day_first: ["en-GB", "medium"], iso: ["sv-SE", "short"] }[shop().dates] ?? ["en-US", "medium"];
  return new Date(at).toLocaleString(locale, { dateStyle, timeStyle: "short", timeZone: shop().zone });
}

// A UUID of version 7 from the bytes that every address has: crypto.randomUUID
// is there on encrypted connections alone.
function newKey() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  let now = Date.now();
  for (let place = 5; place >= 0; place -= 1) { bytes[place] = now % 256; now = Math.floor(now / 256); }
  bytes[6] = 0x70 | (bytes[6] & 0x0f);
  bytes[8] = 0x80 | (bytes[8] & 0x3f);
  const hex = Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
  return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, "$1-$2-$3-$4-$5");
}
