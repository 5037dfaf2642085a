// Shows what the worker says and passes on what is replied; nothing of the consultation is decided here.
import * as keeping from "./keeping.js";

const at = (id) => document.getElementById(id);
const unit = document.documentElement.dataset.unit;
const SHOWN_FIRST = ["d", "b"];

let entry = null; // the case that is open: id, text, name, type, answer, ticks
let screen = null;
let ahead = null; // the screens that were made beforehand, and how far one is in them
const first = fetch("first.json").then((found) => found.json()).catch(() => null); // those screens, where they can be had
let worker = null;
let ready = false;
let failure = "";
let asking = 0;
const waiting = new Map();
const unsent = []; // what was asked before there was a worker

// What the worker does.

function startWorker() {
  worker = new Worker("worker.js?unit=" + unit, { type: "module" });
  worker.addEventListener("message", ({ data }) => heard(data));
  worker.addEventListener("error", (event) => failed(event.message || "the worker did not start"));
  for (const message of unsent.splice(0)) worker.postMessage(message);
}

function heard(data) {
  if (data.ready) {
    ready = true;
    starting("Ready. Works without a signal from now on, if this browser keeps the page.");
    caughtUp();
  } else if (data.kept !== undefined) {
    const { own } = waiting.get(data.of);
    if (own) keepCase({ text: data.kept, early: undefined }, own);
  } else if (data.of) {
    const { resolve, reject } = waiting.get(data.of);
    waiting.delete(data.of);
    if (data.failed) reject(new Error(data.failed));
    else resolve(data.answer);
  } else if (data.failed) failed(data.failed);
}

function failed(reason) {
  failure = reason;
  starting("");
  alert_("The consultation could not be started here: " + reason + ". Close the page and open it again; if that does not help, use another browser.");
}

function ask(request) {
  return new Promise((resolve, reject) => {
    const of = ++asking;
    waiting.set(of, { resolve, reject, own: entry });
    if (worker) worker.postMessage({ of, request });
    else unsent.push({ of, request });
  });
}

// The same about the case that is open; what comes once another is open, or none, is let go.
async function askOfCase(request) {
  const own = entry;
  const found = await ask(request);
  return entry === own ? found : new Promise(() => {});
}

// Telling.

function alert_(text) {
  at("alert").textContent = text;
}

function starting(text) {
  at("starting").textContent = text;
  if (screen && ahead) busy(ahead.halted ? "Starting. " + text : "");
}

function busy(text) {
  at("busy").textContent = text;
}

const megabytes = (bytes) => (bytes / 1e6).toFixed(1) + " MB";

function made(tag, props = {}, ...inner) {
  const found = document.createElement(tag);
  for (const [name, value] of Object.entries(props)) {
    if (name in found) found[name] = value;
    else found.setAttribute(name, value);
  }
  found.append(...inner);
  return found;
}

// Which part of the page is shown. The phone's own back gesture leads from a case to the list.

function show(name) {
  for (const part of ["home", "talk", "end"]) at(part).hidden = part !== name;
  alert_(failure ? at("alert").textContent : "");
  if (name !== "home" && !history.state) history.pushState({ inCase: true }, "");
  if (name === "home") home();
  scrollTo({ top: 0, behavior: "instant" });
}

addEventListener("popstate", () => {
  if (staysInPractice()) history.pushState({ inCase: true }, "");
  else leave();
});

// Nothing of a practice is kept, so whoever leaves a running one is asked.
function staysInPractice() {
  const running = entry && entry.practice && screen && screen.reply;
  return Boolean(running) && !confirm("Leave this practice? Nothing of it is kept.");
}

function leave() {
  entry = screen = ahead = null;
  show("home");
  at("home").querySelector("h1").focus({ preventScroll: true });
}

function toList() {
  if (history.state) history.back();
  else if (!staysInPractice()) leave();
}

// The list of cases.

function home() {
  const { cases, problem } = keeping.list();
  at("where-kept").textContent = problem || "Cases are kept on this phone, in this browser, and sent nowhere. Whoever clears the browser's data deletes them.";
  at("where-kept").classList.toggle("told", Boolean(problem));
  at("kept-cases").hidden = !cases.length;
  at("cases").replaceChildren(
    ...cases.map((row) => {
      const when = row.changed ? new Date(row.changed).toLocaleString() : "";
      const title = made("b", { textContent: row.name || "No name" });
      const rest = made("small", { textContent: [row.type, when, row.answer].filter(Boolean).join(" \u00b7 ") });
      return made("li", {}, made("button", { type: "button", onclick: () => resume(row.id) }, title, rest));
    }),
  );
  at("mend").hidden = true;
}

addEventListener("storage", () => {
  if (!at("home").hidden) home();
});

async function resume(id) {
  entry = keeping.open(id);
  if (!entry) return home();
  if (!entry.early) return openText(entry.text);
  starting("The case opens as soon as the consultation has started.");
  const found = await askOfCase({ do: "begin", ...entry.early });
  starting("");
  shown(found);
}

async function openText(text, name) {
  starting(ready ? "Opening the case." : "The case opens as soon as the consultation has started.");
  try {
    const found = await askOfCase({ do: "resume", text, ...(name ? { name } : {}) });
    starting("");
    if (found.problems) return mend(found.problems, text);
    ahead = null;
    shown(found);
  } catch (error) {
    alert_("The case could not be opened: " + error.message);
  }
}

// A case that cannot be read, of an older version of the rules perhaps, is shown with what is wrong; nothing of it is lost.
function mend(problems, text) {
  at("mend").hidden = false;
  at("problems").textContent = "This case cannot be gone on with as it is:\n" + problems.join("\n");
  at("text").value = text;
  at("text").focus();
}

at("try-again").addEventListener("click", () => {
  entry = entry || { id: keeping.newId(), name: "", type: "", answer: "" };
  openText(at("text").value);
});

at("import").addEventListener("change", async () => {
  const [file] = at("import").files;
  at("import").value = "";
  if (!file) return;
  if (file.size > 1 << 20) return alert_("This file is too large for a case.");
  entry = { id: keeping.newId(), name: "", type: "", answer: "" };
  await openText(await file.text(), file.name.slice(0, 80));
});

for (const button of document.querySelectorAll("[data-type]")) button.addEventListener("click", () => begin(button.dataset.type));

async function begin(type) {
  const name = at("name").value;
  at("name").value = "";
  entry = { id: keeping.newId(), name, type, answer: "" };
  const own = entry;
  const found = ready ? null : await first;
  if (entry !== own) return;
  if (ready || !found) {
    if (!ready) starting("The case opens as soon as the consultation has started.");
    return shown(await askOfCase({ do: "begin", type, title: name }));
  }
  const id = found.after[type][""];
  ahead = { found, type, title: name, lines: [], seen: [], path: [], id, halted: false };
  shown(found.screens[id]);
}

// Practice: no case is kept of it, and each of its screens says so.

at("practise").addEventListener("click", async () => {
  entry = { practice: true, type: at("practice-type").value, name: "PRACTICE" };
  starting(ready ? "Drawing a case." : "Practice begins as soon as the consultation has started.");
  const found = await askOfCase({ do: "practise", type: entry.type, level: at("practice-level").value, number: at("practice-number").value });
  starting("");
  if (found.problems) return alert_(found.problems.join("\n"));
  at("not-kept").hidden = true;
  ahead = null;
  shown(found);
});

// Before the runtime has started, the screens made beforehand are gone through; then it is told what was replied.

function foreseen(line) {
  const after = ahead.found.after[ahead.type];
  const on = [line, ...(screen.reply.takes === "size" ? ["*"] : [])].find((one) => after[[...ahead.path, one].join("\n")]);
  ahead.path.push(on ?? line);
  const next = after[ahead.path.join("\n")];
  ahead.lines.push(line);
  ahead.seen.push(ahead.id);
  const { type, title, lines, seen } = ahead;
  keepCase({ text: "", early: { type, title, lines, seen } });
  if (next) {
    ahead.id = next;
    shown(ahead.found.screens[next]);
  } else {
    ahead.halted = true;
    disable(true);
    starting(at("starting").textContent);
  }
}

async function caughtUp() {
  if (!ahead) return;
  const { type, title, lines, seen, id, halted } = ahead;
  if (!lines.length && screen) {
    ahead = null;
    const found = await askOfCase({ do: "begin", type, title });
    if (found.id === id) return void (screen = { ...screen, ...found });
    return shown(found);
  }
  disable(true);
  ahead = null;
  const found = await askOfCase({ do: "begin", type, title, lines, seen });
  if (!halted && found.id === id) {
    took(found);
    screen = found;
    disable(false);
  } else shown(found);
}

// The consultation.

function shown(found) {
  screen = found.again ? { ...screen, ...found, title: screen.title, asked: screen.asked } : found;
  took(found);
  if (!found.reply && !entry.practice) return end(found);
  show("talk");
  at("about").textContent = [entry.type, entry.name].filter(Boolean).join(" \u00b7 ");
  at("said").innerHTML = found.said;
  at("question").textContent = screen.title;
  at("asked").innerHTML = screen.asked;
  replies(screen.reply || { takes: "one", options: [], keys: [] });
  at("where").hidden = !ready || Boolean(entry.practice);
  at("where").open = false;
  at("drawn").replaceChildren();
  busy("");
  at("question").focus({ preventScroll: true });
  (found.page ? at("said") : at("talk")).scrollIntoView({ block: "start", behavior: "instant" });
}

// The case as the worker has it now: kept, and named in the list.
function took(found) {
  if (found.case === undefined) return;
  entry.type = found.type;
  entry.name = found.name;
  entry.answer = found.answer;
  if (entry.text !== undefined && entry.text !== found.case) keepCase({ text: found.case, early: undefined });
  else if (entry.text === undefined) entry.first = found.case;
}

function keepCase(change, own = entry) {
  Object.assign(own, change);
  const { told, problem } = keeping.keep(own);
  if (own !== entry) return;
  at("not-kept").hidden = !(told || problem);
  at("not-kept").textContent = problem || told;
  if (problem && !at("end").hidden) at("end-told").textContent = problem;
  if (!problem) askToLast();
}

// Once a page, that the browser may not clear what is kept when it wants room.
let askedToLast = false;
function askToLast() {
  if (askedToLast || !navigator.storage || !navigator.storage.persist) return;
  askedToLast = true;
  navigator.storage.persist().catch(() => {});
}

function disable(all) {
  for (const each of at("talk").querySelectorAll("form button, form input, form select, #keys button, #more button")) each.disabled = all;
}

async function reply(line) {
  if (ahead) return foreseen(line);
  disable(true);
  busy("One moment.");
  try {
    shown(await askOfCase({ do: "reply", line }));
  } catch (error) {
    disable(false);
    alert_("Something went wrong: " + error.message + ". What was answered is kept; open the case again from the list.");
  }
}

// The second tap of a double one would choose from the screen that the first has brought.
function dropRepeated(event) {
  if (event.detail < 2 || !event.target.closest("button")) return;
  event.preventDefault();
  event.stopPropagation();
}
at("talk").addEventListener("click", dropRepeated, true);

function choice(label, line, props = {}) {
  return made("button", { type: "button", "data-line": line, onclick: () => reply(line), ...props }, label);
}

function replies(wanted) {
  const form = at("reply");
  form.replaceChildren(...(FORMS[wanted.takes] || FORMS.one)(wanted));
  if (wanted.left_out) form.append(choice(leftOut(wanted), "", { className: "left-out" }));
  const first = wanted.keys.filter((row) => SHOWN_FIRST.includes(row.key) && !(row.key === "d" && wanted.left_out));
  const more = wanted.keys.filter((row) => !SHOWN_FIRST.includes(row.key));
  at("keys").replaceChildren(...first.map((row) => choice(row.label, row.key)));
  at("more").replaceChildren(
    ...more.map((row) => made("li", {}, made("button", { type: "button", "data-line": row.key, onclick: () => reply(row.key) }, row.label, made("small", { textContent: row.does })))),
  );
  at("more-keys").open = false;
  at("more-keys").hidden = !more.length;
}

const leftOut = (wanted) => ({ "not known": "Don't know", "as it is": "Leave it as it is", back: "Back to the list" })[wanted.left_out] || "Leave it out";

const listed = (wanted) => made("ul", { className: "choices" }, ...wanted.options.map(([line, label]) => made("li", {}, choice(label, line))));

const boxes = (wanted) => wanted.options.map(([line, label]) => made("label", { className: "tick" }, made("input", { type: "checkbox", value: line }), made("span", { textContent: label })));

const ticked = () => [...at("reply").querySelectorAll("input:checked")].map((box) => box.value).join(" ");

function typed(label, props) {
  return made("label", { className: "field" }, made("span", { textContent: label }), made("input", { type: "text", ...props }));
}

const go = (label, line) => made("button", { type: "button", className: "main", onclick: () => reply(line()) }, label);

const FORMS = {
  one: (wanted) => [listed(wanted)],
  several(wanted) {
    const button = go("None of these", () => ticked() || "0");
    const rows = boxes(wanted);
    for (const row of rows) row.addEventListener("change", () => (button.textContent = ticked() ? "These are so, the others not" : "None of these"));
    return [...rows, button];
  },
  words(wanted) {
    const field = typed(wanted.options.length ? "Or in your own words" : "In your own words", { id: "words", maxLength: 2000 });
    return [...boxes(wanted), field, go("Write it down", () => at("words").value.trim() || ticked())];
  },
  reading(wanted) {
    const units = made("select", { id: "unit" }, ...wanted.units.map((row) => made("option", { textContent: row })));
    const number = typed("Reading", { id: "number", inputmode: "decimal", enterKeyHint: "done" });
    const both = made("div", { className: "reading" }, number, made("label", { className: "field" }, made("span", { textContent: "Unit" }), units));
    return [both, go("Take it down", () => at("number").value.trim().replace(",", ".") + " " + units.value)];
  },
  size(wanted) {
    const sizes = made("ul", { className: "sizes" }, ...wanted.options.map(([line, label]) => made("li", {}, choice(label, line))));
    return [sizes, typed("Or another, with its unit", { id: "number", enterKeyHint: "done" }), go("Take it down", () => at("number").value.trim())];
  },
};

at("reply").addEventListener("submit", (event) => {
  event.preventDefault();
  const main = at("reply").querySelector("button.main");
  if (main && !main.disabled) main.click();
});

at("where").addEventListener("toggle", async () => {
  if (!at("where").open || at("drawn").firstChild || !ready) return;
  const { html } = await askOfCase({ do: "where" });
  at("drawn").innerHTML = html || "This type is not drawn.";
});

// The end, and what can be had of the case.

async function end(found) {
  show("end");
  at("end-about").textContent = [entry.type, entry.name].filter(Boolean).join(" \u00b7 ");
  at("end-title").textContent = entry.answer;
  at("end-said").innerHTML = found.said;
  at("end-told").textContent = at("not-kept").hidden ? "The case is kept on this phone." : at("not-kept").textContent;
  at("message-field").hidden = true;
  at("work").replaceChildren();
  at("end-title").focus({ preventScroll: true });
  const { html } = await askOfCase({ do: "work" });
  at("work").innerHTML = html || "There is no work to do yet.";
  const ticks = new Set(entry.ticks || []);
  for (const box of at("work").querySelectorAll("input[type=checkbox]")) {
    box.checked = ticks.has(box.name);
    box.addEventListener("change", () => {
      const names = [...at("work").querySelectorAll("input:checked")].map((each) => each.name);
      keepCase({ text: current(), ticks: names });
    });
  }
}

const current = () => screen.case ?? entry.text ?? entry.first;

const fileName = (ending) => ((entry.name || entry.type).replace(/[^\p{L}\p{N}]+/gu, "-").replace(/^-|-$/g, "").slice(0, 60) || "case") + ending;

// By the phone's share sheet where it takes files, else as a download.
async function sendFile(name, type, text) {
  const file = new File([text], name, { type });
  try {
    if (navigator.canShare && navigator.canShare({ files: [file] })) {
      await navigator.share({ files: [file] });
      return;
    }
  } catch (error) {
    if (error.name === "AbortError") return;
  }
  const link = made("a", { href: URL.createObjectURL(file), download: name });
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 60000);
  at("end-told").textContent = "Saved as " + name + ".";
}

at("send-case").addEventListener("click", () => sendFile(fileName(".yaml"), "text/plain", current()));

at("send-sheet").addEventListener("click", async () => {
  at("end-told").textContent = "Making the sheet.";
  const { html } = await askOfCase({ do: "sheet" });
  at("end-told").textContent = "";
  await sendFile(fileName(".html"), "text/html", html);
});

at("send-message").addEventListener("click", async () => {
  const { text } = await askOfCase({ do: "message" });
  at("message").value = text;
  try {
    if (navigator.share) return void (await navigator.share({ text }));
    await navigator.clipboard.writeText(text);
    at("end-told").textContent = "Copied: paste it into a message.";
  } catch (error) {
    if (error.name === "AbortError") return;
  }
  at("message-field").hidden = false;
});

at("delete").addEventListener("click", () => {
  if (!confirm("Delete this case from this phone? It cannot be brought back.")) return;
  const problem = keeping.remove(entry.id);
  if (problem) at("end-told").textContent = problem;
  else toList();
});

at("go-on").addEventListener("click", () => openText(current()));
at("to-list").addEventListener("click", toList);
at("end-to-list").addEventListener("click", toList);

// Keeping the page itself, and newer versions of it: offered, used when somebody says so.

async function keepPage() {
  const workers = navigator.serviceWorker;
  if (!workers) return "This browser does not keep the page (it needs https): it works with a signal only.";
  workers.addEventListener("message", ({ data }) => {
    if (data.notKept) starting("The page could not be kept: " + data.notKept);
    else if (!ready && data.all) starting("First visit: " + megabytes(data.have) + " of " + megabytes(data.all) + " are here (the network carries about half of that). You can begin.");
  });
  const found = await workers.register("sw.js", { updateViaCache: "none" });
  const offer = () => (at("update").hidden = !(found.waiting && workers.controller));
  found.addEventListener("updatefound", () => found.installing && found.installing.addEventListener("statechange", offer));
  offer();
  at("use-update").addEventListener("click", () => {
    workers.addEventListener("controllerchange", () => location.reload(), { once: true });
    found.waiting.postMessage("use it");
  });
  if (!found.active) await installed(found);
  if (!workers.controller && found.active) await Promise.race([new Promise((done) => workers.addEventListener("controllerchange", done, { once: true })), new Promise((done) => setTimeout(done, 3000))]);
  return "";
}

function installed(found) {
  return new Promise((done, refused) => {
    const one = found.installing || found.waiting || found.active;
    one.addEventListener("statechange", () => {
      if (one.state === "activated") done();
      if (one.state === "redundant") refused(new Error("not kept"));
    });
    if (one.state === "activated") done();
  });
}

async function start() {
  history.replaceState(null, "");
  starting("Starting.");
  show("home");
  let told = "";
  try {
    told = await keepPage();
  } catch (error) {
    told = "This browser could not keep the page (" + error.message + "): it works with a signal only.";
  }
  if (told) alert_(told);
  if (!ready) starting("Starting the consultation. You can begin.");
  startWorker();
}

start();
