// Decodes every activity file below a folder with one of two decoders from npm and
// prints the CPU seconds that it took, without loading the decoder, and what it found:
//   node decode.mjs MODULES DECODER FOLDER
import { readFileSync, readdirSync } from "node:fs";
import { join } from "node:path";
import { createRequire } from "node:module";

const [modules, decoder, folder] = process.argv.slice(2);
const require = createRequire(join(modules, "x.js"));
const files = readdirSync(folder, { recursive: true }).filter((name) => name.endsWith(".fit")).map((name) => join(folder, name));
const bytesOf = (path) => { const b = readFileSync(path); return b.buffer.slice(b.byteOffset, b.byteOffset + b.byteLength); };

let decode;
if (decoder === "fit-decoder") {
  const d = require("fit-decoder");
  decode = async (path) => {
    const json = d.parseRecords(d.fit2json(bytesOf(path)));
    const count = (type) => json.records.filter((r) => r.type === type).length;
    return [count("length"), count("record")];
  };
} else {
  const loaded = require("fit-file-parser");
  const Parser = loaded.default ?? loaded;
  decode = async (path) => {
    const data = await new Parser({ mode: "list" }).parseAsync(Buffer.from(bytesOf(path)));
    return [data.lengths?.length ?? 0, data.records?.length ?? 0];
  };
}
await decode(files[0]);
const before = process.cpuUsage(), start = process.hrtime.bigint();
let lengths = 0, records = 0;
for (const path of files) {
  const [l, r] = await decode(path);
  lengths += l;
  records += r;
}
const used = process.cpuUsage(before);
console.log(`cpu=${(used.user + used.system) / 1e6}`);
console.log(`wall=${Number(process.hrtime.bigint() - start) / 1e9}`);
console.log(`files=${files.length}\nlengths=${lengths}\nrecords=${records}`);
