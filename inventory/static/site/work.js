/* Entries of the crew: kept in the browser until the site has answered for them, sent again when the line is back.
   Each carries a token of its own, so that one that arrives twice counts once. Without this script the forms work as they are. */
"use strict";

(() => {
  const state = document.getElementById("work-state");
  const waiting = document.getElementById("waiting");
  if (!state || !window.indexedDB || !window.fetch) return;
  const RETRY_MS = 15000;
  const address = new URL(state.dataset.entries, location.href).href; /* as forms tell their own */
  const STORE = "entries";

  const opened = new Promise((resolve, reject) => {
    const asked = indexedDB.open("changeover-work", 1);
    asked.onupgradeneeded = () => asked.result.createObjectStore(STORE, { keyPath: "number", autoIncrement: true });
    asked.onsuccess = () => resolve(asked.result);
    asked.onerror = () => reject(asked.error);
  });

  const inStore = async (mode, work) => {
    const base = await opened;
    return new Promise((resolve, reject) => {
      const deal = base.transaction(STORE, mode);
      const asked = work(deal.objectStore(STORE));
      deal.oncomplete = () => resolve(asked.result);
      deal.onerror = () => reject(deal.error);
      deal.onabort = () => reject(deal.error);
    });
  };
  const kept = () => inStore("readonly", (store) => store.getAll());
  const keep = (entry) => inStore("readwrite", (store) => store.add(entry));
  const drop = (number) => inStore("readwrite", (store) => store.delete(number));

  const say = (words) => {
    waiting.textContent = words;
    waiting.hidden = !words;
  };

  const mine = (entry) => entry.name === state.dataset.name;

  const tell = async (words) => {
    const entries = (await kept()).filter(mine);
    const held = entries.length ? `${entries.length} kept in this browser, not sent yet: ${entries.map(said).join(", ")}.` : "";
    say([...entries.map(alarm), words, held].filter(Boolean).join(" "));
  };

  /* What a form does, in words; steps without a field share one, which is told what is done by the button. */
  const does = (from) => (from.form && from.value ? `${from.form.dataset.does} ${from.value}` : from.dataset.does);

  const value = (entry, name) => (entry.fields.find(([one]) => one === name) || ["", ""])[1];
  const text = (entry) => value(entry, "text");
  /* The figures of an entry that were read: its only one, or those of a form with many. */
  const read = (entry) => (entry.reads || []).map((one) => ({ ...one, typed: value(entry, one.name) })).filter((one) => one.typed);
  const said = (entry) => {
    if (entry.span) return `${entry.does}: ${text(entry)}`;
    const figures = read(entry).map((one) => `${one.label}: ${one.typed}`);
    return figures.length ? `${entry.does} (${figures.join("; ")})` : entry.does;
  };

  /* A figure outside its span stops the work, with or without a connection; what is no plain number is left to the site. */
  const outsideOf = (typed, [lowest, highest]) => {
    const figure = Number.parseFloat(typed.replace(",", "."));
    return lowest !== undefined && (figure < lowest || figure > highest);
  };
  const alarm = (entry) => {
    const found = read(entry).filter((one) => outsideOf(one.typed, one.span)).map((one) => `${one.label}: ${one.typed}`);
    if (outsideOf(text(entry), entry.span || [])) found.push(said(entry));
    return found.map((words) => `Stop: ${words} is outside its span.`).join(" ");
  };

  /* What waits here counts as done for what may come next, so that the crew can go on without a connection. */
  const loosen = async () => {
    for (const entry of (await kept()).filter((one) => mine(one) && one.address === address)) {
      const from = [...state.querySelectorAll("form.entry, button[form]")].find((one) => does(one) === entry.does);
      const item = from && from.closest("li"); /* of a figure its own, not that of its step */
      if (item) item.classList.add("kept");
    }
    for (const button of state.querySelectorAll(".work-figures button")) button.disabled = false; /* sent by this script alone until its step is next */
    let open = false;
    let held = false;
    const outside = (await kept()).filter((one) => mine(one) && one.address === address && alarm(one)).map((one) => one.does);
    for (const item of state.querySelectorAll(".work-steps > li")) {
      past(item, outside);
      const hold = item.classList.contains("hold");
      if (!item.classList.contains("ticked")) unfold(item, !(hold ? open : held));
      const button = item.querySelector("form[data-does^='tick'] button, button[form='tick']");
      if (button) button.disabled = item.classList.contains("kept") || (hold ? open : held);
      if (!item.matches(".ticked, .kept")) {
        open = true;
        held = held || hold;
      }
    }
  };

  /* What a step waits for stands there in its place; what can be done there comes once it waits no more. */
  const unfold = (item, open) => {
    for (const part of item.querySelectorAll("form.entry, p.actions")) part.hidden = !open;
    const waits = item.querySelector(".waits");
    if (waits) waits.hidden = open;
  };

  /* A step that waited when the page was made has no field for a reason yet. */
  const pastOf = (item) => {
    const form = item.querySelector("form[data-does^='tick']");
    const made = document.getElementById("past");
    if (!form || !made || !item.querySelector(".work-figures")) return null;
    const label = made.content.firstElementChild.cloneNode(true);
    form.insertBefore(label, form.querySelector("button"));
    return label;
  };

  /* A step is done on a reason where a figure of it is not read, here or at the site, or is outside its span. */
  const past = (item, outside) => {
    const label = item.querySelector("label.past") || pastOf(item);
    if (!label) return;
    const waits = (one) => {
      const form = one.querySelector("form.entry");
      const here = one.classList.contains("kept");
      return here ? form && outside.includes(form.dataset.does) : one.matches(".stop, :not(.read)");
    };
    label.hidden = ![...item.querySelectorAll(".work-figures > li")].some(waits);
    label.querySelector("input").required = !label.hidden;
  };

  const csrf = () => document.querySelector("input[name=csrfmiddlewaretoken]").value;

  const send = (entry) => {
    const body = new FormData();
    for (const [name, value] of entry.fields) body.append(name, value);
    /* How long ago, not when: this browser's clock may be anything, and the site knows the campus's. */
    if (entry.typed_ms) body.append("ago_s", String(Math.max(0, (Date.now() - entry.typed_ms) / 1000)));
    return fetch(entry.address, { method: "POST", body, headers: { "X-CSRFToken": csrf(), "X-Kept-Entry": "1" }, redirect: "manual" });
  };

  const worded = async (answer) => ((answer.headers.get("Content-Type") || "").includes("json") ? answer.json() : {});

  /* The page as it is now; null without a connection, or where it asks for another sign-in. */
  const anew = async () => {
    const answer = await fetch(location.href, { redirect: "manual", cache: "no-store" }); /* after going back, browsers answer from what they have */
    if (!answer.ok) return null;
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const now = page.getElementById("work-state");
    return now && now.dataset.name === state.dataset.name ? page : null;
  };

  /* A sign-in in another tab gave new secrets to forms: read them off this page as it is now. False: nobody, or somebody else, is signed in. */
  const renew = async () => {
    const page = await anew();
    const fresh = page && page.querySelector("input[name=csrfmiddlewaretoken]");
    if (!fresh) return false;
    for (const one of document.querySelectorAll("input[name=csrfmiddlewaretoken]")) one.value = fresh.value;
    return true;
  };

  const asksToSignIn = (answer) => answer.type === "opaqueredirect" || answer.status === 401 || answer.status === 403;

  /* One at a time and in order: a hold point must arrive before what comes after it. */
  let busy = false;
  const flush = async () => {
    if (busy) return;
    busy = true;
    let words = "";
    try {
      for (const entry of (await kept()).filter(mine)) {
        let answer = await send(entry);
        let told = await worded(answer);
        if (asksToSignIn(answer) && !told.refused && (await renew())) {
          answer = await send(entry);
          told = await worded(answer);
        }
        if (answer.status === 403 && told.refused) {
          words = `Not sent (${entry.does}): ${told.refused}`;
          continue;
        }
        if (asksToSignIn(answer)) {
          words = "Your sign-in has ended: open the site in another tab, sign in, and come back here.";
          break;
        }
        if (answer.status === 413) {
          await drop(entry.number);
          words = `Not kept (${entry.does}): the file is larger than the site takes.`;
          continue;
        }
        if (!answer.ok) {
          words = `The site answered ${answer.status}; it will be sent again.`;
          break;
        }
        await drop(entry.number);
        sentSome = true;
        if (told.refused) words = `Not kept (${said(entry)}): ${told.refused}`;
        if (entry.address === address && told.state !== undefined) show(told.state, entry, told.refused);
      }
    } catch {
      words = "No connection: what you enter is kept here and sent when it is back.";
    } finally {
      busy = false;
    }
    await fresh().catch(() => {});
    await tell(words);
    await loosen();
  };

  /* A page that came without a connection is brought up to date when there is one; else what was sent leaves it behind on this device. */
  const stale = document.getElementById("stale");
  const isStale = () => !!stale && !stale.hidden;
  let sentSome = false;
  const fresh = async () => {
    if (!stale || (stale.hidden && !sentSome)) return;
    sentSome = false;
    const page = await anew();
    if (!page || stale.hidden) return;
    show(page.getElementById("work-state").innerHTML);
    stale.hidden = true;
  };

  /* What is being typed elsewhere on the page, as it stands: an answer for one form must not empty another. */
  const forms = () => new Map([...state.querySelectorAll("form.entry")].map((one) => [one.dataset.does, one]));
  const fields = (form) => [...form.querySelectorAll("input:not([type=hidden]), textarea")];
  const typed = () =>
    [...forms()].flatMap(([does, form]) =>
      fields(form)
        .filter((one) => one.value !== one.defaultValue)
        .map((one) => ({ does, name: one.name, value: one.value, files: one.files, open: !!one.closest("details[open]") })),
    );

  /* Half typed words outlast the page; a file that was chosen and not kept does not. */
  const TYPED = `changeover-typed ${state.dataset.name} ${address}`;
  const keepTyped = () => {
    const words = typed().filter((one) => !one.files);
    if (words.length) localStorage.setItem(TYPED, JSON.stringify(words));
    else localStorage.removeItem(TYPED);
  };

  const typeAgain = (kept) => {
    const now = forms();
    for (const one of kept) {
      const field = now.has(one.does) && now.get(one.does).elements[one.name];
      if (!field) continue;
      if (one.files) field.files = one.files;
      else field.value = one.value;
      const folded = field.closest("details");
      if (folded) folded.open = folded.open || one.open;
    }
  };

  const show = (html, entry, refused) => {
    const at = document.activeElement;
    const form = at && state.contains(at) && at.closest("form.entry");
    const place = at && at.closest && at.closest("li[id]");
    const kept = typed();
    state.innerHTML = html;
    typeAgain(kept);
    const file = refused && (entry.fields.find(([, value]) => value instanceof File) || [])[1];
    if (file) {
      const files = new DataTransfer();
      files.items.add(file);
      typeAgain([{ does: entry.does, name: "photograph", files: files.files }]);
    }
    focusAgain(form && form.dataset.does, at && at.name, place && place.id);
  };

  const focusAgain = (does, name, place) => {
    const form = does && forms().get(does);
    const again = (form && name && form.elements[name]) || (place && document.getElementById(place));
    if (!again) return;
    if (again.tabIndex < 0) again.tabIndex = -1;
    again.focus({ preventScroll: true });
  };

  /* A version 4 UUID (RFC 9562, 5.4): crypto.randomUUID is not there on a site without HTTPS. */
  const newToken = () => {
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    bytes[6] = (bytes[6] & 0x0f) | 0x40;
    bytes[8] = (bytes[8] & 0x3f) | 0x80;
    const hex = [...bytes].map((one) => one.toString(16).padStart(2, "0")).join("");
    return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
  };

  document.addEventListener("submit", async (event) => {
    const form = event.target.closest("form.entry");
    if (!form || !state.contains(form) || form.dataset.plain) return;
    event.preventDefault();
    const button = event.submitter || form.querySelector("button");
    if (button.disabled) return;
    button.disabled = true;
    const sent = [...new FormData(form)].filter(([name]) => name !== "csrfmiddlewaretoken" && name !== "token");
    sent.push(["token", newToken()]);
    if (button.name) sent.push([button.name, button.value]);
    try {
      const { lowest, highest } = form.dataset;
      const span = lowest === undefined ? null : [Number(lowest), Number(highest)];
      const reads = [...form.querySelectorAll("input[data-reads]")].map((one) => ({
        name: one.name,
        label: one.dataset.reads,
        span: one.dataset.lowest === undefined ? [] : [Number(one.dataset.lowest), Number(one.dataset.highest)],
      }));
      await keep({ reads, address: form.hasAttribute("action") ? form.action : address, name: state.dataset.name, does: does(button.name ? button : form), fields: sent, span, typed_ms: Date.now() });
    } catch {
      form.dataset.plain = "yes"; /* this browser keeps nothing: send it as a plain form */
      form.requestSubmit(button);
      return;
    }
    form.reset(); /* it is kept: left here, it would be sent once more by another press */
    keepTyped();
    await tell("");
    await loosen();
    await flush();
    button.disabled = false;
    await loosen();
  });

  /* The back button shows the page as it was: bring it up to date where there is a connection. */
  window.addEventListener("pageshow", async (event) => {
    const [how] = performance.getEntriesByType("navigation");
    if (!event.persisted && !(how && how.type === "back_forward")) return;
    try {
      const page = await anew();
      if (page) show(page.getElementById("work-state").innerHTML);
    } catch {
      return; /* no connection: it stays as it was */
    }
    await loosen();
  });
  /* Drawings and landing tables come with the print of the pack; had at once, they are there when the line is not. */
  const bring = async () => {
    const sheets = document.getElementById("sheets");
    const answer = await fetch(sheets.dataset.from, { redirect: "manual" });
    if (!answer.ok) return;
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    sheets.append(...page.querySelectorAll(".pack-segment, .pack-settings"));
  };

  /* So that the page comes again without a connection (offline.js). Where it was not kept yet, all that it needs is asked for once more. */
  const outlast = async () => {
    const guard = navigator.serviceWorker; /* not there on a site without HTTPS */
    if (!guard || !state.dataset.offline) return;
    const held = guard.controller || new Promise((resolve) => guard.addEventListener("controllerchange", resolve, { once: true }));
    await guard.register(state.dataset.offline);
    if (held === guard.controller) return;
    await held;
    const needed = [...document.querySelectorAll("link[href], script[src]")].map((one) => one.href || one.src);
    for (const one of [location.href, document.getElementById("sheets").dataset.from, ...needed]) await fetch(one);
  };

  window.addEventListener("online", flush);
  window.addEventListener("focus", flush); /* back from signing in elsewhere */
  window.setInterval(async () => {
    if (isStale() || (await kept()).some(mine)) await flush();
  }, RETRY_MS);
  typeAgain(JSON.parse(localStorage.getItem(TYPED) || "[]"));
  document.addEventListener("input", keepTyped);
  outlast().catch(() => {}); /* without it the page is lost when it is loaded anew without a connection, as any page is */
  flush();
  bring().catch(() => {}); /* no connection: the link to the print stays */
})();
