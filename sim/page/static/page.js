// Sends a change as it is made and puts the answer in its place; without it the page works by sending the form.
(function () {
  "use strict";
  const form = document.getElementById("system");
  if (!form) return;
  const WAIT_TYPING_MS = 8, WAIT_COMPILING_MS = 1500, WAIT_BUSY_MS = 900, HEARD_MS = 800;
  const main = document.querySelector("main"), root = document.documentElement;
  const unsent = new Map();  // field by field what the server has not confirmed yet
  const tab = String(Math.random()).slice(2);
  const last = new Map();  // what each field was told last
  let going = null, timer = 0, heard = 0, count = 0;
  root.classList.add("scripted");

  const all = (selector, within = document) => Array.from(within.querySelectorAll(selector));
  const fields = () => all("#system [name]:not(button), .handles [name]:not(button)").filter((it) => !it.name.startsWith("_"));

  // A part of the page anew; what was open stays open, and the keyboard stays where it was.
  function place(name, html) {
    const part = document.querySelector(`[data-part="${name}"]`);
    if (!part || part.dataset.html === html) return;
    part.dataset.html = html;
    const open = all("details[id][open]", part).map((it) => it.id);
    const held = part.contains(document.activeElement) ? document.activeElement.value : null;
    part.innerHTML = html;
    open.forEach((id) => { const it = document.getElementById(id); if (it) it.open = true; });
    if (held === null) return;
    const buttons = all("button:not(:disabled)", part);
    (buttons.find((it) => it.value === held) || buttons[0] || main).focus();
  }

  // A screen reader hears where the hand came to rest, not every step on the way.
  function announce() {
    clearTimeout(heard);
    heard = setTimeout(() => {
      document.getElementById("heard").textContent = document.querySelector('[data-part="said"]').textContent.trim();
    }, HEARD_MS);
  }

  function settle(field, value, usual, wrong) {
    if (document.activeElement !== field && !unsent.has(field.name) && field.value !== value) {
      if (field.tagName === "SELECT" && !all("option", field).some((it) => it.value === value)) field.append(new Option(value, value));
      field.value = value;
    }
    const box = field.closest(".field");
    if (field.tagName === "INPUT") field.placeholder = usual;
    else if (field.options[0].value === "" && usual) field.options[0].textContent = `as usual: ${usual}`;
    box.querySelector(".default").textContent = usual && !value ? `As usual: ${usual}.` : "";
    box.querySelector(".error").textContent = wrong;
    box.classList.toggle("wrong", Boolean(wrong));
    if (wrong) field.setAttribute("aria-invalid", "true"); else field.removeAttribute("aria-invalid");
  }

  function moved(range) {
    const line = document.querySelector(`[data-line="${range.name}"]`);
    const x = 1000 * (range.value - range.min) / (range.max - range.min);
    if (line) { line.setAttribute("x1", x); line.setAttribute("x2", x); }
    document.querySelector(`[data-output="${range.name}"]`).textContent = `${range.value} V`;
  }

  function show(told) {
    const keys = Object.keys(told.fields), ranges = Object.keys(told.handles);
    const other = keys.length !== all("#system .field [name]:not([data-ask])").length || keys.some((key) => !document.getElementById(`f-${key}`));
    if (other || ranges.length !== all(".handles [type=range]").length) { location.reload(); return; }
    Object.entries(told.parts).forEach(([name, html]) => place(name, html));
    keys.forEach((key) => {
      const now = told.fields[key].join("\n"), field = document.getElementById(`f-${key}`);
      if (last.get(key) === now && field.value === told.fields[key][0]) return;
      last.set(key, now);
      settle(field, ...told.fields[key]);
    });
    ranges.forEach((key) => {
      const range = document.getElementById(`r-${key}`);
      if (document.activeElement !== range && !unsent.has(key)) range.value = told.handles[key];
      moved(range);
    });
    all("[name=_seen]").forEach((it) => { it.value = told.serial; });
    main.dataset.ready = told.ready ? "yes" : "no";
    root.dataset.serial = told.serial;
    root.dataset.answered = Number(root.dataset.answered || 0) + 1;
    announce();
    again(told.ready, told.busy);
  }

  // Look again while something goes on that changes by itself; a change that is on its way looks anyhow.
  let waiting = 0;
  function again(ready, busy) {
    clearTimeout(waiting);
    if (!ready || busy) waiting = setTimeout(() => going || unsent.size ? again(ready, busy) : look(), ready ? WAIT_BUSY_MS : WAIT_COMPILING_MS);
  }

  function complain(words) {
    const box = document.getElementById("complaint");
    box.className = words ? "found warning" : "";
    box.textContent = words;
  }

  // One request at a time: a change takes the place of the one before, which goes along with it; a button is waited for.
  async function ask(path, body, doing) {
    while (going) {
      if (going.doing) await going.done; else { going.abort.abort(); going = null; }
    }
    const mine = going = { abort: new AbortController(), doing, done: null };
    mine.done = answered(path, body, mine);
    await mine.done;
  }

  async function answered(path, body, mine) {
    const sent = body ? Array.from(unsent) : [];
    try {
      const options = body ? { method: "POST", body } : {};
      const got = await fetch(path, { ...options, headers: { "x-sunrill": "changes" }, signal: mine.abort.signal });
      if (got.status === 409) {  // it overtook, or was overtaken on the way: what holds is asked for again
        if (going === mine) timer = setTimeout(send, WAIT_TYPING_MS);
        return;
      }
      const told = await got.json();
      sent.forEach(([name, value]) => { if (unsent.get(name) === value) unsent.delete(name); });
      root.dataset.unsent = unsent.size;
      complain(told.wrong || "");
      if (!told.wrong) show(told);
    } catch (error) {
      if (error.name !== "AbortError") complain("The page's program does not answer. Is it still running?");
    } finally {
      if (going === mine) going = null;
    }
  }

  const look = () => ask(`${form.action}/answer`, null, "");

  function send(doing = "") {
    clearTimeout(timer);
    const body = new URLSearchParams([...unsent, ["_tab", tab], ["_number", ++count]]);
    if (doing) {
      body.set("do", doing);
      all("[data-ask]").forEach((it) => { body.set(it.name, it.value); });
    }
    return ask(form.action, body, doing);
  }

  document.addEventListener("input", (event) => {
    const field = event.target;
    if (!fields().includes(field)) return;
    unsent.set(field.name, field.value);
    root.dataset.unsent = unsent.size;
    const typed = field.type !== "range" && field.tagName !== "SELECT";
    fields().filter((it) => it !== field && it.name === field.name && field.value).forEach((it) => { it.value = field.value; });
    all(".handles [type=range]").filter((it) => it.name === field.name).forEach(moved);
    clearTimeout(timer);
    timer = setTimeout(send, typed ? WAIT_TYPING_MS : 0);
  });

  document.addEventListener("submit", (event) => {
    if (event.target !== form && !event.target.classList.contains("handles")) return;
    if (event.submitter && event.submitter.dataset.whole !== undefined) return;
    event.preventDefault();
    send(event.submitter ? event.submitter.value : "change");
  });

  if (matchMedia("(max-width: 61.99rem)").matches) all(".fold").forEach((it) => { it.open = false; });
  again(main.dataset.ready === "yes", main.dataset.busy === "yes");
})();
