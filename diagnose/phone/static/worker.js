// Runs Python beside the page, so that the page never freezes: requests in, answers out, one after the other.
import { loadPyodide } from "./runtime/pyodide.mjs";

const here = new URL("./", self.location.href);
const unit = new URL(self.location.href).searchParams.get("unit");
let current = 0; // the request that is being answered
const started = start();

async function start() {
  const packed = fetch(new URL("package.zip", here)).then((found) => {
    if (!found.ok) throw new Error("package.zip: " + found.status);
    return found.arrayBuffer();
  });
  const python = await loadPyodide({ indexURL: new URL("runtime/", here).href });
  python.unpackArchive(await packed, "zip", { extractDir: "/phone" });
  const opened = python.runPython("import sys; sys.path.insert(0, '/phone'); from diagnose.phone.desk import opened; opened");
  return opened("/phone/stock", unit, (text) => postMessage({ kept: text, of: current }));
}

// The last line of what Python says: the rest tells where, and is for the console.
function reason(error) {
  console.error(error);
  return String(error.message || error).trim().split("\n").pop();
}

started.then(
  () => postMessage({ ready: true }),
  (error) => postMessage({ failed: reason(error) }),
);

self.addEventListener("message", async ({ data }) => {
  try {
    const desk = await started;
    current = data.of;
    postMessage({ of: data.of, answer: JSON.parse(desk.answer(JSON.stringify(data.request))) });
  } catch (error) {
    postMessage({ of: data.of, failed: reason(error) });
  }
});
