// Running times, VINs as they are typed or scanned, pages kept for when the shop
// cannot be reached, and where everything starts.
"use strict";

const small = (() => {
  // By the server's clock: a tablet's own may be wrong.
  const skew = () => {
    const made = document.querySelector("header[data-now]")?.dataset;
    if (!made || document.documentElement.dataset.stood) return 0;
    return Number(made.skew ??= Date.parse(made.now) - performance.timeOrigin - performance.now());
  };

  const now = () => new Date(Date.now() + skew()).toISOString();

  function lasted(minutes) {
    const [hours, rest] = [Math.floor(minutes / 60), minutes % 60];
    return [hours > 0 && word("hour", hours), (rest > 0 || hours === 0) && word("min", rest)].filter(Boolean).join(" ");
  }

  function count() {
    for (const time of document.querySelectorAll("[data-since]")) {
      const from = Date.parse(time.dataset.since);
      if (!Number.isNaN(from)) time.textContent = lasted(Math.max(0, Math.round((Date.now() + skew() - from) / 60_000)));
    }
  }

  // 49 CFR 565.15: every place weighs its letter's value; place 9 is their sum
  // by 11, X for ten.
  const LETTERS = "0123456789.ABCDEFGH..JKLMN.P.R..STUVWXYZ";
  const WEIGHTS = [8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2];
  function fits(vin) {
    const sum = [...vin].reduce((sum, letter, place) => sum + (LETTERS.indexOf(letter) % 10) * WEIGHTS[place], 0);
    return "0123456789X"[sum % 11] === vin[8];
  }

  function opinion(vin) {
    const odd = /[^A-HJ-NPR-Z0-9]/.exec(vin);
    if (vin === "") return "";
    if (odd) return word("vinLetter", odd[0]);
    if (vin.length < 17) return word("vinShort", vin.length);
    if (vin.length > 17) return word("vinLong", vin.length);
    return word(fits(vin) ? "vinFits" : "vinOdd");
  }

  function checkVin(field) {
    // Some labels' codes begin with an I that is no part of the VIN.
    const bare = field.value.toUpperCase().replace(/[\s-]/g, "").replace(/^I(?=.{17}$)/, "");
    if (bare.length >= 17 && bare !== field.value) field.value = bare;
    const says = document.getElementById(field.dataset.says ?? "");
    if (says) says.textContent = opinion(bare);
  }

  // A scanner types and ends with Enter, which would send a form half filled:
  // it goes on to the next field, unless the form's first press looks something up.
  function entered(event) {
    const field = event.target;
    if (event.key !== "Enter" || !field.matches?.("[data-vin]") || !field.form) return;
    const fields = [...field.form.elements].filter((one) => one.offsetParent && one.type !== "hidden" && !one.disabled);
    const first = fields.find((one) => one.type === "submit");
    const method = first?.getAttribute("formmethod") ?? field.form.getAttribute("method") ?? "get";
    if (method.toLowerCase() === "get" || first?.hasAttribute("data-asks")) return;
    event.preventDefault();
    fields[fields.indexOf(field) + 1]?.focus();
  }

  function dress(root) {
    const header = document.querySelector("header[data-now]");
    if (header) delete header.dataset.skew;
    count();
    for (const field of root.querySelectorAll("[data-vin]")) if (field.value) checkVin(field);
  }

  // A page that came as an answer is the newest of its address.
  function keepPage(url, html) {
    navigator.serviceWorker?.controller?.postMessage({ url, html });
  }

  function stood() {
    const at = document.documentElement.dataset.stood;
    const line = document.getElementById("stood");
    if (!at || !line) return;
    line.querySelector("time").textContent = moment(at);
    line.hidden = false;
  }

  // A newer state has come in its place.
  function standsNow() {
    delete document.documentElement.dataset.stood;
    document.getElementById("stood").hidden = true;
  }

  async function start() {
    dress(document);
    stood();
    setInterval(count, 20_000);
    document.addEventListener("keydown", entered);
    document.addEventListener("input", (event) => { if (event.target.matches?.("[data-vin]")) checkVin(event.target); });
    if (window.isSecureContext) navigator.serviceWorker?.register("/sw.js").catch(() => {});
    if (!(await store.works)) return;
    // A kept or returned page has keys that may have been used.
    for (const form of forms.all(document)) forms.renew(form);
    await forms.restore(document);
    await cards.openAsked();
    await outbox.start();
  }

  return { dress, keepPage, standsNow, now, start };
})();

small.start();
