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
    const held = entries.length ? `${entries.length} kept in this browser, not sent yet: ${entries.map((one) => one.does).join(", ")}.` : "";
    say([words, held].filter(Boolean).join(" "));
  };

  /* What waits here counts as done for what may come next, so that the crew can go on without a connection. */
  const loosen = async () => {
    for (const entry of (await kept()).filter((one) => mine(one) && one.address === address)) {
      const form = [...state.querySelectorAll("form.entry")].find((one) => one.dataset.does === entry.does);
      const item = form && form.closest(".work-steps li");
      if (item) item.classList.add("kept");
    }
    let open = false;
    let held = false;
    for (const item of state.querySelectorAll(".work-steps li")) {
      const hold = item.classList.contains("hold");
      const button = item.querySelector("form[data-does^='tick'] button");
      if (button) button.disabled = item.classList.contains("kept") || (hold ? open : held);
      if (!item.matches(".ticked, .kept")) {
        open = true;
        held = held || hold;
      }
    }
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

  /* One at a time and in order: a hold point must arrive before what comes after it. */
  let busy = false;
  const flush = async () => {
    if (busy) return;
    busy = true;
    let words = "";
    try {
      for (const entry of (await kept()).filter(mine)) {
        const answer = await send(entry);
        const told = await worded(answer);
        if (answer.status === 403 && told.refused) {
          words = `Not sent (${entry.does}): ${told.refused}`;
          continue;
        }
        if (answer.type === "opaqueredirect" || answer.status === 401 || answer.status === 403) {
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
        if (told.refused) words = `Not kept (${entry.does}): ${told.refused}`;
        if (entry.address === address) show(told.state);
      }
    } catch {
      words = "No connection: what you enter is kept here and sent when it is back.";
    } finally {
      busy = false;
    }
    await tell(words);
    await loosen();
  };

  const show = (html) => {
    const open = document.activeElement && document.activeElement.closest("li[id], form[data-does]");
    const at = open && open.id;
    state.innerHTML = html;
    const again = at && document.getElementById(at);
    if (again) {
      again.tabIndex = -1;
      again.focus({ preventScroll: true });
    }
  };

  document.addEventListener("submit", async (event) => {
    const form = event.target.closest("form.entry");
    if (!form || !state.contains(form)) return;
    event.preventDefault();
    const button = form.querySelector("button");
    if (button.disabled) return;
    button.disabled = true;
    const fields = [...new FormData(form)].filter(([name]) => name !== "csrfmiddlewaretoken" && name !== "token");
    fields.push(["token", crypto.randomUUID ? crypto.randomUUID() : form.elements.token.value]);
    try {
      await keep({ address: form.action, name: state.dataset.name, does: form.dataset.does, fields, typed_ms: Date.now() });
    } catch {
      form.submit(); /* this browser keeps nothing: send it as a plain form */
      return;
    }
    await tell("");
    await loosen();
    await flush();
    button.disabled = false;
    await loosen();
  });

  window.addEventListener("online", flush);
  window.setInterval(async () => {
    if ((await kept()).some(mine)) await flush();
  }, RETRY_MS);
  flush();
})();
