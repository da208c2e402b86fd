// Forms: what they hold in words, filling them again, and what was typed and
// not sent.
"use strict";

const forms = (() => {
  const OWN = ["form_token", "once", "version"];
  const DRAFT_DAYS = 30;

  const all = (root) => [...root.querySelectorAll("form[data-send]")];
  const address = (form) => new URL(form.getAttribute("action") ?? "", location.href).pathname;
  const fieldsOf = (form) => [...form.elements].filter((field) => field.name && !field.disabled);
  const typed = (form) => fieldsOf(form).filter((field) => !["hidden", "password", "submit", "button"].includes(field.type));

  // Which of several forms with one address: its hidden fields say so.
  const mark = (form) => fieldsOf(form)
    .filter((field) => field.type === "hidden" && !OWN.includes(field.name))
    .map((field) => `${field.name}=${field.value}`).join("&");

  const text = (element) => (element?.textContent ?? "").replace(/\s+/g, " ").trim();

  // What a form is about, for who reads of it elsewhere.
  function title(form, button) {
    const about = form.dataset.send
      || text(form.querySelector("legend"))
      || text(form.closest("details")?.querySelector("summary"))
      || text(form.closest("section")?.querySelector("h2"));
    const pressed = text(button);
    return [about, pressed].filter((part, place, parts) => part && parts.indexOf(part) === place).join(": ");
  }

  // The fields as a person reads them: label and what was chosen or typed.
  function shown(form) {
    const lines = [];
    for (const field of typed(form)) {
      let value = field.value;
      if (["radio", "checkbox"].includes(field.type)) {
        if (!field.checked) continue;
        value = text(field.closest("label")) || value;
      } else if (field.tagName === "SELECT") {
        value = field.value === "" ? "" : [...field.selectedOptions].map(text).join(", ");
      }
      if (value.trim() === "") continue;
      const group = ["radio", "checkbox"].includes(field.type) ? text(field.closest("fieldset")?.querySelector("legend")) : "";
      lines.push([group || text(field.labels?.[0]) || field.name, value]);
    }
    return lines;
  }

  // Puts values back; hidden fields stay the page's own, and so do those that
  // are not named, where names are given.
  function fill(form, values, names) {
    const texts = new Map();
    for (const field of typed(form)) {
      if (names && !names.has(field.name)) continue;
      const sent = values.filter(([name]) => name === field.name).map(([, value]) => value);
      if (["radio", "checkbox"].includes(field.type)) field.checked = sent.includes(field.value);
      else if (field.tagName === "SELECT") for (const option of field.options) option.selected = sent.includes(option.value);
      else {
        // Several fields of one name are filled in their order.
        const place = texts.get(field.name) ?? 0;
        texts.set(field.name, place + 1);
        field.value = sent[place] ?? "";
      }
    }
    for (let box = form.closest("details"); box; box = box.parentElement.closest("details")) box.open = true;
    for (const box of form.querySelectorAll("details")) {
      box.open = typed(form).some((field) => box.contains(field) && values.some(([name, value]) => name === field.name && value !== ""));
    }
  }

  // The values now, and as the page gave them.
  function values(form, asGiven) {
    const pairs = [];
    for (const field of typed(form)) {
      if (["radio", "checkbox"].includes(field.type)) {
        if (asGiven ? field.defaultChecked : field.checked) pairs.push([field.name, field.value]);
      } else if (field.tagName === "SELECT") {
        const options = [...field.options];
        const chosen = options.filter((option) => (asGiven ? option.defaultSelected : option.selected));
        if (asGiven && chosen.length === 0 && !field.multiple && options.length > 0) chosen.push(options[0]);
        for (const option of chosen) pairs.push([field.name, option.value]);
      } else pairs.push([field.name, asGiven ? field.defaultValue : field.value]);
    }
    return pairs;
  }
  const same = (one, other) => JSON.stringify(one) === JSON.stringify(other);
  const changed = (form) => !same(values(form), values(form, true));

  // The names of the fields that a person gave another value than the page.
  function touched(entry) {
    const of = (pairs, name) => JSON.stringify(pairs.filter(([other]) => other === name));
    const names = new Set([...entry.given, ...entry.typed].map(([name]) => name));
    return new Set([...names].filter((name) => of(entry.given, name) !== of(entry.typed, name)));
  }

  // What a person changed, put on what stands now: a field that nobody touched
  // here keeps what somebody else made of it meanwhile.
  function merged(entry, form) {
    const [own, now] = [touched(entry), values(form)];
    const shown = new Set(now.map(([name]) => name));
    const kept = entry.fields.filter(([name]) => own.has(name) || !shown.has(name));
    const fields = [...kept, ...now.filter(([name]) => !own.has(name))];
    const version = form.elements.version?.value;
    return fields.map(([name, value]) => [name, name === "version" && version ? version : value]);
  }

  const renew = (form) => { const once = form.elements.once; if (once) once.value = newKey(); };

  const draftKey = (form) => `${viewer()} ${address(form)} ${form.dataset.draft ?? mark(form)}`;
  const waiting = new Map();

  function keep(form) {
    clearTimeout(waiting.get(form));
    waiting.delete(form);
    if (!viewer()) return Promise.resolve();
    const [now, given, key] = [values(form), values(form, true), draftKey(form)];
    if (same(now, given)) return store.removeDraft(key);
    return store.putDraft({ key, given, now, at: Date.now() });
  }

  // What the page gives back itself, until it is sent.
  const remember = (form) => store.putDraft({ key: draftKey(form), given: values(form, true), now: values(form), at: Date.now() });

  // What was refused, as it was typed on the page that gave its form.
  const rememberTyped = (form, { given, typed: now }) => store.putDraft({ key: draftKey(form), given, now, at: Date.now() });

  // While typing: a moment after the last key.
  function typing(event) {
    const form = event.target.form;
    if (!form?.matches("form[data-send]")) return;
    clearTimeout(waiting.get(form));
    waiting.set(form, setTimeout(() => keep(form), 400));
  }

  const keepAll = () => Promise.all([...waiting.keys()].map(keep));

  const forget = (form) => {
    clearTimeout(waiting.get(form));
    waiting.delete(form);
    return store.removeDraft(draftKey(form));
  };

  function note(form, name, act) {
    const line = document.getElementById(name).content.firstElementChild.cloneNode(true);
    line.querySelector("button").addEventListener("click", () => { line.remove(); act(); });
    form.prepend(line);
  }

  // Gives back what was typed before; a field that the record has moved on in
  // since, only when asked to.
  async function restore(root) {
    const old = Date.now() - DRAFT_DAYS * 86_400_000;
    const drafts = new Map();
    for (const draft of await store.drafts()) {
      if (draft.at < old) await store.removeDraft(draft.key);
      else drafts.set(draft.key, draft);
    }
    for (const form of all(root)) {
      const draft = drafts.get(draftKey(form));
      const given = values(form, true);
      if (!draft || changed(form) || same(draft.now, given)) continue;
      const of = (pairs, name) => JSON.stringify(pairs.filter(([other]) => other === name));
      const shown = new Set(typed(form).map((field) => field.name));
      const own = [...touched({ given: draft.given, typed: draft.now })].filter((name) => shown.has(name));
      // A field that the page gives as it did then: nobody else has changed it.
      const sure = new Set(own.filter((name) => of(draft.given, name) === of(given, name)));
      if (sure.size > 0) {
        fill(form, draft.now, sure);
        note(form, "draft-note", () => { form.reset(); forget(form); });
      } else if (own.length > 0) note(form, "older-note", () => fill(form, draft.now, new Set(own)));
    }
  }

  // The form that an entry was made with, on a page of now.
  const of = (root, entry) => all(root).find((form) => address(form) === entry.action && mark(form) === entry.mark);
  // That, or another that does the same for something else.
  const near = (root, entry) => of(root, entry) ?? all(root).find((form) => address(form) === entry.action);

  return { all, address, mark, title, shown, fill, values, touched, merged, changed, renew, typing, keepAll, remember, rememberTyped, forget, restore, of, near, text };
})();
