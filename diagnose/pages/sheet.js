"use strict";
(() => {
  const at = (id) => document.getElementById(id);
  const key = "sheet " + document.documentElement.dataset.key;
  const inputs = [...document.querySelectorAll("input[name]")];
  const tell = (text) => (at("told").textContent = text);
  const entered = (input) => (input.type === "checkbox" ? (input.checked ? "yes" : "") : input.value.trim());

  // What was filled in, by the names of the fields; where the browser gives no storage, that is said.
  function keep() {
    const filled = inputs.map((input) => [input.name, entered(input)]).filter((row) => row[1]);
    try {
      if (filled.length) localStorage.setItem(key, JSON.stringify(filled));
      else localStorage.removeItem(key);
      at("kept").textContent = "What is filled in here is kept on this device, in this browser, and sent nowhere.";
    } catch {
      at("kept").textContent = "This browser keeps nothing: print or save before closing the page.";
    }
  }

  function bringBack() {
    try {
      const kept = new Map(JSON.parse(localStorage.getItem(key) || "[]"));
      for (const input of inputs) {
        if (!kept.has(input.name)) continue;
        if (input.type === "checkbox") input.checked = true;
        else input.value = kept.get(input.name);
      }
    } catch {
      // keep() says that there is no storage; what another page has left under this name is written over.
    }
  }

  // Rows of name, value and unit: what the case tells and what was filled in, in the order of the page.
  function rows() {
    const found = [["Sheet", document.title, ""], ["Answer", at("answer").textContent, ""]];
    for (const row of document.querySelectorAll("input[name], output[name]")) {
      const value = row.tagName === "OUTPUT" ? row.textContent : entered(row);
      if (value) found.push([row.getAttribute("name"), value, row.dataset.unit || ""]);
    }
    return [...found, ["Made", at("made").textContent, ""]];
  }

  // A cell that a spreadsheet would take for a formula begins with an apostrophe.
  function cell(text) {
    const safe = /^\s*[=+\-@\uFF1D\uFF0B\uFF0D\uFF20]|^[\t\r\n]/.test(text) ? "'" + text : text;
    return '"' + safe.replaceAll('"', '""') + '"';
  }

  function save(ending, type, text) {
    const link = document.createElement("a");
    const name = document.title.replace(/[^\p{L}\p{N}]+/gu, "-").replace(/^-|-$/g, "").slice(0, 60);
    link.href = URL.createObjectURL(new Blob([text], { type }));
    link.download = (name || "record") + ending;
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 60000);
    tell("Saved as " + link.download + ".");
  }

  function asText() {
    return rows().map(([name, value, unit]) => name + ": " + value + (unit ? " " + unit : "") + "\n").join("");
  }

  function asTable() {
    return "\uFEFF" + [["What", "Value", "Unit"], ...rows()].map((row) => row.map(cell).join(",") + "\r\n").join("");
  }

  async function share() {
    const box = at("message");
    try {
      if (navigator.share) {
        await navigator.share({ text: box.value });
        return tell("");
      }
      await navigator.clipboard.writeText(box.value);
      return tell("Copied: paste it into a message.");
    } catch (error) {
      if (error.name === "AbortError") return tell("");
    }
    box.hidden = false;
    box.focus();
    box.select();
    tell("Copy the marked text into a message.");
  }

  function clear() {
    if (!confirm("Clear everything that was filled in on this page?")) return;
    for (const input of inputs) {
      input.checked = false;
      if (input.type !== "checkbox") input.value = "";
    }
    keep();
    tell("Cleared.");
  }

  // Paper has the work and its cautions unfolded, whatever the screen shows.
  let opened = [];
  addEventListener("beforeprint", () => {
    opened = [...document.querySelectorAll("details.paper:not([open])")];
    for (const row of opened) row.open = true;
  });
  addEventListener("afterprint", () => {
    for (const row of opened) row.open = false;
  });

  at("print").addEventListener("click", () => print());
  at("text").addEventListener("click", () => save(".txt", "text/plain;charset=utf-8", asText()));
  at("table").addEventListener("click", () => save(".csv", "text/csv;charset=utf-8", asTable()));
  at("share").addEventListener("click", share);
  at("clear").addEventListener("click", clear);
  addEventListener("input", keep);
  bringBack();
  keep();
  at("acts").hidden = false;
})();
