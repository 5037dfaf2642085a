// node compile.mjs FOLDER: compiles, by the runtime in FOLDER/runtime itself, the modules that a consultation uses.
// Writes FOLDER/compiled/python_stdlib.zip and FOLDER/compiled/package.zip. Of what is not used, parts of the standard
// library that nothing here could use are left out, and the rest stays as it is.
import fs from "node:fs";
import path from "node:path";
import { pathToFileURL } from "node:url";

const folder = path.resolve(process.argv[2]);
const runtime = path.join(folder, "runtime");
const { loadPyodide } = await import(pathToFileURL(path.join(runtime, "pyodide.mjs")).href);
const python = await loadPyodide({ indexURL: runtime + path.sep });
const zips = { python_stdlib: path.join(runtime, "python_stdlib.zip"), package: path.join(folder, "package.zip") };
for (const [name, place] of Object.entries(zips)) python.FS.writeFile(`/${name}.zip`, fs.readFileSync(place));
try {
  python.runPython(`
import importlib._bootstrap_external, importlib.util, json, sys, zipfile
from pathlib import Path

with zipfile.ZipFile("/package.zip") as packed:
    packed.extractall("/phone")
sys.path.insert(0, "/phone")

from diagnose.phone.desk import opened

desk = opened("/phone/stock", "psid", lambda text: None)
kind = json.loads(desk.answer('{"do": "types"}'))["types"][0][0]
kept = json.loads(desk.answer(json.dumps({"do": "begin", "type": kind})))["case"]
for request in ({"do": "resume", "text": kept}, {"do": "sheet"}, {"do": "work"}, {"do": "message"}, {"do": "where"}):
    desk.answer(json.dumps(request))
used = {str(getattr(module, "__file__", "")) for module in [*sys.modules.values()]}

LEFT_OUT = (
    "_pyrepl/", "ctypes/", "doctest.py", "email/", "encodings/", "html/", "http/", "multiprocessing/", "pdb.py", "pickletools.py",
    "pydoc.py", "pydoc_data/", "sqlite3/", "tarfile.py", "unittest/", "wsgiref/", "xml/", "xmlrpc/", "zoneinfo/",
)

def compiled(name, top):
    with zipfile.ZipFile(f"/{name}.zip") as source, zipfile.ZipFile(f"/{name}.out", "w") as target:
        for path in sorted(row for row in source.namelist() if not row.endswith("/")):
            data = source.read(path)
            if path.endswith(".py") and top + path in used:
                bare = 0 if "pyodide" in path else 2  # the runtime reads its own docstrings
                code = compile(data, top + path, "exec", dont_inherit=True, optimize=bare)
                digest = importlib.util.source_hash(data)
                data = bytes(importlib._bootstrap_external._code_to_hash_pyc(code, digest, False))
                path += "c"
            elif name == "python_stdlib" and path.startswith(LEFT_OUT):
                continue
            info = zipfile.ZipInfo(path, (1980, 1, 1, 0, 0, 0))
            target.writestr(info, data, zipfile.ZIP_DEFLATED, 9)

compiled("python_stdlib", next(row for row in sys.path if row.endswith(".zip")) + "/")
compiled("package", "/phone/")
`);
} catch (error) {
  // Python's own last line: the rest of what is told holds the runtime's source.
  console.error(String(error.message).trim().split("\n").pop());
  process.exit(1);
}
fs.mkdirSync(path.join(folder, "compiled"), { recursive: true });
for (const name of Object.keys(zips)) fs.writeFileSync(path.join(folder, "compiled", `${name}.zip`), python.FS.readFile(`/${name}.out`));
