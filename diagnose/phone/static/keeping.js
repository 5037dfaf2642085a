// The cases on this phone, in the storage that the browser gives to this folder. Where it gives none, that is said.
const PREFIX = "diagnose " + new URL("./", location.href).pathname + " case ";
const ours = new Map(); // id -> what stands there as far as this page knows

export function list() {
  const found = [];
  try {
    for (let place = 0; place < localStorage.length; place++) {
      const key = localStorage.key(place);
      if (key.startsWith(PREFIX)) found.push(read(key.slice(PREFIX.length)));
    }
  } catch (error) {
    return { cases: [], problem: "This browser keeps nothing for this page (" + error.name + "). A case is lost when the page is closed: send it or save it before." };
  }
  return { cases: found.filter(Boolean).sort((one, other) => other.changed - one.changed), problem: "" };
}

export function read(id) {
  const text = localStorage.getItem(PREFIX + id);
  if (text === null) return null;
  try {
    return { ...JSON.parse(text), id };
  } catch {
    return { id, text, name: "", type: "?", answer: "", changed: 0 };
  }
}

export function open(id) {
  const entry = read(id);
  ours.set(id, localStorage.getItem(PREFIX + id));
  return entry;
}

export function newId() {
  return [...crypto.getRandomValues(new Uint8Array(8))].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

// Keeps an entry; what another tab has written meanwhile is left alone, and the entry moves on to an id of its own.
export function keep(entry) {
  let told = "";
  try {
    const there = localStorage.getItem(PREFIX + entry.id);
    const known = ours.get(entry.id) ?? null;
    if (there !== known && there !== null) {
      entry.id = newId();
      told = "Meanwhile this case was changed in another tab. It is left as it stands there; this one is kept beside it.";
    } else if (there === null && known !== null) {
      told = "Meanwhile this case was deleted in another tab; it has been kept again.";
    }
    const { id, ...kept } = entry;
    const text = JSON.stringify({ ...kept, changed: Date.now() });
    localStorage.setItem(PREFIX + id, text);
    ours.set(id, text);
    return { told, problem: "" };
  } catch (error) {
    const full = error.name === "QuotaExceededError";
    const why = full ? "the storage of this browser is full" : "this browser keeps nothing for this page (" + error.name + ")";
    return { told, problem: "NOT KEPT: " + why + ". It is tried again after the next answer. Send the case or save it as a file before the page is closed." };
  }
}

export function remove(id) {
  try {
    localStorage.removeItem(PREFIX + id);
    ours.delete(id);
    return "";
  } catch (error) {
    return "It could not be deleted (" + error.name + ").";
  }
}
