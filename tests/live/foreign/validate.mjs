// Validates AsyncAPI documents, a list of texts on standard input; prints what is wrong with each.

import { Parser } from "@asyncapi/parser";

const chunks = [];
for await (const chunk of process.stdin) chunks.push(chunk);
const found = [];
for (const text of JSON.parse(Buffer.concat(chunks).toString("utf8"))) {
  const { document, diagnostics } = await new Parser().parse(text);
  const wrong = diagnostics.map(({ code, message, path, severity }) => ({
    code,
    message,
    path: path.join("."),
    severity,
  }));
  found.push({ parsed: document !== undefined, diagnostics: wrong });
}
process.stdout.write(JSON.stringify(found));
