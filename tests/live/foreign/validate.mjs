// Validates an AsyncAPI document on standard input; prints what is wrong with it as JSON.

import { Parser } from "@asyncapi/parser";

const chunks = [];
for await (const chunk of process.stdin) chunks.push(chunk);
const { document, diagnostics } = await new Parser().parse(Buffer.concat(chunks).toString("utf8"));
const wrong = diagnostics.map(({ code, message, path, severity }) => ({
  code,
  message,
  path: path.join("."),
  severity,
}));
process.stdout.write(JSON.stringify({ parsed: document !== undefined, diagnostics: wrong }));
